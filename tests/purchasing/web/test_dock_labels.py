"""Case labels read into the form of a delivery: scanned, typed, photographed, kept for later."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.models import Lot
from purchasing.models import OrderLine, Receipt
from tests.inventory.engine.test_pictures import photo
from tests.purchasing.web.dock_rows import (
    BEEF_GTIN,
    LABEL,
    LAST,
    address,
    filled,
    name,
    weighed,
)

pytestmark = pytest.mark.django_db


def test_a_label_fills_in_its_line_without_script(client: Client) -> None:
    order = weighed(client)
    values = filled(order, scan=LABEL)
    page = client.post(f"{address(order)}read/", values)
    text = page.content.decode()
    assert page.status_code == 200
    assert f"Beef chuck: lot L2606A, last day {LAST}, 41.25 lb" in text
    assert 'value="L2606A"' in text and 'value="41.25"' in text
    assert not Receipt.objects.exists()


def test_weights_of_labels_add_up(client: Client) -> None:
    order = weighed(client)
    values = filled(order, scan=LABEL, **{name(order, "weights"): "38.5"})
    page = client.post(f"{address(order)}read/", values)
    assert 'value="38.5 41.25"' in page.content.decode()


def test_a_script_gets_the_label_as_json(client: Client) -> None:
    order = weighed(client)
    answer = client.post(
        f"{address(order)}read/", {"scan": LABEL}, headers={"accept": "application/json"}
    )
    label = answer.json()
    assert label["line"] == OrderLine.objects.get(order=order).pk
    assert label["fill"] == {"lot": "L2606A", "printed": str(LAST)}
    assert (label["weight"], label["problems"]) == ("41.25", [])


def test_a_photograph_of_a_label_is_read(client: Client) -> None:
    from PIL import Image

    from inventory.engine.data_matrix import data_matrix

    order = weighed(client)
    matrix = data_matrix(f"(01){BEEF_GTIN}(3202)004125(10)L7")
    picture = Image.new("L", (matrix.side, matrix.side), 255)
    for y, row in enumerate(matrix.rows):
        for x, dark in enumerate(row):
            picture.putpixel((x + 2, y + 2), 0 if dark else 255)
    out = BytesIO()
    picture.resize((600, 600), Image.Resampling.NEAREST).save(out, "JPEG")
    file = SimpleUploadedFile("label.jpg", out.getvalue(), "image/jpeg")
    answer = client.post(
        f"{address(order)}read/", {"label_photo": file}, headers={"accept": "application/json"}
    )
    assert answer.json()["fill"] == {"lot": "L7"}
    assert answer.json()["weight"] == "41.25"


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"scan": "HELLO"}, "cannot be read as GS1"),
        ({"scan": "0110614141000736" + "10L1"}, "No line of this delivery"),
        ({}, "Scan a label"),
        ({"label_photo": SimpleUploadedFile("x.jpg", b"x")}, "no photograph"),
    ],
    ids=["no label", "not of this delivery", "nothing", "no picture"],
)
def test_a_label_that_helps_nobody_says_what_to_do(
    client: Client, values: dict[str, str], says: str
) -> None:
    order = weighed(client)
    page = client.post(f"{address(order)}read/", values)
    assert page.status_code == 422
    assert says in page.content.decode()


def test_a_photograph_without_a_code_says_so(client: Client) -> None:
    order = weighed(client)
    file = SimpleUploadedFile("x.jpg", photo())
    page = client.post(f"{address(order)}read/", {"label_photo": file})
    assert "No code is seen" in page.content.decode()


def test_a_trap_is_looked_at_before_the_delivery_is_in(client: Client) -> None:
    """GL-08: a lost separator."""
    order = weighed(client)
    text = f"01{BEEF_GTIN}10L2606A3202004125"
    values = filled(order, **{name(order, "scan"): text, name(order, "weights"): "41 40"})
    page = client.post(address(order), values)
    assert page.status_code == 422
    assert "the scanner lost the sign between them" in page.content.decode()
    assert 'name="seen"' in page.content.decode()
    values[name(order, "lot")] = "L2606A"
    assert client.post(address(order), {**values, "seen": "yes"}).status_code == 302
    assert Lot.objects.get().supplier_lot == "L2606A"


def test_labels_scanned_without_signal_are_read_when_they_are_sent(client: Client) -> None:
    order = weighed(client)
    texts = "\n".join([LABEL, LABEL.replace("004125", "003850")])
    client.post(address(order), filled(order, **{name(order, "scan"): texts}))
    lot = Lot.objects.get()
    assert lot.supplier_lot == "L2606A"
    assert lot.on_hand.get().qty == Decimal("36173.9915075")
