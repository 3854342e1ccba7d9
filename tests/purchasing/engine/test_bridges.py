"""Bridges: another offer until the first choice can deliver (R13).

Monday 2 March 2026, 06:00. SLOW, the first choice, delivers ordered goods three days later: on
Thursday and then on Saturday. FAST delivers on Tuesday; a case holds 15 at 45.00 against 10 at
20.00. Leeks are used from Tuesday to Saturday, 10 a day.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

from inventory.engine.kitchen import Item, Place
from purchasing.engine.inputs import Offer, ParRule, Policy, ReorderInputs, Supplier
from purchasing.engine.lines import LineDecision, Weighed
from purchasing.engine.reorder import Plan
from tests.inventory.engine.small_kitchens import booking, kitchen, lot
from tests.purchasing.engine.line_scenes import march, offer
from tests.purchasing.engine.test_reorder import BUSY, answers, inputs, run

COM = Place("COM", "commissary")
LEEK = Item("LEEK", "ingredient", "g", shelf_life_days=4)
EVERY_DAY = frozenset(range(7))
SLOW = Supplier("SLOW", frozenset({0, 2, 4}), time(14), 3, frozenset({1, 3, 5}))
FAST = Supplier("FAST", EVERY_DAY, time(14), 1, EVERY_DAY)
NEXT = Supplier("NEXT", EVERY_DAY, time(14), 2, EVERY_DAY)
FIRST = offer(10, "20", supplier="SLOW")
SECOND = offer(15, "45", supplier="FAST", rank=2)
USED = range(3, 8)


def scene(
    *,
    bridge: bool = True,
    stock: float = 0,
    offers: tuple[Offer, ...] = (FIRST, SECOND),
    suppliers: tuple[Supplier, ...] = (SLOW, FAST, NEXT),
    item: Item = LEEK,
    used: range = USED,
    **more: Any,
) -> ReorderInputs:
    known = kitchen(
        [COM],
        [item],
        [],
        bookings=[booking("COM", f"03-{day:02}", "LEEK", 10) for day in used],
        lots=[lot("COM", "LEEK", stock)] if stock else [],
    )
    asked = inputs(known, list(offers), suppliers={one.code: one for one in suppliers}, **more)
    return replace(asked, policy=replace(asked.policy, bridge=bridge))


def ordered(plan: Plan) -> dict[str, int]:
    return {order.supplier: one.cases for order in plan.orders for one in order.lines}


def lines(plan: Plan) -> dict[str, LineDecision]:
    return {order.supplier: one for order in plan.orders for one in order.lines}


def test_what_would_run_out_before_the_first_choice_comes_is_bridged() -> None:
    """20 until Thursday: 2 cases of 15. Of the 20 from Thursday on 10 are there then."""
    plan = run(scene())
    assert ordered(plan) == {"FAST": 2, "SLOW": 1}
    found = lines(plan)
    bridge, first = found["FAST"], found["SLOW"]
    assert (bridge.line.window.start, bridge.line.window.end) == (march(3), march(5))
    assert (bridge.reasons.raw_need, bridge.reasons.use_in_window) == (20, 20)
    assert (first.reasons.on_order, first.verdict.have, first.reasons.raw_need) == (30, 10, 10)
    assert first.reasons.stockout_chance_before_delivery == 0


def test_both_lines_say_that_r13_decided_and_what_it_costs() -> None:
    """2 cases for 90.00 in place of 30 for 60.00; margins are not known."""
    for one in lines(run(scene())).values():
        assert (one.reasons.rule, one.verdict.rule) == ("R13", "R13")
        assert one.verdict.weighed == (Weighed("bridge", 30.0, "run_short", None),)


def test_without_the_setting_nothing_is_bridged() -> None:
    plan = run(scene(bridge=False))
    assert ordered(plan) == {"SLOW": 2}
    assert lines(plan)["SLOW"].reasons.stockout_chance_before_delivery == 1
    assert Policy("America/New_York").bridge  # R13 asks for it, so it is on unless left out


def test_enough_until_the_first_choice_comes_needs_no_bridge() -> None:
    assert answers(run(scene(stock=20))) == answers(run(scene(stock=20, bridge=False)))


def test_a_part_of_what_is_missing_is_bridged() -> None:
    """15 there: 5 until Thursday are missing, one case of 15."""
    assert ordered(run(scene(stock=15))) == {"FAST": 1, "SLOW": 1}


def test_what_the_bridge_carries_over_may_leave_nothing_for_the_first_choice() -> None:
    large = replace(SECOND, pack_base=50.0)
    plan = run(scene(offers=(FIRST, large)))
    assert ordered(plan) == {"FAST": 1}
    (left,) = plan.not_ordered
    assert (left.supplier, left.problem) == ("SLOW", "")
    assert left.reasons is not None
    assert left.reasons.rule == "R13"


def test_a_shortage_that_no_offer_comes_in_time_for_is_not_bridged() -> None:
    """10 on Tuesday only, and the other offer comes on Wednesday."""
    late = replace(SECOND, supplier="NEXT")
    asked = scene(offers=(FIRST, late), used=range(3, 4))
    assert ordered(run(asked)) == {}


def test_an_offer_that_comes_no_earlier_is_no_bridge() -> None:
    slow_too = replace(SLOW, code="FAST")
    assert ordered(run(scene(suppliers=(SLOW, slow_too)))) == {"SLOW": 2}


def test_the_offer_that_keeps_the_level_until_then_is_preferred() -> None:
    """NEXT is of a better rank but comes after the shortage of Tuesday."""
    second = replace(SECOND, supplier="NEXT")
    third = replace(SECOND, rank=3)
    assert ordered(run(scene(offers=(FIRST, second, third)))) == {"FAST": 2, "SLOW": 1}


def test_of_offers_that_keep_the_level_the_better_rank_bridges() -> None:
    cheaper = offer(15, "30", supplier="NEXT", rank=3)
    asked = scene(offers=(FIRST, SECOND, cheaper), used=range(4, 8))
    assert ordered(run(asked)) == {"FAST": 1, "SLOW": 2}


def test_of_offers_of_one_rank_the_cheaper_bridges() -> None:
    cheaper = offer(15, "30", supplier="NEXT", rank=2)
    asked = scene(offers=(FIRST, SECOND, cheaper), used=range(4, 8))
    assert ordered(run(asked)) == {"NEXT": 1, "SLOW": 2}


def test_an_equal_rank_that_comes_earlier_may_bridge_as_well() -> None:
    assert ordered(run(scene(offers=(FIRST, replace(SECOND, rank=1))))) == {"FAST": 2, "SLOW": 1}


def test_a_fixed_par_is_bridged_by_the_use_until_it_comes() -> None:
    par = ParRule("COM", "LEEK", None, 40.0, "fixed")
    plan = run(scene(pars=(par,)))
    assert ordered(plan) == {"FAST": 2, "SLOW": 3}
    assert lines(plan)["FAST"].reasons.basis_used == "forecast"


def test_the_bridge_is_thrown_away_past_its_own_use_by() -> None:
    """Life 1: of the 30 of Tuesday nothing is left on Thursday; the 10 are wasted at 3.00."""
    plan = run(scene(item=replace(LEEK, shelf_life_days=1)))
    assert ordered(plan) == {"FAST": 2, "SLOW": 2}
    bridge = lines(plan)["FAST"]
    assert bridge.reasons.expected_waste == 10
    assert bridge.verdict.weighed[0].cost == 90 - 20 * 2


def test_where_the_margin_is_known_the_bridge_is_weighed_against_it() -> None:
    """What can be left off is missed at its own cost: 20 at 3.00."""
    garnish = replace(LEEK, can_be_left_off=True)
    assert lines(run(scene(item=garnish)))["FAST"].verdict.weighed == (
        Weighed("bridge", 30.0, "run_short", 60.0),
    )


def test_hours_of_arrival_bound_what_is_bridged() -> None:
    """Usage without an hour comes after all arrivals, so Thursday's is the first choice's."""
    timed = tuple(replace(one, arrives=time(9)) for one in (SLOW, FAST))
    plan = run(scene(suppliers=timed))
    assert ordered(plan) == {"FAST": 2, "SLOW": 1}
    bridge = lines(plan)["FAST"].line.window
    assert (bridge.start_hour > 0, bridge.end_hour - bridge.start_hour) == (True, 2 * 86400)


def test_the_chance_until_then_decides_on_sampled_paths() -> None:
    """The bridge meets the level, and a case less would not."""
    suppliers = {"S1": replace(SLOW, code="S1"), "FAST": FAST}
    fast = offer(5, "1.00", item="LEEK", supplier="FAST", rank=2)
    asked = replace(BUSY, suppliers=suppliers, offers=(BUSY.offers[0], fast))
    plan = run(replace(asked, policy=replace(asked.policy, bridge=True)))
    bridges = [order for order in plan.orders if order.supplier == "FAST"]
    assert {order.location for order in bridges} == {"COM", "BAR"}
    for bridge in (one for order in bridges for one in order.lines):
        assert bridge.reasons.stockout_chance_with <= 0.05 + 1e-9
        assert bridge.qty - 5 < bridge.reasons.raw_need
    again = run(replace(asked, policy=replace(asked.policy, bridge=True)))
    assert answers(again) == answers(plan)


def test_the_order_of_the_rows_changes_nothing() -> None:
    asked = scene()
    assert answers(run(replace(asked, offers=asked.offers[::-1]))) == answers(run(asked))
