"""What the form of a shop receipt offers: places and items."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.models import Location
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from purchasing.selectors.delivery_page import replacements

# Lines of one form; a longer shop receipt is typed in two.
ROWS = 8
SHORT = 3  # shown at first


@dataclass(frozen=True, slots=True)
class BoughtPage:
    places: tuple[Location, ...]
    items: tuple[tuple[str, str], ...]
    currency: str


def bought_page(viewer: Viewer) -> BoughtPage:
    """Places at which this person may take goods in. Three queries."""
    places = Location.objects.filter(retired_on=None).order_by("kind", "name")
    able = viewer.places(Act.RECEIVE)
    allowed = places if able is None else places.filter(pk__in=able)
    return BoughtPage(tuple(allowed), replacements(), business().currency)
