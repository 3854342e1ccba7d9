"""What is due for one person, and when: orders, deliveries, lots past use-by, holds."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import TypeVar

from django.db import models
from django.db.models import Count, F

from inventory.models import Hold, Location, OnHand, Stop
from inventory.roles import Act, Viewer
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.flags import with_lines
from purchasing.selectors.on_order import cases_to_come, open_cases

# A day without hours in the workbook (common practice, no source).
FIRST_PREP, LAST_RETURN = time(5), time(20)

Rows = TypeVar("Rows", bound=models.QuerySet[models.Model])


def within(rows: Rows, viewer: Viewer, act: Act = Act.SEE, field: str = "location") -> Rows:
    """The rows of places at which this person may ``act``."""
    places = viewer.places(act)
    return rows if places is None else rows.filter(**{f"{field}__in": places})


def orders_due(viewer: Viewer) -> list[PurchaseOrder]:
    """Drafts and approved orders that this person may move on, earliest cutoff first, with
    their lines. A draft whose delivery is skipped waits for nobody."""
    waiting = PurchaseOrder.objects.filter(status__in=["draft", "approved"])
    waiting = within(waiting.filter(skipped_at__isnull=True), viewer, Act.SEND)
    return list(with_lines(waiting.order_by(F("order_by").asc(nulls_last=True), "number")))


@dataclass(frozen=True, slots=True)
class ComingOrder:
    """An order with something still to come: those ``lines``, due from ``day`` on."""

    order: PurchaseOrder
    lines: tuple[OrderLine, ...]

    @property
    def day(self) -> date:
        return min(line.due for line in self.lines)

    @property
    def cases(self) -> Decimal:
        return cases_to_come(self.lines)


def orders_coming(viewer: Viewer, until: date, act: Act = Act.SEE) -> list[ComingOrder]:
    """Orders of which something is due up to a day, earliest first. Two queries."""
    orders = within(PurchaseOrder.objects.on_order(), viewer, act).values("pk")
    lines = OrderLine.objects.filter(order__in=orders).select_related(
        "order__supplier", "order__location", "item", "offer"
    )
    found: dict[int, list[OrderLine]] = defaultdict(list)
    for line in lines.order_by("pk"):
        if open_cases(line) > 0:
            found[line.order_id].append(line)
    coming = (ComingOrder(own[0].order, tuple(own)) for own in found.values())
    return sorted((one for one in coming if one.day <= until), key=_order_of)


def _order_of(coming: ComingOrder) -> tuple[date, str, str]:
    hour = coming.order.supplier.arrives
    return coming.day, f"{hour:%H:%M}" if hour else "", coming.order.number


def past_use_by(viewer: Viewer, today: date) -> list[tuple[Location, int]]:
    """Places with lots past their use-by still on the shelf, and how many."""
    lots = within(OnHand.objects.filter(lot__use_by__lt=today), viewer, Act.TAKE_OUT)
    counted = lots.filter(qty__gt=0).values("location").annotate(lots=Count("pk"))
    counts = {row["location"]: row["lots"] for row in counted.order_by("location")}
    places = Location.objects.in_bulk(counts)
    return [(places[pk], count) for pk, count in counts.items()]


def lots_on_hold(viewer: Viewer) -> int:
    """Lots whose hold this person may end."""
    if not viewer.may(Act.RELEASE):
        return 0
    return within(Hold.objects.still_open(), viewer, Act.RELEASE).values("lot").distinct().count()


def working_day(today: date) -> tuple[time, time]:
    """First prep start and last return, as hours of the wall clock."""
    places = Location.objects.filter(retired_on=None, opens__isnull=False)
    first = min((place.opens for place in places if place.opens), default=FIRST_PREP)
    stops = Stop.objects.filter(date=today, cancelled=False, closes__isnull=False)
    last = max((stop.closes for stop in stops if stop.closes), default=LAST_RETURN)
    return first, max(last, LAST_RETURN)


def order_moments(viewer: Viewer, after: datetime, most: int) -> list[PurchaseOrder]:
    """The next cutoffs that still wait for somebody."""
    drafts = within(PurchaseOrder.objects.drafts(), viewer).filter(order_by__gte=after)
    return list(drafts.select_related("supplier", "location").order_by("order_by", "number")[:most])
