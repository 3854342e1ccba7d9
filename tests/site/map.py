"""The site map as the walking tests need it: every address by name, who may open it, and an
example of the thing it shows at a given place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.core.files.base import ContentFile
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from inventory.models import Hold, Item, Location, Lot, Membership
from inventory.roles import Act
from inventory.services.holds import hold_lot
from purchasing.models import PurchaseOrder, Receipt, ReceiptPhoto, ReorderRun
from tests import factories as make

# Not pages of people: signing in, the API (which has its own walk), the worker's file.
ELSEWHERE = ("sign_in", "sign_in_as", "sign_out", "enrol", "welcome")


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
    receipt: Receipt
    photo: ReceiptPhoto
    person: Membership


@dataclass(frozen=True, slots=True)
class Address:
    """``of`` gives the arguments for a scene; ``bound``: the thing belongs to a place, so
    people of other places do not find it; ``everywhere``: for who may act in the whole business."""

    act: Act
    of: Callable[[Scene], list[object]] = lambda scene: []
    bound: bool = False
    everywhere: bool = False
    query: str = ""


def _place(scene: Scene) -> list[object]:
    return [scene.place.code]


def _order(scene: Scene) -> list[object]:
    return [scene.draft.number]


def _line(scene: Scene) -> list[object]:
    return [scene.draft.number, scene.draft.lines.get().pk]


def _strip(scene: Scene) -> list[object]:
    return [scene.lot.strip]


def _supplier(scene: Scene) -> list[object]:
    return [scene.draft.supplier.code]


def _offer(scene: Scene) -> list[object]:
    return [scene.draft.supplier.code, scene.draft.lines.get().offer_id]


def _coming(scene: Scene) -> list[object]:
    return [scene.coming.number]


def _receipt(scene: Scene) -> list[object]:
    return [scene.receipt.pk]


def _person(scene: Scene) -> list[object]:
    return [scene.person.user.username]


def _part(scene: Scene) -> list[object]:
    return [scene.person.user.username, scene.person.pk]


PAGES: dict[str, Address] = {
    "the_pass": Address(Act.SEE),
    "all_pages": Address(Act.SEE),
    "look": Address(Act.SEE),
    "orders": Address(Act.SEE),
    "order": Address(Act.SEE, _order, bound=True),
    "order_file": Address(Act.SEND, lambda scene: [scene.draft.number, "csv"], bound=True),
    "order_phone": Address(Act.SEND, _order, bound=True),
    "run": Address(Act.SEE, lambda scene: [scene.run.pk]),
    "suppliers": Address(Act.SUPPLIERS),
    "supplier": Address(Act.SUPPLIERS, _supplier),
    "deliveries": Address(Act.SEE),
    "delivery": Address(Act.RECEIVE, _coming, bound=True),
    "receipt": Address(Act.RECEIVE, _receipt, bound=True),
    "bought": Address(Act.RECEIVE),
    "labels": Address(Act.SEE),
    "photo": Address(Act.RECEIVE, lambda scene: [scene.photo.pk], bound=True),
    "dock_worker": Address(Act.SEE),
    "dock_token": Address(Act.SEE),
    "use_by": Address(Act.SEE),
    "lot": Address(Act.SEE, _strip, bound=True),
    "trace": Address(Act.SEE, _strip, bound=True),
    "trace_records": Address(Act.SEE, lambda scene: [scene.lot.strip, "csv"], bound=True),
    "records": Address(Act.LOG, lambda scene: ["csv"], everywhere=True, query="?code=L1"),
    "holds": Address(Act.SEE),
    "take_out": Address(Act.TAKE_OUT),
    "items": Address(Act.SEE),
    "item": Address(Act.SEE, lambda scene: [scene.item.code]),
    "item_change": Address(Act.ITEMS, lambda scene: [scene.item.code]),
    "item_add": Address(Act.ITEMS),
    "pars_list": Address(Act.SEE),
    "pars": Address(Act.SEE, lambda scene: [scene.place.code], bound=True),
    "par": Address(Act.SEE, lambda scene: [scene.place.code, scene.item.code], bound=True),
    "par_tips": Address(Act.SEE, _place, bound=True),
    "forecasts": Address(Act.PARS),
    "replay": Address(Act.PARS),
    "not_ready": Address(Act.ITEMS),
    "people": Address(Act.PEOPLE),
    "person": Address(Act.PEOPLE, _person, bound=True),
    "invite": Address(Act.PEOPLE),
    "log": Address(Act.LOG, everywhere=True),
    "workbook": Address(Act.WORKBOOK, everywhere=True),
    "workbook_out": Address(Act.WORKBOOK, everywhere=True),
    "workbook_empty": Address(Act.WORKBOOK),
}

PRESSES: dict[str, Address] = {
    **{
        name: Address(act, _order, bound=True)
        for name, act in (
            ("order_try", Act.DRAFT),
            ("order_change", Act.DRAFT),
            ("order_add", Act.DRAFT),
            ("order_skip", Act.DRAFT),
            ("order_take_up", Act.DRAFT),
            ("order_elsewhere", Act.DRAFT),
            ("order_approve", Act.APPROVE),
            ("order_undo", Act.APPROVE),
            ("order_send", Act.SEND),
            ("order_mark", Act.SEND),
            ("order_answer", Act.SEND),
            ("order_confirm", Act.SEND),
            ("order_cancel", Act.SEND),
        )
    },
    "order_offer": Address(Act.DRAFT, _line, bound=True),
    "order_give_up": Address(Act.SEND, _line, bound=True),
    "orders_approve": Address(Act.APPROVE),
    "run_order": Address(Act.DRAFT, lambda scene: [scene.run.pk]),
    "supplier_change": Address(Act.SUPPLIERS, _supplier),
    "closure_add": Address(Act.SUPPLIERS, _supplier),
    "closure_remove": Address(
        Act.SUPPLIERS, lambda scene: [scene.draft.supplier.code, "2026-01-01"]
    ),
    "offer_add": Address(Act.SUPPLIERS, _supplier),
    "offer_change": Address(Act.SUPPLIERS, _offer),
    "offer_retire": Address(Act.SUPPLIERS, _offer),
    "delivery_read": Address(Act.RECEIVE, _coming, bound=True),
    "receipt_undo": Address(Act.RECEIVE, _receipt, bound=True),
    "receipt_photos": Address(Act.RECEIVE, _receipt, bound=True),
    "use_by_look": Address(Act.SEE),
    "use_by_help": Address(Act.SEE, _strip, bound=True),
    "load_take_in": Address(Act.MOVE, lambda scene: ["T0"], bound=True),
    "lot_hold": Address(Act.HOLD, _strip, bound=True),
    "lot_change": Address(Act.CHANGE_LOT, _strip, bound=True),
    "lot_move": Address(Act.MOVE, _strip, bound=True),
    "hold_one": Address(Act.HOLD),
    "hold_area": Address(Act.HOLD),
    "hold_release": Address(Act.RELEASE, lambda scene: [scene.hold.pk], bound=True),
    "par_tips_ask": Address(Act.PARS, _place, bound=True),
    "par_tip_adopt": Address(
        Act.PARS, lambda scene: [scene.place.code, scene.item.code], bound=True
    ),
    "par_put_back": Address(
        Act.PARS, lambda scene: [scene.place.code, scene.item.code], bound=True
    ),
    "forecasts_ask": Address(Act.PARS),
    "replay_ask": Address(Act.PARS),
    "replay_stop": Address(Act.PARS, lambda scene: [1]),
    "item_retire": Address(Act.ITEMS, lambda scene: [scene.item.code]),
    "workbook_load": Address(Act.WORKBOOK, everywhere=True),
    "part_give": Address(Act.PEOPLE, _person, bound=True),
    "part_change": Address(Act.PEOPLE, _part, bound=True),
    "part_end": Address(Act.PEOPLE, _part, bound=True),
    "person_address": Address(Act.PEOPLE, _person, bound=True),
    "person_number": Address(Act.PEOPLE, _person, bound=True),
    "device_add": Address(Act.PEOPLE),
    "device_retire": Address(Act.PEOPLE),
    "token_make": Address(Act.TOKENS),
    "token_end": Address(Act.TOKENS, lambda scene: [1]),
}


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
    receipt = Receipt.objects.create(
        order=coming, supplier=sold.supplier, location=there, happened_at=now, recorded_at=now
    )
    photo = ReceiptPhoto.objects.create(
        receipt=receipt, picture=ContentFile(b"a picture", "crate.jpg"), added_at=now
    )
    part = make.member("staff", there).memberships.get()
    return Scene(there, item, lot, hold, draft, coming, run, receipt, photo, part)


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
            yield f"without a name: {pattern.pattern}"


def address(name: str, one: Address, of: Scene) -> str:
    return reverse(name, args=one.of(of)) + one.query
