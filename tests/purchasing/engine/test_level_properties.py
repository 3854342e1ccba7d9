"""What holds for every plan, whatever the turnout (rules R12; inventory-theory section 12)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.engine.kitchen import Kitchen
from purchasing.engine.levels import LevelPlan
from tests.purchasing.engine.level_scenes import case_l, plan

portions = st.integers(0, 60)
plans = st.fixed_dictionaries(
    {
        key: st.lists(portions, min_size=3, max_size=3)
        for key in ("A sat", "A sun", "B sun", "A mon")
    }
)
KEYS = dict(
    zip(("A sat", "A sun", "B sun", "A mon"), (one.key for one in case_l().stops), strict=True)
)


def as_demand(turnout: dict[str, list[int]], paths: slice = slice(None)) -> dict[Any, Any]:
    return {(KEYS[name], "DISH"): qty[paths] for name, qty in turnout.items()}


def raw_of(result: LevelPlan, path: int = 0) -> dict[Any, float]:
    """What is drawn on one path, by item, moment and day of use."""
    return {
        (pair, int(moment), int(used)): float(qty[path])
        for pair, draws in result.draws.items()
        for moment, used, qty in zip(draws.moment, draws.day_of_use, draws.qty, strict=True)
        if qty[path] > 1e-9
    }


@settings(deadline=None, max_examples=40)
@given(plans)
def test_a_plan_on_all_paths_is_the_plans_of_each_path_alone_given_the_targets(
    turnout: dict[str, list[int]],
) -> None:
    # Targets are one decision for all paths, so the stops' goods are looked at whose target
    # is their need: direct sales, which have no target.
    direct = {("COM", "DISH"): np.array(list(turnout.values()), dtype=float)}
    third = np.full(3, 1 / 3)
    together = plan(case_l(), "03-18 06:00", direct=direct, weights=third)
    for path in range(3):
        one = {("COM", "DISH"): direct["COM", "DISH"][:, path : path + 1]}
        alone = plan(case_l(), "03-18 06:00", direct=one)
        assert raw_of(together, path) == pytest.approx(raw_of(alone))


@settings(deadline=None, max_examples=40)
@given(plans)
def test_rows_in_another_order_change_nothing(turnout: dict[str, list[int]]) -> None:
    known = case_l()
    turned = Kitchen(
        places=dict(reversed(known.places.items())),
        items=dict(reversed(known.items.items())),
        recipes={
            code: replace(one, lines=one.lines[::-1])
            for code, one in reversed(known.recipes.items())
        },
        stops=known.stops[::-1],
        bookings=known.bookings[::-1],
        lots=known.lots[::-1],
        coming=(),
    )
    third = np.full(3, 1 / 3)
    demand = as_demand(turnout)
    plain = plan(known, "03-18 06:00", stops=demand, weights=third)
    again = plan(turned, "03-18 06:00", stops=dict(reversed(demand.items())), weights=third)
    for path in range(3):
        assert raw_of(plain, path) == raw_of(again, path)


@settings(deadline=None, max_examples=40)
@given(plans)
def test_explosion_is_linear_without_stock_and_batch_limits(turnout: dict[str, list[int]]) -> None:
    bare = case_l()
    limitless = {
        code: replace(one, batch_min=None, batch_max=None) for code, one in bare.recipes.items()
    }
    bare = replace(bare, lots=(), bookings=(), recipes=limitless)
    first, second, both = (
        raw_of(plan(bare, "03-18 06:00", stops=demand))
        for demand in (
            as_demand(turnout, slice(0, 1)),
            as_demand(turnout, slice(1, 2)),
            {key: [qty[0] + qty[1]] for key, qty in as_demand(turnout).items()},
        )
    )

    def total(*parts: dict[Any, float]) -> dict[str, float]:
        sums: dict[str, float] = dict.fromkeys(("BEAN", "ONION", "ROLL", "CUP"), 0.0)
        for part in parts:
            for (pair, _, _), qty in part.items():
                sums[pair[1]] += qty
        return sums

    assert total(first, second) == pytest.approx(total(both))


@settings(deadline=None, max_examples=40)
@given(plans)
def test_raw_usage_follows_what_is_made(
    turnout: dict[str, list[int]],
) -> None:
    result = plan(case_l(), "03-18 06:00", stops=as_demand(turnout), weights=np.full(3, 1 / 3))
    for run in result.runs:
        assert (run.net <= run.needed + 1e-9).all()
        assert (run.left >= 0).all()
    bean = result.draws["COM", "BEAN"].qty.sum(axis=0) if ("COM", "BEAN") in result.draws else 0
    made = sum((run.made for run in result.runs if run.item == "BASE"), np.zeros(3))
    np.testing.assert_allclose(bean, made * 0.5)
