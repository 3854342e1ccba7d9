"""What of the kitchen somebody may read, by code: rows narrowed to their places in the query.

Lists come as query sets with everything a row needs, for a page to be cut from; one thing is
fetched with the permission in the question, so that missing and forbidden are the same.
"""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from django.db.models import Exists, Model, OuterRef, Prefetch, Q, QuerySet, Value
from django.db.models.functions import Concat

from inventory.models import (
    Event,
    Hold,
    Item,
    ItemCost,
    ItemUnit,
    Location,
    Lot,
    Movement,
    OnHand,
    StorageArea,
    Transfer,
    TransferLine,
)
from inventory.problems import NotThere
from inventory.roles import Act, Viewer

T = TypeVar("T", bound=Model)


def narrowed(
    rows: QuerySet[T], viewer: Viewer, to: str = "location", act: Act = Act.SEE
) -> QuerySet[T]:
    """Rows whose ``to`` is one of the viewer's places."""
    places = viewer.places(act)
    return rows if places is None else rows.filter(**{f"{to}__in": places})


def only(rows: QuerySet[T], **named: object) -> T:
    """The row, or ``NotThere``."""
    found = rows.filter(**named).first()
    if found is None:
        raise NotThere
    return found


def locations(viewer: Viewer) -> QuerySet[Location]:
    rows = Location.objects.select_related("supplied_by")
    areas = Prefetch("areas", StorageArea.objects.order_by("walk_order", "code"))
    return narrowed(rows, viewer, "pk").prefetch_related(areas)


def areas(viewer: Viewer) -> QuerySet[StorageArea]:
    return narrowed(StorageArea.objects.select_related("location"), viewer)


def items(viewer: Viewer) -> QuerySet[Item]:
    """Items are the same for everybody who works here."""
    units = Prefetch("units", ItemUnit.objects.order_by("word"))
    costs = Prefetch("costs", ItemCost.objects.order_by("starts_on"))
    rows = Item.objects.all() if viewer.may(Act.SEE) else Item.objects.none()
    return rows.prefetch_related(units, costs, "allergen_words")


def lots(viewer: Viewer) -> QuerySet[Lot]:
    """Lots that are or were at the viewer's places, with ``cost_is_seen``."""
    rows = Lot.objects.select_related("item", "parent", "area__location")
    here = OnHand.objects.filter(lot=OuterRef("pk"))
    costed = [grant.location_id for grant in viewer.grants if grant.sees_cost]
    seen = Value(True) if None in costed else Exists(here.filter(location__in=costed))
    rows = rows.annotate(cost_is_seen=seen if viewer.sees_cost() else Value(False))
    if viewer.places() is not None:
        rows = rows.filter(Exists(narrowed(here, viewer)))
    on_hand = narrowed(OnHand.objects.filter(qty__gt=0), viewer).select_related("location")
    holds = Hold.objects.still_open().select_related("location").order_by("pk")
    return rows.prefetch_related(
        "item__units",
        Prefetch("on_hand", on_hand.order_by("location__code")),
        Prefetch("holds", holds),
    )


def lots_changed_since(rows: QuerySet[Lot], since: datetime) -> QuerySet[Lot]:
    """Lots that moved, or that somebody did something to."""
    subject = Concat(Value("lot:"), OuterRef("strip"))
    moved = Movement.objects.filter(lot=OuterRef("pk"), recorded_at__gte=since)
    noted = Event.objects.filter(subject=subject, at__gte=since)
    return rows.filter(Exists(moved) | Exists(noted))


def on_hand(viewer: Viewer) -> QuerySet[OnHand]:
    """Lots by place, as far as there is anything of them."""
    return _on_hand(viewer).filter(qty__gt=0)


def on_hand_changed_since(viewer: Viewer, since: datetime) -> QuerySet[OnHand]:
    """Also what is used up since: its quantity is 0."""
    moved = Movement.objects.filter(
        lot=OuterRef("lot"), location=OuterRef("location"), recorded_at__gte=since
    )
    return _on_hand(viewer).filter(Exists(moved))


def _on_hand(viewer: Viewer) -> QuerySet[OnHand]:
    rows = OnHand.objects.select_related("lot", "item", "location")
    return narrowed(rows.prefetch_related("item__units"), viewer)


def holds(viewer: Viewer) -> QuerySet[Hold]:
    """Open and closed, of lots that the viewer sees, at their places or everywhere."""
    rows = Hold.objects.select_related("lot__item", "location", "opened_by", "closed_by")
    places = viewer.places()
    if places is None:
        return rows
    here = OnHand.objects.filter(lot=OuterRef("lot"), location__in=places)
    return rows.filter(Q(location__in=places) | Q(location__isnull=True)).filter(Exists(here))


def transfers(viewer: Viewer) -> QuerySet[Transfer]:
    """Goods that leave or reach one of the viewer's places."""
    rows = Transfer.objects.select_related("source", "target", "stop", "sent_by", "arrived_by")
    places = viewer.places()
    if places is not None:
        rows = rows.filter(Q(source__in=places) | Q(target__in=places))
    lines = TransferLine.objects.select_related("lot__item").prefetch_related("lot__item__units")
    return rows.prefetch_related(Prefetch("lines", lines.order_by("pk")))


def events(viewer: Viewer) -> QuerySet[Event]:
    """Who did what: for people who read the log of every place; an event knows no place."""
    rows = Event.objects.select_related("by")
    return rows if viewer.may_everywhere(Act.LOG) else rows.none()


def at_place(rows: QuerySet[T], viewer: Viewer, code: str | None) -> QuerySet[T]:
    """Rows at one place; ``NotThere`` where the viewer does not see it. None: all of them."""
    if code is None:
        return rows
    return rows.filter(location=only(narrowed(Location.objects.all(), viewer, "pk"), code=code))


def holds_changed_since(rows: QuerySet[Hold], since: datetime) -> QuerySet[Hold]:
    return rows.filter(Q(opened_at__gte=since) | Q(closed_at__gte=since))


def transfers_changed_since(rows: QuerySet[Transfer], since: datetime) -> QuerySet[Transfer]:
    """That somebody did something to, whenever it happened."""
    subject = Concat(Value("transfer:"), OuterRef("number"))
    return rows.filter(Exists(Event.objects.filter(subject=subject, at__gte=since)))
