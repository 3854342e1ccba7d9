"""After a delivery is in: where each lot goes, which older one comes to the front, labels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from inventory.engine.safety import Arrival, Judged, Reading, Verdict, received
from inventory.models import Item, Lot, OnHand
from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words
from purchasing.models import Receipt, ReceiptLine, ReceiptPhoto
from purchasing.selectors.put_away import day_with_year


@dataclass(frozen=True, slots=True)
class PutAway:
    """A new lot. ``front``: the older lot that is to be used first, as its strip number."""

    strip: str
    item: str
    qty: str
    use_by: str
    area: str
    front: str
    front_use_by: str
    first_to_use: bool


@dataclass(frozen=True, slots=True)
class Told:
    """What was different with one line, in parts of a sentence."""

    item: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReceiptPage:
    pk: int
    source: str
    number: str
    document: str
    place: str
    at: str
    by: str
    is_late: bool
    undone: str
    may_undo: bool
    lots: tuple[PutAway, ...]
    told: tuple[Told, ...]
    duties: tuple[str, ...]
    overrides: tuple[str, ...]
    photos: tuple[int, ...]
    order_open: bool

    @property
    def strips(self) -> str:
        return ",".join(lot.strip for lot in self.lots)


def receipt_page(pk: int, viewer: Viewer, now: datetime) -> ReceiptPage:
    """For people who may receive there. A fixed number of queries."""
    rows = Receipt.objects.select_related("order", "supplier", "location", "by", "undone_by")
    receipt = rows.filter(pk=pk).first()
    if receipt is None or not viewer.may(Act.RECEIVE, receipt.location_id):
        raise NotThere
    house = business()
    lines = list(
        receipt.lines.select_related("item", "lot__area", "lot__item", "override_by").order_by("pk")
    )
    return ReceiptPage(
        pk=receipt.pk,
        source=receipt.supplier.name if receipt.supplier else receipt.bought_from,
        number=receipt.order.number if receipt.order else "",
        document=receipt.document,
        place=receipt.location.name,
        at=_hour(receipt.happened_at, house),
        by=(receipt.by.get_full_name() or receipt.by.get_username()) if receipt.by else "",
        is_late=receipt.is_late,
        undone=_undone(receipt, house),
        may_undo=receipt.undone_at is None
        and house.day_of(receipt.recorded_at) == house.day_of(now),
        lots=tuple(_put_away(receipt, lines)),
        told=tuple(_told(lines)) if receipt.order_id else (),
        duties=tuple(_duties(receipt, lines, house)),
        overrides=tuple(_overrides(lines)),
        photos=tuple(receipt.photos.values_list("pk", flat=True)),
        order_open=bool(receipt.order and receipt.order.is_coming),
    )


def _hour(moment: datetime, house: Business) -> str:
    local = house.clock.local(int(moment.timestamp()))
    return f"{words.day_name(local.date())}, {local:%H:%M}"


def _undone(receipt: Receipt, house: Business) -> str:
    if receipt.undone_at is None:
        return ""
    who = receipt.undone_by
    name = (who.get_full_name() or who.get_username()) if who else "somebody"
    return f"undone {_hour(receipt.undone_at, house)} by {name}: {receipt.undone_why}"


def _put_away(receipt: Receipt, lines: Iterable[ReceiptLine]) -> Iterable[PutAway]:
    lots = [line.lot for line in lines if line.lot]
    measures, there = item_measures(), _on_hand(receipt, lots)
    older = {lot.pk: _front_of(lot, [pair[0] for pair in there[lot.item_id]]) for lot in lots}
    qty = {lot.pk: amount for rows in there.values() for lot, amount in rows}
    for lot in lots:
        front = older[lot.pk]
        yield PutAway(
            strip=lot.strip,
            item=lot.item.name,
            qty=_amount(lot.item, qty.get(lot.pk, Decimal(0)), measures),
            use_by=day_with_year(lot.use_by, lot.received_on),
            area=lot.area.name if lot.area else "",
            front=front.strip if front else "",
            front_use_by=day_with_year(front.use_by, lot.received_on) if front else "",
            first_to_use=front is None and lot.use_by is not None and len(there[lot.item_id]) > 1,
        )


def _on_hand(receipt: Receipt, lots: list[Lot]) -> dict[int, list[tuple[Lot, Decimal]]]:
    """What is there of these items, first expired first."""
    items = {lot.item_id for lot in lots}
    rows = OnHand.objects.filter(location=receipt.location, item__in=items, qty__gt=0)
    found: dict[int, list[tuple[Lot, Decimal]]] = defaultdict(list)
    for row in rows.select_related("lot"):
        found[row.item_id].append((row.lot, row.qty))
    for there in found.values():
        there.sort(key=lambda pair: _turn(pair[0]))
    return found


def _turn(lot: Lot) -> tuple[date, date, str]:
    """First expired first; equal days by day of receipt, then strip. What nobody knows the
    receipt of was there before."""
    return lot.use_by or date.max, lot.received_on or date.min, lot.strip


def _front_of(lot: Lot, there: list[Lot]) -> Lot | None:
    """The lot to be used before this one; None: this one is first."""
    return there[0] if there and there[0].pk != lot.pk and _turn(there[0]) < _turn(lot) else None


def _amount(item: Item, qty: Decimal, measures: Measures) -> str:
    return words.quantity(measures.in_own_unit(item.code, qty), item.unit)


def _told(lines: Iterable[ReceiptLine]) -> Iterable[Told]:
    for line in lines:
        if line.instead_of_id is not None:
            continue
        sent_back = f"{words.figure(line.rejected)} " + _("sent back (%s)") % line.reject_reason
        said = [
            (line.rejected, sent_back),
            (line.substituted, _("%s replaced") % words.figure(line.substituted)),
            (line.to_follow, _("%s to follow") % words.figure(line.to_follow)),
            (line.cancelled, _("%s do not come") % words.figure(line.cancelled)),
            (line.over, _("%s over") % words.figure(line.over)),
        ]
        if parts := tuple(words_ for many, words_ in said if many):
            yield Told(line.item.name, parts)


def _duties(receipt: Receipt, lines: Iterable[ReceiptLine], house: Business) -> Iterable[str]:
    """What must be done with what was taken in, and until when."""
    for line in lines:
        if not line.accepted or line.temperature is None or not line.judged:
            continue
        reading = Reading(line.temperature, line.temperature_unit)
        judged = Judged(line.judged)
        arrival = Arrival(line.item.name, judged, reading, receipt.happened_at)
        finding = received(arrival)
        if finding and finding.verdict is Verdict.DUTY and finding.due:
            yield f"{finding.message} Until {_hour(finding.due, house)}."


def _overrides(lines: Iterable[ReceiptLine]) -> Iterable[str]:
    """Whose word let what in, and why; one sentence for one word."""
    by_word: dict[tuple[str, str], list[str]] = defaultdict(list)
    for line in lines:
        if line.override_reason and line.override_by:
            who = line.override_by.get_full_name() or line.override_by.get_username()
            by_word[who, line.override_reason].append(line.item.name)
    for (who, why), items in by_word.items():
        named = ", ".join(dict.fromkeys(items))
        told = {"items": named, "who": who, "why": why}
        yield _("%(items)s: accepted on the word of %(who)s: %(why)s") % told


def photo_of(pk: int, viewer: Viewer) -> ReceiptPhoto:
    """For people who may receive where it was taken."""
    photo = ReceiptPhoto.objects.select_related("receipt").filter(pk=pk).first()
    if photo is None or not viewer.may(Act.RECEIVE, photo.receipt.location_id):
        raise NotThere
    return photo
