"""Days replayed: what is ordered and when, that nothing is known ahead, that all adds up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import pandas as pd
import pytest

from inventory.engine.demand import paths
from inventory.engine.kitchen import StockLot
from purchasing.engine import foresight
from purchasing.engine.inputs import ParRule
from purchasing.engine.policies import POLICIES
from purchasing.engine.reorder import plan_orders
from purchasing.engine.replay import PolicyReplay
from purchasing.engine.replay_figures import line_figures, totals
from purchasing.engine.replay_inputs import ONE, Arrival, Lot, ReplayInputs
from tests.purchasing.engine.line_scenes import march, offer
from tests.purchasing.engine.replay_scenes import (
    DAILY,
    LEEK,
    LEEKS,
    RICE,
    TWO_LINES,
    Use,
    busy,
    certain,
    figures,
    given,
    lot,
    minimum,
    placed,
    run,
)

OURS = ("pars", "fixed", "forecast", "greater", "cost")
DECIDING = (*OURS, "mean", "outdating")
COM = ("COM", "LEEK")
FIVE_A_DAY = {COM: certain(-60, 12, 10.0)}


def by_par(par: float, weekday: int | None = None) -> ParRule:
    return ParRule("COM", "LEEK", weekday, par, "fixed")


def one_line(**more: Any) -> ReplayInputs:
    usual: dict[str, Any] = {"days": (2, 8), "pars": (by_par(20),)}
    return given(FIVE_A_DAY, [LEEK], [LEEKS], **{**usual, **more})


@cache
def all_policies() -> tuple[PolicyReplay, ...]:
    return run(busy(), *DECIDING)


def rows_of(done: PolicyReplay) -> list[Any]:
    return [(shelf.line.pair, row) for shelf in done.shelves for row in shelf.rows]


def test_a_day_orders_then_takes_in_throws_away_and_uses() -> None:
    """Worked by hand: par 20, 10 used a day, delivered the day after, life 2 days."""
    (done,) = run(one_line(opening={COM: (lot(8, 2),)}), "fixed")
    assert placed(done)[:3] == [
        (march(2), "LEEK", 2, march(3)),  # nothing left on the 3rd: 20
        (march(3), "LEEK", 1, march(4)),  # 20 come, 10 are used
        (march(4), "LEEK", 1, march(5)),
    ]
    assert figures(done, "on_hand_start")[:3] == [8, 0, 10]
    assert figures(done, "met")[:3] == [8, 10, 10]
    assert figures(done, "lost")[:3] == [2, 0, 0]
    assert figures(done, "on_hand_end")[:3] == [0, 10, 10]


def test_what_passed_its_use_by_is_gone_the_day_after() -> None:
    use = {COM: {**certain(-60, 1, 10.0), **certain(2, 8, 0.0)}}
    asked = given(use, [LEEK], [LEEKS], days=(2, 5), opening={COM: (lot(7, 3), lot(5))})
    (done,) = run(asked, "mean")
    assert figures(done, "expired")[:3] == [0, 0, 7]
    assert figures(done, "on_hand_end")[:2] == [12, 12 + figures(done, "arrived")[1]]


def test_first_expired_is_used_first_at_its_own_cost() -> None:
    lots = (lot(6, None, "9"), lot(6, 5, "3", "BBBBB"), lot(6, 5, "1", "AAAAB"))
    asked = one_line(opening={COM: lots}, days=(2, 2), pars=(by_par(0),))
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert line.figures.money.used == 6 * 1 + 4 * 3
    assert line.figures.money.closing_value == 2 * 3 + 6 * 9


def test_what_lay_there_is_used_before_its_equal_that_comes_the_same_day() -> None:
    here = replace(lot(5, 2, "9", "ZZZZZ"), received=march(2))
    supplier, item = replace(DAILY, lead_days=0), replace(LEEK, shelf_life_days=0)
    asked = given(
        {COM: certain(-60, 5, 7.0)}, [item], [LEEKS], days=(2, 2), suppliers=(supplier,),
        pars=(by_par(15),), opening={COM: (here,)},
    )  # fmt: skip
    (done,) = run(asked, "fixed")
    assert figures(done, "arrived") == [10]
    (line,) = line_figures(done, asked)
    money = line.figures.money
    assert money.closing_value == (5 + 10 - 7) * money.spend / 10
    assert money.used == 5 * 9 + 2 * money.spend / 10


def test_without_lead_goods_come_on_the_day_and_life_0_ends_with_it() -> None:
    supplier = replace(DAILY, lead_days=0)
    item = replace(LEEK, shelf_life_days=0)
    asked = given(
        FIVE_A_DAY, [item], [LEEKS], days=(2, 4), suppliers=(supplier,), pars=(by_par(15),)
    )
    (done,) = run(asked, "fixed")
    assert figures(done, "arrived") == [20, 20, 20]
    assert figures(done, "met") == [10, 10, 10]
    assert figures(done, "expired") == [0, 10, 10]


def test_what_was_on_its_way_arrives_and_what_comes_after_the_end_does_not_exist() -> None:
    coming = Arrival("COM", "LEEK", march(3), 30 * ONE, Fraction(4), "S1", "", "S1-20260303-1")
    asked = one_line(open_orders=(coming,), days=(2, 4))
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert figures(done, "arrived") == [0, 30, 0]
    assert line.figures.money.spend == 120
    assert placed(done) == [(march(4), "LEEK", 1, march(5))]


def test_numbers_count_on_from_the_orders_on_their_way() -> None:
    coming = Arrival("COM", "LEEK", march(3), ONE, Fraction(4), "S1", "", "S1-20260303-1")
    (done,) = run(one_line(open_orders=(coming,)), "fixed")
    assert done.placed[0].order == "S1-20260303-2"


def test_what_is_ordered_later_for_one_delivery_is_an_order_of_its_own() -> None:
    """Friday's delivery may be ordered on Monday and Tuesday. On Monday 20 instead of 10 are
    used, so on Tuesday one case is ordered beside the three that are on their way."""
    weekly = replace(DAILY, order_days=frozenset({0, 1}), delivery_days=frozenset({4}))
    use = {COM: {**FIVE_A_DAY[COM], march(2): 20.0}}
    item, opening = replace(LEEK, shelf_life_days=9), {COM: (lot(50),)}
    asked = given(
        use, [item], [LEEKS], days=(2, 3), suppliers=(weekly,), pars=(by_par(40),), opening=opening
    )
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert [(one.order, int(one.cases)) for one in done.placed] == [
        ("S1-20260306-1", 3),
        ("S1-20260306-2", 1),
    ]
    assert (line.figures.orders, line.figures.order_lines) == (1, 2)  # one delivery


def test_a_draft_of_a_later_cutoff_is_forgotten() -> None:
    thursdays = replace(DAILY, order_days=frozenset({3}))
    (done,) = run(one_line(suppliers=(thursdays,)), "fixed")
    assert {one.placed for one in done.placed} == {march(5)}


def test_below_a_minimum_that_is_refused_nothing_is_placed() -> None:
    opening = {COM: (lot(22),)}
    (done,) = run(one_line(suppliers=(minimum("1000"),), opening=opening, days=(2, 4)), "fixed")
    assert done.placed == ()


def test_a_fee_is_paid_once_for_an_order_and_shared_by_its_lines() -> None:
    use: Use = {COM: certain(-60, 9, 10.0), ("COM", "RICE"): certain(-60, 9, 10.0)}
    offers = [LEEKS, offer(10, "60", item="RICE")]
    pars = (by_par(20), ParRule("COM", "RICE", None, 20.0, "fixed"))
    feed = replace(DAILY, delivery_fee=Decimal("7"))
    asked = given(use, [LEEK, RICE], offers, days=(2, 2), pars=pars, suppliers=(feed,))
    (done,) = run(asked, "fixed")
    lines = line_figures(done, asked)
    assert [one.figures.money.fees for one in lines] == [Fraction(7, 4), Fraction(21, 4)]
    assert totals(done, lines).money.fees == 7
    assert totals(done, lines).orders == 1


def test_every_line_and_day_adds_up_exactly() -> None:
    asked = busy()
    for done in all_policies():
        for _, row in rows_of(done):
            assert row.on_hand_start + row.arrived - row.expired - row.met == row.on_hand_end
            assert row.met + row.lost == row.usage
        lines = line_figures(done, asked)
        for one in lines:
            money = one.figures.money
            assert money.opening_value + money.spend == (
                money.used + money.waste + money.closing_value
            )
            assert one.met + one.lost == one.usage
        assert totals(done, lines).money.spend == sum(one.figures.money.spend for one in lines)


def test_nights_cost_value_times_rate_over_365() -> None:
    asked = one_line(opening={COM: (lot(30, None, "3"),)}, days=(2, 3), pars=(by_par(0),))
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert line.figures.money.holding == Fraction(20 * 3 + 10 * 3) * Fraction("0.2") / 365


def test_what_is_missed_costs_the_margin_of_its_day() -> None:
    asked = one_line(days=(2, 3), pars=(by_par(0),))
    costs = {march(2): Fraction(3), march(3): Fraction(5)}
    asked = replace(asked, lines=(replace(asked.lines[0], shortage_cost=costs),))
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert line.figures.money.lost_margin == 10 * 3 + 10 * 5
    assert line.figures.stockout_days == 2
    assert line.figures.fill_rate == 0
    assert line.without_margin is False


def test_a_line_without_a_margin_is_charged_nothing_and_named() -> None:
    asked = one_line(margin=None, pars=(by_par(0),))
    (done,) = run(asked, "fixed")
    (line,) = line_figures(done, asked)
    assert line.without_margin is True
    assert line.figures.money.lost_margin == 0
    assert line.lost == 70 * ONE


# What decides is the code of the reorder run.


@pytest.mark.parametrize("name", ["pars", "forecast"])
def test_the_first_day_orders_what_a_run_of_that_moment_would(name: str) -> None:
    asked = busy()
    seen_ahead = foresight.Foresight(asked.known, asked.first, 1)
    ahead = seen_ahead.of(asked.first)
    inputs = replace(ahead.run.inputs, history=seen_ahead.history_before(asked.first))
    stock = tuple(as_stock(line.pair, one) for line in asked.lines for one in line.opening)
    pairs = [line.pair for line in asked.lines]
    pars = POLICIES[name].pars(inputs.pars, pairs)
    inputs = replace(inputs, kitchen=replace(inputs.kitchen, lots=stock), pars=pars)
    plan = plan_orders(inputs, as_of=ahead.run.as_of, seed=1)
    (done,) = run(asked, name)
    first = [one for one in done.placed if one.placed == asked.first]
    assert {(one.location, one.item, int(one.cases)) for one in first} == {
        (each.line.location, each.line.item, each.cases)
        for order in plan.orders
        for each in order.lines
        if ahead.is_today(order.slot.order_by)
    }
    assert len(first) == 3


def as_stock(pair: tuple[str, str], one: Lot) -> StockLot:
    return StockLot(*pair, one.qty / ONE, one.use_by, one.received, one.strip)


# Nothing is known ahead.

Change = Callable[[dict[date, float], date], dict[date, float]]


def deleted(by_day: dict[date, float], day: date) -> dict[date, float]:
    return {on: qty for on, qty in by_day.items() if on < day}


def made_another(by_day: dict[date, float], day: date) -> dict[date, float]:
    return {on: qty if on < day else 7 * qty + 40 for on, qty in by_day.items()}


@pytest.mark.parametrize("change", [deleted, made_another])
@pytest.mark.parametrize("on", [3, 8, 9, 12])
def test_rows_from_a_day_on_change_nothing_before_it_nor_its_orders(
    change: Change, on: int
) -> None:
    day = march(on)
    before = all_policies()
    after = run(busy({pair: change(use, day) for pair, use in TWO_LINES.items()}), *DECIDING)
    for old, new in zip(before, after, strict=True):
        assert seen(old, day) == seen(new, day)
        assert [one for one in rows_of(old) if one[1].day >= day] != [
            one for one in rows_of(new) if one[1].day >= day
        ]


def seen(done: PolicyReplay, day: date) -> list[Any]:
    rows = [(pair, row) for pair, row in rows_of(done) if row.day < day]
    return [*rows, *(one for one in done.placed if one.placed and one.placed <= day)]


def test_a_fit_is_kept_for_a_week_and_sees_rows_before_its_day_only(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fits: list[tuple[date, pd.Timestamp]] = []
    learn = paths.learn_demand

    def spied(past: Any, *args: Any, first_day: date, days: int) -> Any:
        fits.append((first_day, past.usage["day"].max()))
        return learn(past, *args, first_day=first_day, days=days)

    monkeypatch.setattr(foresight, "learn_demand", spied)
    run(busy(days=(2, 20)), "forecast", "cost")
    assert [day for day, _ in fits] == [march(2), march(9), march(16)]
    assert all(last < pd.Timestamp(day) for day, last in fits)


def test_rules_of_thumb_need_no_forecast(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(foresight, "learn_demand", None)
    assert all(done.placed for done in run(busy(), "mean", "outdating"))


# The same again, whatever else is replayed.


def test_a_second_replay_is_the_same_and_another_seed_is_another() -> None:
    assert everything(run(busy(), "forecast")) == everything(run(busy(), "forecast"))
    others = [everything(run(busy(paths=9), "cost", "forecast", seed=n)) for n in (1, 2)]
    assert others[0] != others[1]


def everything(done: tuple[PolicyReplay, ...]) -> list[Any]:
    return [(rows_of(one), one.placed) for one in done]


@pytest.mark.parametrize("name", DECIDING)
def test_a_policy_alone_has_the_figures_that_it_has_among_all(name: str) -> None:
    among = dict(zip(DECIDING, all_policies(), strict=True))[name]
    (alone,) = run(busy(), name)
    assert everything((alone,)) == everything((among,))


def test_a_location_alone_has_the_figures_that_it_has_among_all() -> None:
    (among,), (alone,) = run(busy(), "pars"), run(busy(), "pars", location="BAR")
    assert rows_of(alone) == [one for one in rows_of(among) if one[0][0] == "BAR"]
    assert [one.qty for one in alone.placed] == [
        one.qty for one in among.placed if one.location == "BAR"
    ]


def test_days_left_out_at_the_end_change_nothing_before() -> None:
    (whole,), (part,) = run(busy(), "cost"), run(busy(days=(2, 10)), "cost")
    assert rows_of(part) == [one for one in rows_of(whole) if one[1].day <= march(10)]


def test_each_day_is_told() -> None:
    told: list[date] = []
    run(one_line(days=(2, 4)), "mean", told=told.append)
    assert told == [march(2), march(3), march(4)]
