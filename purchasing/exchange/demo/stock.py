"""What lies where this morning: most of it about right, some of it too much and too old."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from purchasing.exchange.demo.deliveries import ONE_DAY, Calendar
from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.pace import COUNTER_BUYS, Pace, Rhythm, pack_size
from purchasing.exchange.demo.pars import FixedPar
from purchasing.exchange.demo.places import COMMISSARY, COUNTER, TRUCKS, area_for
from purchasing.exchange.demo.table import Row, number, table, yes

Rng = np.random.Generator

# Bought or made too much of: days of use on the shelf, days left. Of what is bought
# and has a day left at most, the ordinary comes on top.
_TOO_MUCH = table(
    """
    item | days | left
    MANGO | 6 | 2
    WHITE-CHEESE | 4 | 1
    TOFU | 3.5 | 1
    MUSHROOM | 3 | 1
    SPINACH | 2.5 | 0
    MILK | 6 | 2
    BACON | 5 | 2
    PULLED-CHICKEN | 1.5 | 0
    BRAISED-PORK | 1.9 | 1
    BEEF-FILLING | 2 | 1
    SWEET-ONION | 3 | 1
    SESAME-SAUCE | 5 | 2
    """
)
_HELD = ("CHICKEN-GROUND", 20.0)  # arrived at 46 F, waiting for the supplier's answer
_FORGOTTEN = ("SPINACH", 2.5)  # past its use-by since yesterday
_LEAST = {True: 2.0, False: 0.4}  # pieces, or any measure: less is swept off the shelf
_STATES = {"frozen": "frozen", "chilled": "chilled", "dry": "ambient"}


@dataclass(frozen=True, slots=True)
class Larder:
    """Everything that the size of a lot follows from. ``wanted``: base units for today's
    stops, by item; ``stops``: how many each truck held in the last 28 days."""

    today: date
    measures: Measures
    pace: Pace
    wanted: dict[str, float]
    fixed: dict[str, FixedPar]
    first: dict[str, Row]
    costs: dict[str, float]
    calendars: dict[tuple[str, str], Calendar]
    rhythm: Rhythm
    stops: dict[str, int]
    rng: Rng
    _numbers: Counter[str] = field(default_factory=Counter)

    def rows(self) -> list[Row]:
        lots = (
            *self._kept(),
            *self._fresh(),
            *self._made(),
            *self._too_much(),
            *self._noteworthy(),
            *self._aboard(),
            *self._at_counter(),
        )
        return [lot for lot in lots if float(lot["qty"]) >= _LEAST[lot["unit"] == "each"]]

    def _between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def own(self, item: str, base: float) -> float:
        """Base units in the item's own unit."""
        return base / self.measures.base(item, 1.0, self.measures.items[item]["unit"])

    def a_day(self, item: str, place: str = COMMISSARY) -> float:
        return self.own(item, self.pace.leaves.get((place, item), 0.0))

    def _kept(self) -> Iterator[Row]:
        """What has a fixed par, from half of it to a little over, or of a pack that lasts
        for months most of it; part of it older."""
        for item, par in self.fixed.items():
            pack = self.own(item, self._pack(item))
            qty = max(par.qty * self._between(0.5, 1.1), pack * self._between(0.2, 0.9))
            if not self.life(item):
                yield self.lot(COMMISSARY, item, qty, None, None)
                continue
            several = qty > pack
            older = qty * self._between(0.2, 0.4) if several else 0.0
            for part, age in ((older, 40), (qty - older, 12)):
                received = self.today - timedelta(days=age)
                yield self.lot(COMMISSARY, item, part, received, self.use_by(item, received))

    def _fresh(self) -> Iterator[Row]:
        """What is ordered by forecast."""
        surplus = {row["item"] for row in _TOO_MUCH if int(row["left"]) > 1}
        for item in self.first:
            if item not in self.fixed and item not in surplus and self.a_day(item):
                yield from self._on_its_way_down(COMMISSARY, item)

    def _on_its_way_down(self, place: str, item: str) -> Iterator[Row]:
        """About enough until the next delivery, for which the commissary cooks a day ahead;
        where a pack lasts longer than that, what is left of one."""
        calendar = self.calendars[self.first[item]["supplier"], place]
        days = self.rhythm.until(place, self.today, calendar.next_arrival())
        a_day, pack = self.a_day(item, place), self.own(item, self._pack(item))
        left, received = days * self._between(0.9, 1.3), calendar.previous()
        if pack > a_day * days:
            share, lasts = self._between(0.15, 0.85), pack / a_day
            received = min(received, self.today - timedelta(days=round((1 - share) * lasts)))
            left = share * lasts
        if life := self.life(item):
            received = max(received, self.today - timedelta(days=max(life - 2, 1)))
        use_by = self.use_by(item, received)
        if use_by:
            share = 0.8 if life > 2 else 0.4
            left = min(left, share * self.rhythm.days(place, self.today, use_by + ONE_DAY))
        yield self.lot(place, item, a_day * left, received, use_by)

    def _pack(self, item: str) -> float:
        return pack_size(self.first[item], self.measures)

    def _made(self) -> Iterator[Row]:
        """Yesterday's batches: what today's trucks will ask for, and part of the counter's
        day; of what goes into other batches, part of a day if it keeps for more than two.
        What is frozen was made through the week."""
        surplus = {row["item"] for row in _TOO_MUCH}
        for item, row in self.measures.items.items():
            a_day = self.a_day(item)
            if row["kind"] != "prep" or item in surplus or not a_day:
                continue
            if row["storage"] == "frozen":
                for ago, days in ((6, 0.6), (2, 1.0)):
                    yield self._batch(item, ago, a_day * days * self._between(0.7, 1.2))
                continue
            today = self.own(item, self.wanted.get(item, 0.0)) * self._between(1.0, 1.25)
            more = a_day * self._between(0.1, 0.35)
            if today or self.life(item) > 2:
                yield self._batch(item, 1, today + more)

    def _batch(self, item: str, ago: int, qty: float) -> Row:
        made = self.today - timedelta(days=ago)
        return self.lot(COMMISSARY, item, qty, made, self.use_by(item, made))

    def _too_much(self) -> Iterator[Row]:
        for row in _TOO_MUCH:
            item, left = row["item"], int(row["left"])
            use_by = self.today + timedelta(days=left)
            received = use_by - timedelta(days=self.life(item))
            qty = self.a_day(item) * float(row["days"])
            yield self.lot(COMMISSARY, item, qty, received, use_by)

    def _noteworthy(self) -> Iterator[Row]:
        item, qty = _HELD
        received = self.today - timedelta(days=1)
        yield self.lot(COMMISSARY, item, qty, received, self.use_by(item, received), hold=True)
        item, qty = _FORGOTTEN
        use_by = self.today - timedelta(days=1)
        received = use_by - timedelta(days=self.life(item))
        yield self.lot(COMMISSARY, item, qty, received, use_by)

    def _aboard(self) -> Iterator[Row]:
        """What stayed on the trucks: goods that keep, sauces that came back cold."""
        for (place, item), used in sorted(self.pace.used.items()):
            if place not in TRUCKS or self._goes_at_close(item):
                continue
            a_stop = self.own(item, used) * 28 / self.stops[place]
            ago = 3 if self.measures.items[item]["storage"] == "frozen" else 1
            made = self.today - timedelta(days=ago) if self.life(item) else None
            qty = a_stop * self._between(0.3, 1.0)
            yield self.lot(place, item, qty, made, made and self.use_by(item, made))

    def _goes_at_close(self, item: str) -> bool:
        row = self.measures.items[item]
        risky = row["tcs"] or row["ready_to_eat"]
        return (row["on_return"] or ("discard" if risky else "keep")) == "discard"

    def _at_counter(self) -> Iterator[Row]:
        """About a day of what the commissary sends, four of what needs no cold."""
        for (place, item), used in sorted(self.pace.used.items()):
            if place != COUNTER:
                continue
            if item in COUNTER_BUYS:
                yield from self._on_its_way_down(COUNTER, item)
                continue
            days = 4.0 if self.measures.items[item]["storage"] == "dry" else 0.9
            got = self.today - timedelta(days=1) if self.life(item) else None
            qty = self.own(item, used) * days * self._between(0.6, 1.2)
            yield self.lot(COUNTER, item, qty, got, got and self.use_by(item, got))

    def life(self, item: str) -> int:
        """0 where it does not expire: nothing here lives for its first day only."""
        return int(self.measures.items[item]["shelf_life_days"] or 0)

    def use_by(self, item: str, received: date) -> date | None:
        life = self.life(item)
        return received + timedelta(days=life) if life else None

    def lot(
        self,
        place: str,
        item: str,
        qty: float,
        received: date | None,
        use_by: date | None,
        *,
        hold: bool = False,
    ) -> Row:
        row = self.measures.items[item]
        storage = row["storage"]
        return {
            "location": place,
            "item": item,
            "qty": number(countable(qty, row["unit"])),
            "unit": row["unit"],
            "lot": self._code(item, received) if received else "",
            "received": str(received or ""),
            "use_by": str(use_by or ""),
            "unit_cost": f"{self.costs[item]:.6f}",
            "area": area_for(place, storage),
            "hold": yes(hold),
            "state": _STATES[storage],
        }

    def _code(self, item: str, received: date) -> str:
        """The supplier's lot code, or ours of a batch: house, day, a running number."""
        house = self.first[item]["supplier"][:2] if item in self.first else "K"
        if self.measures.items[item]["kind"] == "prep":
            house = "K"
        stem = f"{house}{received:%m%d}"
        self._numbers[stem] += 1
        return f"{stem}-{self._numbers[stem]}"


def countable(qty: float, unit: str) -> float:
    """Whole pieces; of what is weighed or measured, halves, and tenths where there is little."""
    if unit == "each":
        return float(round(qty))
    return round(qty * 2) / 2 if qty >= 5 else round(qty, 1)
