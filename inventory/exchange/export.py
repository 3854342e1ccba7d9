"""The kitchen's sheets, out: figures as they were typed, rows in the order they were made."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, time
from decimal import Decimal
from typing import Any

from inventory.exchange.grammar import WEEKDAYS
from inventory.models import (
    AllergenWord,
    Booking,
    ClosingDay,
    Hold,
    Item,
    ItemUnit,
    Location,
    MenuEntry,
    OnHand,
    Recipe,
    RecipeLine,
    Sale,
    Setting,
    Stop,
    StorageArea,
    Usage,
)
from inventory.selectors.measures import Measures

Rows = Iterator[Sequence[str | None]]
CHUNK = 2000


def cell(value: Any) -> str:
    """A value as a cell holds it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, time):
        return f"{value:%H:%M}" if not value.second else f"{value:%H:%M:%S}"
    if isinstance(value, date):
        return value.isoformat()
    return str(value)


def plain(value: Decimal) -> str:
    """Digits without an exponent and without trailing zeros."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def days(numbers: list[int]) -> str:
    return ";".join(WEEKDAYS[number] for number in numbers)


def cells(*values: Any) -> list[str]:
    return [cell(value) for value in values]


def _settings() -> Rows:
    for row in Setting.objects.order_by("key"):
        yield cells(row.key, row.value)


def _locations() -> Rows:
    for row in Location.objects.select_related("supplied_by").order_by("pk"):
        source = row.supplied_by.code if row.supplied_by else ""
        yield cells(
            row.code,
            row.name,
            row.kind,
            source,
            days(row.receives),
            row.opens,
            row.closes,
            row.load_time,
            row.litres,
        )


def _location_closures() -> Rows:
    for row in ClosingDay.objects.select_related("location").order_by("pk"):
        yield cells(row.location.code, row.date, row.reason)


def _storage_areas() -> Rows:
    for row in StorageArea.objects.select_related("location").order_by("pk"):
        yield cells(
            row.location.code,
            row.code,
            row.name,
            row.kind,
            row.min_temp,
            row.max_temp,
            row.temp_unit,
            row.walk_order,
            row.litres,
        )


def _items() -> Rows:
    said: dict[tuple[int, str], list[str]] = {}
    for word in AllergenWord.objects.order_by("allergen"):
        said.setdefault((word.item_id, word.says), []).append(word.allergen)
    for row in Item.objects.order_by("pk"):
        stated = (";".join(said.get((row.pk, says), [])) for says in AllergenWord.Says)
        yield cells(
            row.code,
            row.name,
            row.kind,
            row.unit,
            row.storage,
            row.shelf_life_days,
            row.shelf_life_opened_days,
            row.shelf_life_thawed_days,
            row.thaw_hours,
            row.may_freeze,
            row.grams_per_ml,
            row.grams_per_each,
            row.tcs,
            row.ready_to_eat,
            row.traceability_listed,
            *stated,
            row.sale_price,
            row.on_return,
            row.use_per,
            row.can_be_left_off,
            row.litres_per_unit,
            row.walk_order,
        )


def _item_units() -> Rows:
    for row in ItemUnit.objects.select_related("item").order_by("pk"):
        yield cells(row.item.code, row.word, row.qty, row.of_unit)


def _menu() -> Rows:
    for row in MenuEntry.objects.select_related("location", "item").order_by("pk"):
        yield cells(row.location.code, row.item.code, row.first, row.last, row.price, row.site)


def _recipes() -> Rows:
    for row in Recipe.objects.select_related("item", "made_at").order_by("pk"):
        yield cells(
            row.item.code,
            row.makes_qty,
            row.makes_unit,
            row.made_at.code if row.made_at else "",
            row.lead_hours,
            row.hands_on_minutes,
            row.batch_min_qty,
            row.batch_max_qty,
            row.batch_unit,
            row.batch_minutes,
            row.equipment,
        )


def _recipe_lines() -> Rows:
    lines = RecipeLine.objects.select_related("recipe__item", "item")
    for row in lines.order_by("recipe_id", "position"):
        yield cells(row.recipe.item.code, row.item.code, row.qty, row.unit, row.yield_pct)


def _stops() -> Rows:
    for row in Stop.objects.select_related("location").order_by("pk").iterator(CHUNK):
        yield cells(
            row.location.code,
            row.date,
            row.opens,
            row.closes,
            row.site,
            row.event,
            row.expected_covers,
            row.guaranteed_covers,
            row.cancelled,
            row.site_fee,
            row.site_fee_pct,
            row.crew_hours,
        )


def _sales() -> Rows:
    for row in Sale.objects.select_related("location", "item").order_by("pk").iterator(CHUNK):
        yield cells(
            row.location.code,
            row.date,
            row.item.code,
            row.qty,
            row.site,
            row.opens,
            row.net_amount,
            row.sold_out_at,
        )


def _bookings() -> Rows:
    """Served and cancelled ones are history that no plan reads."""
    rows = Booking.objects.filter(status__in=["enquiry", "confirmed"])
    for row in rows.select_related("location", "item").order_by("pk"):
        yield cells(
            row.location.code,
            row.date,
            row.item.code,
            row.qty,
            row.unit,
            row.status,
            row.customer,
            row.final_by,
            row.price,
            row.deposit,
        )


def _usage() -> Rows:
    for row in Usage.objects.select_related("location", "item").order_by("pk").iterator(CHUNK):
        yield cells(row.location.code, row.date, row.item.code, row.qty, row.unit)


def stock(measures: Measures) -> Rows:
    """On hand now, in base units: exact whatever it was typed in."""
    held = set(Hold.objects.still_open().values_list("lot_id", "location_id"))
    seen: set[tuple[int, int, str]] = set()
    rows = OnHand.objects.filter(qty__gt=0).select_related("lot__area", "item", "location")
    for row in rows.order_by("lot_id", "location_id").iterator(CHUNK):
        lot = row.lot
        code = _lot_code(row)
        if code and (row.location_id, row.item_id, code) in seen:
            code = lot.strip
        seen.add((row.location_id, row.item_id, code))
        area = lot.area if lot.area and lot.area.location_id == row.location_id else None
        yield cells(
            row.location.code,
            row.item.code,
            row.qty,
            measures.base_unit(row.item.code),
            code,
            None if _does_not_expire(row) else lot.received_on,
            lot.use_by,
            lot.unit_cost,
            area.code if area else "",
            bool({(lot.pk, None), (lot.pk, row.location_id)} & held),
            lot.state,
        )


def _lot_code(row: OnHand) -> str:
    """The supplier's code. A lot without one goes by our strip number, so that it is known
    again, unless what it was opened with there says enough."""
    opened_there = (row.lot.opening_key or "").startswith(f"{row.location.code}|")
    says_enough = opened_there and not _does_not_expire(row)
    return row.lot.supplier_lot or ("" if says_enough else row.lot.strip)


def _does_not_expire(row: OnHand) -> bool:
    """Without a use-by although its item has a life: a row with a day of receipt would be
    given one."""
    return row.lot.use_by is None and row.item.shelf_life_days is not None


KITCHEN_ROWS: dict[str, Callable[[], Rows]] = {
    "settings": _settings,
    "locations": _locations,
    "location_closures": _location_closures,
    "storage_areas": _storage_areas,
    "items": _items,
    "item_units": _item_units,
    "menu": _menu,
    "recipes": _recipes,
    "recipe_lines": _recipe_lines,
    "stops": _stops,
    "sales": _sales,
    "bookings": _bookings,
    "usage": _usage,
}
