"""What rests on an item: rows in its units, and what still needs it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Model, Q, QuerySet

from inventory.models import (
    Booking,
    Inbound,
    Item,
    ItemUnit,
    MenuEntry,
    OnHand,
    Recipe,
    RecipeLine,
    Usage,
)


@dataclass(frozen=True, slots=True)
class UnitUse:
    """So many ``rows`` of a kind (``what``: its word for one) are written in ``unit``."""

    unit: str
    rows: int
    what: str

    @property
    def words(self) -> str:
        return f"{self.rows} {self.what}{'' if self.rows == 1 else 's'}"


def uses_in(rows: QuerySet[Model], column: str, what: str) -> list[UnitUse]:
    """One query."""
    counted = rows.order_by().values_list(column).annotate(rows=Count("pk"))
    return [UnitUse(unit, count, what) for unit, count in counted if unit]


def kitchen_uses(item: Item) -> list[UnitUse]:
    """Recipes, bookings and usage written in a unit of the item; six queries."""
    recipes = Recipe.objects.filter(item=item)
    return [
        *uses_in(RecipeLine.objects.filter(item=item), "unit", "recipe line"),
        *uses_in(recipes, "makes_unit", "recipe"),
        *uses_in(recipes, "batch_unit", "batch limit"),
        *uses_in(Booking.objects.filter(item=item), "unit", "booking"),
        *uses_in(Usage.objects.filter(item=item), "unit", "past usage row"),
        *uses_in(ItemUnit.objects.filter(item=item), "of_unit", "unit of its own"),
    ]


def kitchen_holds_on_to(item: Item, today: date) -> list[str]:
    """Why an item cannot be retired yet, in words; five queries."""
    there = OnHand.objects.filter(item=item, qty__gt=0).count()
    coming = Inbound.objects.filter(item=item).count()
    dishes = RecipeLine.objects.filter(item=item, recipe__item__retired_on=None).count()
    menus = MenuEntry.objects.filter(Q(last=None) | Q(last__gte=today), item=item).count()
    booked = Booking.objects.filter(
        item=item, date__gte=today, status__in=[Booking.Status.ENQUIRY, Booking.Status.CONFIRMED]
    ).count()
    return counted(
        (there, "lot on hand", "lots on hand"),
        (coming, "delivery to come", "deliveries to come"),
        (dishes, "recipe that takes it", "recipes that take it"),
        (menus, "menu", "menus"),
        (booked, "booking", "bookings"),
    )


def counted(*rows: tuple[int, str, str]) -> list[str]:
    """``1 menu``, ``3 lots on hand``; nothing for none."""
    return [f"{count} {one if count == 1 else many}" for count, one, many in rows if count]


def joined(words: list[str]) -> str:
    """``2 pars, 1 offer and 3 recipe lines``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
