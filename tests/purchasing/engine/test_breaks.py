"""Price breaks: taken where the saving exceeds extra waste and holding (R13)."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from decimal import Decimal
from typing import Any

import pytest

from purchasing.engine.breaks import with_breaks
from purchasing.engine.consolidate import Minimums, consolidate
from purchasing.engine.costs import cost
from purchasing.engine.inputs import Offer, Policy, Supplier
from purchasing.engine.lines import Line, LineDecision, Weighed
from purchasing.engine.offers import landed_cost
from purchasing.engine.outlook import Outlook
from purchasing.engine.quantities import decide_lines
from purchasing.engine.topping import next_dearer
from tests.published import supports
from tests.purchasing.engine.line_scenes import CERTAIN, daily, line, march, offer
from tests.purchasing.engine.test_reorder import BUSY, RICE_OFFER, run

TEN_A_DAY = dict.fromkeys(range(4, 12), 10)


def broken(*breaks: tuple[int, str], **more: Any) -> Offer:
    """Packs of 10 for 20.00."""
    return offer(breaks=tuple((least, Decimal(price)) for least, price in breaks), **more)


def judged(one: Line, weights: Any = CERTAIN) -> LineDecision:
    return with_breaks(decide_lines([one], weights), weights)[0]


@pytest.mark.parametrize(
    ("least", "pays_below", "waste"),
    [(60, 0.2957938, 10.2836418), (66, 0.2830518, 16.0406987), (72, 0.2699152, 22.0037975)],
)
def test_nv_16(least: int, pays_below: float, waste: float) -> None:
    """inventory-theory.md NV-16: Poisson 50, revenue 1, cost 0.30, salvage 0.12, 56 without a
    break (waste 6.8150400). Prices are net of the salvage, which every unit left brings."""
    values, weights = supports.poisson(50)

    def found(price: float) -> LineDecision:
        net = f"{price - 0.12:.7f}"
        one = line(
            daily({4: values}, len(values)), between=(4, 5), basis="cost", life=0,
            shortage_cost=0.70, sold=broken((least, net), pack=1, price="0.18"),
        )  # fmt: skip
        return judged(one, weights)

    taken, kept_as_needed = found(pays_below - 1e-6), found(pays_below + 1e-6)
    assert (taken.cases, kept_as_needed.cases) == (least, 56)
    assert taken.reasons.expected_waste == pytest.approx(waste, rel=1e-6)
    assert kept_as_needed.reasons.expected_waste == pytest.approx(6.8150400, rel=1e-6)


def test_a_break_that_pays_is_taken_for_every_case_and_says_so() -> None:
    one = judged(line(daily(TEN_A_DAY), sold=broken((5, "18"))))
    assert (one.cases, float(one.price), float(one.value)) == (5, 18, 90)
    reasons = one.reasons
    assert (reasons.raw_need, reasons.price_break_extra, reasons.rounding) == (30, 20, 0)
    assert reasons.rule == "R13"
    assert one.verdict.weighed == (Weighed("price_break", -10.0, "as_needed", 0.0),)
    assert landed_cost(one) == 1.8


def test_a_break_whose_extra_spoils_is_left() -> None:
    """Life 2: the 20 beyond the need are wasted, 40.00 against the 10.00 saved."""
    one = judged(line(daily(TEN_A_DAY), life=2, sold=broken((5, "18"))))
    assert (one.cases, float(one.price), float(one.value)) == (3, 20, 60)
    assert (one.reasons.rule, one.reasons.price_break_extra) == ("R9", 0)
    (weighed,) = one.verdict.weighed
    assert (weighed.taken, weighed.instead) == ("as_needed", "price_break")
    assert weighed.cost == 0
    assert weighed.instead_cost == pytest.approx(30)


@pytest.mark.parametrize(("rate", "cases"), [(26.0, 5), (27.0, 3)])
def test_holding_is_counted_until_the_extra_is_used_up(rate: float, cases: int) -> None:
    """Unit-days with 3 cases 20 + 10 + 0 at the closes of the window; with 5 cases 40 + 30 + 20
    and 20 more until they are used up: (110 x 1.8 - 30 x 2) x rate / 365 = 10 at 26.4."""
    one = line(daily(TEN_A_DAY), sold=broken((5, "18")), holding_rate=rate)
    assert judged(one).cases == cases


def test_what_reaches_the_break_anyway_costs_its_price_without_extra() -> None:
    one = judged(line(daily(TEN_A_DAY), between=(4, 10), sold=broken((5, "18"))))
    assert (one.cases, float(one.value), one.reasons.price_break_extra) == (6, 108, 0)
    assert (one.reasons.rule, one.verdict.weighed) == ("R9", ())


def test_a_break_is_reached_by_a_count_that_the_offer_permits() -> None:
    sold = broken((5, "15"), case_multiple=3)
    assert judged(line(daily(TEN_A_DAY), sold=sold)).cases == 6


def test_of_several_breaks_the_one_that_gains_most_is_taken() -> None:
    """Savings 10, 12 and 28. With a life of 4 days 50 are used, so of 6 and 7 cases
    1 and 2 are wasted."""
    sold = broken((5, "18"), (6, "18.00"), (7, "16"))
    assert judged(line(daily(TEN_A_DAY), sold=sold)).cases == 7
    assert judged(line(daily(TEN_A_DAY), life=4, sold=sold)).cases == 5


@pytest.mark.parametrize(
    "one",
    [
        line(daily(TEN_A_DAY), stock=[(100, None)], sold=broken((5, "1"))),
        line(daily({}), basis="fixed", par=30, sold=broken((5, "1"))),
    ],
    ids=["nothing is needed", "nothing is used"],
)
def test_nothing_is_bought_for_its_price_alone(one: Line) -> None:
    assert judged(one) == decide_lines([one], CERTAIN)[0]


def test_a_break_dearer_than_the_price_in_force_is_none() -> None:
    sold = broken((3, "25"), (6, "19"))
    prices = [sold.price_for(cases, march(4)) for cases in (1, 3, 6)]
    assert prices == [20, 20, 19]
    later = offer(prices=((march(9), Decimal(20)),), breaks=((2, Decimal(1)),))
    assert later.price_for(2, march(4)) is None


def test_waste_is_valued_at_the_price_of_the_break() -> None:
    one = judged(line(daily(TEN_A_DAY), life=3, sold=broken((5, "8"))))
    assert (one.cases, one.reasons.expected_waste) == (5, 10)
    assert one.reasons.expected_waste_value == 8


def test_the_basis_cost_takes_a_break_only_if_its_whole_cost_falls() -> None:
    """The gain told is the fall of the objective of R10 with what is paid, where all that is
    not wasted is used: a short sum by another way."""
    values, weights = supports.poisson(50)
    drawn = daily({4: values}, len(values))
    sold = broken((60, "0.15"), pack=1, price="0.18")
    one = line(drawn, between=(4, 5), basis="cost", life=0, shortage_cost=0.7, sold=sold)
    (weighed,) = judged(one, weights).verdict.weighed
    plain = Outlook.of([replace(one, offer=replace(sold, breaks=()))], weights)
    objective = [float(cost(plain, plain.weights[:1] * 0 + n)[0]) for n in (56, 60)]
    assert -weighed.cost == pytest.approx(objective[0] - objective[1] + 60 * 0.03)


def test_topping_up_passes_over_counts_worth_less_than_fewer() -> None:
    """9 cases are 180; from 10 on a case costs 15: 12 are 180 as well, 13 are 195."""
    one = line(daily(TEN_A_DAY), sold=broken((10, "15")))
    assert next_dearer(9, one) == 13
    assert next_dearer(8, one) == 9


def test_a_minimum_is_judged_at_the_price_of_the_break() -> None:
    strict = Supplier("S1", frozenset(), time(14), 0, frozenset(), minimum_order=Decimal(95))
    one = judged(line(daily(TEN_A_DAY), sold=broken((5, "18"))))
    (drafted,) = consolidate([one], {"S1": strict}, Minimums(CERTAIN, 0.1, {}))
    assert (drafted.decision, float(drafted.value)) == ("topped_up", 108)
    assert drafted.lines[0].cases == 6
    reasons = drafted.lines[0].reasons
    assert (reasons.price_break_extra, reasons.minimum_top_up, reasons.rounding) == (20, 10, 0)


def test_the_way_to_a_minimum_names_the_next_best() -> None:
    """Undated goods are added at no cost; the fee would be 9.00."""
    pays = Supplier(
        "S1", frozenset(), time(14), 0, frozenset(), minimum_order=Decimal(95),
        fee_below_minimum=True, delivery_fee=Decimal(9),
    )  # fmt: skip
    one = judged(line(daily(TEN_A_DAY), sold=broken()))
    (drafted,) = consolidate([one], {"S1": pays}, Minimums(CERTAIN, 0.1, {}))
    assert drafted.weighed == Weighed("topped_up", 0.0, "fee_paid", 9.0)
    (refused,) = consolidate(
        [one], {"S1": replace(pays, fee_below_minimum=False)}, Minimums(CERTAIN, 0.1, {})
    )
    assert refused.weighed is None


@pytest.mark.parametrize(("on", "price"), [(False, "9.00"), (True, "4.00")])
def test_a_run_takes_breaks_only_if_its_settings_say_so(on: bool, price: str) -> None:
    sold = replace(RICE_OFFER, breaks=((1, Decimal(8)), (3, Decimal(4))))
    policy = Policy("America/New_York", paths=200, price_breaks=on)
    asked = replace(BUSY, offers=(sold,), policy=policy)
    plain = run(replace(BUSY, offers=(RICE_OFFER,)))
    (drafted,), (before,) = run(asked).orders, plain.orders
    assert drafted.lines[0].price == Decimal(price)
    assert (drafted.lines[0].cases == before.lines[0].cases) is not on
    assert on or drafted.lines[0].reasons == before.lines[0].reasons
