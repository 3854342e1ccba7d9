"""The replay itself against the exact optimum on drawn demand; the whole table is
``python -m tests.benchmarks.replay_optimum``.

The optimum (value iteration, tests/published/perishable.py) is one more policy of the same
replay: twenty places, 42 days, seed 1, common usage. Bounds allow for chance by two standard
errors, from the spread between places; judged decision by decision there is hardly any left.
"""

from __future__ import annotations

from functools import cache

from purchasing.engine.replay import PolicyReplay
from purchasing.engine.replay_inputs import ONE
from tests.benchmarks.perishable import Case, poisson
from tests.benchmarks.replay_optimum import Comparison, Ratio, ratio_of

OTHERS = ("forecast", "mean", "outdating")
NEAR, LEARNT_NEAR = 1.05, 1.10

Replays = tuple[PolicyReplay, ...]


@cache
def compared() -> Comparison:
    return Comparison.of(
        Case(life=2, lead=1, size=4, cycle=(poisson(3),)), seed=1, lines=20, days=42, paths=200
    )


@cache
def expected() -> float:
    return compared().expected


@cache
def known() -> Replays:
    return compared().known("cost", *OTHERS)


@cache
def learnt() -> Replays:
    return compared().learnt("cost")


def test_the_optimum_lives_its_days_on_the_shelf_as_in_its_own_model() -> None:
    """Two programs for one shelf: what lies there every night, unit by unit."""
    best = compared().best
    for shelf in known()[0].shelves:
        for (day, state, order), row in zip(best.lived(shelf), shelf.rows, strict=True):
            left = best.solution.problem.issued(state[None], row.usage // ONE)
            assert row.on_hand_end == left.sum() * ONE
            assert order == best.solution.policy(state[None], day)[0]


def test_the_optimum_costs_in_the_replay_what_is_expected_of_it() -> None:
    drawn = ratio_of(compared().avoidable(known()[0]), expected())
    assert abs(drawn.value - 1) <= 4 * drawn.error


def by_cost(replays: Replays) -> tuple[Ratio, Ratio]:
    """What it cost in the replay, and its decisions judged one by one."""
    drawn = compared().ratios(replays, expected())["cost"]
    return drawn, compared().judged(replays[1], expected())


def test_by_cost_within_five_percent_of_the_optimum() -> None:
    drawn, judged = by_cost(known())
    assert drawn.value <= NEAR + 2 * drawn.error
    assert 1 <= judged.value <= NEAR


def test_by_cost_within_ten_percent_with_half_a_year_to_learn_from() -> None:
    """What the tail is like is not in the history (rules.md, R10)."""
    drawn, judged = by_cost(learnt())
    assert drawn.value <= LEARNT_NEAR + 2 * drawn.error
    assert 1 <= judged.value <= LEARNT_NEAR


def test_the_optimum_has_nothing_to_regret() -> None:
    assert {compared().best.regret(shelf) for shelf in known()[0].shelves} == {0.0}


def test_by_cost_is_below_every_other_policy() -> None:
    found = compared().ratios(known(), expected())
    assert found.keys() == {"cost", *OTHERS}
    assert all(found["cost"].value < found[name].value for name in OTHERS)
