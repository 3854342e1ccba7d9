"""Orders approved, taken back, given up and cancelled. What happens to a draft's lines is in
``order_lines``, how an order leaves in ``sending``, what the supplier says in ``answers``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User

from inventory.models import Membership
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import ACTS_OF, Act, Viewer
from inventory.selectors.business import business
from inventory.services.acts import one_act
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.flags import committed, flags_of, with_lines
from purchasing.selectors.on_order import open_cases
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.inbound import tell_kitchen
from purchasing.services.order_hand import Hand, Status, demand_status, take, written
from purchasing.services.outbox import stop_waiting


@dataclass(frozen=True, slots=True)
class LeftToLook:
    """An order that was not approved with the others, and why not."""

    number: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ApprovedTogether:
    approved: tuple[str, ...]
    left: tuple[LeftToLook, ...]


@one_act
def approve(number: str, *, hand: Hand) -> PurchaseOrder:
    """From now on it is on order. Refused above the person's limit, or if nothing is on it."""
    order = take(number, hand, Act.APPROVE)
    _approve(order, hand)
    _others_rest_on([order], hand.at, f"order {number} approved")
    return order


@one_act
def approve_unflagged(seen: Sequence[tuple[str, int]], *, hand: Hand) -> ApprovedTogether:
    """Approve those of ``seen`` (number, version) that carry no flag now; the others are left
    with the reason. All or, where the database fails, none."""
    approved: list[PurchaseOrder] = []
    left: list[LeftToLook] = []
    for number, version in sorted(seen):
        one = Hand(hand.viewer, hand.by, hand.at, version)
        try:
            order = take(number, one, Act.APPROVE)
            if flags := _flags(order, hand.at):
                left.append(LeftToLook(number, flags))
                continue
            _approve(order, one)
        except Refused as refused:
            left.append(LeftToLook(number, tuple(each.message for each in refused.problems)))
        else:
            approved.append(order)
    if approved:
        _others_rest_on(approved, hand.at, "orders approved")
    return ApprovedTogether(tuple(one.number for one in approved), tuple(left))


@one_act
def undo_approval(number: str, *, hand: Hand) -> PurchaseOrder:
    """A draft again, until it is sent. What waits to be sent is stopped."""
    order = take(number, hand, Act.APPROVE)
    demand_status(order, Status.APPROVED)
    stop_waiting(order, at=hand.at)
    _make_room(order)
    order.status, order.approved_at, order.approved_by = Status.DRAFT, None, None
    written(order, hand, "undo", ["status", "approved_at", "approved_by"], {})
    _others_rest_on([order], hand.at, f"approval of {number} taken back")
    return order


@one_act
def cancel(number: str, *, why: str = "", hand: Hand) -> PurchaseOrder:
    """Nothing of it will come. Of a sent order the supplier must be told by whoever cancels.
    Refused once a part of it has come in."""
    order = take(number, hand, Act.SEND)
    demand_status(order, Status.APPROVED, Status.SENT)
    if order.lines.filter(received_cases__gt=0).exists():
        message = f"A part of {number} has come in. Give up what is still to come instead."
        raise Refused(Problem("partly_in", message))
    stop_waiting(order, at=hand.at)
    order.status, order.cancelled_at = Status.CANCELLED, hand.at
    written(order, hand, "cancel", ["status", "cancelled_at"], {"why": why})
    _others_rest_on([order], hand.at, f"order {number} cancelled")
    return order


@one_act
def give_up(number: str, line_ids: Iterable[int], *, why: str = "", hand: Hand) -> PurchaseOrder:
    """Stop waiting for what these lines have still to bring."""
    order = take(number, hand, Act.SEND)
    demand_status(order, Status.SENT)
    lines = {line.pk: line for line in order.lines.select_related("item")}
    wanted = set(line_ids)
    if not wanted <= lines.keys():
        raise NotThere
    given = {lines[pk].item.name: str(_give_up(lines[pk])) for pk in sorted(wanted)}
    fields = _closed(order, lines.values(), hand.at)
    written(order, hand, "give_up", fields, {"cases": given, "why": why})
    _others_rest_on([order], hand.at, f"a part of {number} given up")
    return order


def _approve(order: PurchaseOrder, hand: Hand) -> None:
    demand_status(order, Status.DRAFT)
    lines = list(order.lines.select_related("item"))
    if problems := _against_approving(order, lines, hand):
        raise Refused(problems)
    order.status, order.approved_at, order.approved_by = Status.APPROVED, hand.at, hand.by
    order.skipped_at, order.skipped_by, order.skipped_why = None, None, ""
    fields = ["status", "approved_at", "approved_by", "skipped_at", "skipped_by", "skipped_why"]
    value = sum((line.value for line in lines), Decimal(0))
    written(order, hand, "approve", fields, {"value": words.money(value)})


def _against_approving(
    order: PurchaseOrder, lines: Sequence[OrderLine], hand: Hand
) -> list[Problem]:
    problems = []
    if not any(line.cases for line in lines):
        message = "Nothing is on this order. Add a line, or skip the delivery."
        problems.append(Problem("nothing_ordered", message))
    value = sum((line.value for line in lines), Decimal(0))
    if not hand.viewer.may_approve(value, order.location_id):
        problems.append(_over_limit(order, value, hand.viewer))
    return problems


def _over_limit(order: PurchaseOrder, value: Decimal, viewer: Viewer) -> Problem:
    limit = viewer.approve_up_to(order.location_id)
    able = ", ".join(_who_may(order, value)) or "the owner"
    message = (
        f"{order.number} comes to {words.money(value)}; you may approve up to "
        f"{words.money(limit or Decimal(0))}. Ask {able}, or take cases off."
    )
    return Problem("over_limit", message, data={"value": str(value), "limit": str(limit)})


def _who_may(order: PurchaseOrder, value: Decimal) -> list[str]:
    """People whose limit at this place covers ``value``."""
    roles = [role for role, acts in ACTS_OF.items() if Act.APPROVE in acts]
    rows = Membership.objects.filter(role__in=roles, user__is_active=True)
    able = [
        row.user
        for row in rows.select_related("user").order_by("user__username")
        if row.location_id in (None, order.location_id)
        and (row.approve_up_to is None or value <= row.approve_up_to)
    ]
    return list(dict.fromkeys(_name(user) for user in able))


def _name(user: User) -> str:
    return user.get_full_name() or user.get_username()


def _flags(order: PurchaseOrder, at: datetime) -> tuple[str, ...]:
    (fresh,) = with_lines(PurchaseOrder.objects.filter(pk=order.pk))
    flags = flags_of(
        fresh, now=at, approved=committed([fresh]), alert_pct=business().price_alert_pct
    )
    skipped = ("this delivery is skipped",) if order.skipped_at else ()
    return (*skipped, *(flag.words for flag in flags))


def _make_room(order: PurchaseOrder) -> None:
    """There is one open draft for a delivery: a further one that nobody touched goes, since
    the runs draw up what is needed again."""
    further = PurchaseOrder.objects.drafts().filter(
        supplier=order.supplier, location=order.location, delivery=order.delivery
    )
    for draft in further.select_for_update().order_by("pk"):
        if draft.touched or draft.skipped_at:
            message = (
                f"Draft {draft.number} for the same delivery was changed by hand meanwhile. "
                f"Approve that one, or take its lines off; then take back this approval."
            )
            raise Refused(Problem("further_draft", message, data={"number": draft.number}))
        draft.delete()


def _give_up(line: OrderLine) -> Decimal:
    missing = open_cases(line)
    line.given_up_cases += missing
    line.save(update_fields=["given_up_cases"])
    return missing


def _closed(order: PurchaseOrder, lines: Iterable[OrderLine], at: datetime) -> list[str]:
    """Nothing more to come: received if something came, else cancelled. Fields that changed."""
    rows = list(lines)
    if any(open_cases(line) for line in rows):
        return []
    if any(line.received_cases for line in rows):
        order.status, order.received_at = Status.RECEIVED, at
        return ["status", "received_at"]
    order.status, order.cancelled_at = Status.CANCELLED, at
    return ["status", "cancelled_at"]


def _others_rest_on(orders: Sequence[PurchaseOrder], at: datetime, why: str) -> None:
    """The kitchen is told what is coming, and the drafts are drawn up again."""
    tell_kitchen([order.pk for order in orders])
    ask_for_fresh_drafts(at=at, why=why)
