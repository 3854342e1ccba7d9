"""When a supplier can still bring something to a place, and who else sells it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import Place
from inventory.engine.units import as_decimal
from inventory.models import Item
from inventory.selectors import kitchen
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words
from purchasing.engine.inputs import Supplier as Calendar
from purchasing.engine.lines import cases_for
from purchasing.engine.slots import Slot, next_slot
from purchasing.models import Offer, PurchaseOrder
from purchasing.selectors import supply


@dataclass(frozen=True, slots=True)
class Calendars:
    """Every supplier's and place's days, read once."""

    clock: BusinessClock
    suppliers: dict[str, Calendar]
    places: dict[str, Place]

    def next_slot(self, supplier: str, place: str, at: datetime) -> Slot | None:
        """The first delivery that can still be ordered; None: not within 60 days."""
        if supplier not in self.suppliers or place not in self.places:
            return None
        return next_slot(
            self.suppliers[supplier],
            self.places[place],
            clock=self.clock,
            as_of=int(at.timestamp()),
        )


def calendars() -> Calendars:
    return Calendars(business().clock, supply.suppliers(), kitchen.places())


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """An offer of another supplier. ``cases`` hold what ``instead_of`` cases of the order's
    line hold; ``price`` per case, None where it has none; ``in_time``: before the order's next
    delivery; ``comes`` and ``by``: the day and the cutoff in words;
    ``per_unit``: the price of one unit of the item, empty where there is none."""

    offer: Offer
    slot: Slot
    cases: int
    price: Decimal | None
    in_time: bool
    comes: str
    by: str
    per_unit: str


def who_else(
    order: PurchaseOrder, missing: dict[int, Decimal], *, at: datetime
) -> tuple[Elsewhere, ...]:
    """Offers of other suppliers for what is ``missing`` (base units by item id), those that
    come first in front. The number of queries does not grow."""
    if not missing:
        return ()
    days, measures = calendars(), item_measures(supply.case_sizes())
    priced = {(one.supplier, one.item, one.sku): one for one in supply.offers(measures)}
    found = []
    for offer in _others(order, missing):
        known = priced[offer.supplier.code, offer.item.code, offer.sku]
        slot = days.next_slot(offer.supplier.code, order.location.code, at)
        if slot is None:
            continue
        price = known.case_price_on(slot.delivery)
        found.append(
            Elsewhere(
                offer,
                slot,
                max(1, cases_for(float(missing[offer.item_id]), known)),
                price,
                slot.delivery <= (order.next_delivery or order.delivery),
                comes=words.day_name(slot.delivery),
                by=f"{days.clock.local(slot.order_by):%a %H:%M}",
                per_unit=per_unit(price, offer.item, supply.case_base(offer, measures), measures),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.offer.item.name, one.slot.delivery)))


def per_unit(price: Decimal | None, item: Item, base: Fraction, measures: Measures) -> str:
    """1.84 per lb: of a case at ``price`` that holds ``base`` base units."""
    if price is None:
        return ""
    units = base / measures.base_per_own(item.code)
    said = {"price": words.money(as_decimal(Fraction(price) / units)), "unit": item.unit}
    return _("%(price)s per %(unit)s") % said


def _others(order: PurchaseOrder, items: Collection[int]) -> list[Offer]:
    offers = Offer.objects.filter(item__in=list(items), retired_on__isnull=True)
    offers = offers.filter(supplier__retired_on__isnull=True).exclude(supplier=order.supplier_id)
    return list(offers.select_related("supplier", "item").order_by("item__name", "rank", "pk"))
