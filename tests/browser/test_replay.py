"""The owner asks what the same weeks would have cost under other rules: asks, watches, stops,
reads; wide and narrow, with and without script, and when the worker is gone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from inventory.exchange.book import TextSheet
from inventory.models import Event
from purchasing.exchange.workbook import load_sheets
from purchasing.models import Replay
from purchasing.services.replays import replay_if_asked
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.parts import SCRIPT, WIDTHS, Browse, is_sound, nothing_is_cut
from tests.purchasing.services.replay_kitchen import FIRST, sheets

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LAST = FIRST + timedelta(days=3)


@pytest.fixture
def ottilie(settings: Any) -> User:
    """The owner of a kitchen with ten weeks of use before the days that are replayed."""
    settings.REORDER_PATHS = 20
    load_sheets(
        [TextSheet(name, rows) for name, rows in sheets(LAST).items()], by=None, at=timezone.now()
    )
    person = make.member("owner", sees_cost=True)
    person.first_name = "Ottilie"
    person.save()
    return person


def every(seconds: int) -> Iterator[datetime]:
    began, n = timezone.now(), 0
    while True:
        yield began + timedelta(seconds=seconds * n)
        n += 1


def work(meanwhile: Callable[[], object] = lambda: None) -> bool:
    """What the worker does; between days of eleven seconds it looks at other things."""
    moments = every(11)
    return replay_if_asked(clock=lambda: next(moments), meanwhile=meanwhile)


def pick(page: Page, *rules: str) -> None:
    for box in page.locator("input[name=policy]").all():
        box.uncheck()
    for rule in rules:
        page.get_by_label(rule, exact=True).check()


def ask(page: Page, *rules: str) -> None:
    page.goto("/replay/")
    page.locator("#first").fill(str(FIRST))
    pick(page, *rules)
    page.get_by_role("button", name="replay these days").click()


@WIDTHS
@SCRIPT
def test_from_wrong_days_to_an_answer(
    ottilie: User, browse: Browse, width: int, script: bool
) -> None:
    page = browse(ottilie, width, script)
    page.goto("/replay/")
    expect(page.get_by_text("No weeks have been replayed yet.")).to_be_visible()
    nothing_is_cut(page)
    page.locator("#first").fill("2025-12-01")
    pick(page)
    page.get_by_role("button", name="replay these days").click()
    alert = page.get_by_role("alert")
    expect(alert).to_contain_text("2 things to put right")
    expect(alert).to_contain_text("Tick at least one rule")
    expect(alert).to_contain_text("comes before the first usage on record")
    expect(page.locator("#first")).to_have_value("2025-12-01")
    assert not Replay.objects.exists()
    page.locator("#first").fill(str(FIRST))
    pick(page, "your pars as they are", "least expected cost", "each line up to its par")
    page.get_by_role("button", name="replay these days").click()
    expect(page.get_by_text("It waits for the worker.")).to_be_visible()
    expect(page.get_by_role("button", name="replay these days")).to_have_count(0)
    nothing_is_cut(page)
    assert work()
    page.goto("/replay/")
    _reads_the_answer(page, width)


def length(bar: Locator) -> float:
    """In hundredths of the picture."""
    parts = [part.get_attribute("width") or "" for part in bar.locator("rect").all()]
    return sum(float(width.rstrip("%")) for width in parts)


def _reads_the_answer(page: Page, width: int) -> None:
    """The figures of the page are those that were worked out; the longest bar is the dearest."""
    rules = {
        one["policy"]: one["totals"] for one in (Replay.objects.get().answer or {})["policies"]
    }
    sums = {rule: float(totals["avoidable"]) for rule, totals in rules.items()}
    expect(page.get_by_role("heading", name="Mon 9 Mar to Thu 12 Mar 2026")).to_be_visible()
    expect(page.locator(".told").first).to_contain_text(f"{sums['pars']:,.2f}")
    table = page.locator("table", has_text="The same as figures")
    expect(table.locator("tbody tr")).to_have_count(2)
    apart = page.locator("table", has_text="Rules that take only some of the lines")
    expect(apart.locator("tbody tr")).to_have_count(1)
    expect(apart).to_contain_text(f"{sums['fixed']:,.2f}")
    bars = page.locator(".bars").first.locator("li")
    expect(bars).to_have_count(2)
    lengths = [length(bar) for bar in bars.all()]
    assert max(lengths) == pytest.approx(100, abs=0.1)
    assert lengths[0] / lengths[1] == pytest.approx(sums["pars"] / sums["cost"], rel=0.01)
    for box in (bar.bounding_box() for bar in page.locator(".bars svg, .graph .plot").all()):
        assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= width
    for sentence in (
        "what suppliers send short, late or instead",
        "neither charged nor credited",
        "What running out of these costs is not known, and counts as nothing: Napkins",
        "Left out by “each line up to its par”, which needs a par: Cups, Café",
    ):
        expect(page.get_by_text(sentence)).to_be_visible()
    nothing_is_cut(page)


@WIDTHS
@SCRIPT
def test_a_long_one_is_watched_and_stopped(
    ottilie: User, browse: Browse, width: int, script: bool
) -> None:
    page = browse(ottilie, width, script)
    ask(page, "mean use and a quarter")
    seen: list[str] = []

    def look_and_stop() -> None:
        page.get_by_role("link", name="look again").click()
        seen.append(page.locator("progress").get_attribute("value") or "")
        expect(page.get_by_text("day 1 of 4 is done")).to_be_visible()
        nothing_is_cut(page)
        page.get_by_role("button", name="stop it").click()
        expect(
            page.locator(".slip").get_by_text("It stops after the day it is at.")
        ).to_be_visible()
        expect(page.get_by_role("button", name="stop it")).to_have_count(0)

    assert work(look_and_stop)
    assert seen == ["1"]  # it ended at the next look
    page.goto("/replay/")
    expect(
        page.get_by_text("The replay of Mon 9 Mar to Thu 12 Mar 2026 was stopped")
    ).to_be_visible()
    expect(page.get_by_role("button", name="replay these days")).to_be_visible()
    one = Replay.objects.get()
    assert one.answer is None and one.ended_at is not None
    verbs = Event.objects.filter(subject=f"replay:{one.pk}").order_by("pk")
    assert list(verbs.values_list("verb", flat=True)) == ["asked", "stopped"]


@WIDTHS
def test_a_worker_that_was_ended_in_mid_run(ottilie: User, browse: Browse, width: int) -> None:
    """Silent, then gone; the next one begins again, and its answer stands there."""
    page = browse(ottilie, width)
    ask(page, "mean use and a quarter")
    heard = timezone.now() - timedelta(minutes=4)
    Replay.objects.update(
        claimed_by="gone", claimed_until=heard + timedelta(seconds=600), reached=FIRST
    )
    page.goto("/replay/")
    expect(page.get_by_text("Nothing has been heard of its worker since")).to_be_visible()
    nothing_is_cut(page)
    assert work() is False
    Replay.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    page.goto("/replay/")
    expect(page.get_by_text("the next one begins again")).to_be_visible()
    assert work() is True
    page.goto("/replay/")
    expect(page.locator("tbody").get_by_text("mean use and a quarter")).to_be_visible()


def test_with_script_the_answer_comes_by_itself(ottilie: User, browse: Browse) -> None:
    page = browse(ottilie, PHONE)
    ask(page, "mean use and a quarter")
    expect(page.get_by_text("It waits for the worker.")).to_be_visible()
    Replay.objects.update(
        claimed_by="w", claimed_until=timezone.now() + timedelta(seconds=600), reached=FIRST
    )
    expect(page.get_by_text("day 1 of 4 is done")).to_be_visible(timeout=15_000)
    Replay.objects.update(claimed_until=None, reached=None)
    assert work()
    expect(page.get_by_text("What these figures leave out")).to_be_visible(timeout=15_000)


def test_of_two_who_ask_at_once_one_is_told(ottilie: User, browse: Browse) -> None:
    bram = make.member("buyer", sees_cost=True)
    first, second = browse(ottilie, DESK, False), browse(bram, PHONE, False)
    for page in (first, second):
        page.goto("/replay/")
    pick(second, "the forecast")
    first.get_by_role("button", name="replay these days").click()
    second.get_by_role("button", name="replay these days").click()
    expect(second.get_by_role("alert")).to_contain_text(
        "A replay is being worked out. Stop it, or wait until it is done."
    )
    nothing_is_cut(second)
    assert Replay.objects.count() == 1


def test_who_may_not_see_costs_is_told_whom_it_is_for(ottilie: User, browse: Browse) -> None:
    page = browse(make.member("manager", sees_cost=False), PHONE)
    page.goto("/replay/")
    expect(page.get_by_text("compares the money of the whole business")).to_be_visible()
    expect(page.get_by_role("button", name="replay these days")).to_have_count(0)


@WIDTHS
def test_the_page_is_sound_and_prints(ottilie: User, browse: Browse, width: int) -> None:
    page = browse(ottilie, width)
    page.goto("/replay/")
    is_sound(page)
    ask(page, "mean use and a quarter", "least expected cost")
    is_sound(page)
    work()
    page.goto("/replay/")
    is_sound(page)
    page.emulate_media(media="print")
    expect(page.get_by_text("What these figures leave out")).to_be_visible()
    expect(page.get_by_role("button", name="replay these days")).to_be_hidden()
