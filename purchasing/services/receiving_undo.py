"""A receipt taken back as a whole, the same day, if nothing of it was used."""

from __future__ import annotations

from collections.abc import Iterator

from inventory.models import Hold, Lot, Movement
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.selectors.business import business
from inventory.services.acts import one_act
from inventory.services.ledger import reverse
from inventory.services.log import note
from inventory.services.wording import of_lot
from purchasing.models import OrderLine, PurchaseOrder, Receipt, ReceiptLine
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.inbound import tell_kitchen
from purchasing.services.order_hand import Hand, written


@one_act
def undo_receipt(receipt_id: int, *, why: str, hand: Hand) -> Receipt:
    """Reverse its movements and open the order's lines again. The lots stay, empty, so that
    their strip numbers are never given to anything else.

    Refused on another day, or if some of it was used, moved, counted, opened or put on hold:
    then what is wrong is corrected lot by lot.
    """
    receipt = _locked(receipt_id, hand)
    lots = list(Lot.objects.filter(receipt_line__receipt=receipt).select_related("item"))
    if problems := [*_not_now(receipt, why, hand), *_touched(receipt, lots)]:
        raise Refused(problems)
    moved = Movement.objects.filter(reference=receipt.reference).values_list("pk", flat=True)
    reverse(list(moved), reason=why.strip(), by=hand.by, at=hand.at)
    receipt.undone_at, receipt.undone_by, receipt.undone_why = hand.at, hand.by, why.strip()
    receipt.save(update_fields=["undone_at", "undone_by", "undone_why"])
    _open_the_order(receipt, hand)
    return receipt


def _locked(receipt_id: int, hand: Hand) -> Receipt:
    """The order first, as receiving does, so that two people wait for each other in one
    order."""
    order_id = Receipt.objects.filter(pk=receipt_id).values_list("order_id", flat=True).first()
    if order_id is not None:
        PurchaseOrder.objects.select_for_update().get(pk=order_id)
    rows = Receipt.objects.select_for_update(of=("self",)).select_related("location")
    receipt = rows.filter(pk=receipt_id).first()
    if receipt is None or not hand.viewer.may(Act.RECEIVE, receipt.location_id):
        raise NotThere
    return receipt


def _not_now(receipt: Receipt, why: str, hand: Hand) -> Iterator[Problem]:
    house = business()
    if receipt.undone_at is not None:
        yield Problem("undone_already", "This receipt was undone already.")
    if not why.strip():
        yield Problem("no_reason", "Say why the receipt is undone.", "why")
    if house.day_of(receipt.recorded_at) != house.day_of(hand.at):
        yield Problem(
            "another_day",
            "A receipt is undone on the day it was made. Count the lots, or take out what is not "
            "there, and say why.",
        )
    if receipt.order and receipt.order.status in ("settled", "cancelled"):
        state = receipt.order.get_status_display()
        yield Problem("order_closed", f"{receipt.order} is {state}: its receipts stay.")


def _touched(receipt: Receipt, lots: list[Lot]) -> Iterator[Problem]:
    """Lots with anything but their own receipt."""
    moved = Movement.objects.filter(lot__in=lots).exclude(reference=receipt.reference)
    touched = set(moved.values_list("lot_id", flat=True))
    touched |= set(Lot.objects.filter(parent__in=lots).values_list("parent_id", flat=True))
    held = set(Hold.objects.still_open().filter(lot__in=lots).values_list("lot_id", flat=True))
    for lot in lots:
        if lot.pk in touched | held:
            yield Problem(
                "used_already",
                f"{of_lot(lot)} was used, moved or put on hold since. Count it, or take it out, "
                "and say why.",
                data={"lot": lot.strip},
            )


def _open_the_order(receipt: Receipt, hand: Hand) -> None:
    order = receipt.order
    changes: dict[str, object] = {"receipt": receipt.pk, "why": receipt.undone_why}
    if order is None:
        note("undo_receipt", receipt.reference, by=hand.by, at=hand.at, changes=changes)
        return
    lines = order.lines.in_bulk()
    for row in ReceiptLine.objects.filter(receipt=receipt, order_line__in=lines):
        line = lines[row.order_line_id or 0]
        line.received_cases -= row.accepted
        line.given_up_cases -= row.substituted + row.cancelled
        line.given_up_cases -= row.rejected - row.rejected_to_follow
    OrderLine.objects.bulk_update(lines.values(), ["received_cases", "given_up_cases"])
    order.status, order.received_at = _state_before(order, receipt), None
    written(order, hand, "undo_receipt", ["status", "received_at"], changes)
    tell_kitchen([order.pk])
    ask_for_fresh_drafts(at=hand.at, why=f"a receipt of {order.number} was undone")


def _state_before(order: PurchaseOrder, receipt: Receipt) -> str:
    return receipt.order_was if order.status == "received" else order.status
