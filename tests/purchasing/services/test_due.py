"""What is due, and that it is done once (R15; moments in the business's zone)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from inventory.models import Location
from purchasing.models import DueMoment, PurchaseOrder, Supplier, SupplierClosure
from purchasing.services import due
from purchasing.services.due import ask_for_fresh_drafts, do_what_is_due, note_cutoffs
from tests import factories as make
from tests.purchasing.services.small_kitchen import load

pytestmark = pytest.mark.django_db
EARLY = datetime(2026, 3, 2, 6, tzinfo=UTC)  # a Monday
EVERY_DAY = list(range(7))


def at(hour: int, minute: int = 0, day: int = 2) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def moments() -> dict[str, datetime]:
    return dict(DueMoment.objects.filter(done_at__isnull=True).values_list("key", "due_at"))


def first_drafts() -> list[datetime]:
    found = DueMoment.objects.filter(kind=DueMoment.Kind.FIRST_DRAFT).order_by("due_at")
    return list(found.values_list("due_at", flat=True))


def test_two_moments_before_each_cutoff_are_written_down(settings: Any) -> None:
    settings.FIRST_DRAFT_MINUTES, settings.LAST_DRAFT_MINUTES = 180, 30
    make.supplier(code="GRO", order_days=[0, 2])
    note_cutoffs(at=EARLY)
    assert moments() == {
        "first_draft:GRO:20260302T140000Z": at(11),
        "last_draft:GRO:20260302T140000Z": at(13, 30),
        "first_draft:GRO:20260304T140000Z": at(11, day=4),
        "last_draft:GRO:20260304T140000Z": at(13, 30, day=4),
    }


def test_noting_again_changes_nothing() -> None:
    make.supplier()
    note_cutoffs(at=EARLY)
    rows = list(DueMoment.objects.order_by("pk").values())
    note_cutoffs(at=EARLY)
    assert list(DueMoment.objects.order_by("pk").values()) == rows


@pytest.mark.parametrize(
    ("zone", "night", "cutoff", "utc"),
    [
        # the hour from 02:00 does not exist: the next minute that does, 03:00 EDT
        ("America/New_York", date(2026, 3, 8), "02:30", (7, 0)),
        ("America/New_York", date(2026, 3, 8), "03:30", (7, 30)),
        # 01:30 comes twice: the first, EDT
        ("America/New_York", date(2026, 11, 1), "01:30", (5, 30)),
        ("America/New_York", date(2026, 11, 1), "02:30", (7, 30)),
        # 01:00 to 02:00 does not exist
        ("Europe/London", date(2026, 3, 29), "01:15", (1, 0)),
        ("Europe/London", date(2026, 10, 25), "01:15", (0, 15)),
    ],
)
def test_cutoffs_on_nights_of_a_clock_change(
    zone: str, night: date, cutoff: str, utc: tuple[int, int], settings: Any
) -> None:
    make.time_zone(zone)
    make.supplier(order_days=[night.weekday()], cutoff=cutoff)
    noon_before = datetime(night.year, night.month, night.day, 12, tzinfo=UTC) - timedelta(days=1)
    note_cutoffs(at=noon_before)
    closes = datetime(night.year, night.month, night.day, *utc, tzinfo=UTC)
    assert first_drafts() == [closes - timedelta(minutes=settings.FIRST_DRAFT_MINUTES)]


def test_another_zone_moves_the_moments() -> None:
    make.supplier(order_days=[0])
    note_cutoffs(at=EARLY)
    make.time_zone("America/New_York")
    note_cutoffs(at=EARLY)
    assert first_drafts() == [at(16)]


def test_another_cutoff_moves_the_moments() -> None:
    supplier = make.supplier(order_days=[0])
    note_cutoffs(at=EARLY)
    Supplier.objects.filter(pk=supplier.pk).update(cutoff="15:00")
    note_cutoffs(at=EARLY)
    assert first_drafts() == [at(12)]


def test_a_day_that_the_supplier_is_closed_has_no_moments() -> None:
    supplier = make.supplier(order_days=[0, 1])
    note_cutoffs(at=EARLY)
    SupplierClosure.objects.create(supplier=supplier, date=date(2026, 3, 2))
    note_cutoffs(at=EARLY)
    assert first_drafts() == [at(11, day=3)]


def test_a_retired_supplier_has_no_moments() -> None:
    supplier = make.supplier(order_days=EVERY_DAY)
    note_cutoffs(at=EARLY)
    Supplier.objects.filter(pk=supplier.pk).update(retired_on=date(2026, 3, 2))
    note_cutoffs(at=EARLY)
    assert moments() == {}


def test_moments_that_were_done_go_after_a_month() -> None:
    make.supplier(order_days=[0])
    note_cutoffs(at=EARLY)
    DueMoment.objects.update(done_at=at(12))
    note_cutoffs(at=at(12) + timedelta(days=29))
    assert DueMoment.objects.filter(done_at__isnull=False).exists()
    note_cutoffs(at=at(12) + timedelta(days=31))
    assert not DueMoment.objects.filter(done_at__isnull=False).exists()


def test_drafts_are_drawn_up_when_a_moment_has_come_and_once() -> None:
    load()
    assert do_what_is_due(at=at(10, 59)) == 0
    assert not PurchaseOrder.objects.exists()
    assert do_what_is_due(at=at(11)) == 1
    assert PurchaseOrder.objects.count() == 3
    assert do_what_is_due(at=at(11)) == 0
    # GRO's last and DRY's first, both past at 13:40
    assert do_what_is_due(at=at(13, 40)) == 2
    assert do_what_is_due(at=at(13, 41)) == 0


def test_a_late_tick_does_what_is_still_worth_doing() -> None:
    """After the cutoff no draft helps: its moments go."""
    load()
    note_cutoffs(at=EARLY)
    assert do_what_is_due(at=at(14, 30)) == 1
    assert not DueMoment.objects.filter(key__contains=":GRO:20260302").exists()


def test_a_change_asks_for_fresh_drafts() -> None:
    load()
    ask_for_fresh_drafts(at=at(8), why="a price changed")
    assert do_what_is_due(at=at(7, 59)) == 0
    assert do_what_is_due(at=at(8)) == 1
    assert PurchaseOrder.objects.count() == 3


def test_changes_asked_for_during_the_work_are_done_by_the_next_tick(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    make.location()
    ask_for_fresh_drafts(at=at(8), why="a booking")

    def meanwhile(*, as_of: datetime) -> None:
        ask_for_fresh_drafts(at=as_of, why="another booking")

    monkeypatch.setattr(due, "draw_up_orders", meanwhile)
    assert do_what_is_due(at=at(8)) == 1
    assert do_what_is_due(at=at(8)) == 1


def test_a_moment_that_a_lost_worker_claimed_is_found_again_when_the_lease_is_over(
    monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.CLAIM_SECONDS = 60
    assert not Location.objects.exists()
    ask_for_fresh_drafts(at=at(8), why="a count")

    def lost(*, as_of: datetime) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as while_lost:
        while_lost.setattr(due, "draw_up_orders", lost)
        with pytest.raises(KeyboardInterrupt):
            do_what_is_due(at=at(8))
    assert do_what_is_due(at=at(8, 1)) == 0
    assert do_what_is_due(at=at(8, 1) + timedelta(seconds=1)) == 1
    assert do_what_is_due(at=at(9)) == 0


def test_the_claim_of_a_slow_worker_that_another_took_over_is_not_marked_done_by_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ask_for_fresh_drafts(at=at(8), why="a count")

    def taken_over(*, as_of: datetime) -> None:
        DueMoment.objects.update(claimed_by="another")

    monkeypatch.setattr(due, "draw_up_orders", taken_over)
    assert do_what_is_due(at=at(8)) == 0
