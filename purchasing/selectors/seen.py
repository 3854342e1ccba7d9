"""What of purchasing somebody may read, by code: rows narrowed to their places in the query."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Value
from django.db.models.functions import Concat

from inventory.fields import Quantity
from inventory.models import Event, OnHand
from inventory.roles import Act, Viewer
from inventory.selectors.seen import narrowed
from purchasing.models import (
    Answer,
    LotRisk,
    Offer,
    OrderLine,
    Par,
    Price,
    PriceBreak,
    PurchaseOrder,
    Receipt,
    ReceiptLine,
    ReorderRun,
    RunLine,
    Sending,
    Supplier,
    SupplierClosure,
    UseByLook,
)

_MOMENTS = ("approved_at", "sent_at", "received_at", "settled_at", "cancelled_at", "skipped_at")


def suppliers(viewer: Viewer) -> QuerySet[Supplier]:
    """Suppliers are the same for everybody who works here."""
    rows = Supplier.objects.all() if viewer.may(Act.SEE) else Supplier.objects.none()
    return rows.prefetch_related(
        Prefetch("closures", SupplierClosure.objects.order_by("date")),
    )


def offers(viewer: Viewer) -> QuerySet[Offer]:
    rows = Offer.objects.all() if viewer.may(Act.SEE) else Offer.objects.none()
    prices = Price.objects.order_by(F("starts_on").asc(nulls_first=True))
    breaks = PriceBreak.objects.order_by("from_cases")
    return rows.select_related("supplier", "item").prefetch_related(
        Prefetch("prices", prices), Prefetch("breaks", breaks)
    )


def orders(viewer: Viewer, act: Act = Act.SEE) -> QuerySet[PurchaseOrder]:
    """With lines, the supplier's answers and how they left."""
    rows = PurchaseOrder.objects.select_related(
        "supplier", "location", "run", "approved_by", "skipped_by"
    )
    answers = Answer.objects.select_related("by", "substitute").order_by("at", "pk")
    lines = OrderLine.objects.select_related("item", "offer", "order").order_by("pk")
    lines = lines.prefetch_related(Prefetch("answers", answers))
    sendings = Sending.objects.select_related("by").order_by("asked_at", "pk")
    return narrowed(rows, viewer, act=act).prefetch_related(
        Prefetch("lines", lines), Prefetch("sendings", sendings)
    )


def orders_changed_since(rows: QuerySet[PurchaseOrder], since: datetime) -> QuerySet[PurchaseOrder]:
    """That somebody did something to, or that a run drew up again."""
    subject = Concat(Value("order:"), OuterRef("number"))
    changed = Q(Exists(Event.objects.filter(subject=subject, at__gte=since)))
    for moment in _MOMENTS:
        changed |= Q(**{f"{moment}__gte": since})
    return rows.filter(changed | Q(run__worked_out_at__gte=since))


def deliveries(viewer: Viewer) -> QuerySet[PurchaseOrder]:
    """Orders that are coming, for people who take deliveries in there."""
    return orders(viewer, Act.RECEIVE).filter(status__in=["approved", "sent"])


def receipts(viewer: Viewer) -> QuerySet[Receipt]:
    rows = Receipt.objects.select_related("order", "supplier", "location", "by", "undone_by")
    lines = ReceiptLine.objects.select_related("item", "lot", "order_line__offer", "override_by")
    return narrowed(rows, viewer).prefetch_related(Prefetch("lines", lines.order_by("pk")))


def receipts_changed_since(rows: QuerySet[Receipt], since: datetime) -> QuerySet[Receipt]:
    return rows.filter(Q(recorded_at__gte=since) | Q(undone_at__gte=since))


def pars(viewer: Viewer) -> QuerySet[Par]:
    return narrowed(Par.objects.select_related("location", "item", "supplied_by"), viewer)


def runs(viewer: Viewer) -> QuerySet[ReorderRun]:
    """A run is of the whole business; its lines are narrowed."""
    return ReorderRun.objects.all() if viewer.may(Act.SEE) else ReorderRun.objects.none()


def run_lines(viewer: Viewer, run: ReorderRun) -> QuerySet[RunLine]:
    rows = RunLine.objects.filter(run=run).select_related("location", "item", "supplier")
    return narrowed(rows, viewer)


def lots_at_risk(viewer: Viewer) -> QuerySet[LotRisk]:
    """The newest look, most money at risk first: rows are stored in that order. What has gone
    since is left out; ``there``: what is on hand now."""
    done = UseByLook.objects.filter(done_at__isnull=False).order_by("-done_at", "-pk")
    here = OnHand.objects.filter(lot=OuterRef("lot"), location=OuterRef("location"))
    rows = LotRisk.objects.filter(look__in=done.values("pk")[:1])
    rows = rows.annotate(there=Subquery(here.values("qty")[:1], output_field=Quantity()))
    rows = rows.filter(there__gt=0)
    rows = rows.select_related("look", "lot__item", "location", "move_to")
    return narrowed(rows.prefetch_related("lot__item__units"), viewer)
