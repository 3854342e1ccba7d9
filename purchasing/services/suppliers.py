"""Order guides: a supplier's calendar and terms, its offers, prices from a day on, closures.
Checked as the workbook's rows are, so that one rule lives in one place."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING

from inventory.exchange.grammar import Book
from inventory.models import Item
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.item_facts import changes_between, digest_of
from inventory.services.acts import one_act
from inventory.services.log import note
from purchasing.exchange.forms import checked_form
from purchasing.exchange.store import store_purchasing
from purchasing.models import Offer, Supplier, SupplierClosure
from purchasing.selectors.guide_facts import latest_price, offer_facts, supplier_facts
from purchasing.services.due import ask_for_fresh_drafts

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Texts = Mapping[str, str]
Changes = dict[str, list[str]]


@one_act
def change_supplier(
    code: str, facts: Texts, *, as_read: str, viewer: Viewer, by: User | None, at: datetime
) -> Changes:
    """Name, addresses, calendar, minimum and fee, as typed. ``as_read``: the digest of what the
    form was filled with."""
    supplier = _supplier(code, viewer)
    before = supplier_facts(supplier)
    _not_stale(before, as_read, supplier.name)
    _store({"suppliers": [{**facts, "code": code}]})
    supplier.refresh_from_db()
    changes = changes_between(before, supplier_facts(supplier))
    return _written("change_supplier", f"supplier:{code}", changes, viewer, by, at)


@one_act
def change_offer(
    offer_id: int, facts: Texts, *, as_read: str, viewer: Viewer, by: User | None, at: datetime
) -> Changes:
    """Pack, steps, rank and price; ``valid_from`` is the day from which the price holds: a new
    day adds a price, the others stay."""
    offer = _offer(offer_id, viewer)
    today = business().day_of(at)
    before = offer_facts(offer, latest_price(offer, today))
    _not_stale(before, as_read, str(offer))
    _store({"supplier_items": [{**facts, **_named(offer)}]}, offer_id)
    offer.refresh_from_db()
    told = {**offer_facts(offer, None), **{name: facts.get(name, "") for name in _PRICE}}
    changes = changes_between(before, told)
    return _written("change_offer", f"offer:{offer_id}", changes, viewer, by, at)


@one_act
def add_offer(code: str, facts: Texts, *, viewer: Viewer, by: User | None, at: datetime) -> Offer:
    """``facts``: item, sku and the rest. Refused where the supplier sells that pack already."""
    supplier = _supplier(code, viewer)
    item, sku = facts.get("item", "").strip(), facts.get("sku", "").strip()
    known = Offer.objects.filter(supplier=supplier, item__code=item, sku=sku)
    if known.exists():
        message = f"{supplier} sells {item} {sku} already. Change that offer."
        raise Refused(Problem("offer_is_there", message, "item-new"))
    _store({"supplier_items": [{**facts, "supplier": code}]}, "new")
    made = known.get()
    _written("add_offer", f"offer:{made.pk}", {"item": ["", item]}, viewer, by, at)
    return made


@one_act
def retire_offer(offer_id: int, *, viewer: Viewer, by: User | None, at: datetime) -> Offer:
    """Not sold any more; what was ordered of it stays readable."""
    offer = _offer(offer_id, viewer)
    if offer.retired_on is None:
        offer.retired_on = business().day_of(at)
        offer.save(update_fields=["retired_on"])
        changes = {"retired_on": ["", offer.retired_on.isoformat()]}
        _written("retire_offer", f"offer:{offer_id}", changes, viewer, by, at)
    return offer


@one_act
def add_closure(code: str, day: str, *, viewer: Viewer, by: User | None, at: datetime) -> None:
    """A day without orders and deliveries."""
    _supplier(code, viewer)
    book = _store({"supplier_closures": [{"supplier": code, "date": day}]})
    (row,) = book["supplier_closures"]
    closed: date = row["date"]
    _written("close", f"supplier:{code}", {"closed": ["", closed.isoformat()]}, viewer, by, at)


@one_act
def remove_closure(code: str, day: date, *, viewer: Viewer, by: User | None, at: datetime) -> None:
    """They are there after all."""
    supplier = _supplier(code, viewer)
    if not SupplierClosure.objects.filter(supplier=supplier, date=day).delete()[0]:
        raise NotThere
    _written("open", f"supplier:{code}", {"closed": [day.isoformat(), ""]}, viewer, by, at)


_PRICE = ("price", "valid_from")


def _supplier(code: str, viewer: Viewer) -> Supplier:
    supplier = Supplier.objects.select_for_update().filter(code=code).first()
    if supplier is None:
        raise NotThere
    _may_change(viewer)
    return supplier


def _offer(offer_id: int, viewer: Viewer) -> Offer:
    offers = Offer.objects.select_for_update(of=("self",)).select_related("supplier", "item")
    offer = offers.filter(pk=offer_id).first()
    if offer is None:
        raise NotThere
    _may_change(viewer)
    return offer


def _may_change(viewer: Viewer) -> None:
    if not viewer.may_everywhere(Act.SUPPLIERS):
        message = (
            "Order guides are shared by every location: a buyer or manager of the whole "
            "business changes them."
        )
        raise Refused(Problem("not_allowed", message))


def _not_stale(before: Texts, as_read: str, what: str) -> None:
    if digest_of(before) != as_read:
        message = (
            f"Somebody changed {what} since you opened this page. Your figures are kept below; "
            f"press save again if they should stand."
        )
        raise Refused(Problem("stale", message))


def _named(offer: Offer) -> dict[str, str]:
    return {"supplier": offer.supplier.code, "item": offer.item.code, "sku": offer.sku}


def _store(rows: Mapping[str, list[Texts]], of: object = "") -> Book:
    """``of``: what the names of the form's fields end with."""

    def field(_sheet: str, _row: int, column: str) -> str:
        return f"{column}-{of}" if of else column

    book = checked_form(rows, field)
    if unknown := _unknown_item(book):
        raise Refused(unknown)
    store_purchasing(book)
    return book


def _unknown_item(book: Book) -> list[Problem]:
    codes = {row["item"] for row in book["supplier_items"]}
    known = set(Item.objects.filter(code__in=codes).values_list("code", flat=True))
    return [
        Problem("unknown_item", f"There is no item '{code}'. Add the item first.", "item-new")
        for code in sorted(codes - known)
    ]


def _written(
    verb: str, subject: str, changes: Changes, viewer: Viewer, by: User | None, at: datetime
) -> Changes:
    if changes:
        note(verb, subject, by=by, at=at, changes=changes, device=viewer.device)
        ask_for_fresh_drafts(at=at, why=f"{subject} changed")
    return changes
