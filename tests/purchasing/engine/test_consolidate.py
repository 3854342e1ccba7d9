"""Orders by supplier, place and delivery, and what is done below a minimum (R13)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from purchasing.engine.consolidate import DraftOrder, Minimums, consolidate
from purchasing.engine.costs import holding_cost
from purchasing.engine.inputs import Supplier
from purchasing.engine.lines import Line, LineDecision
from purchasing.engine.quantities import decide_lines
from purchasing.engine.topping import Step, fill
from tests.purchasing.engine.line_scenes import daily, line, march, offer

USE = dict.fromkeys(range(4, 12), 10)
PATHS = np.full(20, 1 / 20)


def supplier(minimum: str | None = None, fee: str = "0", *, pays: bool = False) -> Supplier:
    return Supplier(
        "S1",
        frozenset(range(7)),
        time(14),
        2,
        frozenset(range(7)),
        minimum_order=None if minimum is None else Decimal(minimum),
        fee_below_minimum=pays,
        delivery_fee=Decimal(fee),
    )


def asked(item: str, use: Any = USE, price: str = "20", **terms: Any) -> Line:
    drawn = daily(use, len(PATHS))
    return line(drawn, sold=offer(10, price, item=item), **terms)


def orders(
    lines: list[Line], who: Supplier, approved: str = "0", limit: float = 0.10
) -> list[DraftOrder]:
    decisions = decide_lines(lines, PATHS)
    key = ("S1", "COM", march(4))
    minimums = Minimums(PATHS, limit, {key: Decimal(approved)})
    return consolidate(decisions, {"S1": who}, minimums)


def only(lines: list[Line], who: Supplier, approved: str = "0", limit: float = 0.1) -> DraftOrder:
    found = orders(lines, who, approved, limit)
    assert len(found) == 1
    return found[0]


def cases(order: DraftOrder) -> dict[str, int]:
    return {each.line.item: each.cases for each in order.lines}


def test_without_a_minimum_none_is_needed_and_a_fee_is_due_on_every_order() -> None:
    order = only([asked("LEEK")], supplier(fee="12.50"))
    assert (order.decision, order.fee) == ("none_needed", Decimal("12.50"))
    assert order.value == 60


def test_a_minimum_that_is_reached_to_the_cent_is_met_and_costs_no_fee() -> None:
    order = only([asked("LEEK")], supplier("60.00", "12.50", pays=True))
    assert (order.decision, order.fee) == ("met", Decimal(0))


def test_what_is_approved_for_the_same_delivery_counts_towards_the_minimum() -> None:
    order = only([asked("LEEK")], supplier("100"), approved="40")
    assert (order.decision, order.value) == ("met", Decimal(60))
    assert order.approved_value == 40


def test_the_value_is_that_of_the_price_in_force_on_the_delivery_day() -> None:
    rising = ((date.min, Decimal(20)), (march(4), Decimal(25)))
    one = asked("LEEK")
    one = replace(one, offer=replace(one.offer, prices=rising))
    assert only([one], supplier()).value == 75


def test_lines_of_one_supplier_place_and_delivery_make_one_order() -> None:
    elsewhere = replace(asked("LEEK"), location="KIOSK")
    later = asked("RICE", between=(5, 8))
    found = orders([asked("LEEK"), asked("CORN"), elsewhere, later], supplier())
    assert [(each.location, str(each.slot.delivery), sorted(cases(each))) for each in found] == [
        ("COM", "2026-03-04", ["CORN", "LEEK"]),
        ("COM", "2026-03-05", ["RICE"]),
        ("KIOSK", "2026-03-04", ["LEEK"]),
    ]


def test_no_cases_make_no_order() -> None:
    assert orders([asked("LEEK", stock=[(30, None)])], supplier("100")) == []


def test_short_of_the_minimum_undated_goods_are_added_case_by_case() -> None:
    order = only([asked("LEEK")], supplier("110"))
    assert (order.decision, cases(order)) == ("topped_up", {"LEEK": 6})
    reasons = order.lines[0].reasons
    assert (reasons.minimum_top_up, reasons.rounding, reasons.rule) == (30, 0, "R13")
    assert order.value == 120


def test_a_line_without_cases_may_be_what_is_added() -> None:
    """Rice for another week ties up less than leeks that spoil."""
    enough_rice = asked("RICE", stock=[(30, None)], price="15")
    leeks = asked("LEEK", dict.fromkeys(range(4, 7), 10), life=3)
    order = only([leeks, enough_rice], supplier("80"))
    assert (order.decision, cases(order)) == ("topped_up", {"LEEK": 3, "RICE": 2})


def test_what_is_used_up_soonest_is_added_where_nothing_else_decides() -> None:
    slow = asked("CORN", dict.fromkeys(range(4, 12), 1))
    quick = asked("RICE", dict.fromkeys(range(4, 12), 40))
    order = only([slow, quick], supplier("300"))
    assert cases(order) == {"CORN": 1, "RICE": 14}


def test_no_case_is_added_whose_chance_of_waste_exceeds_the_limit() -> None:
    """A fourth case would be used on one path of twenty and be left over on nineteen."""
    week = {4: 10, 5: 10, 6: [10] * 19 + [20]}
    spoils = asked("LEEK", week, life=2, level=0.9)
    order = only([spoils], supplier("80"))
    assert (order.decision, cases(order)) == ("cannot_meet_minimum", {"LEEK": 3})
    lenient = only([spoils], supplier("80"), limit=0.95)
    assert (lenient.decision, cases(lenient)) == ("topped_up", {"LEEK": 4})


def test_the_case_multiple_holds_for_what_is_added() -> None:
    one = asked("LEEK")
    by_four = replace(one, offer=replace(one.offer, case_multiple=4))
    assert cases(only([by_four], supplier("90"))) == {"LEEK": 8}


SPOILS = {4: 10, 5: 10, 6: 10}


def test_the_fee_is_paid_where_that_is_cheaper_than_waste() -> None:
    leeks = asked("LEEK", SPOILS, life=2)
    order = only([leeks], supplier("80", "3.00", pays=True), limit=1.0)
    assert (order.decision, order.fee) == ("fee_paid", Decimal(3))
    assert cases(order) == {"LEEK": 3}


def test_waste_is_taken_where_the_fee_is_dearer() -> None:
    leeks = asked("LEEK", SPOILS, life=2)
    order = only([leeks], supplier("80", "21.00", pays=True), limit=1.0)
    assert (order.decision, order.fee) == ("topped_up", Decimal(0))
    assert cases(order) == {"LEEK": 4}


def test_a_supplier_that_refuses_leaves_a_flagged_draft() -> None:
    order = only([asked("LEEK", SPOILS, life=2)], supplier("80"))
    assert (order.decision, cases(order)) == ("cannot_meet_minimum", {"LEEK": 3})


def test_an_order_that_can_wait_for_the_next_slot_waits() -> None:
    """A par above what the days to D2 take: nothing runs out if the next slot brings it."""
    par = asked("LEEK", SPOILS, stock=[(30, 8)], basis="fixed", par=40, life=2)
    assert only([par], supplier("80")).decision == "wait"


def test_an_order_does_not_wait_if_one_line_would_run_short() -> None:
    par = asked("LEEK", SPOILS, stock=[(30, 8)], basis="fixed", par=40, life=2)
    needed = asked("CORN", SPOILS, life=2)
    assert only([par, needed], supplier("200")).decision == "cannot_meet_minimum"


def test_an_order_does_not_wait_for_a_delivery_that_is_only_assumed() -> None:
    par = asked("LEEK", SPOILS, stock=[(30, 8)], basis="fixed", par=40, life=2)
    unsure = replace(par, slot=replace(par.slot, assumed_next=True))
    assert only([unsure], supplier("80")).decision == "cannot_meet_minimum"


def test_with_known_margins_waiting_costs_what_would_be_lost() -> None:
    """Two of thirty are missed at 1.00 each: less than a fee of 3.00, more than one of 1.50."""
    leeks = asked("LEEK", SPOILS, stock=[(28, 8)], life=2, shortage_cost=1.0)
    assert only([leeks], supplier("80", "3.00", pays=True)).decision == "wait"
    assert only([leeks], supplier("80", "1.50", pays=True)).decision == "fee_paid"


def step(name: int, value: str, cost: float) -> Step:
    return Step(name, 1, Decimal(value), cost)


JR_05 = [step(0, "36", 0.30), step(1, "20", 0.10), step(2, "14", 0.12), step(3, "18", 0.35)]


def test_jr_05_cheapest_rate_first_buys_too_much_which_is_taken_off_again() -> None:
    """inventory-theory.md: by rate b, a = 0.40; without b it is 0.30 (b, c would be 0.22)."""
    taken = fill(Decimal("32.00"), JR_05, lambda _: None)
    assert taken is not None
    assert [each.line for each in taken] == [0]


def test_steps_that_never_reach_the_gap_are_no_answer() -> None:
    assert fill(Decimal("100.00"), JR_05, lambda _: None) is None


def test_jr_06_holding_for_four_days() -> None:
    assert float(holding_cost(36.0, 0.25, 4)) == pytest.approx(0.0986301, abs=1e-7)


def test_holding_makes_dear_goods_the_last_to_be_added() -> None:
    dear = asked("SAFFRON", price="60", holding_rate=0.3)
    plain = asked("RICE", price="20")
    assert cases(only([dear, plain], supplier("300"))) == {"SAFFRON": 3, "RICE": 6}


def test_the_order_of_the_lines_changes_nothing() -> None:
    lines = [asked("LEEK"), asked("CORN", life=2), asked("RICE", stock=[(5, None)])]
    assert summary(orders(lines, supplier("500"))) == summary(orders(lines[::-1], supplier("500")))


def summary(found: list[DraftOrder]) -> list[tuple[str, dict[str, int]]]:
    return [(each.decision, cases(each)) for each in found]


def test_lines_not_topped_up_keep_their_decision() -> None:
    decisions = decide_lines([asked("LEEK")], PATHS)
    kept: list[LineDecision] = list(only([asked("LEEK")], supplier("10")).lines)
    assert [each.reasons for each in kept] == [each.reasons for each in decisions]
