"""Whole runs on random workbooks, and the worked cases K and L, against the brute-force answer:
suppliers, slots, cases, reasons and minimums, where demand is certain."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from purchasing.engine.consolidate import DraftOrder
from purchasing.engine.lines import Reasons
from purchasing.engine.reorder import Plan, plan_orders
from tests.oracle.book import read_book
from tests.oracle.brute import Answer, Line, Order, answer
from tests.oracle.cells import Sheets
from tests.oracle.workbooks import Workbook, generate
from tests.oracle.worked import CASE_K, CASE_K_AS_OF, CASE_L, CASE_L_AS_OF
from tests.purchasing.engine.oracle_inputs import inputs_of


@pytest.mark.parametrize("seed", range(12))
def test_random_workbooks_one_level_deep(seed: int) -> None:
    compare(generate("A", seed))


@pytest.mark.parametrize("seed", range(8))
def test_random_workbooks_from_stops_to_purchases(seed: int) -> None:
    compare(generate("B", seed))


@pytest.mark.parametrize("family", ["A", "B"])
def test_large_random_workbooks(family: str) -> None:
    compare(generate(family, 500, large=True))


@pytest.mark.parametrize(
    ("sheets", "as_of"), [(CASE_K, CASE_K_AS_OF), (CASE_L, CASE_L_AS_OF)], ids=["K", "L"]
)
def test_worked_cases(sheets: Sheets, as_of: str) -> None:
    compare(Workbook("worked", sheets, as_of))


def test_case_l_orders() -> None:
    found = plan(CASE_L, CASE_L_AS_OF)
    cases = {one.line.item: one.cases for order in found.orders for one in order.lines}
    assert cases == {"BEAN": 5, "ONION": 4, "ROLL": 6, "CUP": 6}
    needs = {one.line.item: one.reasons.raw_need for order in found.orders for one in order.lines}
    assert needs == pytest.approx({"BEAN": 9000, "ONION": 9750, "ROLL": 140, "CUP": 140})


def plan(sheets: Sheets, as_of: str) -> Plan:
    inputs, moment = inputs_of(sheets, as_of)
    return plan_orders(inputs, as_of=moment, seed=1)


def compare(workbook: Workbook) -> None:
    expected = answer(workbook.sheets, workbook.as_of)
    found = plan(workbook.sheets, workbook.as_of)
    assert found.paths == 1
    units = base_units(workbook.sheets)
    compare_orders(expected, found, units)
    compare_left_out(expected, found, units)


def base_units(sheets: Sheets) -> dict[str, float]:
    """Base units in the unit of each item: the oracle prints the item's own."""
    items = read_book(sheets).items.items()
    return {code: float(row.measure.to_base(Fraction(1), row.measure.unit)) for code, row in items}


def compare_orders(expected: Answer, found: Plan, units: dict[str, float]) -> None:
    theirs = {(o.supplier, o.location, str(o.slot.delivery)): o for o in found.orders}
    ours = {(o.supplier, o.place, o.delivery): o for o in expected.orders}
    assert theirs.keys() == ours.keys()
    for key, order in ours.items():
        compare_order(order, theirs[key], units)


def compare_order(ours: Order, theirs: DraftOrder, units: dict[str, float]) -> None:
    assert str(theirs.slot.next_delivery) == ours.next_delivery
    assert theirs.decision == ours.decision
    assert float(theirs.value) == pytest.approx(float(ours.value))
    lines = {(each.line.item, each.line.offer.sku): each for each in theirs.lines}
    assert {key: each.cases for key, each in lines.items()} == {
        (line.item, line.sku): line.cases for line in ours.lines
    }
    for line in ours.lines:
        compare_reasons(line, lines[line.item, line.sku].reasons, units[line.item])


def compare_left_out(expected: Answer, found: Plan, units: dict[str, float]) -> None:
    theirs = {
        (one.location, one.item): one
        for one in found.not_ordered
        if one.problem != "could_be_bought"
    }
    assert theirs.keys() == expected.left_out.keys()
    for key, line in expected.left_out.items():
        one = theirs[key]
        assert (one.problem == "no_delivery") is (line is None)
        if line is not None and one.reasons is not None:
            compare_reasons(line, one.reasons, units[line.item])


def compare_reasons(ours: Line, theirs: Reasons, base: float) -> None:
    for key, value in ours.reasons.items():
        given: Any = getattr(theirs, key)
        if value is None:
            continue
        if isinstance(value, Fraction):
            assert given == pytest.approx(float(value) * base, rel=1e-9, abs=1e-5), key
        elif isinstance(value, tuple):
            assert tuple(str(day) for day in given) == value, key
        else:
            assert (str(given) if isinstance(given, date) else given or "") == value, key
