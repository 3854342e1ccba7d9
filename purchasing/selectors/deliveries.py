"""Deliveries: what comes today, what is late, what came; and finding one by any label."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from inventory.engine.gs1 import full_gtin, parse_scan
from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder, Receipt
from purchasing.selectors.deadlines import ComingOrder, orders_coming, within

# So many days ahead stand on the list.
DAYS_AHEAD = 3


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """One order that is coming. ``hour`` empty: any time. ``found``: lines a label matches."""

    number: str
    supplier: str
    place: str
    day: date
    hour: str
    when: str
    cases: Decimal
    line_count: int
    is_late: bool
    is_part: bool
    may_receive: bool
    found: tuple[int, ...] = ()

    @property
    def count(self) -> str:
        return words.figure(self.cases)

    @property
    def plural(self) -> int:
        """1 where it is one case, for the word behind it."""
        return 1 if self.cases == 1 else 2


@dataclass(frozen=True, slots=True)
class CameIn:
    """A receipt of today."""

    pk: int
    what: str
    place: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Deliveries:
    """``asked``: the label looked for, and ``problems`` of reading it."""

    today: date
    late: tuple[DeliveryRow, ...]
    due: tuple[DeliveryRow, ...]
    later: tuple[DeliveryRow, ...]
    came: tuple[CameIn, ...]
    asked: str = ""
    problems: tuple[Problem, ...] = ()

    @property
    def rows(self) -> tuple[DeliveryRow, ...]:
        return self.late + self.due + self.later

    @property
    def first(self) -> str:
        """The order whose turn it is: the first of today, or the first that is late."""
        turn = [row.number for row in self.due + self.late if row.may_receive]
        return turn[0] if turn else ""


def deliveries(viewer: Viewer, now: datetime, asked: str = "") -> Deliveries:
    """What this person's places expect; with ``asked`` only what the label or word matches.
    A fixed number of queries."""
    house = business()
    today = house.day_of(now)
    expected = orders_coming(viewer, today + timedelta(days=DAYS_AHEAD))
    gtin, problems = _gtin_of(asked, today)
    rows = [
        _row(coming, today, viewer, _found(coming.order, coming.lines, asked, gtin))
        for coming in expected
    ]
    if asked:
        rows = [row for row in rows if row.found]
    return Deliveries(
        today=today,
        late=tuple(row for row in rows if row.is_late),
        due=tuple(row for row in rows if row.day == today),
        later=tuple(row for row in rows if row.day > today),
        came=() if asked else _came(viewer, house, today),
        asked=asked,
        problems=problems,
    )


def _row(coming: ComingOrder, today: date, viewer: Viewer, found: tuple[int, ...]) -> DeliveryRow:
    order, day, hour = coming.order, coming.day, coming.order.supplier.arrives
    return DeliveryRow(
        number=order.number,
        supplier=order.supplier.name,
        place=order.location.name,
        day=day,
        hour=f"{hour:%H:%M}" if hour else "",
        when=words.day_name(day),
        cases=coming.cases,
        line_count=len(coming.lines),
        is_late=day < today,
        is_part=any(line.received_cases > 0 for line in coming.lines),
        may_receive=viewer.may(Act.RECEIVE, order.location_id),
        found=found,
    )


def _gtin_of(asked: str, today: date) -> tuple[str, tuple[Problem, ...]]:
    """The product on a scanned label; a word that is no label is no problem."""
    if not asked:
        return "", ()
    try:
        scan = parse_scan(asked, today=today)
    except Refused:
        return "", ()
    return scan.gtin, tuple(one for one in scan.warnings if one.field == "gtin")


def _found(
    order: PurchaseOrder, lines: Iterable[OrderLine], asked: str, gtin: str
) -> tuple[int, ...]:
    if not asked:
        return ()
    if gtin:
        return tuple(line.pk for line in lines if full_gtin(line.offer.gtin) == gtin)
    word = asked.lower().strip()
    head = f"{order.number} {order.reference} {order.supplier.name} {order.supplier.code}"
    if word in head.lower():
        return tuple(line.pk for line in lines)
    return tuple(
        line.pk
        for line in lines
        if word in f"{line.offer.sku} {line.item.name} {line.item.code}".lower()
    )


def _came(viewer: Viewer, house: Business, today: date) -> tuple[CameIn, ...]:
    clock = house.clock
    start = datetime.fromtimestamp(clock.instant(today, datetime.min.time()), UTC)
    rows = within(Receipt.objects.filter(recorded_at__gte=start, undone_at=None), viewer)
    rows = rows.select_related("order", "supplier", "location", "by").order_by("-recorded_at")
    return tuple(
        CameIn(
            pk=row.pk,
            what=row.supplier.name if row.supplier else row.bought_from,
            place=row.location.name,
            at=f"{clock.local(int(row.happened_at.timestamp())):%H:%M}",
            by=(row.by.get_full_name() or row.by.get_username()) if row.by else "",
        )
        for row in rows
    )
