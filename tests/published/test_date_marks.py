"""DM-01 to DM-18 of food-standards.md section 1.2 as lots go through them: made, opened, frozen,
thawed. The bare arithmetic is in ``test_food_standards``. FDA Food Code 2022, 3-501.17 and
3-501.18; local code and the licensed person in charge decide."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.engine.date_marks import (
    Mark,
    Stage,
    Verdict,
    first_marked_day,
    freezes,
    judge,
    mark,
    needs_mark,
)
from inventory.engine.dates import Freeze
from inventory.models import Item, Location, Lot
from inventory.problems import Refused
from inventory.selectors.lot_dates import date_of
from inventory.services.lots import Change, Part, split_lot
from tests import factories as make

DAY = timedelta(days=1)


def day(text: str) -> date:
    return date.fromisoformat(text if len(text) > 5 else f"2026-{text}")


def noon(text: str) -> datetime:
    return datetime.combine(day(text), datetime.min.time(), UTC) + timedelta(hours=12)


@pytest.mark.parametrize(
    ("frozen_on", "thawed_on", "used", "last_day"),
    [
        pytest.param("03-04", "04-10", 4, "04-13", id="DM-09"),
        pytest.param("03-02", "04-10", 2, "04-15", id="DM-10"),
        pytest.param("03-04", "03-04", 3, "03-08", id="DM-11"),
        pytest.param("03-04", "03-05", 4, "03-08", id="DM-12"),
        pytest.param("03-08", "03-20", 8, "03-19", id="DM-13"),
    ],
)
def test_a_mark_after_a_spell_in_the_freezer(
    frozen_on: str, thawed_on: str, used: int, last_day: str
) -> None:
    spell = Freeze(day(frozen_on), day(thawed_on))
    found = mark(day("03-02"), day(thawed_on), freezes=[spell])
    assert (found.used, found.last_day) == (used, day(last_day))


def test_dm_13_thawed_when_it_was_over_is_discarded() -> None:
    found = mark(day("03-02"), day("03-20"), freezes=[Freeze(day("03-08"), day("03-20"))])
    assert found.is_over
    assert judge(day("03-19"), found, day("03-20")) is Verdict.SPAN_OVER


def test_dm_15_ready_to_eat_without_a_date_is_discarded() -> None:
    assert judge(None, None, day("03-04")) is Verdict.NO_MARK
    unmarked = judge(None, mark(day("03-02"), day("03-04")), day("03-04"))
    assert unmarked.is_discard


def test_dm_16_a_mark_later_than_the_span_is_refused() -> None:
    true = mark(day("03-02"), day("03-04"))
    assert judge(day("03-10"), true, day("03-04")) is Verdict.MARKED_TOO_LATE
    assert judge(day("03-08"), true, day("03-04")) is Verdict.KEEP


@pytest.mark.parametrize(
    ("gone", "needed"),
    [
        pytest.param("2026-03-02T20:00", False, id="DM-17 gone the same evening"),
        pytest.param("2026-03-03T08:00", False, id="24 hours exactly"),
        pytest.param("2026-03-03T08:01", True, id="a minute longer"),
        pytest.param(None, True, id="still there"),
    ],
)
def test_food_held_no_longer_than_a_day_needs_no_mark(gone: str | None, needed: bool) -> None:
    made = datetime(2026, 3, 2, 8, tzinfo=UTC)
    end = datetime.fromisoformat(gone).replace(tzinfo=UTC) if gone else None
    assert needs_mark(made, end) is needed


def test_dm_18_while_it_is_frozen_no_date_is_due() -> None:
    found = mark(day("03-02"), day("03-20"), freezes=[Freeze(day("03-04"))])
    assert found == Mark(day("03-02"), used=3, last_day=None)
    assert found.left == 4
    assert judge(None, found, day("03-20")) is Verdict.CLOCK_STANDS


def test_stages_of_a_lot_are_its_spells_in_the_freezer() -> None:
    made, first, out = Stage(day("03-02")), Stage(day("03-03"), frozen=True), Stage(day("03-10"))
    again = [Stage(day("03-11"), frozen=True), Stage(day("03-12"), frozen=True)]
    assert freezes([made]) == ()
    assert freezes([made, first]) == (Freeze(day("03-03")),)
    assert freezes([made, first, out, *again]) == (
        Freeze(day("03-03"), day("03-10")),
        Freeze(day("03-11")),
    )


def test_day_one_is_the_day_of_making_or_of_opening() -> None:
    stages = [Stage(day("03-02")), Stage(day("03-05"), opened=True), Stage(day("03-06"))]
    assert first_marked_day(stages, made_here=True) == day("03-02")
    assert first_marked_day(stages, made_here=False) == day("03-05")
    assert first_marked_day(stages[:1], made_here=False) is None


# The same values with lots in the house.


@pytest.fixture
def place(db: None) -> Location:
    return make.location(kind="commissary")


@pytest.fixture
def soup(db: None) -> Item:
    return make.item(
        name="Soup", kind="prep", tcs=True, ready_to_eat=True, may_freeze=True, storage="chilled"
    )


def made(soup: Item, place: Location, on: str) -> Lot:
    last = day(on) + 6 * DAY
    return make.lot(1000, at=place, of=soup, when=noon(on), origin="batch", use_by=last)


def changed(lot: Lot, place: Location, change: Change, on: str, use_by: str = "") -> Lot:
    wanted = day(use_by) if use_by else None
    part = Part(lot, place, Decimal(500), change, wanted)
    return split_lot(part, happened_at=noon(on), by=None, at=noon(on))


@pytest.mark.parametrize(
    ("frozen_on", "thawed_on", "last_day"),
    [
        pytest.param("03-04", "04-10", "04-13", id="DM-09"),
        pytest.param("03-02", "04-10", "04-15", id="DM-10"),
        pytest.param("03-04", "03-04", "03-08", id="DM-11"),
        pytest.param("03-04", "03-05", "03-08", id="DM-12"),
        pytest.param("03-08", "03-20", "03-19", id="DM-13"),
    ],
)
def test_a_lot_frozen_and_thawed(
    place: Location, soup: Item, frozen_on: str, thawed_on: str, last_day: str
) -> None:
    frozen = changed(made(soup, place, "03-02"), place, Change.FREEZE, frozen_on)
    thawed = changed(frozen, place, Change.THAW, thawed_on)
    assert frozen.use_by is None
    assert thawed.use_by == day(last_day)
    shown = date_of(thawed, day(thawed_on))
    assert shown.mark is not None and shown.mark.last_day == day(last_day)


def test_dm_14_a_lot_frozen_twice(place: Location, soup: Item) -> None:
    lot = made(soup, place, "03-02")
    whole = Decimal(1000)
    for change, on in (
        (Change.FREEZE, "03-03"),
        (Change.THAW, "03-10"),
        (Change.FREEZE, "03-11"),
        (Change.THAW, "03-20"),
    ):
        lot = split_lot(Part(lot, place, whole, change), happened_at=noon(on), by=None, at=noon(on))
    assert lot.use_by == day("03-22")
    shown = date_of(lot, day("03-20"))
    assert shown.mark is not None and shown.mark.last_day == day("03-22")


@pytest.mark.parametrize(
    ("makers", "last_day"),
    [
        pytest.param("03-05", "03-05", id="DM-06 cap bites"),
        pytest.param("03-20", "03-08", id="DM-07 cap does not bite"),
    ],
)
def test_a_tub_that_was_opened(place: Location, makers: str, last_day: str) -> None:
    tub = make.item(tcs=True, ready_to_eat=True)
    lot = make.lot(1000, at=place, of=tub, when=noon("03-01"), use_by=day(makers))
    opened = changed(lot, place, Change.OPEN, "03-02")
    assert opened.use_by == day(last_day)
    shown = date_of(opened, day("03-03"))
    assert shown.mark is not None
    assert (shown.mark.used, shown.mark.last_day) == (2, day(last_day))


def test_dm_15_a_lot_without_a_date_is_to_be_discarded(place: Location, soup: Item) -> None:
    lot = make.lot(1, at=place, of=soup, when=noon("03-02"), origin="opening", received_on=None)
    assert date_of(lot, day("03-04")).verdict is Verdict.NO_MARK


def test_dm_16_nobody_marks_a_part_later(place: Location, soup: Item) -> None:
    lot = made(soup, place, "03-02")
    with pytest.raises(Refused, match="Nobody lengthens a use-by by hand"):
        changed(lot, place, Change.OPEN, "03-04", use_by="03-10")


def test_dm_16_a_lot_that_is_marked_later_is_to_be_discarded(place: Location, soup: Item) -> None:
    lot = make.lot(1, at=place, of=soup, when=noon("03-02"), origin="batch", use_by=day("03-10"))
    assert date_of(lot, day("03-04")).verdict is Verdict.MARKED_TOO_LATE


def test_dm_18_a_frozen_lot_shows_what_is_left(place: Location, soup: Item) -> None:
    frozen = changed(made(soup, place, "03-02"), place, Change.FREEZE, "03-04")
    shown = date_of(frozen, day("03-20"))
    assert shown.mark is not None
    assert (shown.mark.used, shown.mark.left, shown.mark.last_day) == (3, 4, None)
    assert shown.verdict is Verdict.CLOCK_STANDS


def test_what_need_not_be_marked_is_not_judged(place: Location) -> None:
    rice = make.item(tcs=False, ready_to_eat=False)
    shown = date_of(make.lot(1, at=place, of=rice), day("03-20"))
    assert (shown.mark, shown.verdict) == (None, None)


def test_a_closed_tub_has_no_mark_yet(place: Location) -> None:
    tub = make.item(tcs=True, ready_to_eat=True)
    lot = make.lot(1, at=place, of=tub, when=noon("03-02"), use_by=day("03-20"))
    shown = date_of(lot, day("03-04"))
    assert (shown.mark, shown.verdict) == (None, None)
