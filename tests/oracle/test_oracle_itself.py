"""The oracle against the worked cases of the rules of the reorder run (check cases S and Q,
cases K and L: worked by hand there)."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from tests.oracle.book import Book, read_book
from tests.oracle.brute import Answer, Line, answer
from tests.oracle.cells import Sheets
from tests.oracle.line import CaseRule, Question, Stockroom, Window, days_not_covered, decide
from tests.oracle.line import ran_out_on as runs_out
from tests.oracle.prep import Kitchen
from tests.oracle.shelf import Arrival, Draw, Lot
from tests.oracle.slots import find_slot
from tests.oracle.worked import CASE_K, CASE_K_AS_OF, CASE_L, CASE_L_AS_OF, SETTINGS, rows

EVERY_DAY = "mon;tue;wed;thu;fri;sat;sun"


def march(day: int) -> date:
    return date(2026, 3, day)


SLOTS = [
    # order days, cutoff, lead, delivery days, closed, as_of -> O1, D1, O2's D2, last order by
    ("S1", "mon;thu 14:00 2 wed;fri -", "02T14:00", "02T14:00", 4, 11, "02T14:00"),
    ("S2", "mon;thu 14:00 2 wed;fri -", "02T14:01", "05T14:00", 11, 18, "09T14:00"),
    ("S3", "mon;tue;wed 14:00 1 fri -", "02T06:00", "02T14:00", 6, 13, "04T14:00"),
    ("S4", "mon;thu 14:00 1 tue;fri 2026-03-03", "02T06:00", "02T14:00", 6, 10, "05T14:00"),
    ("S5", "mon;thu 14:00 1 tue;fri 2026-03-02", "02T06:00", "05T14:00", 6, 10, "05T14:00"),
    ("S6", f"{EVERY_DAY} 10:00 0 {EVERY_DAY} -", "02T06:00", "02T10:00", 2, 3, "02T10:00"),
    ("S7", "fri 12:00 3 mon;tue 2026-03-08", "06T06:00", "06T12:00", 9, 16, "06T12:00"),
    ("S8", "mon 05:30 1 tue -", "02T06:00", "09T05:30", 10, 17, "09T05:30"),
]


def calendar_book(terms: str) -> Book:
    line, closed = terms.rsplit(" ", 1)
    columns = "code name order_days cutoff lead_days delivery_days"
    sheets: Sheets = {
        "settings": SETTINGS,
        "locations": rows("code name kind", "COM Commissary commissary"),
        "items": [],
        "suppliers": rows(columns, f"S1 Supplier {line}"),
        "supplier_closures": rows("supplier date", f"S1 {closed}") if closed != "-" else [],
    }
    return read_book(sheets)


@pytest.mark.parametrize(
    ("terms", "as_of", "order_by", "delivery", "next_delivery", "last"),
    [case[1:] for case in SLOTS],
    ids=[case[0] for case in SLOTS],
)
def test_slots_of_the_check_cases(
    terms: str, as_of: str, order_by: str, delivery: int, next_delivery: int, last: str
) -> None:
    book = calendar_book(terms)
    moment = book.clock.read(f"2026-03-{as_of}")
    slot = find_slot(book, book.suppliers["S1"], book.places["COM"], moment)
    assert slot is not None
    assert book.clock.text(slot.order_by) == f"2026-03-{order_by}"
    assert (slot.delivery, slot.next_delivery) == (march(delivery), march(next_delivery))
    assert book.clock.text(slot.last_order_by) == f"2026-03-{last}"


@pytest.mark.parametrize(
    ("day", "hour", "utc_hour", "minute"),
    [
        ("2026-03-29", "02:30", 1, 0),  # 02:00 to 03:00 does not exist: taken at 03:00 summer time
        ("2026-10-25", "02:30", 0, 30),  # comes twice: the first, still summer time
    ],
    ids=["spring gap", "doubled autumn hour"],
)
def test_cutoff_on_a_night_of_clock_change(day: str, hour: str, utc_hour: int, minute: int) -> None:
    clock = calendar_book(SLOTS[0][1]).clock
    assert clock.read(f"{day}T{hour}") % 86400 == utc_hour * 3600 + minute * 60


QUANTITIES = [
    # id, lots (qty, use-by), arrivals (day, qty, use-by), minimum, multiple, life, daily use,
    # have at D1, fixed, forecast, cannot cover
    ("Q1", [(25, None)], [], 1, 1, None, 10, 5, 3, 3, []),
    ("Q2", [(15, None)], [], 1, 1, None, 10, 0, 3, 3, []),
    ("Q3", [(50, 3)], [], 1, 1, None, 10, 0, 3, 3, []),
    ("Q4", [(50, 4)], [], 1, 1, None, 10, 30, 0, 2, []),
    ("Q5", [(20, None)], [(4, 10, None)], 1, 1, None, 10, 10, 2, 2, []),
    ("Q6", [(20, None)], [(5, 20, None)], 1, 1, None, 10, 0, 3, 1, []),
    ("Q7", [(20, None)], [], 1, 1, 1, 10, 0, 3, 2, [6]),
    ("Q8", [(20, None)], [], 1, 1, 2, 10, 0, 3, 3, []),
    ("Q9", [(20, None)], [], 2, 3, None, 10, 0, 3, 3, []),
    ("Q10", [(20, None)], [], 1, 1, None, 0, 20, 1, 0, []),
    ("Q11", [(10, 3), (30, 9)], [], 1, 1, None, 10, 20, 1, 1, []),
    ("Q12", [], [(3, 40, 4)], 1, 1, None, 10, 30, 0, 2, []),
]


def on(day: int | None) -> date | None:
    return None if day is None else march(day)


def quantity_question(
    lots: list[tuple[int, int | None]],
    coming: list[tuple[int, int, int | None]],
    rule: CaseRule,
    life: int | None,
    use: int,
    basis: str,
) -> Question:
    room = Stockroom(
        tuple(Lot(Fraction(qty), on(use_by), march(1), "") for qty, use_by in lots),
        tuple(Arrival(march(d), None, Fraction(qty), on(use_by)) for d, qty, use_by in coming),
        tuple(Draw(march(d), None, march(d), Fraction(use)) for d in range(2, 20)),
        as_of=0,
        today=march(2),
    )
    window = Window(march(4), march(7), None, None, as_of=0)
    return Question(room, window, rule, basis, Fraction(30), life)


@pytest.mark.parametrize("case", QUANTITIES, ids=[str(case[0]) for case in QUANTITIES])
def test_quantities_of_the_check_cases(case: tuple[Any, ...]) -> None:
    _, lots, coming, minimum, multiple, life, use, have, fixed, forecast, uncovered = case
    rule = CaseRule(Fraction(10), minimum, multiple)
    by_par = quantity_question(lots, coming, rule, life, use, "fixed")
    by_use = quantity_question(lots, coming, rule, life, use, "forecast")
    assert (decide(by_par).have, decide(by_par).cases) == (have, fixed)
    assert decide(by_use).cases == forecast
    assert days_not_covered(by_use) == [march(day) for day in uncovered]


def test_q4_is_flagged_because_it_runs_out_on_the_next_day() -> None:
    question = quantity_question([(50, 4)], [], CaseRule(Fraction(10)), None, 10, "fixed")
    assert runs_out(question, Fraction(0)) == march(5)


@pytest.mark.parametrize(
    ("need", "minimum", "multiple", "cases"),
    [("0", 2, 3, 0), ("0.000001", 1, 1, 0), ("10.000001", 1, 1, 1), ("10.00001", 1, 1, 2),
     ("1", 2, 3, 3), ("31", 2, 3, 6), ("31", 5, 2, 6)],
)  # fmt: skip
def test_cases_are_the_smallest_multiple_at_or_above_need_and_minimum(
    need: str, minimum: int, multiple: int, cases: int
) -> None:
    rule = CaseRule(Fraction(10), minimum, multiple)
    question = quantity_question([], [], rule, None, 0, "fixed")
    room, window = question.room, question.window
    assert decide(Question(room, window, rule, "fixed", Fraction(need), None)).cases == cases


def kitchen_of(sheets: Sheets, as_of: str) -> Kitchen:
    book = read_book(sheets)
    return Kitchen(book, book.places["COM"], book.clock.read(as_of)).plan()


def batches(plan: Kitchen, item: str) -> list[tuple[str, int]]:
    """Local start and grams of each batch, in order."""
    found = sorted((b.start, b.qty) for b in plan.batches if b.item == item)
    return [(plan.book.clock.text(start)[8:], int(qty)) for start, qty in found]


def drawn(plan: Kitchen, item: str) -> list[tuple[str, str, float]]:
    clock = plan.book.clock
    found = sorted(plan.draws[item], key=lambda d: (d.moment or 0, d.day_of_use))
    return [(clock.text(d.moment or 0)[8:], str(d.day_of_use)[8:], float(d.qty)) for d in found]


def test_case_k() -> None:
    plan = kitchen_of(CASE_K, CASE_K_AS_OF)
    assert batches(plan, "K") == [("04T16:00", 10_000), ("04T17:00", 10_000)]
    assert drawn(plan, "PULSES") == [("04T16:00", "04", 2000.0), ("04T17:00", "04", 2000.0)]


def test_case_k_keeps_what_is_left_of_the_run() -> None:
    more = rows("location date item qty unit", "A 2026-03-07 K 8 kg", "A 2026-03-08 K 1 kg")
    plan = kitchen_of({**CASE_K, "bookings": CASE_K["bookings"] + more}, CASE_K_AS_OF)
    # 8 kg left, made 03-04, use-by 03-07: they serve all of 03-07 and nothing of 03-08.
    assert batches(plan, "K")[2:] == [("07T17:00", 10_000)]


def test_case_l_batches() -> None:
    plan = kitchen_of(CASE_L, CASE_L_AS_OF)
    assert batches(plan, "FILL") == [
        ("20T14:00", 6000), ("20T14:30", 6000), ("20T15:00", 6000), ("20T15:30", 6000),
        ("21T06:00", 4000), ("21T06:30", 3000), ("23T06:00", 6000), ("23T06:30", 4000),
    ]  # fmt: skip
    assert batches(plan, "BASE") == [("19T15:00", 10_000), ("20T15:00", 10_000)]


def test_case_l_raw_usage() -> None:
    plan = kitchen_of(CASE_L, CASE_L_AS_OF)
    assert drawn(plan, "BEAN") == [("19T15:00", "19", 5000.0), ("20T15:00", "20", 5000.0)]
    assert sum(qty for start, _, qty in drawn(plan, "ONION") if start < "21") == 6000
    assert [qty for start, _, qty in drawn(plan, "ONION") if start > "21"] == [
        1000,
        750,
        1500,
        1000,
    ]
    assert drawn(plan, "ROLL") == [
        ("21T07:00", "21", 60.0), ("21T16:00", "22", 40.0),
        ("21T19:30", "22", 50.0), ("23T07:00", "23", 50.0),
    ]  # fmt: skip
    assert [qty for _, _, qty in drawn(plan, "CUP")] == [60, 40, 70, 50]


def lines_of(found: Answer) -> dict[str, Line]:
    return {line.item: line for order in found.orders for line in order.lines}


@pytest.mark.parametrize(
    ("item", "in_window", "net", "cases"),
    [("BEAN", 10, 9, 5), ("ONION", 10.25, 9.75, 4), ("ROLL", 200, 140, 6), ("CUP", 220, 140, 6)],
)
def test_case_l_orders(item: str, in_window: float, net: float, cases: int) -> None:
    line = lines_of(answer(CASE_L, CASE_L_AS_OF))[item]
    assert line.reasons["use_in_window"] == Fraction(in_window)
    assert line.reasons["raw_need"] == Fraction(net)
    assert line.cases == cases


def test_case_l_slots() -> None:
    found = [
        (order.supplier, order.order_by[8:], order.delivery[8:], order.next_delivery[8:])
        for order in answer(CASE_L, CASE_L_AS_OF).orders
    ]
    assert found == [
        ("S1", "19T14:00", "20", "23"),
        ("S2", "20T14:00", "21", "24"),
        ("S3", "18T14:00", "19", "23"),
    ]
