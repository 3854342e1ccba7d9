"""R12.5 to R12.7: from what must leave to batches, and from batches to raw usage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, time, timedelta
from fractions import Fraction

from tests.oracle.book import Book
from tests.oracle.clock import Moment
from tests.oracle.readings import Otherwise
from tests.oracle.records import Place, Recipe
from tests.oracle.shelf import FAR, NOTHING, Draw, Lot, take
from tests.oracle.trucks import Need, is_aboard, trucks_of, wanted_on
from tests.oracle.workday import Workdays


@dataclass(frozen=True, slots=True)
class BatchPlan:
    item: str
    start: Moment
    qty: Fraction
    late: bool


@dataclass(slots=True)
class Kitchen:
    """The plan of one commissary as it grows, from the trucks inwards."""

    book: Book
    place: Place
    as_of: Moment
    needs: dict[str, list[Need]] = field(default_factory=lambda: defaultdict(list))
    draws: dict[str, list[Draw]] = field(default_factory=lambda: defaultdict(list))
    batches: list[BatchPlan] = field(default_factory=list)

    @property
    def days(self) -> Workdays:
        return Workdays(self.book, self.place)

    @property
    def today(self) -> date:
        return self.book.clock.day_of(self.as_of)

    def plan(self) -> Kitchen:
        for truck in trucks_of(self.book, self.place.code, self.as_of):
            for need in truck.load_outs():
                self.ask(self.thawed(need))
        self._own_bookings()
        for item in self._made_items_outermost_first():
            Runs(self, self.book.recipes[item]).plan()
        return self

    def ask(self, need: Need) -> None:
        if self.book.is_made(need.item):
            self.needs[need.item].append(need)
        else:
            day = self.book.clock.day_of(need.moment)
            use = need.day_of_use
            if self.book.reads(Otherwise.USE_BY_ON_LOADING_DAY):
                use = day
            self.draws[need.item].append(Draw(day, need.moment, use, need.qty))

    def thawed(self, need: Need) -> Need:
        """R12.6: what is stored frozen is drawn its thaw hours earlier, in working hours."""
        item = self.book.items[need.item]
        if item.storage != "frozen" or not item.thaw_hours:
            return need
        if self.book.reads(Otherwise.THAW_LEFT_OUT):
            return need
        early = self.days.hours_before(need.moment, int(item.thaw_hours * 3600))
        if not self.book.reads(Otherwise.THAW_AT_ANY_HOUR):
            early = self.days.inside(early)
        return replace(need, moment=max(self.as_of, early))

    def _own_bookings(self) -> None:
        days = {booking.day for booking in self.book.bookings}
        for day in sorted(day for day in days if day >= self.today):
            for item, qty in sorted(wanted_on(self.book, self.place.code, day).items()):
                self._own_booking(item, day, qty)

    def _own_booking(self, item: str, day: date, qty: Fraction) -> None:
        """Needed when the place opens; a place without hours gives a draw without an hour."""
        opens = self.place.opens
        if self.book.reads(Otherwise.NO_HOURS_IS_MIDNIGHT):
            opens = opens or time(0)
        need = Need(item, self.book.clock.at(day, opens or time(0)), day, qty)
        if self.book.reads(Otherwise.THAW_FOR_BOOKINGS):
            need = self.thawed(need)
        moment = need.moment
        if self.book.is_made(item) or moment != self.book.clock.at(day, opens or time(0)):
            self.ask(need)
        elif not (day == self.today and self.book.reads(Otherwise.TODAY_LEFT_OUT)):
            self.draws[item].append(Draw(day, moment if opens else None, day, qty))

    def _made_items_outermost_first(self) -> list[str]:
        made = [item for item in self.book.recipes if self.book.is_made(item)]
        return sorted(made, key=lambda item: (self._depth(item), item))

    def _depth(self, item: str) -> int:
        users = [
            recipe.makes
            for recipe in self.book.recipes.values()
            if self.book.is_made(recipe.makes) and item in dict(recipe.lines)
        ]
        return 1 + max((self._depth(user) for user in users), default=0)


@dataclass(slots=True)
class Runs:
    """All runs of one prep item, earliest prep day first."""

    kitchen: Kitchen
    recipe: Recipe
    lots: list[Lot] = field(default_factory=list)

    def plan(self) -> None:
        self.lots = [] if self._reads(Otherwise.PREPPED_NOT_NETTED) else list(self._stock())
        for needs in self._needs_by_run():
            self._one_run(needs)

    def _reads(self, variant: Otherwise) -> bool:
        return self.kitchen.book.reads(variant)

    def _stock(self) -> Iterator[Lot]:
        book = self.kitchen.book
        for row in book.stock:
            if row.place == self.kitchen.place.code and row.item == self.recipe.makes:
                if is_aboard(book, row, self.kitchen.today):
                    yield Lot(row.qty, row.use_by, row.received or date.min, "")
                elif not row.on_hold and self._reads(Otherwise.EXPIRED_PREP_NETTED):
                    yield Lot(row.qty, None, row.received or date.min, "")

    def _needs_by_run(self) -> list[list[Need]]:
        needs = sorted(
            self.kitchen.needs[self.recipe.makes], key=lambda need: (need.moment, need.day_of_use)
        )
        if self._reads(Otherwise.EVERY_NEED_ITS_RUN):
            return [[need] for need in needs]
        runs: dict[date, list[Need]] = defaultdict(list)
        for need in needs:
            runs[self._prep_day(need)].append(need)
        return [runs[day] for day in sorted(runs)]

    def _prep_day(self, need: Need) -> date:
        clock = self.kitchen.book.clock
        if self._reads(Otherwise.RUN_PER_DATE_NEEDED):
            return clock.day_of(need.moment)
        start = self._latest_start(need.moment)
        if self._reads(Otherwise.LATE_PREP_DAY_IN_THE_PAST):
            return clock.day_of(start)
        return clock.day_of(max(start, self.kitchen.as_of))

    def _latest_start(self, needed_by: Moment) -> Moment:
        return self.kitchen.days.latest_start(self.recipe.minutes, self._end_of_work(needed_by))

    def _end_of_work(self, needed_by: Moment) -> Moment:
        if self._reads(Otherwise.HANDS_OFF_LEFT_OUT):
            return needed_by
        return self.kitchen.days.hours_before(needed_by, self.recipe.hands_off_seconds)

    def _one_run(self, needs: list[Need]) -> None:
        short = [(need, missing) for need in needs if (missing := self._cover(need)) > NOTHING]
        if not short:
            return
        net = sum((missing for _, missing in short), Fraction(0))
        sizes = batch_sizes(net, self.recipe, self.kitchen.book)
        starts = self._starts(len(sizes), short[0][0].moment)
        for start, size in zip(starts, sizes, strict=True):
            self._one_batch(start, size, starts[0], short[0][0].moment)
        self._keep_the_rest(sum(sizes) - net, starts[-1])

    def _cover(self, need: Need) -> Fraction:
        usable_until = need.day_of_use
        if self._reads(Otherwise.USE_BY_ON_LOADING_DAY):
            usable_until = self.kitchen.book.clock.day_of(need.moment)
        if self._reads(Otherwise.EXPIRED_PREP_NETTED):
            usable_until = date.min
        return take(self.lots, need.qty, usable_until)

    def _starts(self, batches: int, needed_by: Moment) -> list[Moment]:
        """One machine: each batch ends before the next starts, all as late as they can."""
        end, starts = self._end_of_work(needed_by), list[Moment]()
        for _ in range(batches):
            end = self.kitchen.days.latest_start(self.recipe.minutes, end)
            starts.insert(0, end)
        return starts

    def _one_batch(
        self, start: Moment, size: Fraction, first_start: Moment, needed_by: Moment
    ) -> None:
        late = start < self.kitchen.as_of
        if late and self._reads(Otherwise.LATE_BATCHES_DROPPED):
            return
        start = max(start, self.kitchen.as_of)
        self.kitchen.batches.append(BatchPlan(self.recipe.makes, start, size, late))
        drawn_at = start
        if self._reads(Otherwise.INPUTS_ON_FIRST_DAY):
            drawn_at = max(first_start, self.kitchen.as_of)
        if self._reads(Otherwise.USED_WHEN_NEEDED):
            drawn_at = needed_by
        day = self.kitchen.book.clock.day_of(drawn_at)
        for item, amount in self.recipe.lines:
            self.kitchen.ask(self.kitchen.thawed(Need(item, drawn_at, day, size * amount)))

    def _keep_the_rest(self, rest: Fraction, last_start: Moment) -> None:
        if rest <= NOTHING or self._reads(Otherwise.LEFTOVERS_THROWN_AWAY):
            return
        made = max(last_start, self.kitchen.as_of)
        if self._reads(Otherwise.LIFE_FROM_READY_HOUR):
            made += self.recipe.minutes * 60 + self.recipe.hands_off_seconds
        day = self.kitchen.book.clock.day_of(made)
        life = self.kitchen.book.items[self.recipe.makes].life_once_made
        use_by = None if life is None else min(FAR, day + timedelta(days=life))
        if self._reads(Otherwise.LEFTOVERS_NEVER_EXPIRE):
            use_by = None
        self.lots.append(Lot(rest, use_by, day, ""))


def batch_sizes(net: Fraction, recipe: Recipe, book: Book) -> list[Fraction]:
    """Full batches first and none below the smallest."""
    if book.reads(Otherwise.NO_BATCHES):
        return [net]
    smallest, largest = recipe.smallest or Fraction(0), recipe.largest
    if largest is None:
        return [max(net, smallest)]
    count = 1
    while count * largest < net - NOTHING:
        count += 1
    if book.reads(Otherwise.LAST_BATCH_RAISED):
        last = max(net - (count - 1) * largest, smallest)
        return [largest] * (count - 1) + [last]
    sizes, left = list[Fraction](), max(net, count * smallest)
    for after in range(count - 1, -1, -1):
        sizes.append(min(largest, left - smallest * after))
        left -= sizes[-1]
    return sizes
