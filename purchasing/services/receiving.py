"""Taking a delivery in, in one act: lots, movements, the receipt, what is still to come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from inventory.engine.allergens import Card
from inventory.engine.safety import Verdict
from inventory.models import Movement
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.selectors.allergens import item_allergens
from inventory.selectors.business import Business, business
from inventory.selectors.measures import item_measures
from inventory.services.acts import one_act
from inventory.services.ledger import Entry, post
from inventory.services.usage import cover_unexplained
from purchasing.models import OrderLine, PurchaseOrder, Receipt
from purchasing.selectors.on_order import open_cases
from purchasing.services.dock import Delivery, field_of, moment_told
from purchasing.services.dock_checks import Dock, finding_of, problems_of
from purchasing.services.dock_lots import Put
from purchasing.services.dock_rows import Row, fill, keep, rows_of
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.inbound import tell_kitchen
from purchasing.services.order_hand import Hand, written
from purchasing.services.photos import clean_pictures, keep_photos

Status = PurchaseOrder.Status


@one_act
def receive(number: str, delivery: Delivery, *, happened_at: datetime, hand: Hand) -> Receipt:
    """Take in what came of an order. Cases to follow stay open; the rest of a line is closed.

    ``happened_at`` is the device's time. Refused with every problem at once: lines that nobody
    looked at or that changed meanwhile (two docks, one order), figures, missing temperature,
    lot or use-by, food above its published limit without a manager's word.
    """
    order = order_at_dock(number, hand)
    when, house = moment_told(happened_at, hand.at), business()
    lines = _lines(order)
    if problems := [*_not_coming(order), *_not_the_lines(lines, delivery, house)]:
        raise Refused(problems)
    dock = Dock(
        house.day_of(when),
        when,
        hand.viewer.may(Act.ALLOW, order.location_id),
        item_measures(),
        _allergens(lines, delivery),
    )
    pictures, spoilt = clean_pictures(delivery.pictures)
    unsaid = _not_looked_at(lines, delivery)
    if problems := [*unsaid, *problems_of(lines, delivery, dock), *spoilt]:
        raise Refused(problems)
    rows = [row for came in delivery.lines for row in rows_of(lines[came.line_id], came)]
    fill(rows, order.location, dock)
    receipt = _store(order, delivery, rows, when, hand)
    _overrides(rows, delivery, dock, hand)
    keep(rows)
    keep_photos(receipt, pictures, hand=hand)
    into_stock(receipt, [row.put for row in rows if row.put], hand)
    _write_order(order, lines, delivery, receipt, hand)
    return receipt


def order_at_dock(number: str, hand: Hand) -> PurchaseOrder:
    """The order, locked until the end of the act: two docks take turns. Not there for whoever
    may not receive at its place."""
    orders = PurchaseOrder.objects.select_for_update(of=("self",))
    order = orders.select_related("supplier", "location").filter(number=number).first()
    if order is None or not hand.viewer.may(Act.SEE, order.location_id):
        raise NotThere
    if not hand.viewer.may(Act.RECEIVE, order.location_id):
        who = "Commissary staff, buyers and managers take deliveries in"
        raise Refused(Problem("not_allowed", f"{who} at {order.location}. Ask one of them."))
    return order


def _lines(order: PurchaseOrder) -> dict[int, OrderLine]:
    rows = order.lines.select_related("item", "offer").order_by("pk")
    return {line.pk: line for line in rows}


def _not_coming(order: PurchaseOrder) -> Iterator[Problem]:
    if order.is_coming:
        return
    if order.status == Status.DRAFT:
        yield Problem("is_draft", f"{order.number} is a draft and was not ordered yet.")
    else:
        yield Problem("stale", _what_became_of(order), data={"version": order.version})


def _what_became_of(order: PurchaseOrder, house: Business | None = None) -> str:
    """Ana took it in at 07:31. …"""
    told = Receipt.objects.filter(order=order, undone_at=None).select_related("by")
    last = told.order_by("recorded_at", "pk").last()
    if last is None:
        return f"{order.number} is {order.get_status_display()}: nothing of it is still to come."
    hour = (house or business()).clock.local(int(last.recorded_at.timestamp()))
    who = (last.by.get_full_name() or last.by.get_username()) if last.by else "Somebody"
    return f"{who} took in goods of {order.number} at {hour:%H:%M}."


def _not_the_lines(
    lines: Mapping[int, OrderLine], delivery: Delivery, house: Business
) -> Iterator[Problem]:
    """Each line is of this order, is told once, and was seen as it is now."""
    told = [came.line_id for came in delivery.lines]
    if foreign := set(told) - lines.keys():
        told_too = {"lines": sorted(foreign)}
        yield Problem("not_of_this_order", "A line is not of this order.", data=told_too)
    if len(told) != len(set(told)):
        yield Problem("line_twice", "A line is told twice.")
    for came in delivery.lines:
        found = lines.get(came.line_id)
        if found and came.expected != (left := open_cases(found)):
            yield Problem(
                "stale",
                f"{_what_became_of(found.order, house)} Of {found.item.name} "
                f"{left.normalize():f} cases are still to come, not {came.expected.normalize():f}. "
                "What was typed is still there: look again.",
                field_of(found.pk, "how"),
                {"left": str(left)},
            )


def _not_looked_at(lines: Mapping[int, OrderLine], delivery: Delivery) -> Iterator[Problem]:
    told = {came.line_id for came in delivery.lines}
    for pk, line in lines.items():
        if open_cases(line) > 0 and pk not in told:
            yield Problem(
                "line_not_said",
                f"{line.item.name}: nobody looked at it yet. Press 'as ordered', or say what came.",
                field_of(pk, "how"),
            )


def _allergens(lines: Mapping[int, OrderLine], delivery: Delivery) -> Mapping[str, Card]:
    subs = {came.line_id: came.substitute.item for came in delivery.lines if came.substitute}
    if not subs:
        return {}
    ordered = {lines[pk].item.code for pk in subs if pk in lines}
    return item_allergens({*ordered, *(item.code for item in subs.values())})


def _store(
    order: PurchaseOrder, delivery: Delivery, rows: Sequence[Row], when: datetime, hand: Hand
) -> Receipt:
    receipt = Receipt.objects.create(
        order=order,
        supplier=order.supplier,
        location=order.location,
        document=delivery.document.strip(),
        happened_at=when,
        recorded_at=hand.at,
        by=hand.by,
        order_was=order.status,
    )
    for row in rows:
        row.line.receipt = receipt
    return receipt


def _overrides(rows: Iterable[Row], delivery: Delivery, dock: Dock, hand: Hand) -> None:
    """A manager's word stands on the lines that needed it."""
    if not delivery.override.strip():
        return
    for row in rows:
        finding = finding_of(row.line.item, row.came, dock.at) if row.line.accepted else None
        past = bool(row.put and row.put.lot.use_by and row.put.lot.use_by < dock.day)
        if past or (finding and finding.verdict is Verdict.MANAGER):
            row.line.override_reason, row.line.override_by = delivery.override.strip(), hand.by


def into_stock(receipt: Receipt, puts: Iterable[Put], hand: Hand) -> None:
    """Every lot at once; what was used before it was recorded is explained by it."""
    entries = [
        Entry(
            Movement.Kind.RECEIPT,
            put.lot,
            receipt.location,
            put.qty,
            receipt.happened_at,
            receipt.reference,
            typed_qty=put.typed_qty,
            typed_unit=put.typed_unit,
        )
        for put in puts
    ]
    gains = post(entries, by=hand.by, at=hand.at)
    for gain, entry in zip(gains, entries, strict=True):
        gain.item = entry.lot.item  # known here, so that it is not read one by one
    if gains:
        cover_unexplained(gains, by=hand.by, at=hand.at)


def _write_order(
    order: PurchaseOrder,
    lines: Mapping[int, OrderLine],
    delivery: Delivery,
    receipt: Receipt,
    hand: Hand,
) -> None:
    for came in delivery.lines:
        line = lines[came.line_id]
        line.received_cases += came.accepted
        line.given_up_cases += came.given_up
    OrderLine.objects.bulk_update(lines.values(), ["received_cases", "given_up_cases"])
    fields = []
    if not any(open_cases(line) for line in lines.values()):
        order.status, order.received_at = Status.RECEIVED, receipt.happened_at
        fields = ["status", "received_at"]
    written(order, hand, "receive", fields, _what_happened(receipt, delivery, lines))
    tell_kitchen([order.pk])
    ask_for_fresh_drafts(at=hand.at, why=f"{order.number} came in")


def _what_happened(
    receipt: Receipt, delivery: Delivery, lines: Mapping[int, OrderLine]
) -> dict[str, object]:
    facts: dict[str, object] = {"receipt": receipt.pk}
    for name in ("rejected", "substituted", "to_follow", "cancelled", "over"):
        told = {lines[c.line_id].item.code: getattr(c, name) for c in delivery.lines}
        if some := {item: str(cases) for item, cases in told.items() if cases}:
            facts[name] = some
    if delivery.override.strip():
        facts["override"] = delivery.override.strip()
    if receipt.is_late:
        facts["late"] = True
    return facts
