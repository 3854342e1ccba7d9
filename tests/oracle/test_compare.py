"""The comparison itself: silent on an equal answer, loud on any change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from tests.oracle.brute import Answer, Line, Order, answer
from tests.oracle.compare import Json, differences
from tests.oracle.worked import CASE_L, CASE_L_AS_OF


def printed(found: Answer) -> Json:
    """An answer as the command would print it."""
    return {"orders": [printed_order(order) for order in found.orders], "not_ordered": []}


def printed_order(order: Order) -> Json:
    return {
        "number": f"{order.supplier}-{order.delivery.replace('-', '')}-1",
        "supplier": order.supplier,
        "location": order.place,
        "delivery": order.delivery,
        "next_delivery": order.next_delivery,
        "order_by": order.order_by,
        "last_order_by": order.last_order_by,
        "decision": order.decision,
        "value": str(float(order.value)),
        "lines": [printed_line(line) for line in order.lines],
    }


def printed_line(line: Line) -> Json:
    reasons: dict[str, Any] = {}
    for key, value in line.reasons.items():
        text = value is None or isinstance(value, str)
        reasons[key] = value if text else list(value) if isinstance(value, tuple) else str(value)
    return {
        "item": line.item,
        "sku": line.sku,
        "cases": line.cases,
        "qty": str(float(line.qty)),
        "reasons": reasons,
    }


@pytest.fixture
def expected() -> Answer:
    return answer(CASE_L, CASE_L_AS_OF)


def test_an_equal_answer_shows_no_difference(expected: Answer) -> None:
    assert differences(expected, printed(expected)) == []


def one_more_case(line: Line) -> Line:
    return replace(line, cases=line.cases + 1)


def other_need(line: Line) -> Line:
    return replace(line, reasons=line.reasons | {"raw_need": line.qty + 1})


@pytest.mark.parametrize(
    ("change", "named"),
    [(one_more_case, "cases"), (other_need, "reason raw_need")],
    ids=["cases", "a reason"],
)
def test_a_changed_line_is_named(
    change: Callable[[Line], Line], named: str, expected: Answer
) -> None:
    first = expected.orders[0]
    changed = replace(first, lines=tuple(change(line) for line in first.lines))
    found = printed(replace(expected, orders=(changed, *expected.orders[1:])))
    assert [difference.what for difference in differences(expected, found)] == [named]


@pytest.mark.parametrize("field", ["next_delivery", "order_by", "last_order_by", "decision"])
def test_a_changed_order_is_named(field: str, expected: Answer) -> None:
    found = printed(expected)
    found["orders"][0][field] = "other"
    assert [difference.what for difference in differences(expected, found)] == [field]


def test_a_missing_order_is_named_with_its_cases(expected: Answer) -> None:
    found = printed(expected)
    gone = found["orders"].pop()
    (difference,) = differences(expected, found)
    assert difference.expected == {line["item"]: line["cases"] for line in gone["lines"]}
