"""Order guides: calendars, offers, prices and closures, each wrong figure at once."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Event
from inventory.problems import NotThere, Refused
from inventory.selectors.item_facts import digest_of
from inventory.selectors.viewers import viewer_of
from purchasing.models import DueMoment, Offer, Price, Supplier, SupplierClosure
from purchasing.selectors.guide_facts import latest_price, offer_facts, supplier_facts
from purchasing.services.suppliers import (
    add_closure,
    add_offer,
    change_offer,
    change_supplier,
    remove_closure,
    retire_offer,
)
from tests import factories as make
from tests.factories import NOW, TODAY
from tests.purchasing.services.order_scenes import buyer, staff

pytestmark = pytest.mark.django_db


@pytest.fixture
def dairy() -> Supplier:
    return make.supplier(code="DAIRY", name="Harbour Dairy")


@pytest.fixture
def milk(dairy: Supplier) -> Offer:
    offer = make.offer(supplier=dairy, item=make.item(code="MILK", name="Milk"), sku="1")
    Price.objects.create(offer=offer, price=9)
    return offer


def change(supplier: Supplier, as_read: str = "", **facts: str) -> dict[str, list[str]]:
    before = supplier_facts(supplier)
    person = buyer()
    return change_supplier(
        supplier.code,
        {**before, **facts},
        as_read=as_read or digest_of(before),
        viewer=viewer_of(person),
        by=person,
        at=NOW,
    )


def change_milk(offer: Offer, as_read: str = "", **facts: str) -> dict[str, list[str]]:
    before = offer_facts(offer, latest_price(offer, TODAY))
    person = buyer()
    return change_offer(
        offer.pk,
        {**before, **facts},
        as_read=as_read or digest_of(before),
        viewer=viewer_of(person),
        by=person,
        at=NOW,
    )


def test_a_calendar_is_changed_and_the_drafts_follow(dairy: Supplier) -> None:
    changes = change(dairy, order_days="tue", cutoff="15:30", minimum_order="80")
    dairy.refresh_from_db()
    assert (dairy.order_days, f"{dairy.cutoff:%H:%M}") == ([1], "15:30")
    assert dairy.minimum_order == 80
    assert changes["order_days"] == ["mon;thu", "tue"]
    assert Event.objects.get().subject == "supplier:DAIRY"
    assert DueMoment.objects.filter(kind="change").count() == 1


def test_a_blank_takes_a_fact_away(dairy: Supplier) -> None:
    change(dairy, minimum_order="80")
    dairy.refresh_from_db()
    change(dairy, minimum_order="")
    dairy.refresh_from_db()
    assert dairy.minimum_order is None


def test_a_form_without_a_change_changes_nothing(dairy: Supplier) -> None:
    assert change(dairy) == {}
    assert not Event.objects.exists() and not DueMoment.objects.exists()


def test_everything_wrong_is_said_at_once(dairy: Supplier) -> None:
    with pytest.raises(Refused) as refused:
        change(dairy, order_days="", cutoff="25:00", email="nobody", lead_days="soon")
    fields = {problem.field for problem in refused.value.problems}
    assert {"cutoff", "email", "lead_days", "order_days"} <= fields
    dairy.refresh_from_db()
    assert dairy.order_days == [0, 3]


def test_a_stale_form_is_refused(dairy: Supplier) -> None:
    with pytest.raises(Refused, match="Somebody changed Harbour Dairy"):
        change(dairy, as_read="0" * 20, cutoff="15:30")


def test_a_new_price_holds_from_its_day_and_the_old_one_stays(milk: Offer) -> None:
    change_milk(milk, price="9.75", valid_from="2026-04-01")
    prices = {row.starts_on: row.price for row in milk.prices.all()}
    assert prices == {None: Decimal(9), date(2026, 4, 1): Decimal("9.75")}


def test_a_price_of_the_same_day_is_corrected(milk: Offer) -> None:
    change_milk(milk, price="9.10")
    assert [row.price for row in milk.prices.all()] == [Decimal("9.10")]


def test_a_pack_is_changed(milk: Offer) -> None:
    changes = change_milk(milk, pack_qty="12", minimum_cases="2", rank="3")
    milk.refresh_from_db()
    assert (milk.pack_qty, milk.minimum_cases, milk.rank) == (Decimal(12), 2, 3)
    assert changes["pack_qty"] == ["10", "12"]


def test_wrong_figures_of_an_offer_are_named_at_its_fields(milk: Offer) -> None:
    with pytest.raises(Refused) as refused:
        change_milk(milk, pack_qty="0", price="cheap")
    assert {one.field for one in refused.value.problems} == {
        f"pack_qty-{milk.pk}",
        f"price-{milk.pk}",
    }


def test_an_offer_is_added(dairy: Supplier) -> None:
    make.item(code="CREAM")
    person = buyer()
    facts = {"item": "CREAM", "sku": "7", "pack_qty": "6", "pack_unit": "kg", "price": "20"}
    made = add_offer("DAIRY", facts, viewer=viewer_of(person), by=person, at=NOW)
    assert (made.item.code, made.pack_qty, made.rank) == ("CREAM", Decimal(6), 1)
    with pytest.raises(Refused, match="sells CREAM 7 already"):
        add_offer("DAIRY", facts, viewer=viewer_of(person), by=person, at=NOW)


def test_an_offer_of_no_item_is_refused(dairy: Supplier) -> None:
    person = buyer()
    facts = {"item": "NONE", "pack_qty": "6", "pack_unit": "kg", "price": "20"}
    with pytest.raises(Refused):
        add_offer("DAIRY", facts, viewer=viewer_of(person), by=person, at=NOW)
    assert not Offer.objects.exists()


def test_what_is_taken_off_the_guide_stays_readable(milk: Offer) -> None:
    person = buyer()
    retire_offer(milk.pk, viewer=viewer_of(person), by=person, at=NOW)
    milk.refresh_from_db()
    assert milk.retired_on == TODAY


def test_a_closing_day_comes_and_goes(dairy: Supplier) -> None:
    person = buyer()
    viewer = viewer_of(person)
    add_closure("DAIRY", "2026-12-25", viewer=viewer, by=person, at=NOW)
    assert SupplierClosure.objects.get().date == date(2026, 12, 25)
    remove_closure("DAIRY", date(2026, 12, 25), viewer=viewer, by=person, at=NOW)
    assert not SupplierClosure.objects.exists()
    with pytest.raises(NotThere):
        remove_closure("DAIRY", date(2026, 12, 25), viewer=viewer, by=person, at=NOW)


def test_a_closing_day_is_a_day(dairy: Supplier) -> None:
    person = buyer()
    with pytest.raises(Refused) as refused:
        add_closure("DAIRY", "Christmas", viewer=viewer_of(person), by=person, at=NOW)
    assert refused.value.problems[0].field == "date"


def test_guides_are_for_buyers_of_the_whole_business(milk: Offer) -> None:
    for person in (staff(), buyer(make.location())):
        with pytest.raises(Refused, match="shared by every location"):
            retire_offer(milk.pk, viewer=viewer_of(person), by=person, at=NOW)
