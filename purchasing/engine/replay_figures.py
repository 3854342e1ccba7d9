"""What the days of a replay come to, line by line and in all. Nothing is rounded here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from itertools import takewhile

from purchasing.engine.replay import PolicyReplay
from purchasing.engine.replay_inputs import ONE, Arrival, Billionths, ReplayInputs, ReplayLine
from purchasing.engine.replay_shelf import LineShelf

DAYS_PER_YEAR = 365  # leap years too
NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Money:
    """Exactly: opening_value + spend = used + waste + closing_value."""

    lost_margin: Fraction = NOTHING
    waste: Fraction = NOTHING
    holding: Fraction = NOTHING
    fees: Fraction = NOTHING
    spend: Fraction = NOTHING
    opening_value: Fraction = NOTHING
    used: Fraction = NOTHING
    closing_value: Fraction = NOTHING

    @property
    def avoidable(self) -> Fraction:
        """What policies are compared by."""
        return self.lost_margin + self.waste + self.holding + self.fees

    def __add__(self, other: Money) -> Money:
        names = [one.name for one in fields(self)]
        return Money(*(getattr(self, name) + getattr(other, name) for name in names))


@dataclass(frozen=True, slots=True)
class Figures:
    """``fill_rate``: 0 to 1, of a line by quantity, in all weighted by unit cost; 1 where
    nothing was asked for."""

    money: Money
    orders: int
    order_lines: int
    stockout_days: int
    line_days: int
    fill_rate: Fraction


@dataclass(frozen=True, slots=True)
class LineFigures:
    line: ReplayLine
    figures: Figures
    lost: Billionths
    expired: Billionths
    usage: Billionths
    met: Billionths

    @property
    def without_margin(self) -> bool:
        return lacks_margin(self.line)


def line_figures(done: PolicyReplay, given: ReplayInputs) -> list[LineFigures]:
    """One of each line that the policy takes, in the order of the lines."""
    placed: dict[tuple[str, str], list[Arrival]] = {one.line.pair: [] for one in done.shelves}
    for one in done.placed:
        placed[one.location, one.item].append(one)
    return [_line(shelf, placed[shelf.line.pair], given) for shelf in done.shelves]


def _line(shelf: LineShelf, placed: Sequence[Arrival], given: ReplayInputs) -> LineFigures:
    rows, line = shelf.rows, shelf.line
    usage, met = sum(row.usage for row in rows), sum(row.met for row in rows)
    return LineFigures(
        line=line,
        figures=Figures(
            money=_money(shelf, placed, given.holding_rate),
            orders=_orders(placed),
            order_lines=len(placed),
            stockout_days=shelf.stockout_days,
            line_days=len(rows),
            fill_rate=_share(met, usage),
        ),
        lost=usage - met,
        expired=sum(row.expired for row in rows),
        usage=usage,
        met=met,
    )


def _money(shelf: LineShelf, placed: Iterable[Arrival], rate: Fraction) -> Money:
    tally = shelf.tally
    return Money(
        lost_margin=tally.missed.money,
        waste=tally.expired.money,
        holding=tally.nights.money * rate / DAYS_PER_YEAR,
        fees=sum((one.fee for one in placed), NOTHING),
        spend=tally.spent.money,
        opening_value=LineShelf.opened(shelf.line).value,
        used=tally.used.money,
        closing_value=shelf.value,
    )


def totals(done: PolicyReplay, lines: Iterable[LineFigures]) -> Figures:
    found = [one.figures for one in lines]
    tallies = [shelf.tally for shelf in done.shelves]
    return Figures(
        money=sum((one.money for one in found), Money()),
        orders=_orders(done.placed),
        order_lines=len(done.placed),
        stockout_days=sum(one.stockout_days for one in found),
        line_days=sum(one.line_days for one in found),
        fill_rate=_share(
            sum((one.met_at_cost.money for one in tallies), NOTHING),
            sum((one.usage_at_cost.money for one in tallies), NOTHING),
        ),
    )


def stock_by_night(done: PolicyReplay) -> list[Fraction]:
    """Value of what lay there each night, all lines together, money."""
    return [sum(night, NOTHING) for night in zip(*(s.values for s in done.shelves), strict=True)]


def _orders(placed: Iterable[Arrival]) -> int:
    """Supplier x location x delivery; what is added later to one delivery is one order."""
    return len({(one.supplier, one.location, one.day) for one in placed})


def _share(part: Fraction | int, whole: Fraction | int) -> Fraction:
    return Fraction(part) / Fraction(whole) if whole else Fraction(1)


def lacks_margin(line: ReplayLine) -> bool:
    """Whether no shortage cost is known on some day on which the line is used; on a line that
    is not used, on any day."""
    used = [day for day in line.shortage_cost if line.use.get(day)]
    return any(line.shortage_cost[day] is None for day in used or line.shortage_cost)


def missed_before_first_delivery(done: PolicyReplay) -> Fraction:
    """Margin missed on lines without stock at the opening, until something first came: part of
    ``lost_margin`` that says more of what was on record than of the policy."""
    return sum((_missed_early(shelf) for shelf in done.shelves), NOTHING)


def _missed_early(shelf: LineShelf) -> Fraction:
    if shelf.line.opening:
        return NOTHING
    missed = NOTHING
    for row in takewhile(lambda row: not row.arrived, shelf.rows):
        missed += row.lost * (shelf.line.shortage_cost.get(row.day) or NOTHING) / ONE
    return missed
