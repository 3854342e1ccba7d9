"""The page of replays: ask, watch, stop, read; who may; and the worker behind it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.exchange.book import TextSheet
from inventory.models import Location, Usage
from purchasing.exchange.workbook import load_sheets
from purchasing.models import Replay
from purchasing.selectors.replay_svg import cost_bars, stock_lines
from purchasing.services import replays
from purchasing.services.replays import KEPT, SECONDS_BETWEEN, replay_if_asked
from tests import factories as make
from tests.purchasing.services.replay_kitchen import FIRST, LAST, sheets
from tests.purchasing.web.shelf import post, signed_in, text_of

pytestmark = pytest.mark.django_db
DAYS = {"first": str(FIRST), "last": str(FIRST + timedelta(days=3))}


@pytest.fixture
def kitchen() -> None:
    load_sheets(
        [TextSheet(name, rows) for name, rows in sheets().items()], by=None, at=timezone.now()
    )


@pytest.fixture
def owner() -> Client:
    person = make.member("owner", sees_cost=True)
    person.username = "ottilie"
    person.save()
    return signed_in(person)


def ask(client: Client, key: str = "k", **changed: Any) -> str:
    typed = {**DAYS, "policy": ["pars", "fixed", "mean"], **changed}
    return text_of(client.post("/replay/ask/", {"key": key, **typed}, follow=True))


def shown(client: Client) -> str:
    response = client.get("/replay/")
    assert response.status_code == 200
    return text_of(response)


def worked_out(**more: Any) -> bool:
    usual: dict[str, Any] = {"clock": timezone.now, "meanwhile": lambda: None}
    return replay_if_asked(**{**usual, **more})


def test_at_first_it_offers_the_last_four_weeks_and_every_rule(
    kitchen: None, owner: Client
) -> None:
    page = shown(owner)
    assert "No weeks have been replayed yet." in page
    assert 'value="2026-02-23"' in page
    assert f'value="{LAST}"' in page
    assert (page.count('name="policy"'), page.count(" checked")) == (8, 7)
    assert 'value="recorded">' in page  # nothing that came is on record


def test_what_is_asked_for_is_worked_out_by_the_tick_and_shown(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    page = ask(owner)
    assert "It is being worked out beside this page" in page
    assert "by ottilie" in page
    assert "replay these days" not in page  # one at a time
    assert worked_out() is True
    page = shown(owner)
    for words in ("your pars as they are", "each line up to its par", "mean use and a quarter"):
        assert words in page
    assert "Mon 9 Mar to Thu 12 Mar 2026" in page
    assert "it would have cost" in page
    assert "Left out by “each line up to its par”, which needs a par: Cups, Café" in page
    assert page.count("<polyline") == 2 * 2  # what takes some of the lines is no line beside them
    assert "on the first morning 3 of 8 lines had no stock on record" in page
    assert worked_out() is False


def test_asking_twice_is_asking_once_and_another_waits_its_turn(
    kitchen: None, owner: Client
) -> None:
    ask(owner, key="a")
    ask(owner, key="a")
    assert Replay.objects.count() == 1
    response = owner.post("/replay/ask/", {"key": "b", **DAYS, "policy": ["mean"]})
    assert response.status_code == 422
    assert "A replay is being worked out. Stop it, or wait until it is done." in text_of(response)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"first": "soon"}, "&#x27;soon&#x27; is not a day. Write it as 2026-03-09."),
        ({"policy": []}, "Tick at least one rule to replay by."),
        ({"first": "2026-03-13"}, "Give the earlier day first."),
        ({"first": "2025-12-01"}, "comes before the first usage on record"),
        ({"last": "2027-06-01"}, "at most 366 are replayed at once."),
        ({"last": "2027-06-01"}, "2027-06-01 is not over yet."),
        ({"policy": ["hunch"]}, "There is no policy &#x27;hunch&#x27;."),
    ],
)
def test_wrong_days_are_refused_and_what_was_typed_is_kept(
    changed: dict[str, Any], sentence: str, kitchen: None, owner: Client
) -> None:
    typed = {"key": "k", **DAYS, "policy": ["mean"], **changed}
    response = owner.post("/replay/ask/", typed)
    page = text_of(response)
    assert response.status_code == 422
    assert sentence in page
    assert f'value="{typed["last"]}"' in page
    assert page.count(" checked") == (1 if typed["policy"] == ["mean"] else 0)
    assert not Replay.objects.exists()


def test_everything_that_is_wrong_is_said_at_once(kitchen: None, owner: Client) -> None:
    typed = {"key": "k", "first": "2025-12-01", "last": "2027-06-01", "policy": []}
    page = text_of(owner.post("/replay/ask/", typed))
    assert "4 things to put right" in page
    for sentence in ("Tick at least one rule", "comes before the first usage", "at most 366",
                     "is not over yet"):  # fmt: skip
        assert sentence in page
    assert page.count('href="#first"') == 2
    assert 'id="first" name="first" type="date" required value="2025-12-01" aria-invalid' in page


# Whether anybody is at it.


def at_work(**facts: Any) -> None:
    Replay.objects.update(**facts)


def test_until_a_worker_begins_it_says_that_it_waits(kitchen: None, owner: Client) -> None:
    assert "It waits for the worker." in ask(owner)
    at_work(asked_at=timezone.now() - timedelta(minutes=7))
    assert "Nobody has begun it for 7 minutes" in shown(owner)


def test_a_worker_at_its_first_day_is_said_to_read(kitchen: None, owner: Client) -> None:
    ask(owner)
    at_work(claimed_by="w", claimed_until=timezone.now() + timedelta(seconds=599))
    assert "The past is being read; the first day takes longest." in shown(owner)


def test_days_done_tell_how_long_the_others_take(kitchen: None, owner: Client) -> None:
    """Three days of fourteen in six minutes."""
    ask(owner, last=str(LAST))
    heard = timezone.now()
    at_work(
        claimed_by="w",
        claimed_until=heard + timedelta(seconds=600),
        begun_at=heard - timedelta(minutes=6),
        reached=FIRST + timedelta(days=2),
    )
    assert "day 3 of 14 is done, about 22 minutes more" in shown(owner)


def test_a_worker_of_whom_nothing_is_heard_is_named_so(kitchen: None, owner: Client) -> None:
    ask(owner)
    heard = timezone.now() - timedelta(minutes=5)
    at_work(claimed_by="w", claimed_until=heard + timedelta(seconds=600), reached=FIRST)
    assert "Nothing has been heard of its worker since" in shown(owner)
    assert "at day 1 of 4" in shown(owner)
    at_work(claimed_until=timezone.now() - timedelta(seconds=1))
    assert "The worker that was at it is gone; the next one begins again." in shown(owner)


def test_what_begins_again_begins_with_the_first_day(kitchen: None, owner: Client) -> None:
    ask(owner, policy=["mean"])
    at_work(claimed_by="gone", claimed_until=timezone.now() - timedelta(minutes=1), reached=LAST)
    reached: list[date | None] = []
    worked_out(
        clock=ticking(seconds=11),
        meanwhile=lambda: reached.append(Replay.objects.get().reached),
    )
    assert reached[0] == FIRST


def test_a_worker_that_is_asked_to_end_hands_it_back_to_the_next(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"])
    assert worked_out(is_ending=lambda: True) is True
    one = Replay.objects.get()
    assert (one.claimed_until, one.reached, one.ended_at) == (None, None, None)
    assert "It waits for the worker." in shown(owner)
    assert worked_out() is True
    one.refresh_from_db()
    assert one.answer["policies"][0]["policy"] == "mean"


def test_a_failure_is_said_and_not_tried_again(
    kitchen: None, owner: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask(owner)

    def fail(*_args: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(replays, "replay_days", fail)
    with pytest.raises(ZeroDivisionError):
        worked_out()
    assert "could not be replayed: the program failed at them" in shown(owner)
    assert worked_out() is False


def test_what_else_fails_between_days_is_not_the_replay_s_fault(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"])

    def fail() -> None:
        raise ZeroDivisionError

    with pytest.raises(replays.HandedBack) as caught:
        worked_out(clock=ticking(seconds=11), meanwhile=fail)
    assert isinstance(caught.value.__cause__, ZeroDivisionError)
    assert worked_out() is True
    assert Replay.objects.get().answer is not None


def test_a_stop_that_nobody_heard_may_be_pressed_again(kitchen: None, owner: Client) -> None:
    ask(owner)
    one = Replay.objects.get()
    at_work(
        claimed_by="gone",
        claimed_until=timezone.now() - timedelta(seconds=1),
        stop_asked_at=timezone.now(),
    )
    assert "stop it" in shown(owner)
    post(owner, f"/replay/{one.pk}/stop/", key="again")
    assert "was stopped" in shown(owner)


# What the answer leaves out is said.


def test_the_page_names_what_is_not_modelled(kitchen: None, owner: Client, settings: Any) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["pars", "fixed", "mean", "recorded"])
    worked_out()
    page = shown(owner)
    assert "what suppliers send short, late or instead" in page
    assert "is neither charged nor credited" in page
    assert "What running out of these costs is not known, and counts as nothing: Napkins" in page
    assert "Nothing came on record in these weeks, so “what really came” is left out." in page
    assert "what really came</th>" not in page


def test_a_rule_for_some_lines_stands_apart_beside_the_same_lines(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["pars", "fixed"])
    worked_out()
    answer = Replay.objects.get().answer
    pars, fixed = answer["policies"]
    taken = {(line["location"], line["item"]) for line in fixed["lines"]}
    same = [one for one in pars["lines"] if (one["location"], one["item"]) in taken]
    there = sum(Decimal(line["avoidable"]) for line in same)
    page = shown(owner)
    assert "Rules that take only some of the lines, on those lines" in page
    assert f">{fixed['totals']['avoidable']}</td>" in page
    assert f">{there:,.2f}</td>" in page


def test_what_no_rule_could_help_is_drawn_apart(kitchen: None, owner: Client) -> None:
    ask(owner, policy=["mean", "outdating"])
    worked_out()
    early = Replay.objects.get().answer["before"]
    assert set(early) == {"mean", "outdating"}
    assert Decimal(early["mean"]) > 0
    page = shown(owner)
    assert "of each is not the rules&#x27; doing" in page
    assert 'class="part before"' in page


def test_one_that_nobody_works_on_stops_at_once(kitchen: None, owner: Client) -> None:
    ask(owner)
    one = Replay.objects.get()
    page = text_of(owner.post(f"/replay/{one.pk}/stop/", {"key": "s"}, follow=True))
    assert "The replay of Mon 9 Mar to Thu 12 Mar 2026 was stopped" in page
    assert "replay these days" in page
    assert worked_out() is False


def test_one_at_work_stops_after_its_day_and_keeps_the_answer_before(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"])
    worked_out()
    ask(owner, key="again", policy=["mean"])
    one = Replay.objects.order_by("-pk")[0]
    pages: list[str] = []

    def press() -> None:
        pages.append(shown(owner))
        post(owner, f"/replay/{one.pk}/stop/", key="s")
        pages.append(shown(owner))

    assert worked_out(clock=ticking(seconds=11), meanwhile=press) is True
    assert "day 1 of 4 is done" in pages[0]
    assert "It stops after the day it is at." in pages[1]
    one.refresh_from_db()
    assert (one.reached, one.answer) == (FIRST, None)
    assert one.ended_at is not None
    page = shown(owner)
    assert "was stopped" in page
    assert "mean use and a quarter</th>" in page  # the answer before


def ticking(seconds: int) -> Callable[[], datetime]:
    moments = (timezone.now() + timedelta(seconds=seconds * n) for n in range(10**6))
    return lambda: next(moments)


def test_what_has_a_deadline_is_done_between_days(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"])
    done: list[None] = []
    worked_out(clock=ticking(seconds=11), meanwhile=lambda: done.append(None))
    assert len(done) == 4


def test_a_lost_worker_s_replay_is_found_again_when_its_lease_ran_out(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"])
    Replay.objects.update(claimed_by="lost", claimed_until=timezone.now() + timedelta(minutes=5))
    assert worked_out() is False
    Replay.objects.update(claimed_until=timezone.now() - timedelta(minutes=5))
    assert worked_out() is True
    assert Replay.objects.get().answer["policies"][0]["policy"] == "mean"


def test_one_whose_lease_was_taken_writes_nothing(kitchen: None, owner: Client) -> None:
    ask(owner, policy=["mean"])
    worked_out(
        clock=ticking(seconds=11),
        meanwhile=lambda: Replay.objects.update(claimed_by="another"),
    )
    one = Replay.objects.get()
    assert (one.claimed_by, one.ended_at, one.answer) == ("another", None, None)


def test_what_cannot_be_replayed_any_more_says_why(kitchen: None, owner: Client) -> None:
    ask(owner)
    Usage.objects.filter(item__code="NAPKIN").update(unit="kg")
    worked_out()
    assert "could not be replayed: Napkins is kept in each" in shown(owner)


def test_old_ones_are_forgotten(kitchen: None, owner: Client, settings: Any) -> None:
    settings.REORDER_PATHS = 20
    at = timezone.now()
    days = {"first": date(2026, 1, 5), "last": date(2026, 1, 6)}
    Replay.objects.bulk_create(Replay(**days, asked_at=at, ended_at=at) for _ in range(KEPT + 3))
    ask(owner, policy=["mean"])
    worked_out()
    assert Replay.objects.count() == KEPT


@pytest.mark.parametrize(
    ("role", "facts", "status", "may"),
    [
        ("owner", {"sees_cost": True}, 200, True),
        ("buyer", {"sees_cost": True}, 200, True),
        ("manager", {"sees_cost": False}, 200, False),
        ("staff", {}, 404, False),
        ("truck_lead", {}, 404, False),
    ],
)
def test_it_is_for_those_who_set_pars_everywhere_and_see_costs(
    role: str, facts: dict[str, Any], status: int, may: bool, kitchen: None
) -> None:
    client = signed_in(make.member(role, **facts))
    response = client.get("/replay/")
    assert response.status_code == status
    assert ("replay these days" in text_of(response)) is may
    typed = {"key": "k", **DAYS, "policy": ["mean"]}
    assert client.post("/replay/ask/", typed).status_code == (302 if may else 404)


def test_a_manager_of_one_place_is_told_whom_it_is_for(kitchen: None) -> None:
    place = Location.objects.get(code="CAFE")
    client = signed_in(make.member("manager", place, sees_cost=True))
    assert "compares the money of the whole business" in shown(client)
    assert post(client, "/replay/1/stop/").status_code == 404


def test_the_page_takes_as_many_queries_for_sixty_days_as_for_three(
    kitchen: None, owner: Client, settings: Any, count_queries: Callable[..., int]
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"], last=str(FIRST + timedelta(days=2)))
    worked_out()
    few = count_queries(shown, owner)
    ask(owner, key="more", policy=["mean", "fixed"], first="2026-01-20")
    worked_out()
    assert "Tue 20 Jan to Thu 12 Mar 2026" in shown(owner)
    assert count_queries(shown, owner) == few


def test_nothing_is_noted_between_days_before_ten_seconds(
    kitchen: None, owner: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask(owner, policy=["mean"])
    still = datetime(2026, 4, 1, tzinfo=UTC)
    worked_out(clock=lambda: still, meanwhile=lambda: pytest.fail("too soon"))
    assert Replay.objects.get().reached is None
    assert SECONDS_BETWEEN == 10


# The pictures.


def totals(**money: str) -> dict[str, Decimal]:
    return {kind: Decimal(text) for kind, text in money.items()}


def test_bars_stand_to_each_other_as_the_costs_do() -> None:
    bars = cost_bars(
        {"a": totals(lost_margin="30", waste="10"), "b": totals(waste="20")},
        {"a": "40.00", "b": "20.00"},
    )
    first, second = bars
    assert [(part.kind, part.x, part.width) for part in first.parts] == [
        ("lost_margin", "0.00", "75.00"),
        ("waste", "75.00", "25.00"),
    ]
    assert [(part.x, part.width) for part in second.parts] == [("0.00", "50.00")]


def test_where_nothing_costs_there_is_no_bar() -> None:
    (bar,) = cost_bars({"a": totals(lost_margin="-3")}, {"a": "-3.00"})
    assert bar.parts == ()


def test_lines_run_from_the_first_night_to_the_last_under_a_round_top() -> None:
    lines = stock_lines({"a": ["0", "45"], "b": ["90", "100"]}, ["1 Mar", "2 Mar"])
    assert [mark.word for mark in lines.marks] == ["0", "20", "40", "60", "80", "100", "120"]
    assert lines.lines[0].points == "0.00,100.00 100.00,62.50"
    assert [day.at for day in lines.days] == ["0.00", "100.00"]


def test_at_most_eight_days_are_named() -> None:
    for count in (1, 8, 9, 60, 366):
        days = [str(n) for n in range(count)]
        named = stock_lines({"a": ["1"] * count}, days).days
        assert 1 <= len(named) <= 8
