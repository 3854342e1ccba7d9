"""What a saved workbook keeps: odd texts, figures to the last digit, stock and orders half gone."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.utils import timezone

from inventory.models import Item, Location, Lot, OnHand, StorageArea
from inventory.problems import Refused
from purchasing.exchange.workbook import load_sheets
from purchasing.models import Offer, OrderLine, PurchaseOrder
from tests.factories import lot, receive
from tests.purchasing.exchange.books import Sheets, clear, dump, raw, rows, run, small

pytestmark = pytest.mark.django_db
both_kinds = pytest.mark.parametrize("name", ["saved", "saved.xlsx"], ids=["csv", "xlsx"])

ODD = [
    "=SUM(A1:A9)",
    "+44 20 7946 0000",
    "-5 spice",
    "@home",
    "'quoted",
    "''twice",
    '"double", and a comma',
    "two\nlines",
    "semi;colon",
    "Ærø kål 饺子 🥟",
    "00123",
    "1e5",
    "TRUE",
    "2026-03-02",
    "12:30",
    "'=1",
    "#N/A",
    "nan",
    "None",
]


def load(book: Sheets) -> None:
    load_sheets(raw(book), by=None, at=timezone.now())


def moved(path: Path) -> None:
    """Out, and into an empty database."""
    assert run("save_workbook", path).status == 0
    clear()
    ran = run("load_workbook", path)
    assert ran.status == 0, ran.err


@both_kinds
def test_odd_texts_come_back_as_they_were(name: str, tmp_path: Path) -> None:
    book = small()
    plain = {"kind": "packaging", "unit": "each"}
    book["items"] = [
        *book["items"],
        *({"code": f"ODD{number}", "name": text, **plain} for number, text in enumerate(ODD)),
    ]
    book["supplier_items"] = [
        *book["supplier_items"],
        *(
            {**book["supplier_items"][3], "item": f"ODD{number}", "sku": text, "pack_unit": "each"}
            for number, text in enumerate(ODD)
        ),
    ]
    load(book)
    moved(tmp_path / name)
    kept = Item.objects.filter(code__startswith="ODD")
    assert {item.code: item.name for item in kept} == {f"ODD{n}": t for n, t in enumerate(ODD)}
    skus = Offer.objects.filter(item__code__startswith="ODD").values_list("item__code", "sku")
    assert dict(skus) == {f"ODD{n}": t for n, t in enumerate(ODD)}


@both_kinds
@pytest.mark.parametrize("qty", ["0.000000001", "1234567.890123456", "9223372036.854775807"])
def test_figures_come_back_to_the_last_digit(name: str, qty: str, tmp_path: Path) -> None:
    book = small()
    book["stock"] = rows("location,item,qty,unit,lot", f"VAN1,TRAY,{qty},each,T1")
    load(book)
    moved(tmp_path / name)
    assert OnHand.objects.get(item__code="TRAY").qty == Decimal(qty)


@both_kinds
def test_half_of_an_order_that_came_is_not_ordered_again(name: str, tmp_path: Path) -> None:
    load(small())
    line = OrderLine.objects.get(order__reference="PO-7")
    OrderLine.objects.filter(pk=line.pk).update(received_cases=1)
    moved(tmp_path / name)
    line = OrderLine.objects.get(order__reference="PO-7")
    assert (line.cases, line.confirmed_cases) == (2, 1)
    assert not line.received_cases


def facts() -> set[tuple[Any, ...]]:
    found = OnHand.objects.filter(qty__gt=0).select_related("lot", "item", "location")
    return {
        (row.location.code, row.item.code, row.qty, row.lot.received_on, row.lot.use_by)
        for row in found
    }


def test_the_same_stock_is_not_counted_twice_when_a_shelf_life_changes() -> None:
    """A row without lot and use-by is the same row, whatever its item's life is now."""
    book = small()
    book["stock"] = rows("location,item,qty,unit,received", "COM,LEEK,5,kg,2026-03-01")
    load(book)
    book["items"][0]["shelf_life_days"] = "9"
    load(book)
    (there,) = OnHand.objects.all()
    assert there.qty == 5000
    assert Lot.objects.get().use_by == date(2026, 3, 7), "a use-by is not lengthened by a load"


def test_other_stock_of_that_day_is_new_or_refused() -> None:
    book = small()
    header = "location,item,qty,unit,received,use_by"
    book["stock"] = rows(header, "COM,LEEK,5,kg,2026-03-01,", "COM,LEEK,2,kg,2026-03-01,2026-03-04")
    load(book)
    book["items"][0]["shelf_life_days"] = "9"
    load(book)
    assert OnHand.objects.count() == 2
    book["stock"] = rows(header, "COM,LEEK,6,kg,2026-03-01,")
    with pytest.raises(Refused, match="stock!2 qty: .* opened with 5000 g, not 6000 g"):
        load(book)
    book["stock"] = rows(header, *["COM,LEEK,5,kg,2026-03-01,"] * 2)
    load(book)
    assert sorted(OnHand.objects.values_list("qty", flat=True)) == [2000, 5000, 5000]


def test_a_saved_workbook_finds_lots_whose_use_by_was_worked_out(tmp_path: Path) -> None:
    load(small())
    before = facts()
    assert run("save_workbook", tmp_path / "saved").status == 0
    assert run("load_workbook", tmp_path / "saved").out.startswith("Everything")
    moved(tmp_path / "again")
    load(small())
    assert facts() == before


@both_kinds
def test_two_lots_of_one_code_stay_two(name: str, tmp_path: Path) -> None:
    load(small())
    Lot.objects.filter(item__code="OIL").update(supplier_lot="B-7")
    before = facts()
    moved(tmp_path / name)
    assert facts() == before
    assert OnHand.objects.filter(item__code="OIL").count() == 2
    assert StorageArea.objects.count() == 1


def test_figures_are_numbers_where_a_spreadsheet_keeps_all_of_their_digits(tmp_path: Path) -> None:
    book = small()
    book["stock"][4]["qty"] = "1234567.123456789"
    load(book)
    assert run("save_workbook", tmp_path / "saved.xlsx").status == 0
    saved = openpyxl.load_workbook(tmp_path / "saved.xlsx")
    items, stock = list(saved["items"].values), list(saved["stock"].values)
    lives = [row[items[0].index("shelf_life_days")] for row in items[1:3]]
    assert lives == [6, None]
    quantities = [row[stock[0].index("qty")] for row in stock[1:]]
    assert quantities[0] == 7500
    assert quantities[-1] == "1234567.123456789", "sixteen digits stay text"
    moved(tmp_path / "again.xlsx")
    assert OnHand.objects.get(item__code="TRAY").qty == Decimal("1234567.123456789")


def test_a_line_that_came_in_part_is_left_alone_by_a_later_load(tmp_path: Path) -> None:
    load(small())
    lines = OrderLine.objects.filter(order__reference="PO-7")
    lines.update(received_cases=1)
    assert run("save_workbook", tmp_path / "saved").status == 0
    assert run("load_workbook", tmp_path / "saved", "--check").status == 0
    load({"open_orders": small()["open_orders"]})
    line = lines.get()
    assert (line.cases, line.confirmed_cases, line.received_cases) == (3, 2, Decimal(1))


def test_an_order_made_here_is_found_again(tmp_path: Path) -> None:
    load(small())
    PurchaseOrder.objects.filter(reference="PO-7").update(reference="", number="GRO-20260303-1")
    assert run("save_workbook", tmp_path / "saved").status == 0
    assert run("load_workbook", tmp_path / "saved").status == 0
    assert PurchaseOrder.objects.count() == 2


def test_the_price_of_an_order_is_the_one_in_force_on_its_day() -> None:
    book = small()
    book["open_orders"] += [
        {**book["open_orders"][0], "po": "PO-9", "due": day}
        for day in ("2026-03-14", "2026-03-15", "2026-03-16")
    ]
    load(book)
    priced = OrderLine.objects.filter(order__reference="PO-9").order_by("order__delivery")
    assert [line.price for line in priced] == [Decimal("9.5"), Decimal("9.9"), Decimal("9.9")]
    numbers = PurchaseOrder.objects.filter(reference="PO-9").order_by("delivery")
    assert list(numbers.values_list("number", flat=True)) == ["PO-9", "PO-9.2", "PO-9.3"]


@both_kinds
def test_what_is_retired_is_left_out_unless_it_is_coming(name: str, tmp_path: Path) -> None:
    load(small())
    Offer.objects.filter(sku="LK10").update(retired_on=date(2026, 3, 1))
    Offer.objects.filter(item__code="OIL").update(retired_on=date(2026, 3, 1))
    moved(tmp_path / name)
    assert not Offer.objects.filter(sku="LK10").exists()
    assert Offer.objects.filter(item__code="OIL").exists(), "PO-8 brings it"


def goods_in() -> tuple[Lot, Lot]:
    """A delivery with the supplier's code and one without, at the commissary."""
    place, leek = Location.objects.get(code="COM"), Item.objects.get(code="LEEK")
    return (
        lot(4000, at=place, of=leek, supplier_lot="D-1", use_by=date(2026, 3, 8)),
        lot(2500, at=place, of=leek, use_by=date(2026, 3, 9)),
    )


def test_what_was_delivered_here_is_not_opened_once_more(tmp_path: Path) -> None:
    load(small())
    goods_in()
    before = dump()
    assert run("save_workbook", tmp_path / "saved").status == 0
    assert run("load_workbook", tmp_path / "saved").status == 0
    assert dump() == before


def test_what_was_sent_to_a_truck_is_not_opened_there(tmp_path: Path) -> None:
    load(small())
    van = Location.objects.get(code="VAN1")
    for row in OnHand.objects.filter(location__code="COM", item__code="OIL")[:1]:
        receive(row.lot, van, 500)
    before = dump()
    assert run("save_workbook", tmp_path / "saved").status == 0
    assert run("load_workbook", tmp_path / "saved").status == 0
    assert dump() == before


def test_another_quantity_of_a_delivery_is_counted_instead() -> None:
    load(small())
    goods_in()
    row = {**small()["stock"][0], "lot": "D-1", "qty": "3"}
    with pytest.raises(Refused, match=r"stock!2 qty: .*4000 g, not 3000 g.*count it instead"):
        load({"stock": [row]})


@both_kinds
def test_deliveries_come_back_as_stock(name: str, tmp_path: Path) -> None:
    load(small())
    goods_in()
    before = facts()
    moved(tmp_path / name)
    assert facts() == before


@both_kinds
def test_what_does_not_expire_stays_so_although_its_item_has_a_life(
    name: str, tmp_path: Path
) -> None:
    load(small())
    load({"items": [{**small()["items"][1], "shelf_life_days": "300"}]})
    assert run("save_workbook", tmp_path / name).status == 0
    before = dump()
    assert run("load_workbook", tmp_path / name).status == 0
    assert dump() == before
    moved(tmp_path / f"again {name}")
    assert set(Lot.objects.filter(item__code="OIL").values_list("use_by", flat=True)) == {None}
