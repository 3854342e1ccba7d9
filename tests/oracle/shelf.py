"""R6: one stock of one item, day by day and draw by draw."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from tests.oracle.clock import DAY, Moment
from tests.oracle.readings import AS_WRITTEN, Otherwise, Reading

NOTHING = Fraction(1, 1_000_000)
FAR = date.max


@dataclass(frozen=True, slots=True)
class Draw:
    """``moment`` None: no hour. A lot serves it if its use-by is on or after ``day_of_use``."""

    day: date
    moment: Moment | None
    day_of_use: date
    qty: Fraction


@dataclass(frozen=True, slots=True)
class Arrival:
    """``moment`` None: before the day's first draw. ``is_new``: the order being decided."""

    day: date
    moment: Moment | None
    qty: Fraction
    use_by: date | None
    is_new: bool = False


@dataclass(slots=True)
class Lot:
    qty: Fraction
    use_by: date | None
    received: date
    strip: str
    is_new: bool = False

    @property
    def order(self) -> tuple[date, date, str]:
        return (self.use_by or FAR, self.received, self.strip)


@dataclass(slots=True)
class Story:
    """What happened: start-of-day stock still usable, lost draws, what spoiled by use-by."""

    carried_in: dict[date, Fraction] = field(default_factory=dict)
    lost: list[tuple[Draw, Fraction]] = field(default_factory=list)
    spoiled: list[tuple[date, Fraction]] = field(default_factory=list)
    spoiled_new: Fraction = Fraction(0)


@dataclass(slots=True)
class Shelf:
    """Stock under R6. ``as_of`` is the moment of the plan, ``first_day`` its business date."""

    lots: list[Lot]
    arrivals: list[Arrival]
    draws: list[Draw]
    as_of: Moment
    first_day: date
    reading: Reading = AS_WRITTEN
    story: Story = field(default_factory=Story)
    owed: Fraction = Fraction(0)

    def run(self, last_day: date) -> Story:
        day = self.first_day
        while day <= last_day:
            self._spoil(day)
            self.story.carried_in[day] = sum((lot.qty for lot in self.lots), Fraction(0))
            self._one_day(day)
            day += DAY
        return self.story

    def _spoil(self, day: date) -> None:
        for lot in self.lots:
            if lot.use_by is not None and lot.use_by < day:
                self.story.spoiled.append((lot.use_by, lot.qty))
                self.story.spoiled_new += lot.qty if lot.is_new else 0
        self.lots = [lot for lot in self.lots if lot.use_by is None or lot.use_by >= day]

    def _one_day(self, day: date) -> None:
        draws = sorted(
            (draw for draw in self.draws if draw.day == day),
            key=lambda draw: (draw.moment is None, draw.moment or 0, draw.day_of_use),
        )
        arrivals = sorted(
            (arrival for arrival in self.arrivals if arrival.day == day), key=self._comes_at
        )
        if Otherwise.DELIVERY_AFTER_USE in self.reading:
            self._all_draws(draws)
            draws = []
        for arrival in arrivals:
            before = [d for d in draws if self._is_before(d, arrival)]
            self._all_draws(before)
            draws = draws[len(before) :]
            self._put(arrival)
        self._all_draws(draws)

    def _comes_at(self, arrival: Arrival) -> Moment:
        """On the first day, what is due and not in comes first if its hour is past."""
        if arrival.moment is None or Otherwise.HOURS_OF_DRAWS_IGNORED in self.reading:
            return 0
        return 0 if arrival.moment <= self.as_of else arrival.moment

    def _is_before(self, draw: Draw, arrival: Arrival) -> bool:
        return draw.moment is not None and draw.moment < self._comes_at(arrival)

    def _put(self, arrival: Arrival) -> None:
        strip = "~new" if arrival.is_new else "~coming"
        self.lots.append(
            Lot(arrival.qty, arrival.use_by, arrival.day, strip, is_new=arrival.is_new)
        )

    def _all_draws(self, draws: list[Draw]) -> None:
        for draw in draws:
            missing = take(self.lots, draw.qty + self.owed, draw.day_of_use, self.reading)
            self.owed = missing if Otherwise.UNMET_CARRIED_OVER in self.reading else Fraction(0)
            if missing > NOTHING:
                self.story.lost.append((draw, missing))


def take(
    lots: list[Lot], qty: Fraction, day_of_use: date, reading: Reading = AS_WRITTEN
) -> Fraction:
    """Draws from usable lots, first expired first; what could not be met comes back."""
    backwards = Otherwise.LAST_FIRST in reading
    for lot in sorted(lots, key=lambda lot: lot.order, reverse=backwards):
        if lot.use_by is None or lot.use_by >= day_of_use:
            taken = min(lot.qty, qty)
            lot.qty -= taken
            qty -= taken
    return qty
