"""Whole runs on small kitchens: what is considered, how far ahead they look, and that the same
question gets the same answer (R1, R2, R5, R15, R16)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand.history import History
from inventory.engine.kitchen import Booking, Item, Kitchen, Place
from purchasing.engine.horizon import Horizon
from purchasing.engine.inputs import Offer, ParRule, Policy, ReorderInputs, Supplier
from purchasing.engine.offers import Choice
from purchasing.engine.reorder import Plan, plan_orders
from purchasing.engine.slots import Slot
from tests.inventory.engine.small_kitchens import booking, kitchen, lot, place, recipe
from tests.purchasing.engine.line_scenes import AS_OF, march, offer

COM, BAR = Place("COM", "commissary"), Place("BAR", "kitchen")
LEEK = Item("LEEK", "ingredient", "g", shelf_life_days=4)
RICE = Item("RICE", "ingredient", "g")
GREENS = Supplier("S1", frozenset({0, 2, 4}), time(14), 1, frozenset({1, 3, 5}))


def usage(location: str, item: str, mean: float, seed: int, days: int = 70) -> pd.DataFrame:
    first = date(2026, 3, 2) - timedelta(days=days)
    counts = np.random.default_rng(seed).poisson(mean, days)
    return pd.DataFrame(
        {
            "location": location,
            "item": item,
            "day": pd.to_datetime([first + timedelta(days=n) for n in range(days)]),
            "qty": counts.astype(float),
        }
    )


def history(*frames: pd.DataFrame) -> History:
    return replace(History.empty(), usage=pd.concat(frames, ignore_index=True))


def inputs(known: Kitchen, offers: list[Offer], **more: Any) -> ReorderInputs:
    return ReorderInputs(
        kitchen=known,
        history=more.pop("history", History.empty()),
        suppliers=more.pop("suppliers", {"S1": GREENS}),
        offers=tuple(offers),
        pars=more.pop("pars", ()),
        policy=Policy("America/New_York", paths=more.pop("paths", 200)),
        **more,
    )


def run(asked: ReorderInputs, seed: int = 1) -> Plan:
    return plan_orders(asked, as_of=AS_OF, seed=seed)


def left_out(plan: Plan) -> dict[str, str]:
    return {one.item: one.problem for one in plan.not_ordered}


def cases(plan: Plan) -> dict[tuple[str, str], int]:
    return {
        (one.line.location, one.line.item): one.cases
        for order in plan.orders
        for one in order.lines
    }


def answers(plan: Plan) -> list[Any]:
    ordered = [
        (order.supplier, order.location, order.slot, order.decision, one.cases, one.reasons)
        for order in plan.orders
        for one in order.lines
    ]
    return [*ordered, *((one.location, one.item, one.reasons) for one in plan.not_ordered)]


LEEK_OFFER = offer(100, "5.00", item="LEEK")
RICE_OFFER = offer(1000, "9.00", item="RICE")
TWO_PLACES = history(
    usage("COM", "LEEK", 60, 1), usage("COM", "RICE", 300, 2), usage("BAR", "LEEK", 20, 3)
)
BUSY = inputs(kitchen([COM, BAR], [LEEK, RICE], []), [LEEK_OFFER, RICE_OFFER], history=TWO_PLACES)


def test_usage_of_the_past_is_ordered_for_at_the_service_level() -> None:
    plan = run(BUSY)
    assert plan.paths == 200
    assert set(cases(plan)) == {("COM", "LEEK"), ("COM", "RICE"), ("BAR", "LEEK")}
    for order in plan.orders:
        assert (order.slot.delivery, order.slot.next_delivery) == (march(3), march(5))
        for one in order.lines:
            assert one.reasons.stockout_chance_with <= 0.05 + 1e-9
            assert one.reasons.use_in_window > 0


def test_the_same_question_gets_the_same_answer() -> None:
    assert answers(run(BUSY)) == answers(run(BUSY))
    assert answers(run(BUSY, seed=2)) != answers(run(BUSY))


def test_the_order_of_the_rows_changes_nothing() -> None:
    known = BUSY.kitchen
    backwards = replace(
        BUSY,
        offers=BUSY.offers[::-1],
        kitchen=replace(known, items=dict(reversed(known.items.items()))),
    )
    assert answers(run(backwards)) == answers(run(BUSY))


def test_a_line_does_not_depend_on_what_else_is_planned() -> None:
    alone = replace(BUSY, offers=(RICE_OFFER,))
    found = [each for each in answers(run(BUSY)) if each in answers(run(alone))]
    assert len(found) == 1


def test_nothing_known_of_an_item_is_no_line() -> None:
    plan = run(inputs(kitchen([COM], [LEEK], []), [LEEK_OFFER]))
    assert (plan.orders, plan.not_ordered, plan.paths) == ((), (), 1)


@pytest.mark.parametrize(
    "reason",
    [
        {"bookings": [booking("COM", "03-04", "LEEK", 10)]},
        {"lots": [lot("COM", "LEEK", 10)]},
        {"pars": (ParRule("COM", "LEEK", None, 50.0, "fixed"),)},
    ],
    ids=["a booking", "stock", "a par row"],
)
def test_a_pair_is_considered_for_any_of_its_reasons(reason: dict[str, Any]) -> None:
    pars = reason.pop("pars", ())
    plan = run(inputs(kitchen([COM], [LEEK], [], **reason), [LEEK_OFFER], pars=pars))
    assert {*left_out(plan), *(item for _, item in cases(plan))} == {"LEEK"}


def test_a_booking_far_ahead_makes_a_line_without_a_need() -> None:
    known = kitchen([COM], [LEEK], [], bookings=[booking("COM", "09-04", "LEEK", 10)])
    assert left_out(run(inputs(known, [LEEK_OFFER]))) == {"LEEK": ""}


def test_no_delivery_within_sixty_days_is_said_and_not_ordered() -> None:
    known = kitchen([COM], [LEEK], [], bookings=[booking("COM", "03-04", "LEEK", 10)])
    never = replace(GREENS, order_days=frozenset())
    plan = run(inputs(known, [LEEK_OFFER], suppliers={"S1": never}))
    assert (plan.orders, left_out(plan)) == ((), {"LEEK": "no_delivery"})


def test_an_offer_of_what_is_made_is_only_mentioned() -> None:
    broth = Item("BROTH", "prep", "ml")
    known = kitchen(
        [place("COM", "commissary")],
        [broth, LEEK],
        [recipe("BROTH", 1000, {"LEEK": 200})],
        bookings=[booking("COM", "03-04", "BROTH", 2000)],
    )
    plan = run(inputs(known, [LEEK_OFFER, offer(1000, "30", item="BROTH")]))
    assert left_out(plan) == {"BROTH": "could_be_bought"}
    assert cases(plan) == {("COM", "LEEK"): 4}


def test_what_was_used_today_is_not_used_again() -> None:
    used = replace(BUSY, used_today={("COM", "RICE"): 1e9})
    rice = {
        one.line.location: one.reasons.use_to_delivery
        for order in run(used).orders
        for one in order.lines
        if one.line.item == "RICE"
    }
    assert rice == {"COM": 0}


def test_of_two_offers_of_one_rank_the_cheaper_is_ordered_once() -> None:
    dear = offer(100, "8.00", item="LEEK", sku="DEAR")
    plan = run(replace(BUSY, offers=(LEEK_OFFER, dear)))
    skus = [one.line.offer.sku for order in plan.orders for one in order.lines]
    assert skus == ["", ""]


def test_what_can_be_left_off_is_weighed_against_its_own_cost() -> None:
    """Garnish: shortage cost = unit cost (R10), so about the median is ordered."""
    garnish = replace(LEEK, can_be_left_off=True, shelf_life_days=1)
    par = ParRule("COM", "LEEK", None, None, "cost")
    known = kitchen([COM], [garnish], [])
    one_gram = offer(1, "0.05", item="LEEK")
    asked = inputs(known, [one_gram], history=history(usage("COM", "LEEK", 60, 1)), pars=(par,))
    (order,) = run(asked).orders
    reasons = order.lines[0].reasons
    assert (reasons.basis_used, reasons.rule) == ("cost", "R10")
    assert order.lines[0].qty < reasons.raw_need


def test_a_line_by_cost_knows_the_orders_after_it() -> None:
    """The first of them is delivered on D2; other bases have no use for them."""
    known = kitchen([COM], [replace(LEEK, can_be_left_off=True)], [])
    paid = history(usage("COM", "LEEK", 60, 1))
    for basis in ("cost", "forecast"):
        par = ParRule("COM", "LEEK", None, None, basis)
        (order,) = run(inputs(known, [LEEK_OFFER], history=paid, pars=(par,))).orders
        later = order.lines[0].line.later
        assert bool(later) is (basis == "cost")
        assert not later or later[0].delivery == order.slot.next_delivery


def test_the_minimum_of_the_supplier_reaches_the_order_and_rice_keeps() -> None:
    strict = replace(GREENS, minimum_order=Decimal(100))
    plan = run(replace(BUSY, suppliers={"S1": strict}))
    (com,) = [order for order in plan.orders if order.location == "COM"]
    assert (com.decision, com.value >= 100) == ("topped_up", True)
    assert {one.line.item: one.reasons.rule for one in com.lines} == {"RICE": "R13", "LEEK": "R9"}


def horizon(life: int | None, bookings: list[Booking], next_delivery: date) -> Horizon:
    item = Item("LEEK", "ingredient", "g", shelf_life_days=life)
    slot = Slot(AS_OF, march(4), next_delivery, AS_OF)
    choices = {("COM", "LEEK"): (Choice(LEEK_OFFER, slot),)}
    return Horizon.of(kitchen([COM], [item], [], bookings=bookings), choices, march(2))


@pytest.mark.parametrize(
    ("life", "next_delivery", "sampled", "everything"),
    [
        (None, march(7), march(7), march(7)),  # undated: to D2
        (0, march(7), march(7), march(7)),
        (1, march(7), march(4 + 7 + 1), march(7)),  # a week of orders, each to its use-by
        (6, march(7), march(4 + 3 * 6), march(10)),  # two lives of orders
        (365, march(7), march(4 + 28), march(4 + 365)),  # sampled for four weeks
        (365, march(60), march(60), march(4 + 365)),  # but never short of D2
    ],
)
def test_a_run_looks_as_far_as_a_rule_needs(
    life: int | None, next_delivery: date, sampled: date, everything: date
) -> None:
    found = horizon(life, [], next_delivery)
    assert (found.sampled, found.everything) == (sampled, everything)


def test_bookings_are_known_for_as_far_as_there_are_any() -> None:
    found = horizon(1, [booking("COM", "06-30", "LEEK", 1)], march(7))
    assert (found.sampled, found.everything) == (march(12), date(2026, 6, 30))


def test_nothing_on_sale_needs_no_horizon() -> None:
    assert Horizon.of(kitchen([COM], [], []), {}, march(2)) == Horizon(march(2), march(2))
