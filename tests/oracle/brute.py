"""The brute-force answer to a workbook with certain demand, from its sheets alone.

A second reading of the rules of the reorder run, in fractions and plain loops: R1 to R4, R6 to
R9, R11, R12 and, of R13, ranks, bridges and minimums that are met. It shares no code with the
engine.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property

from tests.oracle.book import Book, read_book
from tests.oracle.cells import Sheets
from tests.oracle.clock import Moment
from tests.oracle.line import (
    CaseRule,
    Decision,
    Question,
    Stockroom,
    Window,
    days_not_covered,
    decide,
    ran_out_before,
    ran_out_on,
    spoiled_before_end,
    wasted_of_new_lot,
)
from tests.oracle.prep import Kitchen
from tests.oracle.readings import AS_WRITTEN, Otherwise, Reading
from tests.oracle.records import Offer, OpenLine, Par, Place, StockRow
from tests.oracle.shelf import Arrival, Draw, Lot
from tests.oracle.slots import Slot, find_slot, first_delivery
from tests.oracle.trucks import counts_at_commissary

ZERO = Fraction(0)
Reason = Fraction | str | tuple[str, ...] | None
Bought = tuple["Offer", "Slot", "Line"]


@dataclass(frozen=True, slots=True)
class Line:
    """Quantities in the item's own unit. A reason of None is not checked."""

    item: str
    sku: str
    cases: int
    qty: Fraction
    value: Fraction
    reasons: dict[str, Reason]


@dataclass(frozen=True, slots=True)
class Order:
    supplier: str
    place: str
    delivery: str
    next_delivery: str
    order_by: str
    last_order_by: str
    decision: str
    approved: Fraction  # value of what is already on its way with the same delivery
    lines: tuple[Line, ...]

    @property
    def value(self) -> Fraction:
        return sum((line.value for line in self.lines), ZERO)

    @property
    def value_with_approved(self) -> Fraction:
        return self.value + self.approved


@dataclass(frozen=True, slots=True)
class Answer:
    orders: tuple[Order, ...]
    left_out: dict[tuple[str, str], Line | None]  # (place, item); None: no delivery
    made: frozenset[str] = frozenset()  # items that are made: at most named as could be bought


def answer(sheets: Sheets, as_of: str, reading: Reading = AS_WRITTEN) -> Answer:
    book = read_book(sheets, reading)
    return Run(book, book.clock.read(as_of)).answer()


@dataclass
class Run:
    book: Book
    as_of: Moment
    draws: dict[tuple[str, str], list[Draw]] = field(default_factory=dict)
    slots: dict[tuple[str, str], Slot | None] = field(default_factory=dict)
    bridges: dict[tuple[str, str], Arrival] = field(default_factory=dict)

    @cached_property
    def today(self) -> date:
        return self.book.clock.day_of(self.as_of)

    def answer(self) -> Answer:
        for place in self.book.places.values():
            if not place.supplied_by:
                plan = Kitchen(self.book, place, self.as_of).plan()
                self.draws.update({(place.code, item): d for item, d in plan.draws.items()})
        ordered: dict[tuple[str, str, Slot], list[Line]] = defaultdict(list)
        left_out: dict[tuple[str, str], Line | None] = {}
        for place_code, item in self.considered():
            decided = self.decide_pair(self.book.places[place_code], item)
            for offer, slot, line in decided:
                if line.cases:
                    ordered[offer.supplier, place_code, slot].append(line)
            if not decided or not decided[-1][2].cases:
                left_out[place_code, item] = decided[-1][2] if decided else None
        orders = [self._order(*key, lines) for key, lines in sorted(ordered.items(), key=str)]
        made = frozenset(item for item in self.book.items if self.book.is_made(item))
        return Answer(tuple(orders), left_out, made)

    # R1

    def considered(self) -> Iterator[tuple[str, str]]:
        for place in sorted(self.book.places):
            for item in sorted(self.book.items):
                if self._may_be_bought(place, item) and self._has_a_reason(place, item):
                    yield place, item

    def _may_be_bought(self, place: str, item: str) -> bool:
        supplied = self.book.places[place].supplied_by
        named = [par.supplied_by for par in self.pars_of(place, item) if par.supplied_by]
        if supplied or named or self.book.is_made(item):
            return False
        return any(self._in_force(offer, place) for offer in self.book.offers_of(item))

    def _in_force(self, offer: Offer, place: str) -> bool:
        slot = self.slot(offer.supplier, place)
        if slot is None or self.book.reads(Otherwise.OFFER_IN_FORCE_TODAY):
            return offer.in_force(self.today)
        return offer.in_force(slot.delivery)

    def _has_a_reason(self, place: str, item: str) -> bool:
        if self.pars_of(place, item) or self.draws.get((place, item)):
            return True
        return bool(self.lots(place, item))

    def pars_of(self, place: str, item: str) -> list[Par]:
        return [par for par in self.book.pars if (par.place, par.item) == (place, item)]

    def slot(self, supplier: str, place: str) -> Slot | None:
        if (supplier, place) not in self.slots:
            book = self.book
            self.slots[supplier, place] = find_slot(
                book, book.suppliers[supplier], book.places[place], self.as_of
            )
        return self.slots[supplier, place]

    # R3 and R4

    def lots(self, place: str, item: str) -> list[Lot]:
        places = {place}
        if counts_at_commissary(self.book, item):
            places |= {p.code for p in self.book.places.values() if p.supplied_by == place}
        return [
            Lot(row.qty, row.use_by, row.received or date.min, str(number))
            for number, row in enumerate(self.book.stock)
            if row.item == item and row.place in places and self._usable(row)
        ]

    def _usable(self, row: StockRow) -> bool:
        if row.on_hold and not self.book.reads(Otherwise.HOLDS_IGNORED):
            return False
        if row.received is not None and row.received > self.today:
            return False
        return row.use_by is None or row.use_by >= self.today

    def arrivals(self, place: Place, item: str) -> Iterator[tuple[OpenLine, Arrival]]:
        life = self.book.items[item].life
        for line in self.book.open_lines:
            if (line.place, line.item) == (place.code, item) and line.cases > 0:
                day = self._arrives_on(line, place)
                if day is not None:
                    late_life = self.book.reads(Otherwise.LATE_LIFE_FROM_DUE)
                    received = line.due if late_life else day
                    use_by = None if life is None else received + timedelta(days=life)
                    moment = self._hour(line.supplier, day)
                    qty = line.cases * self.book.pack_of(line)
                    yield line, Arrival(day, moment, qty, use_by)

    def _arrives_on(self, line: OpenLine, place: Place) -> date | None:
        if line.due >= self.today:
            return line.due
        if self.book.reads(Otherwise.LATE_ORDERS_DROPPED):
            return None
        if self.book.reads(Otherwise.LATE_ON_ANY_DELIVERY_DAY):
            place = replace(place, receives=frozenset(range(7)), shut_on=frozenset())
        return first_delivery(self.book, self.book.suppliers[line.supplier], place, self.today)

    def _hour(self, supplier: str, day: date) -> Moment | None:
        arrives = self.book.suppliers[supplier].arrives
        return None if arrives is None else self.book.clock.at(day, arrives)

    # R8 to R11 for one pair, with the offer of R13

    def decide_pair(self, place: Place, item: str) -> list[Bought]:
        """The first choice last, before it the bridge until it comes (R13)."""
        first = self._first_choice(place, item)
        if first is None:
            return []
        bridge = self._bridge(place, item, first)
        if bridge is None:
            return [first]
        offer, slot, line = bridge
        life = self.book.items[item].life
        use_by = None if life is None else slot.delivery + timedelta(days=life)
        hour = self._hour(offer.supplier, slot.delivery)
        coming = Arrival(slot.delivery, hour, line.cases * offer.pack, use_by)
        self.bridges[place.code, item] = coming
        return [bridge, (first[0], first[1], self._line(place, item, first[0], first[1]))]

    def _first_choice(self, place: Place, item: str) -> Bought | None:
        offers = [o for o in self.book.offers_of(item) if self._in_force(o, place.code)]
        if not self.book.reads(Otherwise.FIRST_RANK_OR_NOTHING):
            offers = [offer for offer in offers if self.slot(offer.supplier, place.code)]
        best = min((offer.rank for offer in offers), default=0)
        if not self.book.reads(Otherwise.RANK_IGNORED):
            offers = [offer for offer in offers if offer.rank == best]
        tried = [
            (offer, slot, self._line(place, item, offer, slot))
            for offer in offers
            if (slot := self.slot(offer.supplier, place.code))
        ]
        return min(tried, key=lambda t: t[0].case_price / t[0].pack, default=None)

    def _bridge(self, place: Place, item: str, first: Bought) -> Bought | None:
        """Where the item runs out before the first choice comes, the fewest cases of another
        offer that last until then. Of several, the one that leaves least uncovered, then by
        rank and price of what will be used."""
        late = self.question(place, item, first[0], first[1])
        if self.book.reads(Otherwise.NO_BRIDGES) or not ran_out_before(late):
            return None
        found = list[tuple[tuple[int, int, Fraction, str, str], Bought]]()
        for offer in self.book.offers_of(item):
            slot = self.slot(offer.supplier, place.code)
            if slot and slot.delivery < late.window.start and self._in_force(offer, place.code):
                line = self._line(place, item, offer, slot, late.window)
                question = self.question(place, item, offer, slot, late.window)
                qty = line.cases * offer.pack
                last = ran_out_on(question, qty, within=True)
                missed = ran_out_before(question) + (last is not None)
                used = max(qty - wasted_of_new_lot(question, qty), Fraction(1, 10**6))
                rate = line.value / used
                key = (missed, offer.rank, rate, offer.supplier, offer.sku)
                found += [(key, (offer, slot, line))] if line.cases else []
        return min(found, key=lambda each: each[0])[1] if found else None

    def _line(
        self, place: Place, item: str, offer: Offer, slot: Slot, until: Window | None = None
    ) -> Line:
        question = self.question(place, item, offer, slot, until)
        decision = decide(question)
        measure = self.book.items[item].measure
        qty = decision.cases * offer.pack
        reasons = self._reasons(place, item, question, decision, qty)
        in_unit = {
            key: measure.in_unit(value) if isinstance(value, Fraction) else value
            for key, value in reasons.items()
        }
        in_unit["basis_used"] = decision.basis_used or None
        value = decision.cases * offer.case_price
        return Line(item, offer.sku, decision.cases, measure.in_unit(qty), value, in_unit)

    def question(
        self, place: Place, item: str, offer: Offer, slot: Slot, until: Window | None = None
    ) -> Question:
        """``until``: a bridge to the first choice's window, whatever the basis of the par."""
        room = Stockroom(
            tuple(self.lots(place.code, item)),
            tuple(self._coming(place, item)),
            tuple(self.draws.get((place.code, item), [])),
            self.as_of,
            self.today,
            self.book.reading,
        )
        start, end = slot.delivery, slot.next_delivery
        hours = self._hour(offer.supplier, start), self._hour(offer.supplier, end)
        window = Window(start, end, *hours, self.as_of, self.book.reading)
        rule = CaseRule(offer.pack, offer.minimum, offer.multiple)
        par = self._par(place.code, item, slot.delivery)
        basis = par.basis if par else "forecast"
        life = self.book.items[item].life
        if until is not None:
            window = replace(window, end=until.start, end_moment=until.start_moment)
            return Question(room, window, rule, "forecast", None, life)
        return Question(room, window, rule, basis, par.par if par else None, life)

    def _coming(self, place: Place, item: str) -> list[Arrival]:
        """What is on order, a bridge included."""
        bridge = self.bridges.get((place.code, item))
        known = [arrival for _, arrival in self.arrivals(place, item)]
        return known if bridge is None else [*known, bridge]

    def _par(self, place: str, item: str, delivery: date) -> Par | None:
        rows = self.pars_of(place, item)
        of_the_day = [par for par in rows if par.weekday == delivery.weekday()]
        every_day = [par for par in rows if par.weekday is None]
        if self.book.reads(Otherwise.EVERY_DAY_PAR_ONLY):
            of_the_day = []
        return next(iter([*of_the_day, *every_day]), None)

    def _reasons(
        self, place: Place, item: str, question: Question, decision: Decision, qty: Fraction
    ) -> dict[str, Reason]:
        window, draws = question.window, question.room.draws
        arrivals, coming = self.arrivals(place, item), self._coming(place, item)
        ran_out = ran_out_on(question, qty)
        need = decision.raw_need
        return {
            "on_hand": sum((lot.qty for lot in question.room.lots), ZERO),
            "on_order": sum((a.qty for a in coming if a.day <= window.start), ZERO),
            "on_order_later": sum(
                (a.qty for a in coming if window.start < a.day < window.end), ZERO
            ),
            "late": sum((a.qty for line, a in arrivals if line.due < self.today), ZERO),
            "use_to_delivery": sum((d.qty for d in draws if window.is_before(d)), ZERO),
            "use_in_window": sum((d.qty for d in draws if window.holds(d)), ZERO),
            "raw_need": need,
            "target": decision.target,
            "rounding": None if need is None else qty - need,
            "expiring_before_use": spoiled_before_end(question),
            "expected_waste": wasted_of_new_lot(question, qty),
            "cannot_cover": tuple(str(day) for day in days_not_covered(question)),
            "runs_out_on": str(ran_out) if ran_out else "",
        }

    # R13

    def _order(self, supplier: str, place: str, slot: Slot, lines: list[Line]) -> Order:
        approved = self._approved(supplier, place, slot.delivery)
        value = sum((line.value for line in lines), approved)
        minimum = self.book.suppliers[supplier].minimum_order
        decision = "none_needed"
        if minimum:
            decision = "met" if value >= minimum else ""
        return Order(
            supplier,
            place,
            str(slot.delivery),
            str(slot.next_delivery),
            self.book.clock.text(slot.order_by),
            self.book.clock.text(slot.last_order_by),
            decision,
            approved,
            tuple(sorted(lines, key=lambda line: (line.item, line.sku))),
        )

    def _approved(self, supplier: str, place: str, delivery: date) -> Fraction:
        value = ZERO
        for line in self.book.open_lines:
            if (line.supplier, line.place, line.due) == (supplier, place, delivery):
                offers = self.book.offers_of(line.item)
                value += line.cases * next(
                    o.case_price
                    for o in offers
                    if o.supplier == supplier and line.sku in ("", o.sku)
                )
        return value
