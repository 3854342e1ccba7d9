"""Random lines against the oracle, which tries case after case on exact fractions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from purchasing.engine.lines import Line
from tests.oracle import line as oracle
from tests.oracle.shelf import Arrival, Draw, Lot
from tests.purchasing.engine.line_scenes import (
    AS_OF,
    Drawn,
    at,
    decided,
    draws,
    line,
    march,
    offer,
)

HOURS = (None, None, "07:00", "08:00", "14:00", "19:30")
quantities = st.integers(0, 30)
hours = st.sampled_from(HOURS)


@dataclass(frozen=True)
class Problem:
    """Days of March; draws as (day, hour, day of use, quantity on each path)."""

    stock: list[tuple[float, int | None]]
    coming: list[tuple[int, float, int | None, str | None]]
    drawn: list[tuple[int, str | None, int, list[int]]]
    between: tuple[int, int]
    arrives: str | None
    pack: int
    minimum: int
    multiple: int
    par: int
    life: int | None
    weights: list[int]
    level: float

    def line(self, basis: str) -> Line:
        rows: list[Drawn] = [(d, h, u, qty) for d, h, u, qty in self.drawn]
        return line(
            draws(rows, len(self.weights)),
            stock=self.stock,
            coming=[(d, q, u) if h is None else (d, q, u, h) for d, q, u, h in self.coming],
            between=self.between,
            arrives=self.arrives,
            basis=basis,
            par=float(self.par),
            level=self.level,
            life=self.life,
            sold=offer(self.pack, minimum_cases=self.minimum, case_multiple=self.multiple),
        )

    def question(self, basis: str, path: int) -> oracle.Question:
        held = [Lot(Fraction(q), _on(u), march(1), f"L{i}") for i, (q, u) in enumerate(self.stock)]
        room = oracle.Stockroom(
            tuple(held),
            tuple(Arrival(march(d), _at(d, h), Fraction(q), _on(u)) for d, q, u, h in self.coming),
            tuple(Draw(march(d), _at(d, h), march(u), Fraction(qty[path]))
                  for d, h, u, qty in self.drawn),
            AS_OF,
            march(2),
        )  # fmt: skip
        start, end = self.between
        window = oracle.Window(
            march(start), march(end), _at(start, self.arrives), _at(end, self.arrives), AS_OF
        )
        rule = oracle.CaseRule(Fraction(self.pack), self.minimum, self.multiple)
        return oracle.Question(room, window, rule, basis, Fraction(self.par), self.life)


def _on(day: int | None) -> date | None:
    return None if day is None else march(day)


def _at(day: int, hour: str | None) -> int | None:
    return None if hour is None else at(day, hour)


@st.composite
def problems(draw: st.DrawFn, most_paths: int = 1) -> Problem:
    start = draw(st.integers(2, 6))
    weights = draw(st.lists(st.integers(1, 5), min_size=1, max_size=most_paths))
    use_by = st.none() | st.integers(2, 12)
    days = st.lists(
        st.tuples(st.integers(2, 11), hours, st.sampled_from([0, 0, 0, 1, 2])),
        max_size=12, unique=True,
    )  # fmt: skip
    quantity = st.lists(quantities, min_size=len(weights), max_size=len(weights))
    return Problem(
        stock=draw(st.lists(st.tuples(quantities, use_by), max_size=3)),
        coming=[
            (d, q, None if life is None else d + life, h)
            for d, q, life, h in draw(
                st.lists(st.tuples(st.integers(2, 9), quantities,
                                   st.none() | st.integers(0, 4), hours), max_size=2)
            )
        ],
        drawn=[(d, h, d + ahead, draw(quantity)) for d, h, ahead in draw(days)],
        between=(start, start + draw(st.integers(1, 4))),
        arrives=draw(hours),
        pack=draw(st.integers(1, 12)),
        minimum=draw(st.integers(1, 3)),
        multiple=draw(st.integers(1, 3)),
        par=draw(st.integers(0, 60)),
        life=draw(st.none() | st.integers(0, 5)),
        weights=weights,
        level=draw(st.sampled_from([0.3, 0.5, 0.8, 0.95])),
    )  # fmt: skip


@given(problems())
def test_certain_demand_by_forecast_gives_the_answer_of_the_oracle(problem: Problem) -> None:
    decision = decided(problem.line("forecast"))
    question = problem.question("forecast", 0)
    expected = oracle.decide(question)
    assert decision.cases == expected.cases
    assert decision.reasons.raw_need == pytest.approx(float(expected.raw_need or 0), abs=1e-6)
    assert decision.reasons.target == pytest.approx(float(expected.target or 0), abs=1e-6)


@given(problems())
def test_certain_demand_by_fixed_par_gives_the_answer_of_the_oracle(problem: Problem) -> None:
    decision = decided(problem.line("fixed"))
    expected = oracle.decide(problem.question("fixed", 0))
    assert decision.cases == expected.cases
    assert decision.reasons.raw_need == expected.raw_need
    greater = oracle.decide(problem.question("greater", 0))
    assert decided(problem.line("greater")).cases == greater.cases


@given(problems())
def test_the_reasons_are_those_of_the_oracle(problem: Problem) -> None:
    decision = decided(problem.line("fixed"))
    question, ordered = problem.question("fixed", 0), Fraction(decision.qty)
    reasons = decision.reasons
    assert list(reasons.cannot_cover) == [
        day for day in oracle.days_not_covered(question) if _is_drawn(problem, day)
    ]
    assert reasons.runs_out_on == oracle.ran_out_on(question, ordered)
    assert reasons.expiring_before_use == oracle.spoiled_before_end(question)
    assert reasons.expected_waste == oracle.wasted_of_new_lot(question, ordered)


def _is_drawn(problem: Problem, day: date) -> bool:
    """The oracle also names days on which nothing is drawn; of these there is nothing to say."""
    question = problem.question("fixed", 0)
    return any(
        draw.qty and draw.day == day and question.window.holds(draw)
        and not question.in_reach(draw)
        for draw in question.room.draws
    )  # fmt: skip


@given(problems(most_paths=5))
def test_on_paths_it_is_the_fewest_cases_whose_paths_carry_the_level(problem: Problem) -> None:
    weights = np.array(problem.weights) / sum(problem.weights)
    decision = decided(problem.line("forecast"), weights)
    questions = [problem.question("forecast", path) for path in range(len(weights))]
    pack = Fraction(problem.pack)
    for cases in questions[0].rule.allowed():
        met = [not question.first_loss(cases * pack) for question in questions]
        if sum(w for w, ok in zip(problem.weights, met, strict=True) if ok) >= (
            problem.level * sum(problem.weights) - 1e-9
        ):
            break
    assert decision.cases == cases


@given(problems(most_paths=4), st.integers(0, 3))
def test_more_stock_lowers_the_order_by_at_most_what_was_added(problem: Problem, more: int) -> None:
    """inventory-theory.md, section 12."""
    weights = np.array(problem.weights) / sum(problem.weights)
    richer = Problem(**{**vars(problem), "stock": [*problem.stock, (float(more), None)]})
    before = decided(problem.line("forecast"), weights).reasons.raw_need
    after = decided(richer.line("forecast"), weights).reasons.raw_need
    assert before - more - 1e-6 <= after <= before + 1e-6


@given(problems(most_paths=4))
def test_what_is_ordered_and_counted_as_on_order_is_not_ordered_again(problem: Problem) -> None:
    weights = np.array(problem.weights) / sum(problem.weights)
    first = decided(problem.line("forecast"), weights)
    use_by = None if problem.life is None else problem.between[0] + problem.life
    due = (problem.between[0], first.qty, use_by, problem.arrives)
    again = Problem(**{**vars(problem), "coming": [*problem.coming, due]})
    assert decided(again.line("forecast"), weights).cases == 0
