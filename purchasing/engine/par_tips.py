"""Pars that would have done: by weekday of delivery, from the last eight windows (R8, R9).

A window runs from one delivery to the next. The tip of a weekday is the least par for which the
windows begun on it lasted as often as the service level asks, had every delivery of those weeks
filled up to the tips. It is found by living the days again with the real usage, whole cases,
first expired first out; not by a forecast.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from inventory.engine.kitchen import Place
from purchasing.engine.inputs import Supplier
from purchasing.engine.lines import cases_for
from purchasing.engine.replay_inputs import ONE, TOLERANCE, Arrival, Billionths, ReplayLine, Sold
from purchasing.engine.replay_shelf import LineShelf
from purchasing.engine.slots import first_delivery_from

WINDOWS = 8  # of each weekday
ONE_DAY = timedelta(days=1)
MOST_RAISES = 40  # of pars, until all weekdays last; each lifts at least one window over its lack

Pars = Mapping[int, Billionths]  # by weekday, Monday = 0


@dataclass(frozen=True, slots=True)
class Span:
    """Days from one delivery to the day before the next. ``reach``: the last of them that a lot
    of that delivery can serve. ``counts``: one of the last eight of its weekday."""

    start: date
    end: date
    reach: date
    counts: bool = True

    @property
    def weekday(self) -> int:
        return self.start.weekday()


@dataclass(frozen=True, slots=True)
class WeekdayTip:
    """``par`` of the weekday and, of its ``windows``, how many ``ran_out``. ``thrown_away``:
    billionths of a base unit of its deliveries, ``lost`` their money."""

    weekday: int
    par: Billionths
    windows: int
    ran_out: int
    thrown_away: Billionths
    lost: Fraction


def deliveries(supplier: Supplier, place: Place, first: date, last: date) -> list[date]:
    """Days from ``first`` to ``last`` on which an order of the supplier could have come."""
    found = set[date]()
    lead = timedelta(days=supplier.lead_days)
    day = first - lead - timedelta(days=7)
    while day <= last - lead:
        if day.weekday() in supplier.order_days and day not in supplier.closed_on:
            found.add(first_delivery_from(day + lead, supplier, place) or date.max)
        day += ONE_DAY
    return sorted(day for day in found if first <= day <= last)


def spans(days: Sequence[date], life: int | None, last: date) -> list[Span]:
    """Windows between deliveries that were over by ``last``, from the first that counts: the
    last eight of each weekday that has so many."""
    found = [
        Span(start, end - ONE_DAY, _reach(start, end - ONE_DAY, life))
        for start, end in zip(days, days[1:], strict=False)
        if end - ONE_DAY <= last
    ]
    of_day = [[one.start for one in found if one.weekday == weekday] for weekday in range(7)]
    kept = {day for days in of_day if len(days) >= WINDOWS for day in days[-WINDOWS:]}
    first = min(kept, default=date.max)
    return [replace(one, counts=one.start in kept) for one in found if one.start >= first]


def _reach(start: date, end: date, life: int | None) -> date:
    return end if life is None else min(end, start + timedelta(days=life))


def tips(
    line: ReplayLine,
    sold: Sold,
    windows: Sequence[Span],
    level: float,
    rounded: Callable[[Billionths], Billionths],
) -> list[WeekdayTip]:
    """A tip for each weekday of ``windows``. ``level``: share of windows that must last;
    ``rounded``: up to a figure that one would set."""
    if not windows:
        return []
    pars = {day: rounded(_enough(_uses(line, windows, day), level)) for day in _weekdays(windows)}
    for _ in range(MOST_RAISES):
        lived = _Lived.of(line, sold, windows, pars)
        raises = {day: _enough(lived.lacks(day), level) for day in pars}
        if not any(raises.values()):
            break
        pars = {day: rounded(par + raises[day]) for day, par in pars.items()}
    return would_have_done(line, sold, windows, pars)


def would_have_done(
    line: ReplayLine, sold: Sold, windows: Sequence[Span], pars: Pars
) -> list[WeekdayTip]:
    """What the pars would have done in the windows, by weekday."""
    lived = _Lived.of(line, sold, windows, pars)
    return [
        WeekdayTip(
            weekday=day,
            par=pars[day],
            windows=len(lived.lacks(day)),
            ran_out=sum(lack > TOLERANCE for lack in lived.lacks(day)),
            thrown_away=lived.thrown_away.get(day, 0),
            lost=lived.lost.get(day, Fraction(0)),
        )
        for day in _weekdays(windows)
        if day in pars
    ]


def _weekdays(windows: Sequence[Span]) -> list[int]:
    return sorted({one.weekday for one in windows if one.counts})


def _uses(line: ReplayLine, windows: Sequence[Span], weekday: int) -> list[Billionths]:
    """What was used in each window of a weekday that its delivery could serve."""
    return [
        sum(qty for day, qty in line.use.items() if one.start <= day <= one.reach)
        for one in windows
        if one.counts and one.weekday == weekday
    ]


def _enough(amounts: Sequence[Billionths], level: float) -> Billionths:
    """The least amount that covers the share ``level`` of them (the inverse of their
    distribution, as R14 asks); what is negligible is none."""
    place = max(1, math.ceil(level * len(amounts) - 1e-9))
    amount = sorted(amounts)[place - 1]
    return amount if amount > TOLERANCE else 0


@dataclass(frozen=True, slots=True)
class _Lived:
    """``missing``: what each window lacked within its reach, by weekday of its delivery;
    ``thrown_away`` and ``lost`` (money) by weekday of the delivery that brought it."""

    missing: dict[int, list[Billionths]]
    thrown_away: dict[int, Billionths]
    lost: dict[int, Fraction]

    @classmethod
    def of(cls, line: ReplayLine, sold: Sold, windows: Sequence[Span], pars: Pars) -> _Lived:
        shelf = LineShelf.opened(line)
        lived = cls({}, {}, {})
        by_start = {one.start: one for one in windows}
        current = windows[0]
        day = current.start
        lack = 0
        while day <= windows[-1].end:
            if day in by_start:
                current, lack = by_start[day], 0
            lived._note_thrown_away(shelf, day)
            shelf.live(day, _arrivals(shelf, sold, day, pars, by_start), Fraction(0))
            if current.start <= day <= current.reach:
                lack += shelf.rows[-1].lost
            if day == current.end and current.counts:
                lived.missing.setdefault(current.weekday, []).append(lack)
            day += ONE_DAY
        lived._note_thrown_away(shelf, day)  # of the last day, seen the morning after
        return lived

    def lacks(self, weekday: int) -> list[Billionths]:
        return self.missing.get(weekday, [])

    def _note_thrown_away(self, shelf: LineShelf, day: date) -> None:
        for lot in shelf.lots:
            if lot.use_by is not None and lot.use_by < day and lot.received is not None:
                came = lot.received.weekday()
                self.thrown_away[came] = self.thrown_away.get(came, 0) + lot.qty
                money = lot.qty * lot.unit_cost / ONE
                self.lost[came] = self.lost.get(came, Fraction(0)) + money


def _arrivals(
    shelf: LineShelf, sold: Sold, day: date, pars: Pars, by_start: Mapping[date, Span]
) -> list[Arrival]:
    """What a delivery of the day fills up to its par, in whole cases (R7, R8)."""
    par = pars.get(day.weekday())
    if day not in by_start or par is None:
        return []
    have = sum(lot.qty for lot in shelf.usable(day))
    cases = cases_for(max(0, par - have) / ONE, sold.offer)
    if not cases:
        return []
    unit_cost = shelf.line.first_rank_cost(day) or Fraction(0)
    return [
        Arrival(
            location=shelf.line.location,
            item=shelf.line.item,
            day=day,
            qty=cases * sold.case,
            unit_cost=unit_cost,
            supplier=sold.offer.supplier,
            sku=sold.offer.sku,
            order="",
        )
    ]
