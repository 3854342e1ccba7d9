"""Where what came in is kept."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from inventory.models import Item, Location, Lot, StorageArea
from purchasing import words


def areas_for(place: Location, items: Iterable[Item]) -> dict[int, StorageArea | None]:
    """By item id: the area where its newest lot there is kept, else the first area of its kind
    in walking order, else None. Two queries."""
    wanted = {item.pk: item for item in items}
    areas = list(StorageArea.objects.filter(location=place))
    lots = Lot.objects.filter(item__in=wanted, area__location=place).order_by("pk")
    last = dict(lots.values_list("item_id", "area_id"))
    by_id = {area.pk: area for area in areas}
    return {
        pk: by_id.get(last[pk]) if pk in last else _first_of_kind(areas, item)
        for pk, item in wanted.items()
    }


def _first_of_kind(areas: list[StorageArea], item: Item) -> StorageArea | None:
    return next((area for area in areas if area.kind == item.storage), None)


def day_with_year(day: date | None, seen_from: date | None) -> str:
    """The weekday where the day is near; the year where it is another one than that of
    ``seen_from``, as with frozen food."""
    if day is None:
        return ""
    if seen_from is None or day.year == seen_from.year:
        return words.day_name(day)
    return f"{day.day} {day:%b %Y}"
