"""What rests on an item, purchasing's rows included."""

from __future__ import annotations

from datetime import date

from inventory.models import Item
from inventory.selectors.item_uses import (
    UnitUse,
    counted,
    kitchen_holds_on_to,
    kitchen_uses,
    uses_in,
)
from purchasing.models import Offer, Par


def unit_uses(item: Item) -> list[UnitUse]:
    """Nine queries, however many rows there are."""
    on_sale = Offer.objects.filter(item=item, retired_on__isnull=True)
    priced = on_sale.exclude(priced_per="case")
    return [
        *kitchen_uses(item),
        *uses_in(on_sale, "pack_unit", "offer"),
        *uses_in(priced, "priced_per", "price"),
        *uses_in(Par.objects.filter(item=item), "unit", "par"),
    ]


def holds_on_to(item: Item, today: date) -> list[str]:
    """Why an item cannot be retired yet, in words."""
    offers = Offer.objects.filter(item=item, retired_on__isnull=True).count()
    pars = Par.objects.filter(item=item).count()
    return [
        *kitchen_holds_on_to(item, today),
        *counted((offers, "offer", "offers"), (pars, "par", "pars")),
    ]
