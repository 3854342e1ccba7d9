"""The pass: what must be done before the next load-out, for one person, by deadline."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from enum import StrEnum

from inventory.engine.dates import BusinessClock
from inventory.models import Location
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from purchasing import words
from purchasing.models import PurchaseOrder
from purchasing.selectors.deadlines import (
    lots_on_hold,
    orders_coming,
    orders_due,
    past_use_by,
)
from purchasing.selectors.decision_words import choices_told, siblings_among
from purchasing.selectors.flags import committed, flags_of, readable, value_of


class Kind(StrEnum):
    APPROVE = "approve"
    SEND = "send"
    RECEIVE = "receive"
    TAKE_OUT = "take_out"
    RELEASE = "release"


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do. ``at`` is the instant it is due, None: as soon as a hand is free;
    ``when`` says so in words and ``day`` is the heading it stands under. ``value`` None:
    nothing to say, or not for this person; ``cases`` still to come, ``count`` 1 where one."""

    kind: Kind
    at: datetime | None
    when: str
    is_late: bool
    day: str = "now"
    order: PurchaseOrder | None = None
    place: Location | None = None
    count: int = 0
    cases: str = ""
    value: Decimal | None = None
    may_approve: bool = False
    flags: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pass:
    currency: str
    tasks: tuple[Task, ...]

    @property
    def first(self) -> Task | None:
        return self.tasks[0] if self.tasks else None


def the_pass(viewer: Viewer, now: datetime) -> Pass:
    """Earliest deadline first; what has no hour comes before what has one. The number of
    queries does not grow with rows."""
    house = business()
    clock = house.clock
    today = clock.day_of(int(now.timestamp()))
    tasks = [
        *_lots(viewer, today),
        *_orders(viewer, house, now),
        *_deliveries(viewer, clock, now, today),
    ]
    in_order = sorted(tasks, key=lambda task: (task.at is not None, task.at or now))
    return Pass(house.currency, tuple(in_order))


def _lots(viewer: Viewer, today: date) -> Iterator[Task]:
    for place, count in past_use_by(viewer, today):
        yield Task(Kind.TAKE_OUT, None, "past use-by", True, place=place, count=count)
    if held := lots_on_hold(viewer):
        yield Task(Kind.RELEASE, None, "on hold", False, count=held)


def _orders(viewer: Viewer, house: Business, now: datetime) -> Iterator[Task]:
    orders = orders_due(viewer)
    approved = committed(orders)
    others = siblings_among([one for one in orders if one.status == PurchaseOrder.Status.DRAFT])
    for order in orders:
        value, sees = value_of(order), viewer.sees_cost(order.location_id)
        is_draft = order.status == PurchaseOrder.Status.DRAFT
        flags = (
            flags_of(order, now=now, approved=approved, alert_pct=house.price_alert_pct)
            if is_draft
            else ()
        )
        yield Task(
            Kind.APPROVE if is_draft else Kind.SEND,
            order.order_by,
            _when(order.order_by, house.clock, now),
            order.order_by is not None and order.order_by < now,
            _day(order.order_by, house.clock, now),
            order=order,
            count=len(order.lines.all()),
            value=value if sees else None,
            may_approve=viewer.may_approve(value, order.location_id),
            flags=tuple(dict.fromkeys(flag.words for flag in readable(flags, sees=sees))),
            choices=choices_told(order, others.get(order.pk, {}), sees=sees) if is_draft else (),
        )


def _deliveries(viewer: Viewer, clock: BusinessClock, now: datetime, today: date) -> Iterator[Task]:
    for coming in orders_coming(viewer, today, Act.RECEIVE):
        order, day = coming.order, coming.day
        hour = order.supplier.arrives or order.location.opens or time.min
        expected = datetime.fromtimestamp(clock.instant(day, hour), UTC)
        if day < today:
            when = f"should have come {words.day_name(day)}"
        elif order.supplier.arrives is None:
            when = ""
        else:
            when = _when(expected, clock, now)
        yield Task(
            Kind.RECEIVE,
            expected,
            when,
            day < today,
            _day(expected, clock, now),
            order=order,
            count=1 if coming.cases == 1 else 2,
            cases=words.figure(coming.cases),
        )


def _when(moment: datetime | None, clock: BusinessClock, now: datetime) -> str:
    if moment is None:
        return ""
    local = clock.local(int(moment.timestamp()))
    return f"{local:%H:%M}, {words.in_time(clock.local(int(now.timestamp())), local)}"


def _day(moment: datetime | None, clock: BusinessClock, now: datetime) -> str:
    """The heading: what is over stands with what is due now."""
    if moment is None:
        return "now"
    day, today = (clock.day_of(int(at.timestamp())) for at in (moment, now))
    if day < today:
        return "now"
    return "today" if day == today else words.day_name(day)
