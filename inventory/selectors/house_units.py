"""In which system of units the house thinks: hints and sizes are said in it."""

from __future__ import annotations

from django.db.models import Count, Q

from inventory.models import Item
from inventory.selectors.business import Business

_OF_POUNDS = ("lb", "oz", "floz", "cup", "pt", "qt", "gal")
_OF_KILOS = ("kg", "g", "l", "ml")


def thinks_in_pounds(house: Business) -> bool:
    """As most items are read; where neither is, by the currency. One query."""
    found = Item.objects.filter(retired_on=None).aggregate(
        pounds=Count("pk", filter=Q(unit__in=_OF_POUNDS)),
        kilos=Count("pk", filter=Q(unit__in=_OF_KILOS)),
    )
    if found["pounds"] == found["kilos"]:
        return house.currency == "USD" and not found["kilos"]
    return bool(found["pounds"] > found["kilos"])
