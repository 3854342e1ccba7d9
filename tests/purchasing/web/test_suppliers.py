"""Order guides: the list, one supplier, its forms."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from purchasing.models import Offer, Price, Supplier, SupplierClosure
from tests import factories as make
from tests.purchasing.web.test_orders import press, read, sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def milk() -> Offer:
    supplier = make.supplier(code="DAIRY", name="Harbour Dairy", phone="555-1", arrives="06:30")
    offer = make.offer(supplier=supplier, item=make.item(code="MILK", name="Milk"), sku="77")
    Price.objects.create(offer=offer, price=9)
    return offer


def as_read(page: str) -> str:
    found = re.search(r'name="as_read" value="(\w+)"', page)
    assert found
    return found.group(1)


def test_every_supplier_is_listed_with_its_days(client: Client, milk: Offer) -> None:
    sign_in(client)
    page = read(client, "/suppliers/")
    assert "Harbour Dairy" in page and "1 offer" in page
    assert "orders Mon and Thu by 14:00; comes Tue and Fri about 06:30, the day after" in page


def test_a_guide_shows_prices_now_and_to_come(client: Client, milk: Offer) -> None:
    tomorrow = timezone.now().date() + timedelta(days=1)
    Price.objects.create(offer=milk, price=10, starts_on=tomorrow)
    milk.breaks.create(from_cases=5, price=8)
    make.location()
    sign_in(client)
    page = read(client, "/suppliers/DAIRY/")
    assert "9.00/case" in page and "10.00/case from" in page and "8.00 from 5 cases on" in page
    assert "next delivery" in page


def test_the_price_of_an_offer_is_changed(client: Client, milk: Offer) -> None:
    sign_in(client)
    address = f"/suppliers/DAIRY/?offer={milk.pk}"
    page = read(client, address)
    fields = dict(re.findall(rf'name="(\w+)-{milk.pk}" (?:type="date" )?value="([^"]*)"', page))
    assert (fields["pack_qty"], fields["price"]) == ("10", "9")
    typed = {f"{name}-{milk.pk}": value for name, value in fields.items()}
    typed |= {f"price-{milk.pk}": "9.5", "as_read": as_read(page), "of": str(milk.pk)}
    answer = press(client, f"/suppliers/DAIRY/offers/{milk.pk}/", **typed)
    assert answer.status_code == 302
    assert "9.50/case" in read(client, "/suppliers/DAIRY/")


def test_a_wrong_price_keeps_the_form_open(client: Client, milk: Offer) -> None:
    sign_in(client)
    page = read(client, f"/suppliers/DAIRY/?offer={milk.pk}")
    typed = {f"price-{milk.pk}": "cheap", "as_read": as_read(page), "of": str(milk.pk)}
    answer = press(client, f"/suppliers/DAIRY/offers/{milk.pk}/", **typed)
    assert answer.status_code == 422
    assert 'value="cheap"' in answer.content.decode()


def test_the_calendar_is_changed(client: Client, milk: Offer) -> None:
    sign_in(client)
    page = read(client, "/suppliers/DAIRY/?edit=1")
    typed = {
        **dict.fromkeys(("email", "phone", "account", "minimum_order", "delivery_fee"), ""),
        **{"name": "Harbour Dairy", "cutoff": "12:00", "lead_days": "2", "below_minimum": "fee"},
        **{"order_days": ["mon", "wed"], "delivery_days": ["wed", "fri"], "arrives": ""},
        **{"as_read": as_read(page), "of": "supplier"},
    }
    assert press(client, "/suppliers/DAIRY/change/", **typed).status_code == 302
    assert "orders Mon and Wed by 12:00; comes Wed and Fri, 2 days after" in read(
        client, "/suppliers/DAIRY/"
    )


def test_a_stale_calendar_is_refused_and_kept(client: Client, milk: Offer) -> None:
    sign_in(client)
    typed = {"name": "Other", "as_read": "x", "of": "supplier", "order_days": ["tue"]}
    answer = press(client, "/suppliers/DAIRY/change/", **typed)
    assert answer.status_code == 409
    assert 'value="Other"' in answer.content.decode()


def test_a_closing_day_is_noted_and_taken_back(client: Client, milk: Offer) -> None:
    sign_in(client)
    day = (timezone.now().date() + timedelta(days=30)).isoformat()
    press(client, "/suppliers/DAIRY/closed/", date=day)
    assert "open after all" in read(client, "/suppliers/DAIRY/")
    press(client, f"/suppliers/DAIRY/closed/{day}/open/")
    assert not SupplierClosure.objects.exists()


def test_an_offer_is_added_and_taken_off(client: Client, milk: Offer) -> None:
    make.item(code="CREAM", name="Cream")
    sign_in(client)
    typed = {"item-new": "CREAM", "pack_qty-new": "6", "pack_unit-new": "kg", "price-new": "20"}
    assert press(client, "/suppliers/DAIRY/offers/add/", of="new", **typed).status_code == 302
    cream = Offer.objects.get(item__code="CREAM")
    press(client, f"/suppliers/DAIRY/offers/{cream.pk}/retire/")
    cream.refresh_from_db()
    assert cream.retired_on is not None


def test_prices_are_for_those_who_may_see_them(client: Client, milk: Offer) -> None:
    sign_in(client, sees_cost=False)
    page = read(client, f"/suppliers/DAIRY/?offer={milk.pk}")
    assert "9.00" not in page and "as_read" not in page


def test_guides_are_not_for_staff(client: Client, milk: Offer) -> None:
    sign_in(client, "staff")
    assert client.get("/suppliers/").status_code == 404
    assert client.get("/suppliers/DAIRY/").status_code == 404


def test_no_such_supplier(client: Client) -> None:
    sign_in(client)
    assert client.get("/suppliers/NONE/").status_code == 404


def test_queries_do_not_grow(client: Client, count_queries: Callable[..., int]) -> None:
    sign_in(client)
    make.location()
    supplier: Supplier = make.supplier(code="MANY")
    counts = []
    for more in (3, 57):
        for _ in range(more):
            Price.objects.create(offer=make.offer(supplier=supplier), price=3)
            make.supplier()
        counts.append(
            [count_queries(client.get, address) for address in ("/suppliers/", "/suppliers/MANY/")]
        )
    assert counts[0] == counts[1]
