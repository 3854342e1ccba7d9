"""What a replay is given, exactly: quantities are whole billionths of a base unit
(``Billionths``), money is ``Fraction``; floats come in only where orders are decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from inventory.engine.units import as_decimal
from purchasing.engine.inputs import Offer, ReorderInputs

Pair = tuple[str, str]  # place, item
Billionths = int
ONE = 10**9  # billionths in a base unit
TOLERANCE = 1000  # a shortage is more than 10^-6 of a base unit (R6)


def billionths(qty: Fraction) -> Billionths:
    """Rounded once, half up, as the ledger rounds."""
    return int(as_decimal(qty).scaleb(9))


@dataclass(frozen=True, slots=True)
class Lot:
    """``unit_cost``: money per base unit. ``strip`` tells equals apart, in their order."""

    qty: Billionths
    use_by: date | None
    received: date | None
    strip: str
    unit_cost: Fraction


@dataclass(frozen=True, slots=True)
class Arrival:
    """``cases`` of an offer that come whole at the start of ``day``. ``placed``: the day on
    which they were ordered; None: before the replay began."""

    location: str
    item: str
    day: date
    qty: Billionths
    unit_cost: Fraction
    supplier: str
    sku: str
    order: str
    cases: Fraction = Fraction(0)
    case_price: Fraction = Fraction(0)
    decision: str = ""
    placed: date | None = None
    fee: Fraction = Fraction(0)  # this line's share of the delivery fee


@dataclass(frozen=True, slots=True)
class Sold:
    """An offer of a line's item: ``case`` billionths of a base unit in one case."""

    offer: Offer
    case: Billionths

    def unit_cost(self, case_price: Fraction) -> Fraction:
        return case_price * ONE / self.case

    def single_case_cost(self, day: date) -> Fraction | None:
        """Money per base unit in force on ``day`` if one case is bought; None: not on sale."""
        price = self.offer.case_price_on(day)
        return None if price is None else self.unit_cost(Fraction(price))

    @property
    def on_sale_from(self) -> date:
        return self.offer.prices[0][0] if self.offer.prices else date.max


@dataclass(frozen=True, slots=True)
class ReplayLine:
    """An item at a place that buys it (R1). ``use``: real usage by day, what supplied places
    and recipes take included. ``shortage_cost`` by day: money per base unit missed (R10),
    None where it is not known."""

    location: str
    item: str
    life: int | None  # days after arrival on which it is usable; None: undated
    offers: tuple[Sold, ...]
    use: Mapping[date, Billionths]
    opening: tuple[Lot, ...] = ()
    shortage_cost: Mapping[date, Fraction | None] = field(default_factory=dict)

    @property
    def pair(self) -> Pair:
        return self.location, self.item

    def sold(self, supplier: str, sku: str) -> Sold:
        return next(
            one for one in self.offers if (one.offer.supplier, one.offer.sku) == (supplier, sku)
        )

    def use_by(self, arrived: date) -> date | None:
        return None if self.life is None else arrived + timedelta(days=self.life)

    def first_rank_cost(self, day: date) -> Fraction | None:
        return first_rank_cost(self.offers, day)


def first_rank_cost(offers: Iterable[Sold], day: date) -> Fraction | None:
    """Money per base unit of the first choice among the offers in force on ``day``, at its
    price for one case; of equal ranks the cheaper. Where none is in force yet, as on the first
    day on which one is (own choice: prices are known ahead). None: never on sale."""
    known = list(offers)
    starts = [one.on_sale_from for one in known if one.on_sale_from < date.max]
    on = max([day, min(starts)]) if starts else day
    costs = [(one.offer.rank, one.single_case_cost(on)) for one in known]
    ranked = [(rank, cost) for rank, cost in costs if cost is not None]
    return min(ranked)[1] if ranked else None


@dataclass(frozen=True, slots=True)
class ReplayInputs:
    """``known`` is what a run on ``first`` would read of what stands still: the days are those
    from ``first`` on, its history reaches to ``last`` (only rows before a day are ever shown to
    a decision of that day), and it holds neither lots nor orders. ``recorded`` are the receipts
    that really came. ``began``: first day of any usage. ``holding_rate``: share of the value
    per year."""

    first: date
    last: date
    began: date
    known: ReorderInputs
    lines: tuple[ReplayLine, ...]
    open_orders: tuple[Arrival, ...] = ()
    recorded: tuple[Arrival, ...] = ()
    holding_rate: Fraction = Fraction(0)

    @property
    def days(self) -> list[date]:
        return [self.first + timedelta(days=n) for n in range((self.last - self.first).days + 1)]
