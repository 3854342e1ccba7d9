"""Order guides: a supplier's terms and calendar, its offers, prices from a day on. As a whole:
what is left out is blank afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any, ClassVar

from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Day, Figure, Flag, Hour, Whole, Words
from inventory.exchange.grammar import WEEKDAYS
from inventory.selectors.business import business
from inventory.selectors.item_facts import as_word, digest_of
from inventory.selectors.seen import only
from purchasing.api.rows import OfferRow, SupplierRow
from purchasing.models import Offer, Supplier
from purchasing.selectors import seen
from purchasing.selectors.guide_facts import latest_price, offer_facts, supplier_facts
from purchasing.services import suppliers

Body = Mapping[str, Any]


class Weekdays(serializers.ListField):
    """Monday = 0."""

    def __init__(self, **options: Any) -> None:
        super().__init__(child=Whole(most=6), allow_empty=False, max_length=7, **options)


class GuideRow(SupplierRow):
    version = serializers.SerializerMethodField(help_text="Also the ETag.")

    def get_version(self, supplier: Supplier) -> str:
        return digest_of(supplier_facts(supplier))


class OneSupplier(base.Seen):
    """One supplier and its calendar, with the version that a change names."""

    operation, tag = "supplier", "suppliers"
    row_class = GuideRow
    has_version = True

    def seen(self, code: str) -> Supplier:
        return only(seen.suppliers(self.viewer), code=code)


class VersionedOfferRow(OfferRow):
    version = serializers.SerializerMethodField(help_text="For `If-Match` of a change.")

    def get_version(self, offer: Offer) -> str:
        today = business().day_of(self.context["view"].now())
        return digest_of(offer_facts(offer, latest_price(offer, today)))


class PacksRow(serializers.Serializer[Any]):
    offers = VersionedOfferRow(many=True)


class Packs(base.Seen):
    """The packs in which a supplier sells an item, each with its version."""

    operation, tag = "offers_of_item", "suppliers"
    row_class = PacksRow

    def seen(self, code: str, item: str) -> dict[str, Any]:
        rows = seen.offers(self.viewer).filter(supplier__code=code, item__code=item)
        only(rows)
        return {"offers": rows.order_by("pk")}


class SupplierBody(serializers.Serializer[Any]):
    name = Words(120)
    email = serializers.EmailField(required=False)
    phone = Words(40, required=False)
    account = Words(40, required=False)
    order_days = Weekdays()
    cutoff = Hour()
    lead_days = Whole(most=365)
    delivery_days = Weekdays()
    arrives = Hour(required=False)
    minimum_order = Figure(digits=6, places=2, required=False)
    below_minimum = serializers.ChoiceField(Supplier.BelowMinimum.choices, required=False)
    delivery_fee = Figure(digits=6, places=2, required=False)


class ChangeSupplier(base.Doing):
    """Name, addresses, calendar, minimum and fee."""

    operation, tag = "supplier_change", "suppliers"
    needs_version = has_version = True
    body_class, answer_class = SupplierBody, GuideRow

    def done(self, body: Body, code: str) -> Supplier:
        suppliers.change_supplier(
            code,
            _texts(body),
            as_read=self.version,
            viewer=self.viewer,
            by=self.user,
            at=self.at,
        )
        return only(seen.suppliers(self.viewer), code=code)


class ClosureBody(serializers.Serializer[Any]):
    date = Day()


class _ClosureAct(base.Doing):
    tag = "suppliers"
    body_class, answer_class = ClosureBody, SupplierRow

    def supplier(self, code: str) -> Supplier:
        return only(seen.suppliers(self.viewer), code=code)


class Close(_ClosureAct):
    """A day without orders and deliveries."""

    operation = "supplier_close"

    def done(self, body: Body, code: str) -> Supplier:
        day = body["date"].isoformat()
        suppliers.add_closure(code, day, viewer=self.viewer, by=self.user, at=self.at)
        return self.supplier(code)


class Open(_ClosureAct):
    """They are there after all."""

    operation = "supplier_open"

    def done(self, body: Body, code: str) -> Supplier:
        suppliers.remove_closure(code, body["date"], viewer=self.viewer, by=self.user, at=self.at)
        return self.supplier(code)


class OfferName(serializers.Serializer[Any]):
    item = Words(40, code=f"^{CODE}$")
    sku = Words(40, allow_blank=True, required=False)


class OfferBody(OfferName):
    pack_qty = Figure(above_zero=True, digits=6, places=6)
    pack_unit = Words(20)
    price = Figure(digits=6, places=6)
    priced_per = Words(20, required=False, help_text="case (left out) or a unit of weight.")
    valid_from = Day(required=False, help_text="From which day the price holds.")
    pack_text = Words(80, required=False)
    gtin = Words(14, code="^[0-9]{8,14}$", required=False)
    piece_price = Figure(digits=6, places=6, required=False)
    pieces_per_case = Whole(least=1, required=False)
    minimum_cases = Whole(least=1, required=False)
    case_multiple = Whole(least=1, required=False)
    rank = Whole(least=1, required=False, help_text="1 (left out): first choice.")
    catch_weight = Flag(required=False)
    nominal_qty = Figure(above_zero=True, digits=6, places=6, required=False)


class _OfferAct(base.Doing):
    tag = "suppliers"
    has_version = True
    body_class: ClassVar[type[serializers.Serializer[Any]]] = OfferBody
    answer_class = VersionedOfferRow

    def offer(self, code: str, body: Body) -> Offer:
        rows = seen.offers(self.viewer).filter(supplier__code=code)
        return only(rows, item__code=body["item"], sku=body.get("sku", ""))

    def field(self, name: str) -> str:
        return name.rpartition("-")[0] or name


class AddOffer(_OfferAct):
    """Another pack, or another item of this supplier."""

    operation = "offer_add"
    status = 201

    def done(self, body: Body, code: str) -> Offer:
        suppliers.add_offer(code, _texts(body), viewer=self.viewer, by=self.user, at=self.at)
        return self.offer(code, body)


class ChangeOffer(_OfferAct):
    """Pack, steps, rank and price; a price from a new day stands beside the others."""

    operation = "offer_change"
    needs_version = True

    def done(self, body: Body, code: str) -> Offer:
        suppliers.change_offer(
            self.offer(code, body).pk,
            _texts({name: value for name, value in body.items() if name not in ("item", "sku")}),
            as_read=self.version,
            viewer=self.viewer,
            by=self.user,
            at=self.at,
        )
        return self.offer(code, body)


class RetireOffer(_OfferAct):
    """Not sold any more."""

    operation = "offer_retire"
    body_class = OfferName

    def done(self, body: Body, code: str) -> Offer:
        offer = self.offer(code, body)
        suppliers.retire_offer(offer.pk, viewer=self.viewer, by=self.user, at=self.at)
        return self.offer(code, body)


def _texts(body: Body) -> dict[str, str]:
    """As the workbook's columns have it."""
    return {name: _text(value) for name, value in body.items()}


def _text(value: date | time | list[int] | object) -> str:
    if isinstance(value, list):
        return ";".join(WEEKDAYS[day] for day in dict.fromkeys(value))
    return as_word(value)
