"""The site map as the walking tests need it: every address by name, who may open it, and an
example of the thing it shows at a given place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from inventory.models import Hold, Item, Location, Lot
from inventory.roles import Act
from inventory.services.holds import hold_lot
from purchasing.models import PurchaseOrder, ReorderRun
from tests import factories as make

# Not pages of people: signing in, the API (which has its own walk), the worker's file.
ELSEWHERE = ("sign_in", "sign_in_as", "sign_out", "enrol", "api", "v1", "schema")


@dataclass(frozen=True, slots=True)
class Scene:
    """One place with one of everything."""

    place: Location
    item: Item
    lot: Lot
    hold: Hold
    draft: PurchaseOrder
    coming: PurchaseOrder
    run: ReorderRun


@dataclass(frozen=True, slots=True)
class Address:
    """``of`` gives the arguments for a scene; ``bound``: the thing belongs to a place, so
    people of other places do not find it."""

    act: Act
    of: Callable[[Scene], list[object]] = lambda scene: []
    bound: bool = False


def scene(place: Location | None = None) -> Scene:
    """Everything once, at one place, made now."""
    now = timezone.now()
    today = now.date()
    there = place or make.location()
    item = make.item()
    sold = make.offer(item=item)
    lot = make.lot(5000, at=there, of=item, use_by=today + timedelta(days=1), when=now)
    (hold,) = hold_lot(
        make.lot(100, at=there, of=item, when=now),
        location=there,
        reason=Hold.Reason.COMPLAINT,
        by=None,
        at=now,
    )
    run = ReorderRun.objects.create(
        as_of=now, seed=1, paths=10, inputs_digest=there.code, worked_out_at=now
    )
    draft = make.order(
        status="draft",
        supplier=sold.supplier,
        location=there,
        run=run,
        delivery=today + timedelta(days=2),
        next_delivery=today + timedelta(days=4),
        order_by=now + timedelta(hours=6),
        last_order_by=now + timedelta(hours=6),
        decision="none_needed",
    )
    make.order_line(draft, offer=sold, pack_base=Decimal(10000))
    coming = make.order(supplier=sold.supplier, location=there, delivery=today)
    make.order_line(coming, offer=sold)
    return Scene(there, item, lot, hold, draft, coming, run)


def names() -> Iterator[str]:
    """Names of all addresses of people's pages."""
    yield from _names(get_resolver().url_patterns)


def _names(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            if not str(pattern.pattern).startswith("api/"):
                yield from _names(pattern.url_patterns)
        elif pattern.name and pattern.name not in ELSEWHERE:
            yield pattern.name
        elif not pattern.name:
            yield str(pattern.pattern)


def address(name: str, one: Address, of: Scene) -> str:
    return reverse(name, args=one.of(of))
