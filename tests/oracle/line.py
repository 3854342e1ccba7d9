"""R7 to R9 and R11 for one item at one place: cases tried upwards until the rule is met."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from tests.oracle.clock import DAY, Moment
from tests.oracle.readings import AS_WRITTEN, Otherwise, Reading
from tests.oracle.shelf import NOTHING, Arrival, Draw, Lot, Shelf, Story

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Stockroom:
    """What is there, what comes and what is drawn, without the order being decided."""

    lots: tuple[Lot, ...]
    arrivals: tuple[Arrival, ...]
    draws: tuple[Draw, ...]
    as_of: Moment
    today: date
    reading: Reading = AS_WRITTEN

    def play(self, last_day: date, *more: Arrival) -> Story:
        shelf = Shelf(
            [replace(lot) for lot in self.lots],
            [*self.arrivals, *more],
            list(self.draws),
            self.as_of,
            self.today,
            self.reading,
        )
        return shelf.run(last_day)


@dataclass(frozen=True, slots=True)
class Window:
    """From the arrival of ``start`` to the arrival of ``end``; hours None: the whole days."""

    start: date
    end: date
    start_moment: Moment | None
    end_moment: Moment | None
    as_of: Moment
    reading: Reading = AS_WRITTEN

    def is_before(self, draw: Draw) -> bool:
        if draw.day != self.start:
            return draw.day < self.start
        arrival = self.start_moment
        if arrival is None or draw.moment is None or self._by_dates or arrival <= self.as_of:
            return False
        return draw.moment < arrival

    def is_after(self, draw: Draw) -> bool:
        if draw.day != self.end:
            return draw.day > self.end
        if Otherwise.WINDOW_INCLUDES_END in self.reading:
            return False
        if self.end_moment is None or draw.moment is None or self._by_dates:
            return True
        return draw.moment >= self.end_moment

    def holds(self, draw: Draw) -> bool:
        return not self.is_before(draw) and not self.is_after(draw)

    @property
    def _by_dates(self) -> bool:
        return Otherwise.WINDOW_BY_DATES in self.reading


@dataclass(frozen=True, slots=True)
class CaseRule:
    pack: Fraction
    minimum: int = 1
    multiple: int = 1

    def allowed(self, reading: Reading = AS_WRITTEN) -> Iterator[int]:
        """0, then every count that the offer permits, upwards."""
        yield 0
        cases = 0
        while True:
            cases += 1
            on_top = Otherwise.MULTIPLE_ON_TOP in reading and self.multiple > 1
            past_minimum = cases - self.minimum if on_top else cases
            if cases >= self.minimum and past_minimum % self.multiple == 0:
                yield cases


@dataclass(frozen=True, slots=True)
class Question:
    """``par`` in base units; ``life`` is that of the new lot in days after arrival."""

    room: Stockroom
    window: Window
    rule: CaseRule
    basis: str
    par: Fraction | None
    life: int | None

    def new_lot(self, qty: Fraction) -> Arrival:
        use_by = self.last_day_of_new_lot
        return Arrival(self.window.start, self.window.start_moment, qty, use_by, is_new=True)

    @property
    def last_day_of_new_lot(self) -> date | None:
        if self.life is None:
            return None
        counted = Otherwise.LIFE_INCLUDES_RECEIPT_DAY in self.room.reading
        return self.window.start + timedelta(days=self.life - counted)

    def in_reach(self, draw: Draw) -> bool:
        last = self.last_day_of_new_lot
        return self.window.holds(draw) and (last is None or draw.day_of_use <= last)

    def first_loss(self, qty: Fraction) -> Fraction:
        """What the first short draw of the reach lacks with ``qty`` ordered; 0 if none does."""
        story = self.room.play(self.window.end, self.new_lot(qty))
        return next((lost for draw, lost in story.lost if self.in_reach(draw)), ZERO)

    def have(self) -> Fraction:
        """R8: at the start of the delivery day, before its usage."""
        if Otherwise.FIXED_FROM_STOCK_NOW in self.room.reading:
            return sum((lot.qty for lot in self.room.lots), ZERO)
        start = self.window.start
        due = [a.qty for a in self.room.arrivals if a.day == start]
        return self.room.play(start).carried_in[start] + sum(due, ZERO)


@dataclass(frozen=True, slots=True)
class Decision:
    """``basis_used`` is blank where both bases of ``greater`` give the same cases."""

    cases: int
    raw_need: Fraction | None
    target: Fraction | None
    have: Fraction
    basis_used: str


def decide(question: Question) -> Decision:
    have = question.have()
    if question.basis == "fixed":
        return _fixed(question, have)
    if question.basis == "forecast":
        return _forecast(question, have)
    return _greater(_fixed(question, have), _forecast(question, have))


def _fixed(question: Question, have: Fraction) -> Decision:
    assert question.par is not None
    need = max(ZERO, question.par - have)
    counts = question.rule.allowed(question.room.reading)
    cases = next(n for n in counts if n * question.rule.pack >= need - NOTHING)
    return Decision(cases, need, question.par, have, "fixed")


def _forecast(question: Question, have: Fraction) -> Decision:
    needed = _smallest_quantity(question)
    return Decision(_fewest_cases(question), needed, have + needed, have, "forecast")


def _greater(fixed: Decision, forecast: Decision) -> Decision:
    if fixed.cases == forecast.cases:
        return Decision(fixed.cases, None, None, fixed.have, "")
    return max(fixed, forecast, key=lambda decision: decision.cases)


def _fewest_cases(question: Question) -> int:
    """A lot as large as all draws meets those of its reach, so the search ends."""
    wanted = sum((draw.qty for draw in question.room.draws), ZERO)
    for cases in question.rule.allowed(question.room.reading):
        qty = cases * question.rule.pack
        if not question.first_loss(qty):
            return cases
        if qty >= wanted:
            assert question.room.reading, "a large enough lot must meet its reach"
            return cases
    raise AssertionError("unreachable")


def _smallest_quantity(question: Question) -> Fraction:
    """Each loss needs at least itself more: more of the new lot lifts a later draw one to one."""
    qty, wanted = ZERO, sum((d.qty for d in question.room.draws), ZERO)
    while (lost := question.first_loss(qty)) and qty <= wanted:
        qty += lost
    return qty


def days_not_covered(question: Question) -> list[date]:
    """Days of the window whose draws no lot of this delivery can serve (R9)."""
    return sorted(
        {
            draw.day
            for draw in question.room.draws
            if question.window.holds(draw) and not question.in_reach(draw)
        }
    )


def ran_out_on(question: Question, qty: Fraction, *, within: bool = False) -> date | None:
    """The first day before the end of the window on which something is lost; ``within``: in
    the window only."""
    story = question.room.play(question.window.end, question.new_lot(qty))
    window = question.window
    short = [draw.day for draw, _ in story.lost if not window.is_after(draw)]
    if within:
        short = [draw.day for draw, _ in story.lost if window.holds(draw)]
    return min(short, default=None)


def ran_out_before(question: Question) -> bool:
    """Whether something is lost before the delivery."""
    story = question.room.play(question.window.start)
    return any(question.window.is_before(draw) for draw, _ in story.lost)


def spoiled_before_end(question: Question) -> Fraction:
    story = question.room.play(question.window.end)
    return sum((qty for use_by, qty in story.spoiled if use_by < question.window.end), ZERO)


def wasted_of_new_lot(question: Question, qty: Fraction) -> Fraction:
    last = question.last_day_of_new_lot
    if last is None:
        return ZERO
    return question.room.play(last + DAY, question.new_lot(qty)).spoiled_new
