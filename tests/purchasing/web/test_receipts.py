"""After a delivery: put away, photographs, taking it back; bought at the counter; labels."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.engine.gs1 import parse_scan
from inventory.models import AllergenWord, Location, Lot, OnHand, StorageArea
from purchasing.models import Offer, PurchaseOrder, Receipt, ReceiptPhoto
from tests import factories as make
from tests.inventory.engine.test_pictures import photo
from tests.purchasing.services.dock_scenes import chilled, dry
from tests.purchasing.web.dock_rows import coming, filled, now, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _media(settings: object, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]


@pytest.fixture
def place(db: None) -> Location:
    made = make.location(name="Mill Lane")
    StorageArea.objects.create(location=made, code="W", name="Walk-in", kind="chilled")
    return made


def taken_in(client: Client, order: PurchaseOrder, **more: str) -> str:
    answer = client.post(f"/deliveries/{order.number}/", filled(order, **more))
    assert answer.status_code == 302
    return answer["Location"]


def test_it_says_where_to_put_it_and_what_comes_to_the_front(
    client: Client, place: Location
) -> None:
    milk = chilled(name="Milk", shelf_life_days=9)
    old = make.lot(100, at=place, of=milk, use_by=now().date() + timedelta(days=2))
    signed_in(client)
    text = client.get(taken_in(client, coming(milk, place=place))).content.decode()
    new = Lot.objects.get(receipt_line__isnull=False)
    assert f"{new.strip}" in text and "to Walk-in" in text and "50 kg" in text
    assert f"behind {old.strip}: that one comes to the front" in text
    assert f"/labels/?lots={new.strip}&amp;print=1" in text


def test_one_that_ends_first_goes_in_front(client: Client, place: Location) -> None:
    milk = chilled(shelf_life_days=2)
    make.lot(100, at=place, of=milk, use_by=now().date() + timedelta(days=9))
    signed_in(client)
    text = client.get(taken_in(client, coming(milk, place=place))).content.decode()
    assert "in front: it ends before what is there" in text


def test_it_says_what_was_different(client: Client, place: Location) -> None:
    order = coming(dry(name="Oats"), place=place)
    signed_in(client)
    pk = order.lines.get().pk
    told = {f"l{pk}-how": "reject", f"l{pk}-reason": "crushed", f"l{pk}-rejected": "2"}
    text = client.get(taken_in(client, order, **told)).content.decode()
    assert "2 sent back (crushed)" in text


def test_a_duty_and_an_override_are_shown(client: Client, place: Location) -> None:
    milk, beef = chilled(name="Milk"), chilled(name="Beef")
    order = coming(milk, beef, place=place)
    signed_in(client, role="manager")
    line = order.lines.get(item=milk)
    told = {"g-chilled-temp": "44", f"l{line.pk}-judged": "other_law", "override": "iced at once"}
    text = client.get(taken_in(client, order, **told)).content.decode()
    assert "Milk came at 44 °F: bring it to 41 °F or below within 4 hours" in text
    assert re.search(r"Beef: accepted on the word of \w+: iced at once", text)


def test_the_receipt_is_taken_back(client: Client, place: Location) -> None:
    order = coming(dry(), place=place)
    signed_in(client)
    path = taken_in(client, order)
    assert client.post(f"{path}undo/", {"key": "u", "why": ""}).status_code == 422
    answer = client.post(f"{path}undo/", {"key": "u", "why": "wrong order"})
    assert answer["Location"] == f"/deliveries/{order.number}/"
    assert OnHand.objects.get().qty == 0
    assert "wrong order" in client.get(path).content.decode()


def test_a_photograph_is_kept_and_served_as_a_picture(client: Client, place: Location) -> None:
    order = coming(dry(), place=place)
    signed_in(client)
    file = SimpleUploadedFile("page.html", photo(), "text/html")
    answer = client.post(f"/deliveries/{order.number}/", {**filled(order), "photo": file})
    kept = ReceiptPhoto.objects.get()
    assert f"/receipts/photos/{kept.pk}/" in client.get(answer["Location"]).content.decode()
    picture = client.get(f"/receipts/photos/{kept.pk}/")
    assert picture["Content-Type"] == "image/jpeg"
    assert picture["X-Content-Type-Options"] == "nosniff"
    assert not list(Path(kept.picture.path).parent.glob("*.html"))


def test_a_photograph_is_added_later(client: Client, place: Location) -> None:
    signed_in(client)
    path = taken_in(client, coming(dry(), place=place))
    wrong = {"key": "a", "photo": SimpleUploadedFile("x.jpg", b"<html>")}
    assert client.post(f"{path}photos/", wrong).status_code == 422
    right = {"key": "b", "photo": SimpleUploadedFile("x.jpg", photo())}
    assert client.post(f"{path}photos/", right)["Location"] == path
    assert ReceiptPhoto.objects.count() == 1


def test_strangers_see_neither_receipt_nor_photograph(client: Client, place: Location) -> None:
    signed_in(client)
    file = SimpleUploadedFile("x.jpg", photo())
    order = coming(dry(), place=place)
    client.post(f"/deliveries/{order.number}/", {**filled(order), "photo": file})
    signed_in(client, make.location())
    kept = ReceiptPhoto.objects.get()
    pages = [f"/receipts/{kept.receipt_id}/", f"/receipts/photos/{kept.pk}/"]
    assert [client.get(page).status_code for page in pages] == [404, 404]


def test_queries_of_a_receipt_do_not_grow(
    client: Client, place: Location, count_queries: Callable[..., int]
) -> None:
    signed_in(client)
    few = taken_in(client, coming(*[dry() for _ in range(3)], place=place))
    client.get(few)
    counted = count_queries(client.get, few)
    many = taken_in(client, coming(*[dry() for _ in range(60)], place=place))
    client.get(many)
    assert count_queries(client.get, many) == counted


# Bought at the counter


def test_a_shop_receipt_becomes_lots(client: Client, place: Location) -> None:
    dry(code="OATS", name="Oats")
    signed_in(client)
    assert "Bought at the counter" in client.get("/bought/").content.decode()
    values = {
        "key": "k",
        "shop": "Corner shop",
        "place": place.code,
        "b1-item": "oats",
        "b1-qty": "2,5",
        "b1-unit": "kg",
        "b1-price": "4.20",
    }
    answer = client.post("/bought/", values)
    assert answer["Location"] == f"/receipts/{Receipt.objects.get().pk}/"
    assert OnHand.objects.get().qty == 2500


def test_what_was_typed_of_a_shop_receipt_stays(client: Client, place: Location) -> None:
    signed_in(client)
    values = {"key": "k", "place": "NOWHERE", "b1-item": "moon rock", "b2-qty": "3"}
    page = client.post("/bought/", values)
    assert page.status_code == 422
    assert {problem.field for problem in page.context["problems"]} == {
        "place",
        "b1-item",
        "b2-item",
        "shop",
    }
    assert 'value="moon rock"' in page.content.decode()


def test_a_shop_receipt_is_told_all_that_is_wrong_at_once(client: Client, place: Location) -> None:
    dry(name="Oats")
    dry(name="Rice")
    signed_in(client)
    values = {
        "key": "k",
        "b1-item": "Oats",
        "b1-qty": "two",
        "b1-unit": "kg",
        "b2-item": "Rice",
        "b2-unit": "kg",
        "b3-item": "moon rock",
    }
    page = client.post("/bought/", values)
    assert {one.field: one.message for one in page.context["problems"]} == {
        "place": "Choose where the goods are.",
        "b1-qty": "Oats, how much: 'two' is not a figure.",
        "b3-item": "Row 3: there is no item 'moon rock'. Choose one of the list.",
        "shop": "Type the shop and where it is.",
        "b2-qty": "Rice: type how much.",
    }


def test_a_truck_lead_buys_nothing(client: Client, place: Location) -> None:
    signed_in(client, role="truck_lead")
    assert client.get("/bought/").status_code == 404


# Labels


def codes(page: str) -> list[zxingcpp.Barcode]:
    """What a reader makes of the codes as they are drawn on the page."""
    found = []
    for side, path in re.findall(r'viewBox="0 0 (\d+) \d+".*?<path d="([^"]+)"', page, re.DOTALL):
        pixels = np.full((int(side), int(side)), 255, np.uint8)
        for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)", path):
            pixels[int(y), int(x) : int(x) + int(width)] = 0
        found += zxingcpp.read_barcodes(np.kron(pixels, np.ones((4, 4), np.uint8)))
    return found


def test_a_label_of_a_case_with_a_gtin_is_read_back(client: Client, place: Location) -> None:
    milk = chilled(name="Milk")
    AllergenWord.objects.create(item=milk, allergen="milk", says="contains")
    order = coming(milk, place=place)
    Offer.objects.filter(order_lines__order=order).update(gtin="0614141123452")
    signed_in(client)
    taken_in(client, order)
    lot = Lot.objects.get()
    page = client.get("/labels/", {"lots": lot.strip}).content.decode()
    (code,) = codes(page)
    scan = parse_scan(code.bytes.decode(), today=now().date())
    assert code.symbology_identifier == "]d2"
    assert (scan.gtin, scan.lot, scan.use_by) == ("00614141123452", lot.strip, lot.use_by)
    assert "contains milk" in page and "use by" in page and "received" in page


def test_a_label_without_a_gtin_holds_the_address_of_the_lot(
    client: Client, place: Location
) -> None:
    lot = make.lot(5, at=place)
    signed_in(client)
    (code,) = codes(client.get("/labels/", {"lots": lot.strip}).content.decode())
    assert code.text == f"http://testserver/lots/{lot.strip}/"


def test_what_nobody_stated_is_not_free(client: Client, place: Location) -> None:
    lot = make.lot(5, at=place)
    signed_in(client)
    page = client.get("/labels/", {"lots": lot.strip}).content.decode()
    assert "allergens not stated: ask before serving" in page


@pytest.mark.parametrize("size", ["62x29", "50x30", "100x50"])
def test_each_tape_has_its_style_sheet(client: Client, place: Location, size: str) -> None:
    lot = make.lot(5, at=place)
    signed_in(client)
    page = client.get("/labels/", {"lots": f"{lot.strip},{lot.strip}", "size": size, "copies": "2"})
    assert f"purchasing/label-{size}.css" in page.content.decode()
    assert page.content.decode().count('class="tape"') == 2


@pytest.mark.parametrize("typed", ["two", "0", "-1", "21", "1.5", "", "\u0663", "9" * 5000])
def test_a_number_of_copies_that_is_none_is_said_and_kept(
    client: Client, place: Location, typed: str
) -> None:
    lot = make.lot(5, at=place)
    signed_in(client)
    page = client.get("/labels/", {"lots": lot.strip, "copies": typed, "print": "1"})
    text = page.content.decode()
    assert page.status_code == 422
    assert f"Copies: &#x27;{typed}&#x27; is not a number of copies; type a whole figure" in text
    assert f'name="copies" value="{typed}"' in text and 'aria-describedby="problem-copies"' in text
    assert text.count('class="tape"') == 1 and 'data-now="no"' in text


def test_a_lot_nobody_knows_is_said(client: Client, place: Location) -> None:
    lot = make.lot(5, at=make.location())
    signed_in(client, place)
    page = client.get("/labels/", {"lots": f"{lot.strip},ZZZZZ"}).content.decode()
    assert f"No lot has the strip number {lot.strip}, ZZZZZ." in page


def test_queries_of_labels_do_not_grow(
    client: Client, place: Location, count_queries: Callable[..., int]
) -> None:
    signed_in(client)
    strips = [make.lot(1, at=place).strip for _ in range(60)]
    client.get("/labels/", {"lots": strips[0]})
    few = count_queries(client.get, "/labels/", {"lots": ",".join(strips[:3])})
    assert count_queries(client.get, "/labels/", {"lots": ",".join(strips)}) == few
