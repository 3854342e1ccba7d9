"""Names of codes, for what is printed."""

from __future__ import annotations

from inventory.models import Item, Location
from inventory.selectors.business import business
from purchasing.models import Supplier
from purchasing.printed import Names


def names() -> Names:
    house = business()
    return Names(
        items=dict(Item.objects.values_list("code", "name")),
        suppliers=dict(Supplier.objects.values_list("code", "name")),
        places=dict(Location.objects.values_list("code", "name")),
        business=house.business_name,
        currency=house.currency,
    )
