"""Orders due: drafts by cutoff with their flags, what waits to be sent, what was skipped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import F, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from inventory.engine.dates import BusinessClock
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from purchasing import words
from purchasing.models import PurchaseOrder, ReorderRun, Sending
from purchasing.selectors.deadlines import within
from purchasing.selectors.decision_words import Siblings, choices_told, siblings_among
from purchasing.selectors.flags import (
    Committed,
    committed,
    flags_of,
    readable,
    value_of,
    with_lines,
)
from purchasing.selectors.order_words import minimum_words, named, state_of

Status = PurchaseOrder.Status
# Sent orders whose answer may still be noted stay on the page (own choice).
ANSWERED_FOR = timedelta(days=2)
WORTH_A_FLAG = 3


@dataclass(frozen=True, slots=True)
class DueOrder:
    """``value`` and ``minimum`` are empty for those who may not see money."""

    number: str
    version: int
    name: str
    to: str
    state: str
    deadline: str
    last_chance: str
    is_late: bool
    lines: int
    cases: int
    value: str
    minimum: str
    choices: tuple[str, ...]
    flags: tuple[str, ...]
    more_flags: int
    may_approve: bool


@dataclass(frozen=True, slots=True)
class OrdersDue:
    currency: str
    worked_out: str
    run_id: int | None
    drafts: tuple[DueOrder, ...]
    skipped: tuple[DueOrder, ...]
    approved: tuple[DueOrder, ...]
    sent: tuple[DueOrder, ...]
    sees_cost: bool

    @property
    def unflagged(self) -> tuple[DueOrder, ...]:
        return tuple(one for one in self.drafts if not one.flags and one.may_approve)


def orders_due(viewer: Viewer, now: datetime) -> OrdersDue:
    """Everything the page shows, in a number of queries that does not grow with rows."""
    house = business()
    today = house.day_of(now)
    rows = list(_orders(viewer, today - ANSWERED_FOR, today))
    drafts = [row for row in rows if row.status == Status.DRAFT]
    judged = _Judged(committed(drafts), siblings_among(drafts))
    due = [(row, _due(row, house, now, judged, viewer)) for row in rows]
    run = ReorderRun.objects.order_by("-as_of", "-pk").first()

    def those(status: PurchaseOrder.Status, *, skipped: bool = False) -> tuple[DueOrder, ...]:
        return tuple(
            one
            for row, one in due
            if row.status == status and (row.skipped_at is not None) is skipped
        )

    return OrdersDue(
        currency=house.currency,
        worked_out=_worked_out(run, house.clock),
        run_id=run.pk if run and viewer.may(Act.DRAFT) else None,
        drafts=those(Status.DRAFT),
        skipped=those(Status.DRAFT, skipped=True),
        approved=those(Status.APPROVED),
        sent=those(Status.SENT),
        sees_cost=viewer.sees_cost(),
    )


def _orders(viewer: Viewer, since: date, today: date) -> QuerySet[PurchaseOrder]:
    open_ones = PurchaseOrder.objects.filter(
        Q(status__in=[Status.DRAFT, Status.APPROVED], delivery__gte=today)
        | Q(status=Status.SENT, delivery__gte=since)
    )
    mine = with_lines(within(open_ones, viewer))
    sendings = Sending.objects.select_related("by").order_by("pk")
    mine = mine.prefetch_related(Prefetch("sendings", queryset=sendings))
    return mine.order_by(F("order_by").asc(nulls_last=True), "number")


@dataclass(frozen=True, slots=True)
class _Judged:
    """What an order is judged beside: money ``approved`` already, and other drafts."""

    approved: Committed
    siblings: Mapping[int, Siblings]


def _due(
    order: PurchaseOrder, house: Business, now: datetime, judged: _Judged, viewer: Viewer
) -> DueOrder:
    approved, siblings = judged.approved, judged.siblings.get(order.pk, {})
    lines = [line for line in order.lines.all() if line.cases]
    value, sees = value_of(order), viewer.sees_cost(order.location_id)
    is_draft = order.status == Status.DRAFT
    flags = (
        flags_of(order, now=now, approved=approved, alert_pct=house.price_alert_pct)
        if is_draft
        else ()
    )
    said = tuple(flag.words for flag in readable(flags, sees=sees))
    closes = order.last_order_by or order.order_by
    return DueOrder(
        number=order.number,
        version=order.version,
        name=named(order),
        to=order.location.name,
        state=state_of(order, house.clock),
        deadline=_moment(order.order_by, house.clock, now),
        last_chance=_last_chance(order, house.clock, now),
        is_late=closes is not None and closes < now,
        lines=len(lines),
        cases=sum(line.cases for line in lines),
        value=words.money(value) if sees else "",
        minimum=minimum_words(order, value, approved) if sees and is_draft else "",
        choices=choices_told(order, siblings, sees=sees) if is_draft else (),
        flags=said[:WORTH_A_FLAG],
        more_flags=max(0, len(said) - WORTH_A_FLAG),
        may_approve=bool(lines) and viewer.may_approve(value, order.location_id),
    )


def _last_chance(order: PurchaseOrder, clock: BusinessClock, now: datetime) -> str:
    """Where it can wait for a later cutoff and still come the same day."""
    last = order.last_order_by
    if last is None or order.order_by is None or last <= order.order_by:
        return ""
    return _("it can wait: last chance %(moment)s") % {"moment": _moment(last, clock, now)}


def _moment(at: datetime | None, clock: BusinessClock, now: datetime) -> str:
    if at is None:
        return ""
    return words.moment(clock.local(int(now.timestamp())), clock.local(int(at.timestamp())))


def _worked_out(run: ReorderRun | None, clock: BusinessClock) -> str:
    return f"{clock.local(int(run.as_of.timestamp())):%a %H:%M}" if run else ""


def total(orders: Sequence[DueOrder]) -> Decimal:
    """Of what may be seen."""
    shown = (Decimal(one.value.replace(",", "")) for one in orders if one.value)
    return sum(shown, Decimal(0))
