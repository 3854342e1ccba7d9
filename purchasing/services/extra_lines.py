"""Ordering what no run asked for: from the list of what was left out, or from another supplier
when the first cannot deliver."""

from __future__ import annotations

from datetime import UTC, datetime

from inventory.models import Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.services.acts import one_act
from inventory.services.turns import one_at_a_time
from purchasing.engine.slots import Slot
from purchasing.models import Offer, OrderLine, PurchaseOrder
from purchasing.selectors.elsewhere import calendars
from purchasing.services.drafts import Numbers
from purchasing.services.order_hand import Hand
from purchasing.services.order_lines import put_on


@one_act
def order_anyway(
    offer_id: int, location: Location, cases: int, *, why: str = "", hand: Hand
) -> OrderLine:
    """A line on the open draft for the first delivery of this offer's supplier that can still
    be ordered; the draft is opened if there is none."""
    if not hand.viewer.may(Act.SEE, location.pk):
        raise NotThere
    if not hand.viewer.may(Act.DRAFT, location.pk):
        message = f"A buyer or manager of {location} orders. Ask one of them."
        raise Refused(Problem("not_allowed", message))
    offers = Offer.objects.filter(retired_on__isnull=True, supplier__retired_on__isnull=True)
    offer = offers.select_related("supplier", "item").filter(pk=offer_id).first()
    if offer is None:
        raise NotThere
    slot = calendars().next_slot(offer.supplier.code, location.code, hand.at)
    if slot is None:
        message = f"{offer.supplier} brings nothing to {location} within 60 days. Ring them."
        raise Refused(Problem("no_delivery", message))
    one_at_a_time("reorder")  # a run may be opening the same draft
    return put_on(_open_draft(offer, location, slot), offer, cases, why, hand)


def _open_draft(offer: Offer, location: Location, slot: Slot) -> PurchaseOrder:
    key = {"supplier": offer.supplier, "location": location, "delivery": slot.delivery}
    drafts = PurchaseOrder.objects.drafts().select_for_update(of=("self",))
    known = drafts.select_related("supplier", "location").filter(**key).first()
    if known is not None:
        return known
    earlier = PurchaseOrder.objects.on_order().filter(**key).order_by("pk").last()
    return PurchaseOrder.objects.create(
        number=Numbers().next(offer.supplier.code, slot.delivery),
        next_delivery=slot.next_delivery,
        order_by=datetime.fromtimestamp(slot.order_by, UTC),
        last_order_by=datetime.fromtimestamp(slot.last_order_by, UTC),
        adds_to=earlier,
        touched=True,
        **key,
    )
