"""TR-01 to TR-09 of food-standards.md section 2 on real lots, and the sheet they stand in."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from inventory.engine.traceability import Event, Fact, Input, Kind, missing
from inventory.exchange.files import write_book
from inventory.models import Item, Lot
from inventory.services.lots import Change, Part, split_lot
from purchasing.exchange.trace_sheet import HEADER, csv_lines, trace_table
from purchasing.models import Receipt, ReceiptLine
from purchasing.selectors.trace_records import (
    Record,
    lots_by_code,
    records_between,
    records_of,
)
from tests import factories as make
from tests.factories import NOW, TODAY
from tests.purchasing.selectors.traced_kitchen import (
    POUND,
    Kitchen,
    batch,
    delivered,
    kitchen,
    sent,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def house() -> Kitchen:
    return kitchen()


def events(*lots: Lot) -> list[Event]:
    return [event for event, _ in records_of([lot.pk for lot in lots])]


def of_kind(kind: Kind, *lots: Lot) -> list[Event]:
    return [event for event in events(*lots) if event.kind is kind]


def test_a_whole_receipt_has_all_eight_facts(house: Kitchen) -> None:
    (received,) = of_kind(Kind.RECEIVING, house.tomatoes[0])
    assert received.is_complete
    assert (received.code, received.qty, received.unit) == ("T-77", Decimal(12), "lb")
    assert received.other_party == "Ferry Road Produce, 555 0100"
    assert (received.reference_kind, received.reference) == ("delivery note", "DN-1")


def test_tr_01_without_a_document_number_it_is_incomplete(house: Kitchen) -> None:
    Receipt.objects.filter(document="DN-1").update(document="")
    (received,) = of_kind(Kind.RECEIVING, house.tomatoes[0])
    assert missing(received) == (Fact.REFERENCE,)


def test_tr_02_beef_without_a_code_is_complete(house: Kitchen) -> None:
    beef = make.item(name="Beef, boneless", unit="lb")
    lot = delivered(beef, house.commissary, 40, "", supplier=house.supplier, document="")
    assert of_kind(Kind.RECEIVING, lot)[0].is_complete


def test_tr_03_one_new_code_linked_to_three_lots_with_quantities(house: Kitchen) -> None:
    (made,) = of_kind(Kind.TRANSFORMATION, house.relish)
    assert (made.code, made.qty) == (house.relish.strip, Decimal(15))
    assert made.inputs == (
        Input("T-77", "Tomatoes", Decimal(10), "lb"),
        Input("T-78", "Tomatoes", Decimal(5), "lb"),
        Input("P-9", "Parsley", Decimal(1), "lb"),
    )
    assert made.is_complete


def test_tr_04_a_case_that_goes_on_unopened_keeps_its_code(house: Kitchen) -> None:
    sent(house.tomatoes[0], house.commissary, house.truck, POUND, POUND)
    (shipped,) = of_kind(Kind.SHIPPING, house.tomatoes[0])
    assert (shipped.code, shipped.code_source) == ("T-77", "Ferry Road Produce")
    assert (shipped.own_place, shipped.other_party) == ("Mill Lane", "Pier truck")
    assert shipped.is_complete
    arrived = of_kind(Kind.RECEIVING, house.tomatoes[0])[-1]
    assert (arrived.code, arrived.other_party) == ("T-77", "Mill Lane")


def test_a_part_keeps_the_code_of_the_lot_it_came_from(house: Kitchen) -> None:
    place = house.commissary
    for whole, code in ((house.tomatoes[0], "T-77"), (house.relish, house.relish.strip)):
        opened = Part(whole, place, POUND, Change.PORTION)
        part = split_lot(opened, happened_at=NOW, by=None, at=NOW)
        sent(part, place, house.truck, POUND, POUND)
        (shipped,) = of_kind(Kind.SHIPPING, part)
        assert (shipped.code, shipped.is_complete) == (code, True)


def test_tr_05_roasted_peppers_need_no_code_but_what_came_is_kept(house: Kitchen) -> None:
    pepper = make.item(name="Peppers", unit="lb", traceability_listed=True)
    lot = delivered(pepper, house.commissary, 5, "PE-1", supplier=house.supplier, document="D")
    roasted = make.item(name="Peppers, fire-roasted", kind="prep", unit="lb")
    made = batch(roasted, house.commissary, {lot: 5 * POUND}, 4 * POUND)
    sent(made, house.commissary, house.truck, POUND, POUND)
    assert of_kind(Kind.RECEIVING, lot)[0].is_complete
    (shipped,) = of_kind(Kind.SHIPPING, made)
    assert shipped.is_complete and not shipped.listed
    (roasting,) = of_kind(Kind.TRANSFORMATION, made)
    assert (roasting.code, roasting.is_complete) == ("", True)


def test_tr_09_bought_at_a_shop_needs_no_code(house: Kitchen) -> None:
    parsley = make.item(name="Parsley", unit="lb", traceability_listed=True)
    lot = make.lot(POUND, at=house.commissary, of=parsley)
    receipt = Receipt.objects.create(
        bought_from="Corner shop, 4 Pier Road",
        location=house.commissary,
        happened_at=NOW,
        recorded_at=NOW,
    )
    ReceiptLine.objects.create(receipt=receipt, item=parsley, lot=lot, expected=1, accepted=1)
    (received,) = of_kind(Kind.RECEIVING, lot)
    assert received.is_complete
    assert received.other_party == "Corner shop, 4 Pier Road"


def test_what_was_there_when_the_books_were_opened_says_what_is_not_known(house: Kitchen) -> None:
    lot = make.lot(of=house.parsley.item, origin="opening", supplier_lot="P-1")
    (received,) = of_kind(Kind.RECEIVING, lot)
    assert Fact.OTHER_PARTY in missing(received) and Fact.REFERENCE in missing(received)


def test_a_receipt_that_was_undone_is_no_record(house: Kitchen) -> None:
    Receipt.objects.filter(document="DN-1").update(undone_at=NOW, undone_why="wrong delivery")
    assert of_kind(Kind.RECEIVING, house.tomatoes[0]) == []


def rows(records: Iterator[Record]) -> list[dict[str, str]]:
    text = "".join(csv_lines(records)).removeprefix("\ufeff")
    return list(csv.DictReader(StringIO(text)))


def test_tr_08_a_row_an_event_and_a_column_a_fact_by_code(house: Kitchen) -> None:
    ids = list(lots_by_code("T-77").values_list("pk", flat=True))
    found = rows(records_of(ids))
    assert [row["event"] for row in found] == ["receiving", "transformation"]
    assert found[0]["traceability_lot_code"] == "T-77"
    assert found[1]["went_in"] == ("T-77: 10 lb Tomatoes; T-78: 5 lb Tomatoes; P-9: 1 lb Parsley")
    assert found[0]["keep_until"] == "2028-03-04"


def test_tr_08_listed_foods_between_two_days(house: Kitchen) -> None:
    beef = make.item(name="Beef", unit="lb")
    delivered(beef, house.commissary, 40, "B", supplier=house.supplier, document="D")
    found = rows(records_between(TODAY, TODAY))
    assert [row["event"] for row in found] == [
        *["receiving"] * 3,
        "shipping",
        "receiving",
        "transformation",
    ]
    assert "Beef" not in {row["product"] for row in found}
    assert rows(records_between(TODAY + DAY, TODAY + 7 * DAY)) == []


def test_the_sheet_opens_in_a_spreadsheet_with_figures_as_numbers(
    house: Kitchen, tmp_path: Path
) -> None:
    write_book(tmp_path / "trace.xlsx", [trace_table(records_of([house.tomatoes[0].pk]))])
    sheet = load_workbook(tmp_path / "trace.xlsx")["trace"]
    first, second = list(sheet.iter_rows(values_only=True))[:2]
    assert first == HEADER
    assert second[HEADER.index("quantity")] == 12


def test_no_cell_is_taken_for_a_formula(house: Kitchen) -> None:
    Item.objects.update(name="=HYPERLINK(1)")
    Lot.objects.update(supplier_lot="+1+cmd")
    row = rows(records_of([house.tomatoes[0].pk]))[0]
    assert row["product"] == "'=HYPERLINK(1)"
    assert row["traceability_lot_code"] == "'+1+cmd"


def test_queries_do_not_grow_with_rows(house: Kitchen, count_queries: Callable[..., int]) -> None:
    few = count_queries(lambda: list(records_between(TODAY, TODAY)))
    for number in range(12):
        lot = delivered(
            house.parsley.item,
            house.commissary,
            5,
            f"P{number}",
            supplier=house.supplier,
            document="D",
        )
        sent(lot, house.commissary, house.truck, POUND, POUND)
        made = batch(make.item(kind="prep", unit="lb"), house.commissary, {lot: POUND}, POUND)
        assert made.pk
    assert count_queries(lambda: list(records_between(TODAY, TODAY))) == few
