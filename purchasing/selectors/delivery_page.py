"""One delivery at the dock: what is still to come, grouped as one probes and counts it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from inventory.engine.dates import use_by_received
from inventory.engine.gs1 import full_gtin
from inventory.engine.safety import COLD, Judged
from inventory.models import Item, StorageArea
from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder, Receipt
from purchasing.selectors.on_order import cases_to_come, open_cases

# Cold first: it is probed while the doors of the truck are open.
_GROUPS = (Item.Storage.CHILLED, Item.Storage.FROZEN, Item.Storage.DRY)


class Names(dict[str, str]):
    """``names["lot"]`` is ``l12-lot``: name and id of an input of line 12."""

    def __init__(self, prefix: str) -> None:
        super().__init__()
        self._prefix = prefix

    def __missing__(self, name: str) -> str:
        return f"{self._prefix}-{name}"


@dataclass(frozen=True, slots=True)
class DockLine:
    """One line. ``typical`` is the usual weight of a case in ``unit``, where it is weighed."""

    pk: int
    item: str
    code: str
    cases: Decimal
    pack: str
    sku: str
    gtin: str
    group: str
    judged: str
    is_weighed: bool
    unit: str
    typical: str
    needs_lot: bool
    needs_use_by: bool
    latest: date | None
    field: Names
    cases_came: Decimal = Decimal(0)

    @property
    def count(self) -> str:
        return words.figure(self.cases)


@dataclass(frozen=True, slots=True)
class DockGroup:
    """Lines kept alike. ``is_probed``: one temperature for the group; ``is_frozen``: one look."""

    key: str
    lines: tuple[DockLine, ...]

    @property
    def is_probed(self) -> bool:
        return any(line.judged == Judged.COLD for line in self.lines)

    @property
    def is_frozen(self) -> bool:
        return any(line.judged == Judged.FROZEN for line in self.lines)


@dataclass(frozen=True, slots=True)
class EarlierReceipt:
    pk: int
    at: str
    by: str
    is_undone: bool


@dataclass(frozen=True, slots=True)
class DeliveryPage:
    """``temp_unit``: in which the thermometers here read. ``replacements``: items that could
    come instead."""

    number: str
    supplier: str
    place: str
    location_id: int
    day: str
    version: int
    status: str
    is_coming: bool
    may_allow: bool
    temp_unit: str
    limit_f: Decimal
    limit_c: Decimal
    groups: tuple[DockGroup, ...]
    to_come: Decimal
    earlier: tuple[EarlierReceipt, ...]
    replacements: tuple[tuple[str, str], ...] = field(default=())

    @property
    def lines(self) -> tuple[DockLine, ...]:
        return tuple(line for group in self.groups for line in group.lines)

    @property
    def is_probed(self) -> bool:
        return any(group.is_probed for group in self.groups)

    @property
    def plural(self) -> int:
        """1 where it is one case, for the word behind it."""
        return 1 if self.case_count == "1" else 2

    @property
    def case_count(self) -> str:
        return words.figure(self.to_come)


def delivery_page(number: str, viewer: Viewer, now: datetime) -> DeliveryPage:
    """For people who may receive there; others get "not there". A fixed number of queries."""
    orders = PurchaseOrder.objects.select_related("supplier", "location")
    order = orders.filter(number=number).exclude(status=PurchaseOrder.Status.DRAFT).first()
    if order is None or not viewer.may(Act.RECEIVE, order.location_id):
        raise NotThere
    house = business()
    today = house.day_of(now)
    rows = order.lines.select_related("item", "offer").order_by("item__walk_order", "item__name")
    lines = [_line(row, today) for row in rows if order.is_coming and open_cases(row) > 0]
    return DeliveryPage(
        number=order.number,
        supplier=order.supplier.name,
        place=order.location.name,
        location_id=order.location_id,
        day=words.day_name(order.delivery),
        version=order.version,
        status=order.get_status_display(),
        is_coming=order.is_coming,
        may_allow=viewer.may(Act.ALLOW, order.location_id),
        temp_unit=_temp_unit(order.location_id),
        limit_f=COLD.f,
        limit_c=COLD.c,
        groups=tuple(_groups(lines)),
        to_come=cases_to_come(rows) if order.is_coming else Decimal(0),
        earlier=_earlier(order),
        replacements=replacements(),
    )


def _line(row: OrderLine, today: date) -> DockLine:
    item, offer = row.item, row.offer
    prefix = f"l{row.pk}"
    frozen = item.storage == Item.Storage.FROZEN
    judged = Judged.FROZEN if frozen else Judged.COLD if item.tcs else Judged.PLAIN
    return DockLine(
        pk=row.pk,
        item=item.name,
        code=item.code,
        cases=open_cases(row),
        pack=offer.pack_text or words.exactly(row.pack_qty, row.pack_unit),
        sku=offer.sku,
        gtin=full_gtin(offer.gtin),
        group=item.storage or Item.Storage.DRY,
        judged=judged.value,
        is_weighed=offer.catch_weight,
        unit=row.pack_unit,
        typical=words.figure(offer.nominal_qty or row.pack_qty),
        needs_lot=item.traceability_listed,
        needs_use_by=item.tcs and item.shelf_life_days is None,
        latest=use_by_received(today, item.shelf_life_days),
        field=Names(prefix),
        cases_came=row.received_cases,
    )


def _groups(lines: Iterable[DockLine]) -> Iterable[DockGroup]:
    rows = list(lines)
    for key in _GROUPS:
        if own := tuple(line for line in rows if line.group == key):
            yield DockGroup(key.value, own)


def _temp_unit(location_id: int) -> str:
    """As the limits of its areas are written; without areas, Fahrenheit."""
    areas = StorageArea.objects.filter(location=location_id).exclude(temp_unit="")
    return areas.order_by("pk").values_list("temp_unit", flat=True).first() or "F"


def _earlier(order: PurchaseOrder) -> tuple[EarlierReceipt, ...]:
    clock = business().clock
    rows = Receipt.objects.filter(order=order).select_related("by").order_by("recorded_at", "pk")
    return tuple(
        EarlierReceipt(
            row.pk,
            f"{clock.local(int(row.happened_at.timestamp())):%a %H:%M}",
            (row.by.get_full_name() or row.by.get_username()) if row.by else "",
            row.undone_at is not None,
        )
        for row in rows
    )


def replacements() -> tuple[tuple[str, str], ...]:
    kinds = [Item.Kind.INGREDIENT, Item.Kind.PACKAGING, Item.Kind.RESALE]
    items = Item.objects.filter(kind__in=kinds, retired_on=None).order_by("name")
    return tuple(items.values_list("code", "name"))


def item_named(text: str) -> Item | None:
    """An item by code or, where only one is called so, by name."""
    items = Item.objects.filter(retired_on=None)
    found = items.filter(code__iexact=text).first()
    if found is not None:
        return found
    called = list(items.filter(name__iexact=text)[:2])
    return called[0] if len(called) == 1 else None
