"""The kitchen as the engine sees it: places, items, recipes, stops, lots, what is coming.

Quantities are ``float`` in the item's base unit (g, ml or each). Days are ``date``. A
moment is a whole number of seconds since 1970-01-01T00:00Z (``Instant``); the clock of the
business enters only through ``dates.BusinessClock``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time

Instant = int

EVERY_DAY: frozenset[int] = frozenset(range(7))

TOLERANCE = 1e-6  # base units; less is nothing (R6, R7)

# A made, ready-to-eat TCS item may be kept 7 days, the day of preparation being day 1
# (FDA Food Code 2022, 3-501.17(A)), so its last day is at most made + 6.
DATE_MARK_DAYS_AFTER = 6


@dataclass(frozen=True, slots=True)
class Place:
    """A location. ``supplied_by`` is None where it buys from suppliers itself."""

    code: str
    kind: str  # commissary, truck or kitchen
    supplied_by: str | None = None
    receives: frozenset[int] = EVERY_DAY  # weekdays, Monday = 0
    closed_on: frozenset[date] = frozenset()
    opens: time | None = None
    closes: time | None = None
    load_time: time | None = None

    def is_open(self, day: date) -> bool:
        return day not in self.closed_on

    def receives_on(self, day: date) -> bool:
        return day.weekday() in self.receives and day not in self.closed_on


@dataclass(frozen=True, slots=True)
class Item:
    """``shelf_life_days`` counts days after (received or made); None: does not expire."""

    code: str
    kind: str  # ingredient, prep, menu, packaging or resale
    unit: str  # g, ml or each
    shelf_life_days: int | None = None
    on_return: str = ""  # keep, keep_if_cold, discard; blank follows the safe default
    tcs: bool = False
    ready_to_eat: bool = False
    stored_frozen: bool = False
    thaw_hours: float | None = None
    use_per: str = ""  # portion, cover, hour or stop
    can_be_left_off: bool = False

    @property
    def kept_on_return(self) -> bool:
        """In a plan only ``keep`` comes back: nobody has read the thermometer yet (R12.4)."""
        if self.on_return:
            return self.on_return == "keep"
        return not (self.tcs or self.ready_to_eat)

    @property
    def made_life_days(self) -> int | None:
        """Days after making on which a batch is still usable (R6)."""
        if not (self.tcs and self.ready_to_eat):
            return self.shelf_life_days
        if self.shelf_life_days is None:
            return DATE_MARK_DAYS_AFTER
        return min(self.shelf_life_days, DATE_MARK_DAYS_AFTER)

    @property
    def one_stock_everywhere(self) -> bool:
        """Undated goods that come back are one stock wherever they are (R12.8)."""
        return self.kind != "prep" and self.shelf_life_days is None and self.kept_on_return


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """``drawn`` is the as-purchased quantity per recipe, in base units: qty / yield."""

    item: str
    drawn: float


@dataclass(frozen=True, slots=True)
class Recipe:
    makes: str
    made_at: str
    quantity: float  # base units made by the lines as written
    lines: tuple[RecipeLine, ...]
    batch_min: float | None = None
    batch_max: float | None = None
    batch_minutes: int = 0
    lead_hours: float = 0.0  # hands-off


@dataclass(frozen=True, slots=True)
class Stop:
    key: str  # unique and stable: location/date/opens/site
    location: str
    day: date
    opens: time | None = None
    closes: time | None = None
    site: str = ""
    event: str = ""
    expected_covers: float | None = None
    guaranteed_covers: float | None = None
    cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Booking:
    """Confirmed extra usage: certain, never scaled."""

    location: str
    day: date
    item: str
    qty: float


@dataclass(frozen=True, slots=True)
class StockLot:
    """Usable stock of one lot at one location at ``as_of``: no open hold, use-by not past."""

    location: str
    item: str
    qty: float
    use_by: date | None
    received: date | None
    strip: str


@dataclass(frozen=True, slots=True)
class Coming:
    """An open order line or a transfer on its way, as R4 says. ``day`` is the day on which
    it is taken to arrive, ``arrives`` its hour (None: before the day's first draw)."""

    location: str
    item: str
    day: date
    qty: float
    use_by: date | None
    arrives: time | None = None
    late: bool = False
    reference: str = ""


@dataclass(frozen=True, slots=True)
class LoadOut:
    """A load-out already picked or sent; it replaces the planned one of that stop (R12.3).

    ``qty`` is what has left but is not yet aboard: 0 once it has arrived, since then it is
    among the lots of the truck.
    """

    stop: str
    item: str
    qty: float


@dataclass(frozen=True, slots=True)
class Kitchen:
    """Everything that stands still while demand varies. Only confirmed bookings, only
    usable lots; cancelled stops stay in, marked."""

    places: dict[str, Place]
    items: dict[str, Item]
    recipes: dict[str, Recipe]  # by item made
    stops: tuple[Stop, ...]
    bookings: tuple[Booking, ...]
    lots: tuple[StockLot, ...]
    coming: tuple[Coming, ...]
    menus: dict[str, tuple[MenuSpan, ...]] = field(default_factory=dict)  # by location
    load_outs: tuple[LoadOut, ...] = ()


@dataclass(frozen=True, slots=True)
class MenuSpan:
    """``item`` is sold at a location from ``first`` to ``last`` (None: open-ended)."""

    item: str
    first: date | None = None
    last: date | None = None
    site: str = ""
    price: float | None = None

    def covers(self, day: date, site: str = "") -> bool:
        after_start = self.first is None or self.first <= day
        before_end = self.last is None or day <= self.last
        return after_start and before_end and self.site in ("", site)
