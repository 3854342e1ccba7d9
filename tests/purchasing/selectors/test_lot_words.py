"""How a date came about, in sentences; and helps as buttons."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.engine.help import Help, Way
from inventory.engine.take_outs import Why
from inventory.models import Item, Location, Lot
from inventory.services.lots import Change, Part, split_lot
from purchasing.selectors.help_words import Own, choice, handy, sent
from purchasing.selectors.lot_words import dated
from tests import factories as make

DAY = timedelta(days=1)


def day(text: str) -> date:
    return date.fromisoformat(f"2026-{text}")


def noon(text: str) -> datetime:
    return datetime.combine(day(text), datetime.min.time(), UTC) + timedelta(hours=12)


@pytest.fixture
def place(db: None) -> Location:
    return make.location()


def soup(**facts: object) -> Item:
    usual = {"kind": "prep", "tcs": True, "ready_to_eat": True, "may_freeze": True}
    return make.item(**{**usual, **facts})


def changed(lot: Lot, place: Location, change: Change, on: str) -> Lot:
    part = Part(lot, place, Decimal(1), change)
    return split_lot(part, happened_at=noon(on), by=None, at=noon(on))


def test_received_and_kept_its_life(place: Location) -> None:
    item = make.item(shelf_life_days=5)
    lot = make.lot(1, at=place, of=item, when=noon("03-02"), use_by=day("03-07"))
    assert dated(lot, day("03-04")) == ("Received Mon 2 Mar and kept 5 days after.",)


def test_made_and_kept_its_life_is_on_a_day_of_its_mark(place: Location) -> None:
    item = soup(shelf_life_days=3)
    lot = make.lot(1, of=item, when=noon("03-02"), origin="batch", use_by=day("03-05"))
    assert dated(lot, day("03-04")) == (
        "Made Mon 2 Mar and kept 3 days after.",
        "Day 3 of 7 of its date mark, counted from Mon 2 Mar.",
    )


def test_made_of_what_ends_earlier(place: Location) -> None:
    lot = make.lot(1, of=soup(), when=noon("03-02"), origin="batch", use_by=day("03-04"))
    assert dated(lot, day("03-03"))[0] == ("Made Mon 2 Mar; the date mark or what went in ends it.")


def test_without_a_date(place: Location) -> None:
    assert dated(make.lot(1), day("03-03")) == ("No use-by is stated.",)


def test_frozen_and_thawed_again(place: Location) -> None:
    lot = make.lot(9, at=place, of=soup(), when=noon("03-02"), origin="batch", use_by=day("03-08"))
    frozen = changed(lot, place, Change.FREEZE, "03-04")
    assert dated(frozen, day("03-20")) == (
        "Frozen since Wed 4 Mar: its clock stands, no date is due.",
        "3 of 7 days used, 4 left.",
    )
    thawed = changed(frozen, place, Change.THAW, "04-10")
    assert dated(thawed, day("04-10")) == (
        "Mon 13 Apr is the earliest of: Sun 8 Mar before it was frozen and 36 days whole in the "
        "freezer.",
        "Day 4 of 7 of its date mark, counted from Mon 2 Mar.",
    )


def test_over_when_it_was_thawed(place: Location) -> None:
    """DM-13."""
    lot = make.lot(9, at=place, of=soup(), when=noon("03-02"), origin="batch", use_by=day("03-08"))
    thawed = changed(changed(lot, place, Change.FREEZE, "03-08"), place, Change.THAW, "03-20")
    assert dated(thawed, day("03-20"))[-1] == (
        "Its seven days are over: discard it (Food Code 3-501.18)."
    )


def test_marked_later_than_seven_days_allow(place: Location) -> None:
    """DM-16."""
    lot = make.lot(1, of=soup(), when=noon("03-02"), origin="batch", use_by=day("03-20"))
    assert "Its mark is later than seven days allow" in dated(lot, day("03-04"))[-1]


@pytest.mark.parametrize(
    ("qty", "there", "unit", "said"),
    [
        ("2.7216", "9", "kg", "2.7"),
        ("2.78", "2.79", "kg", "2.79"),  # never more than there is
        ("10.5", "40", "lb", "10"),
        ("0.123", "4", "kg", "0.12"),
        ("5", "5", "kg", "5"),
        ("4.99", "4.5", "kg", "4.5"),
        ("0.2", "12", "each", "1"),
        ("3.4", "12", "each", "3"),
        ("1234.5", "2000", "g", "1234"),
    ],
)
def test_quantities_as_one_would_weigh_them_off(qty: str, there: str, unit: str, said: str) -> None:
    assert handy(Own(Decimal(qty), Decimal(there), unit)) == Decimal(said)


def test_a_button_sends_what_it_says() -> None:
    own = Own(Decimal("2.7216"), Decimal(9), "kg")
    move = Help(Way.MOVE, 2721.6, 27.216, ("PIER",))
    button = choice(move, own, {"PIER": "Pier truck"}, why=Why.TOO_MUCH, sees=True)
    assert (button.words, button.saves) == ("send 2.7 kg to Pier truck", "27.22")
    pressed = sent(button.sends, "kg")
    assert pressed is not None
    assert (pressed.way, pressed.qty, pressed.to) == (Way.MOVE, Decimal("2.7"), "PIER")


def test_money_is_for_who_sees_it_and_thrown_away_says_why() -> None:
    own = Own(Decimal(2), Decimal(9), "kg")
    frozen = choice(Help(Way.FREEZE, 2000, 20), own, {}, why=Why.TOO_MUCH, sees=False)
    assert frozen.saves == ""
    binned = choice(Help(Way.THROW_AWAY, 2000, 0), own, {}, why=Why.HELD, sees=True)
    assert binned.sends == "throw_away|2|recalled or held"


@pytest.mark.parametrize("value", ["", "freeze", "freeze|", "freeze|1E+99|", "eat|1|", "move|NaN|"])
def test_what_is_no_button_is_none(value: str) -> None:
    assert sent(value, "kg") is None
