"""Data that blocks a promise, most harmful first: each row a sentence and one way to mend it.

The order is own choice: what may hurt a guest, then what is not ordered or ordered wrongly, then
what is planned wrongly, then what costs money or is not known. Every check is one query or two.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from inventory.roles import Viewer
from inventory.selectors.business import business
from purchasing import words
from purchasing.selectors import gaps_of_buying as buying
from purchasing.selectors import gaps_of_food as food
from purchasing.selectors import gaps_of_stops as stops
from purchasing.selectors.gaps import Check, Found, Gap, read_kitchen

MOST_OF_A_KIND = 200


@dataclass(frozen=True, slots=True)
class Kind:
    """Gaps of one kind, with the promise they block."""

    title: str
    harm: str
    gaps: tuple[Gap, ...]
    more: int

    @property
    def count(self) -> int:
        return len(self.gaps) + self.more


@dataclass(frozen=True, slots=True)
class NotReadyPage:
    made_at: str
    kinds: tuple[Kind, ...]

    @property
    def first(self) -> Gap | None:
        gaps = (gap for kind in self.kinds for gap in kind.gaps if gap.fix)
        return next(gaps, None)


def not_ready_page(viewer: Viewer, now: datetime) -> NotReadyPage:
    """Some thirty queries, however many rows there are."""
    house = business()
    today = house.day_of(now)
    local = house.clock.local(int(now.timestamp()))
    kitchen = read_kitchen(viewer, now, today)
    kinds = (_kind(title, harm, found(kitchen)) for title, harm, found in _checks())
    return NotReadyPage(
        made_at=f"{words.day_name(local.date())}, {local:%H:%M}",
        kinds=tuple(kind for kind in kinds if kind.count),
    )


def _kind(title: str, harm: str, found: Found) -> Kind:
    gaps = list(found)
    return Kind(title, harm, tuple(gaps[:MOST_OF_A_KIND]), max(0, len(gaps) - MOST_OF_A_KIND))


def _checks() -> tuple[tuple[str, str, Check], ...]:
    """Most harmful first."""
    return (
        (
            _("Allergens not stated"),
            _("an allergen card cannot promise anything"),
            food.silent_allergens,
        ),
        (
            _("Unsafe food without a life"),
            _("it never reaches a use-by"),
            food.cold_without_life,
        ),
        (
            _("Sold without a recipe"),
            _("nothing is bought or prepped for it"),
            food.sold_without_recipe,
        ),
        (
            _("Orders past their cutoff"),
            _("it will not come unless somebody rings"),
            buying.late_drafts,
        ),
        (_("Units that lead nowhere"), _("quantities cannot be worked out"), food.unit_gaps),
        (_("Offers without a price"), _("it cannot be ordered"), buying.unpriced_offers),
        (_("Needed and not sold by anybody"), _("it is never ordered"), buying.nobody_sells),
        (
            _("Suppliers without days"),
            _("no delivery can be planned"),
            buying.suppliers_without_days,
        ),
        (_("Suppliers without an e-mail"), _("orders go by phone or paper"), buying.without_email),
        (
            _("Stops without covers"),
            _("only the forecast says how many come"),
            stops.uncounted_stops,
        ),
        (_("Stops without a menu"), _("nothing is planned for them"), stops.stops_without_menu),
        (_("Made without a recipe"), _("nobody can plan or cost it"), food.made_without_recipe),
        (_("Goods without a life"), _("they are kept for ever"), food.without_life),
        (
            _("Lots without a cost"),
            _("waste and plate costs are too low"),
            buying.lots_without_cost,
        ),
        (_("Bought without a par"), _("only the forecast decides"), buying.without_par),
    )
