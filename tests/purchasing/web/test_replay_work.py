"""A replay while it is worked out: what the page says of it, stopping it, and the worker."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Usage
from purchasing.models import Replay
from purchasing.services import replays
from purchasing.services.replays import KEPT, SECONDS_BETWEEN
from tests.purchasing.services.replay_kitchen import FIRST, LAST
from tests.purchasing.web.replay_page import ask, at_work, shown, worked_out
from tests.purchasing.web.shelf import post, text_of

pytestmark = pytest.mark.django_db


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


def test_nothing_is_noted_between_days_before_ten_seconds(
    kitchen: None, owner: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask(owner, policy=["mean"])
    still = datetime(2026, 4, 1, tzinfo=UTC)
    worked_out(clock=lambda: still, meanwhile=lambda: pytest.fail("too soon"))
    assert Replay.objects.get().reached is None
    assert SECONDS_BETWEEN == 10
