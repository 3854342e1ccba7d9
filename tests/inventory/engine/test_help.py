"""What would help a lot: only what is allowed, the most money first."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.help import Case, Elsewhere, Help, Way, used_elsewhere, what_would_help
from inventory.engine.kitchen import StockLot
from tests.inventory.engine.small_kitchens import CLOCK, at
from tests.inventory.engine.test_waste_risk import FIRST, every_path

LEEKS = Case(qty=5000, expected=2000, cost=0.01, may_freeze=True)


def ways(case: Case) -> list[Way]:
    return [one.way for one in what_would_help(case)]


def test_what_saves_most_comes_first() -> None:
    case = replace(LEEKS, elsewhere=(Elsewhere("CORNER", 500), Elsewhere("PIER", 1500)))
    found = what_would_help(case)
    assert [(one.way, one.qty, one.to) for one in found[:3]] == [
        (Way.FREEZE, 2000, ()),
        (Way.MOVE, 1500, ("PIER",)),
        (Way.MOVE, 500, ("CORNER",)),
    ]
    assert [one.saved for one in found[:3]] == pytest.approx([20, 15, 5])


def test_among_equals_guests_come_before_the_freezer_and_the_bin_is_last() -> None:
    case = replace(LEEKS, elsewhere=(Elsewhere("CORNER", 9000),), goes_into=("SOUP",))
    assert ways(case) == [
        Way.MOVE,
        Way.FREEZE,
        Way.PREP,
        Way.STAFF_MEAL,
        Way.DONATE,
        Way.THROW_AWAY,
    ]


def test_a_lot_that_will_be_used_needs_no_help() -> None:
    assert what_would_help(replace(LEEKS, expected=0)) == ()


def test_what_may_not_be_frozen_is_not() -> None:
    assert Way.FREEZE not in ways(replace(LEEKS, may_freeze=False))


def test_past_its_use_by_there_is_the_bin_and_nothing_else() -> None:
    past = replace(LEEKS, is_past=True, elsewhere=(Elsewhere("CORNER", 9000),))
    assert what_would_help(past) == (Help(Way.THROW_AWAY, 5000, 0),)


def test_on_hold_somebody_answers_first() -> None:
    assert ways(replace(LEEKS, on_hold=True)) == [Way.ANSWER, Way.THROW_AWAY]


def test_without_a_cost_nothing_is_promised() -> None:
    found = what_would_help(replace(LEEKS, cost=None))
    assert {one.saved for one in found} == {None}


amounts = st.floats(0, 1e6)


@given(
    st.builds(
        Case,
        qty=amounts,
        expected=amounts,
        cost=amounts | st.none(),
        is_past=st.booleans(),
        on_hold=st.booleans(),
        may_freeze=st.booleans(),
        elsewhere=st.lists(st.builds(Elsewhere, st.just("PIER"), amounts), max_size=3).map(tuple),
    )
)
def test_no_help_takes_more_than_is_there_and_order_is_by_money(case: Case) -> None:
    found = what_would_help(case)
    assert all(one.qty <= case.qty for one in found)
    saved = [one.saved or 0 for one in found]
    assert saved == sorted(saved, reverse=True)


# How much another place would use.


def leeks(qty: float, days: int, strip: str = "KALUM") -> StockLot:
    return StockLot("PIER", "LEEK", qty, FIRST + timedelta(days=days - 1), FIRST, strip)


def certain(*qtys: float) -> Draws:
    days = [FIRST + timedelta(days=n) for n in range(len(qtys))]
    _, weights = every_path(1, 1)
    rows = {(NO_HOUR, d, d): [qty] * len(weights) for d, qty in zip(days, qtys, strict=True)}
    return Draws.of(rows)  # type: ignore[arg-type]


def used(extra: StockLot, stock: list[StockLot], draws: Draws) -> float:
    _, weights = every_path(1, 1)
    moment, until = at("03-02 00:00"), FIRST + timedelta(days=3)
    return used_elsewhere(extra, stock, [], draws, weights, until=until, clock=CLOCK, as_of=moment)


@pytest.mark.parametrize(
    ("qty", "stock", "expected"),
    [
        pytest.param(50, [], 30, id="no more than is drawn there"),
        pytest.param(20, [], 20, id="no more than there is"),
        pytest.param(50, [leeks(30, 2, "OWN")], 0, id="what they have is used instead of it"),
        pytest.param(50, [leeks(12, 4, "OWN")], 30, id="theirs keeps longer and is used later"),
        pytest.param(50, [leeks(20, 4, "OWN")], 22, id="but some of theirs is lost instead"),
        pytest.param(50, [leeks(20, 9, "OWN")], 30, id="what keeps long is not lost yet"),
    ],
)
def test_what_another_place_would_use_in_time(
    qty: float, stock: list[StockLot], expected: float
) -> None:
    assert used(leeks(qty, 2), stock, certain(10, 20, 0, 12)) == pytest.approx(expected)


def test_after_its_use_by_nothing_is_used() -> None:
    assert used(leeks(50, 1), [], certain(10, 20)) == pytest.approx(10)
