"""What is blocked, why, and who must answer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from inventory.models import Hold, OnHand
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.business import Business, business
from inventory.selectors.measures import item_measures
from purchasing import words
from purchasing.models import ReceiptLine
from purchasing.selectors.hold_words import hold_reason
from purchasing.selectors.trace import receipt_lines

AT_ONCE = 60


@dataclass(frozen=True, slots=True)
class HeldStrip:
    number: int
    strip: str
    item: str
    there: str
    since: str
    why: str
    who_answers: str
    may_release: bool

    @property
    def field(self) -> str:
        """The input of its reason: a page has many."""
        return f"why-{self.number}"


@dataclass(frozen=True, slots=True)
class Store:
    number: int
    name: str


@dataclass(frozen=True, slots=True)
class HoldsPage:
    held: tuple[HeldStrip, ...]
    next_from: int | None
    stores: tuple[Store, ...]
    places: tuple[tuple[str, str], ...]
    reasons: tuple[tuple[str, str], ...]
    may_hold_everywhere: bool


def holds_page(viewer: Viewer, now: datetime, *, start: int | None = None) -> HoldsPage:
    """Open holds, the newest first, from hold ``start`` back; a fixed number of queries."""
    rows = seen.holds(viewer).filter(closed_at__isnull=True).order_by("-pk")
    if start is not None:
        rows = rows.filter(pk__lte=start)
    holds = list(rows[: AT_ONCE + 1])
    teller = _Teller(holds[:AT_ONCE], viewer, now)
    areas = seen.narrowed(seen.areas(viewer), viewer, act=Act.HOLD)
    places = seen.narrowed(seen.locations(viewer).filter(retired_on=None), viewer, "pk", Act.HOLD)
    return HoldsPage(
        held=tuple(map(teller.tell, holds[:AT_ONCE])),
        next_from=holds[AT_ONCE].pk if len(holds) > AT_ONCE else None,
        stores=tuple(Store(area.pk, str(area)) for area in areas.order_by("location", "name")),
        places=tuple((place.code, place.name) for place in places.order_by("name")),
        reasons=tuple((value, _(label)) for value, label in Hold.Reason.choices),
        may_hold_everywhere=viewer.may_everywhere(Act.HOLD),
    )


class _Teller:
    def __init__(self, holds: list[Hold], viewer: Viewer, now: datetime) -> None:
        self._viewer, self._house, self._measures = viewer, business(), item_measures()
        self._now = now
        lots = {hold.lot_id for hold in holds}
        self._there: dict[int, list[OnHand]] = defaultdict(list)
        there = OnHand.objects.filter(lot__in=lots, qty__gt=0).select_related("location")
        for row in there.order_by("location__name"):
            self._there[row.lot_id].append(row)
        self._receipts: Mapping[int, ReceiptLine] = receipt_lines(lots)

    def tell(self, hold: Hold) -> HeldStrip:
        lot, place = hold.lot, hold.location
        may = (
            self._viewer.may_everywhere(Act.RELEASE)
            if place is None
            else self._viewer.may(Act.RELEASE, place.pk)
        )
        return HeldStrip(
            number=hold.pk,
            strip=lot.strip,
            item=lot.item.name,
            there="; ".join(self._where(hold)) or _("none left"),
            since=self._since(hold),
            why=hold_reason(hold),
            who_answers=self._who(hold),
            may_release=may,
        )

    def _where(self, hold: Hold) -> Iterator[str]:
        item = hold.lot.item
        for row in self._there[hold.lot_id]:
            if hold.location_id in (None, row.location_id):
                own: Decimal = self._measures.in_own_unit(item.code, row.qty)
                yield f"{words.quantity(own, item.unit)}, {row.location.name}"

    def _since(self, hold: Hold) -> str:
        where = hold.location.name if hold.location else _("everywhere")
        if hold.opened_at is None:
            return _("%(where)s, since before the books were opened") % {"where": where}
        local = _local(self._house, hold.opened_at)
        by = hold.opened_by
        name = (by.get_full_name() or by.get_username()) if by else ""
        said = {"where": where, "when": f"{words.day_name(local.date())} {local:%H:%M}"}
        told = _("%(where)s, since %(when)s") % said
        return _("%(told)s by %(name)s") % {"told": told, "name": name} if name else told

    def _who(self, hold: Hold) -> str:
        """A recall or a complaint is the seller's to answer, the rest is the house's."""
        line = self._receipts.get(hold.lot_id)
        seller = line.receipt.supplier if line else None
        outside = hold.reason in (Hold.Reason.RECALL, Hold.Reason.COMPLAINT)
        if outside and seller is not None:
            return ", ".join(filter(None, [seller.name, seller.phone, seller.email]))
        if outside and line is not None:
            return line.receipt.bought_from
        if hold.reason == Hold.Reason.TEMPERATURE:
            return _("the licensed person in charge")
        return _("a manager")


def _local(house: Business, moment: datetime) -> datetime:
    return house.clock.local(int(moment.timestamp()))
