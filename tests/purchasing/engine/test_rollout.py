"""Cases by cost with later orders in view (R10). T = 2 March, D1 = 3 March, an order every day
that comes the day after unless said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from purchasing.engine.ahead import Ahead
from purchasing.engine.lines import LaterOrder, Line
from purchasing.engine.rollout import (
    best_safety,
    cheapest_ahead,
    cost_ahead,
    expected_there,
    mean_above,
    previous_allowed,
    whole_cases,
)
from tests.purchasing.engine.line_scenes import daily, decided, line, march, offer
from tests.purchasing.engine.plain_ahead import plain_cost

PATHS = 40
EVEN = np.full(PATHS, 1 / PATHS)


def later(lead: int = 1, every: int = 1, count: int = 30) -> tuple[LaterOrder, ...]:
    days = range(every, every * count, every)
    return tuple(LaterOrder(march(2 + day), march(2 + lead + day)) for day in days)


def asked(use: Any, *, lead: int = 1, every: int = 1, case: float = 1, **more: Any) -> Line:
    return line(
        use,
        between=(2 + lead, 2 + lead + every),
        basis="cost",
        sold=more.pop("sold", offer(case, str(2 * case))),
        shortage_cost=more.pop("shortage_cost", 4.0),
        later=later(lead, every),
        **more,
    )


def random_use(seed: int, mean: float = 3, days: int = 40) -> Any:
    rng = np.random.default_rng(seed)
    return daily({2 + day: rng.poisson(mean, PATHS) for day in range(days)}, PATHS)


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """With stock of several use-by dates, some of it on its way."""
    life, lead = draw(st.integers(1, 4)), draw(st.integers(1, 3))
    stock = draw(st.lists(st.tuples(st.integers(1, 6), st.integers(2, 8)), max_size=3))
    coming = [(day, draw(st.integers(1, 5)), day + life) for day in range(3, 2 + lead)]
    size, multiple = draw(st.sampled_from([1, 2, 5])), draw(st.sampled_from([1, 2]))
    return asked(
        random_use(draw(st.integers(0, 99))),
        lead=lead,
        every=draw(st.integers(1, 2)),
        stock=stock,
        coming=coming,
        life=life + 1,
        holding_rate=draw(st.sampled_from([0.0, 20.0])),
        sold=offer(size, str(2 * size), minimum_cases=multiple, case_multiple=multiple),
    )


@settings(max_examples=60, deadline=None)
@given(lines(), st.integers(0, 12), st.sampled_from([0.0, 0.7, 2.0]))
def test_what_an_order_adds_is_what_plain_loops_find(one: Line, first: int, safety: float) -> None:
    ahead, par = Ahead.of([one], EVEN), np.array([safety])
    more, less = (float(cost_ahead(ahead, np.array([q]), par)[0]) for q in (1.0 * first, 0.0))
    expected = plain_cost(one, first, safety) - plain_cost(one, 0, safety)
    assert more - less == pytest.approx(expected, abs=1e-6)


def test_certain_demand_asks_for_exactly_what_is_missing() -> None:
    """7 a day, 10 there on the eve: 3 are left for D1."""
    use = daily(dict.fromkeys(range(2, 40), 7))
    assert decided(asked(use, stock=[(10, 5)], life=3)).qty == 4


def test_certain_demand_in_cases_keeps_what_can_still_be_used() -> None:
    """5 a day in cases of 20 that are good for four days: nothing is wasted, so one case."""
    use = daily(dict.fromkeys(range(2, 40), 5))
    assert decided(asked(use, case=20, life=3, stock=[(5, 9)])).cases == 1


def test_a_case_that_would_mostly_be_wasted_is_left_out() -> None:
    """One unit a day at 4.00, three days of life: a case of 20 at 2.00 each never pays."""
    use = daily(dict.fromkeys(range(2, 40), 1))
    assert decided(asked(use, case=20, life=2)).cases == 0


def test_a_slow_mover_is_not_charged_for_waste_that_waiting_does_not_avoid() -> None:
    """Half a unit a day, a case of 4 good for eight days: alone it waits for the shortage."""
    one = asked(random_use(1, mean=0.5), case=4, life=7, stock=[(1, 9)])
    assert decided(one, EVEN).cases == 1
    assert decided(replace(one, later=()), EVEN).cases == 0


@pytest.mark.parametrize(
    ("life", "why"), [(0, "gone before the next delivery"), (None, "undated"), (3, "nothing later")]
)
def test_an_order_that_meets_no_later_one_is_weighed_alone(life: int | None, why: str) -> None:
    one = asked(random_use(2), life=life, holding_rate=1.0)
    alone = replace(one, later=())
    if why == "nothing later":
        one = replace(one, later=one.later[:1])
    assert decided(one, EVEN) == replace(decided(alone, EVEN), line=one)


def test_lines_in_one_chunk_do_not_touch_each_other() -> None:
    """Other lives, calendars, cases and lots beside it change nothing (R16)."""
    several = [
        asked(random_use(3), life=2),
        asked(random_use(4), life=6, every=3, case=5, stock=[(4, 3), (6, 9)]),
        asked(random_use(5, mean=0.5), life=4, lead=3, coming=[(3, 2, 7)]),
        asked(random_use(6, mean=80), life=3, stock=[(200, 4)]),
    ]
    together = cheapest_ahead(several, EVEN)
    assert together == [cheapest_ahead([one], EVEN)[0] for one in several]
    assert cheapest_ahead(several[::-1], EVEN) == together[::-1]


def test_no_count_beside_it_costs_less() -> None:
    """Also where the count is large, which is searched for in larger steps first."""
    one = asked(random_use(7, mean=300), life=4, stock=[(100, 4)])
    ahead = Ahead.of([one], EVEN)
    (cases,) = cheapest_ahead([one], EVEN)
    safety = best_safety(ahead.on_few_paths())
    costs = [
        float(cost_ahead(ahead, np.array([float(n)]), safety)[0])
        for n in range(cases - 3, cases + 4)
    ]
    assert min(costs) == costs[3]
    assert costs[2] > costs[3]  # ties go to fewer


def test_more_in_stock_never_raises_the_order() -> None:
    use = random_use(8)
    orders = [decided(asked(use, stock=[(n, 5)], life=3), EVEN).cases for n in range(1, 12)]
    assert sorted(orders, reverse=True) == orders


def test_a_higher_margin_never_lowers_the_order() -> None:
    use = random_use(9)
    orders = [
        decided(asked(use, life=2, shortage_cost=margin), EVEN).cases for margin in (0, 1, 4, 20)
    ]
    assert sorted(orders) == orders
    assert orders[0] == 0


def test_the_unit_of_quantity_and_of_money_changes_nothing() -> None:
    use = random_use(10)
    one = asked(use, life=3, case=2, stock=[(3, 4)])
    grams = replace(
        one,
        draws=replace(use, qty=1000 * use.qty),
        lots=replace(one.lots, qty=1000 * one.lots.qty),
        offer=offer(2000, "4"),
        shortage_cost=0.004,
    )
    assert decided(grams, EVEN).cases == decided(one, EVEN).cases


def test_a_year_of_life_is_looked_at_for_a_fortnight_of_orders() -> None:
    one = asked(random_use(11), life=365, stock=[(2, 300)], known_until=march(33))
    assert len(Ahead.of([one], EVEN).refills) == 1 + 14
    assert decided(one, EVEN).cases >= 3


def test_the_mean_of_what_is_above_zero_is_that_of_an_even_spread() -> None:
    excess = np.array([-9.0, -2.0, -1.0, 0.0, 1.0, 2.0, 9.0])
    drawn = excess[:, None] + np.linspace(-2, 2, 200_001)
    expected = np.maximum(drawn, 0.0).mean(axis=1)
    for give, means in ((2.0, expected), (0.0, [0, 0, 0, 0, 1, 2, 9])):
        found = mean_above(excess[:, None].copy(), np.full(7, give))
        assert found[:, 0] == pytest.approx(means, abs=1e-4)


def there(one: Line) -> float:
    """When this order comes."""
    ahead = Ahead.of([one], EVEN)
    return float(expected_there(ahead.stock[:, :, None], ahead.refills[0])[0, 0])


def test_stock_that_just_meets_the_mean_leaves_something_over() -> None:
    """3 a day on average, 3 there: at mean use nothing would be left, but about half the days
    are quieter. What is left is never more than what was there."""
    certain = daily(dict.fromkeys(range(2, 40), 3.0), PATHS)
    drawn = random_use(13)
    assert there(asked(certain, stock=[(3, 9)], life=4)) == pytest.approx(0)
    assert 0.4 < there(asked(drawn, stock=[(3, 9)], life=4)) < 1.0
    assert there(asked(drawn, stock=[(0.1, 9)], life=4)) <= 0.1


def test_stock_that_goes_tonight_cannot_serve_tomorrow() -> None:
    """3 a day, two days until the order comes: of 6 that go tonight 3 are used, so tomorrow
    takes 3 of the 4 that last; if they go tomorrow night they serve both days."""
    certain = daily(dict.fromkeys(range(2, 40), 3.0), PATHS)
    tonight, tomorrow = (
        asked(certain, lead=2, stock=[(6, use_by), (4, 9)], life=4) for use_by in (2, 3)
    )
    assert there(tonight) == pytest.approx(1)
    assert there(tomorrow) == pytest.approx(4)


def test_whole_cases_are_those_of_a_single_line() -> None:
    sold = offer(10, minimum_cases=2, case_multiple=3)
    one = asked(random_use(12), life=2, sold=sold)
    need = np.array([[0.0, 1e-7, 1.0, 30.0, 30.0000001, 31.0, 65.0]])
    assert whole_cases(need, [one]).tolist() == [[0, 0, 30, 30, 30, 60, 90]]


@pytest.mark.parametrize(("cases", "fewer"), [(9, 6), (6, 0), (0, 0), (3, 0)])
def test_the_allowed_count_before(cases: int, fewer: int) -> None:
    assert previous_allowed(cases, offer(10, minimum_cases=5, case_multiple=3)) == fewer
