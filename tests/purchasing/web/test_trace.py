"""The trace as a page, and its records as a sheet."""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.test import Client
from openpyxl import load_workbook

from inventory.models import Hold
from tests import factories as make
from tests.purchasing.selectors.traced_kitchen import POUND, Kitchen, batch, kitchen
from tests.purchasing.web.shelf import post, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> Kitchen:
    return kitchen()


@pytest.fixture
def manager() -> Client:
    return signed_in(make.member("manager"))


def page(client: Client, strip: str) -> str:
    response = client.get(f"/lots/{strip}/trace/")
    assert response.status_code == 200
    return " ".join(text_of(response).split())


def test_back_and_forward_with_quantities_that_add_up(house: Kitchen, manager: Client) -> None:
    text = page(manager, house.tomatoes[0].strip)
    for said in (
        "lot code T-77",
        "Came from Ferry Road Produce on Wed 4 Mar at 06:00 to Mill Lane",
        "used in batches",
        "accounted for: it adds up",
        "What was made of it",
        f"10 lb of {house.tomatoes[0].strip} went into it on Wed 4 Mar.",
        "sold or served: 4 lb, Pier truck, Wed 4 Mar, Harbour",
        "Who has some of it",
        "Pier truck",
    ):
        assert said in text
    assert "Local code and the licensed person in charge decide" in text


def test_what_went_into_a_made_lot(house: Kitchen, manager: Client) -> None:
    text = page(manager, house.relish.strip)
    assert "5 lb of it went in." in text
    assert "Lot code P-9." in text
    assert f'href="/lots/{house.parsley.strip}/trace/"' in text


def test_hold_everywhere_is_one_press(house: Kitchen, manager: Client) -> None:
    strip = house.tomatoes[0].strip
    assert "hold everywhere" in page(manager, strip)
    post(manager, f"/lots/{strip}/hold/", reason="recall", at="")
    hold = Hold.objects.get()
    assert (hold.lot.strip, hold.location, hold.reason) == (strip, None, "recall")
    assert "It is on hold everywhere." in page(manager, strip)


def test_somebody_of_one_place_may_hold_it_there(house: Kitchen) -> None:
    client = signed_in(make.member("truck_lead", house.truck))
    text = page(client, house.relish.strip)
    assert "hold it at Pier truck" in text
    assert "Records of listed foods" not in text


def sheet(client: Client, address: str) -> list[dict[str, str]]:
    response: Any = client.get(address)
    assert response.status_code == 200
    assert response.streaming
    assert response.headers["Content-Disposition"].startswith("attachment")
    text = b"".join(response.streaming_content).decode().removeprefix("\ufeff")
    return list(csv.DictReader(StringIO(text)))


def test_the_records_along_the_way_as_a_sheet(house: Kitchen, manager: Client) -> None:
    rows = sheet(manager, f"/lots/{house.parsley.strip}/trace/records.csv")
    found = [row["event"] for row in rows]
    assert found == ["receiving", "shipping", "receiving", "transformation"]
    assert rows[-1]["went_in"].endswith("P-9: 1 lb Parsley")


def test_the_same_sheet_for_a_spreadsheet_program(house: Kitchen, manager: Client) -> None:
    response: Any = manager.get(f"/lots/{house.relish.strip}/trace/records.xlsx")
    book = load_workbook(BytesIO(b"".join(response.streaming_content)))
    assert [row[0].value for row in book["trace"].iter_rows(min_row=2)] == [
        *["receiving"] * 3,
        *["shipping", "receiving"],
        "transformation",
    ]


def test_records_by_code_and_by_days(house: Kitchen, manager: Client) -> None:
    by_code = sheet(manager, "/trace-records.csv?code=T-78")
    assert {row["traceability_lot_code"] for row in by_code} == {"T-78", house.relish.strip}
    by_days = sheet(manager, "/trace-records.csv?from=2026-03-04&to=2026-03-04")
    assert len(by_days) == 6
    assert sheet(manager, "/trace-records.csv?code=NONE") == []


@pytest.mark.parametrize("query", ["", "?from=2026-03-04", "?from=soon&to=later"])
def test_records_of_what_is_asked_for(query: str, manager: Client) -> None:
    response = manager.get(f"/trace-records.csv{query}")
    assert response.status_code == 422
    assert "Name a lot code, or the first and the last day" in text_of(response)


def test_all_records_are_for_people_who_read_the_log(house: Kitchen) -> None:
    for client in (
        signed_in(make.member("staff")),
        signed_in(make.member("manager", house.commissary)),
    ):
        assert client.get("/trace-records.csv?code=T-77").status_code == 404


def test_queries_do_not_grow_with_what_was_made_of_it(
    house: Kitchen, manager: Client, count_queries: Callable[..., int]
) -> None:
    lot = house.tomatoes[0]
    page(manager, lot.strip)
    few = count_queries(page, manager, lot.strip)
    for _ in range(20):
        batch(make.item(kind="prep"), house.commissary, {lot: POUND / 20}, POUND)
    assert count_queries(page, manager, lot.strip) == few
