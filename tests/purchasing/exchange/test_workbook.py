"""Workbooks in and out, through the commands, on every sheet of the contract."""

from __future__ import annotations

import json
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.utils import timezone

from inventory.models import (
    AllergenWord,
    Booking,
    Hold,
    Inbound,
    Item,
    Location,
    Lot,
    Movement,
    OnHand,
    Sale,
    Setting,
)
from inventory.problems import Refused
from inventory.selectors.business import business
from purchasing.exchange.demo import demo_workbook
from purchasing.exchange.workbook import SHEETS, load_sheets, write_empty_workbook
from purchasing.models import Offer, OrderLine, Par, Price, PurchaseOrder, Supplier
from tests.purchasing.exchange.books import (
    Sheets,
    as_file,
    as_folder,
    as_xlsx,
    changed,
    clear,
    dump,
    raw,
    rows,
    run,
    small,
    with_rows,
)
from tests.purchasing.services.small_kitchen import sheets

pytestmark = pytest.mark.django_db
both_kinds = pytest.mark.parametrize("kind", ["csv", "xlsx"])
AS_OF = "2026-03-02T06:00"


def load(sheets: Sheets) -> None:
    load_sheets(raw(sheets), by=None, at=timezone.now())


def only(*names: str) -> Sheets:
    return {name: found for name, found in small().items() if name in names}


@both_kinds
def test_every_row_of_every_sheet_is_stored(kind: str, tmp_path: Path) -> None:
    ran = run("load_workbook", as_file(kind, small(), tmp_path), "--json")
    assert (ran.status, ran.err) == (0, "")
    told = json.loads(ran.out)
    assert (told["checked"], told["stored"], told["warnings"]) == (True, True, [])
    # a second price of one offer is no offer more
    twice_priced = {"supplier_items": 1}
    assert {name: tally["added"] for name, tally in told["sheets"].items()} == {
        name: len(found) - twice_priced.get(name, 0) for name, found in small().items()
    }


@both_kinds
def test_cells_become_what_they_say(kind: str, tmp_path: Path) -> None:
    run("load_workbook", as_file(kind, small(), tmp_path))
    leek = Item.objects.get(code="LEEK")
    assert (leek.shelf_life_days, leek.grams_per_each, leek.may_freeze) == (6, Decimal(180), False)
    assert Item.objects.get(code="SKIN").thaw_hours == Decimal("6.5")
    said = AllergenWord.objects.filter(item__code="SKIN").values_list("allergen", "says")
    assert dict(said) == {
        "gluten": AllergenWord.Says.CONTAINS,
        "wheat": AllergenWord.Says.CONTAINS,
        "sesame": AllergenWord.Says.MAY_CONTAIN,
    }
    van = Location.objects.get(code="VAN1")
    assert (van.supplied_by and van.supplied_by.code, van.receives) == ("COM", [])
    assert Location.objects.get(code="COM").receives == [0, 1, 2, 3, 4]
    grower = Supplier.objects.get(code="GRO")
    assert (grower.order_days, f"{grower.cutoff:%H:%M}") == ([0, 2, 4], "14:00")
    assert grower.below_minimum == Supplier.BelowMinimum.FEE
    offer = Offer.objects.get(sku="LK5")
    assert (offer.gtin, offer.pack_qty) == ("00012345678905", Decimal(5))
    prices = Price.objects.filter(offer=offer).order_by("starts_on")
    assert {(price.starts_on, price.price) for price in prices} == {
        (None, Decimal("9.5")),
        (date(2026, 3, 15), Decimal("9.9")),
    }
    assert Par.objects.get(item__code="LEEK", weekday=3).par == Decimal(18)
    (sale,) = Sale.objects.all()
    assert sale.qty == 61
    assert (f"{sale.opens:%H:%M}", f"{sale.sold_out_at:%H:%M}") == ("11:00", "14:20")
    assert business().leave_share == Decimal("0.4")


@both_kinds
def test_stock_is_an_opening_balance_in_base_units(kind: str, tmp_path: Path) -> None:
    run("load_workbook", as_file(kind, small(), tmp_path))
    assert set(Movement.objects.values_list("kind", "happened_at")) == {("opening", None)}
    coded = Lot.objects.get(supplier_lot="L-88")
    assert (coded.use_by, coded.unit_cost) == (date(2026, 3, 7), Decimal("0.0021"))
    assert OnHand.objects.get(lot=coded).qty == Decimal(7500)
    # 2 crates of 12 bunches of 3 leeks of 180 g
    (held,) = Hold.objects.all()
    assert OnHand.objects.get(lot_id=held.lot_id).qty == Decimal(12960)
    assert held.lot.use_by == date(2026, 2, 25), "a use-by in the past is loaded"
    assert OnHand.objects.filter(item__code="OIL").count() == 2, "two equal lots stay two"


def test_open_orders_are_on_order_and_told_to_the_kitchen(tmp_path: Path) -> None:
    run("load_workbook", as_folder(small(), tmp_path / "book"))
    sent = PurchaseOrder.objects.get(reference="PO-7")
    assert (sent.status, sent.delivery) == (PurchaseOrder.Status.SENT, date(2026, 3, 3))
    (line,) = OrderLine.objects.filter(order=sent)
    assert (line.cases, line.confirmed_cases, line.pack_base) == (3, 2, Decimal(5000))
    assert {(row.item.code, row.qty, row.due) for row in Inbound.objects.all()} == {
        ("LEEK", Decimal(10_000), date(2026, 3, 3)),
        ("OIL", Decimal(20_000), date(2026, 3, 5)),
    }


@pytest.mark.parametrize(("least", "price"), [(3, "7"), (4, "9.5"), (2, "30")])
def test_an_order_on_its_way_cost_the_price_break_that_its_cases_reach(
    least: int, price: str, tmp_path: Path
) -> None:
    """3 cases at 9.50; 7.00 from 3 on is reached, from 4 on is not, a dearer one is none."""
    book = sheets()
    row = {"supplier": "GRO", "item": "LEEK", "from_cases": str(least)}
    book["price_breaks"] = [{**row, "price": "7" if price == "9.5" else price}]
    on_its_way = {"supplier": "GRO", "po": "PO-7", "location": "COM", "item": "LEEK"}
    book["open_orders"] = [{**on_its_way, "cases": "3", "due": "2026-03-05"}]
    ran = run("load_workbook", as_folder(book, tmp_path / "book"))
    assert (ran.status, ran.err) == (0, "")
    assert OrderLine.objects.get().price == Decimal("9.5" if price == "30" else price)


def test_csv_and_xlsx_of_one_workbook_are_stored_alike(tmp_path: Path) -> None:
    def facts() -> dict[str, list[str]]:
        folder = tmp_path / "saved"
        assert run("save_workbook", folder).status == 0
        return {file.name: file.read_text().splitlines() for file in folder.iterdir()}

    run("load_workbook", as_folder(small(), tmp_path / "book"))
    from_csv = facts()
    clear()
    run("load_workbook", as_xlsx(small(), tmp_path / "book.xlsx"))
    assert facts() == from_csv


@both_kinds
def test_loading_twice_changes_nothing(kind: str, tmp_path: Path) -> None:
    path = as_file(kind, small(), tmp_path)
    run("load_workbook", path)
    before = dump()
    ran = run("load_workbook", path)
    assert ran.out.strip() == "Everything in the workbook was there already. Nothing changed."
    assert dump() == before


@both_kinds
def test_what_was_saved_changes_nothing_either(kind: str, tmp_path: Path) -> None:
    run("load_workbook", as_file(kind, small(), tmp_path))
    before = dump()
    saved = tmp_path / ("saved.xlsx" if kind == "xlsx" else "saved")
    assert run("save_workbook", saved).status == 0
    assert run("load_workbook", saved).status == 0
    assert dump() == before


def plans() -> tuple[str, str]:
    ordered = run("reorder", "--as-of", AS_OF, "--dry-run", "--json")
    expiring = run("expiring", "--as-of", AS_OF[:10], "--json")
    assert ordered.status == expiring.status == 0
    assert json.loads(ordered.out)["orders"]
    assert json.loads(expiring.out)["lots"]
    return ordered.out, expiring.out


def test_a_saved_demo_in_an_empty_database_gives_the_same_plans(tmp_path: Path) -> None:
    load({k: v for k, v in demo_workbook(datetime.fromisoformat(AS_OF)).items() if v})
    first = plans()
    for name in ("saved", "saved.xlsx"):
        assert run("save_workbook", tmp_path / name).status == 0
    for name in ("saved", "saved.xlsx"):
        clear()
        assert not Item.objects.exists()
        assert run("load_workbook", tmp_path / name).status == 0
        assert plans() == first, name


def test_another_quantity_of_known_stock_is_refused() -> None:
    load(small())
    before = dump()
    for row, cells in ((2, {"qty": "8"}), (3, {"qty": "3"}), (4, {"unit": "ml"})):
        sheets = changed("stock", row, **cells)
        with pytest.raises(Refused, match=rf"stock!{row} qty: .*count it instead"):
            load(sheets)
    assert dump() == before


def test_known_stock_in_another_unit_is_the_same() -> None:
    load(small())
    before = dump()
    load(changed("stock", 2, qty="7500", unit="g"))
    load(changed("stock", 3, qty="72", unit="each"))
    assert dump() == before


def test_stock_with_blank_lots_is_found_again_in_any_order() -> None:
    load(small())
    before = dump()
    sheets = small()
    sheets["stock"].reverse()
    load(sheets)
    assert dump() == before


def test_a_third_equal_lot_is_new() -> None:
    load(small())
    sheets = small()
    sheets["stock"].append(dict(sheets["stock"][3]))
    load(sheets)
    assert OnHand.objects.filter(item__code="OIL").count() == 3


def test_columns_left_out_keep_what_is_stored() -> None:
    load(small())
    before = dump()
    named = {"customer", "lot", "received", "use_by"}  # name a row beside its key
    for name in small():
        required = next(sheet for sheet in SHEETS if sheet.name == name)
        kept = {*required.required, *required.key, *named}
        some = [{c: v for c, v in row.items() if c in kept} for row in small()[name]]
        load({name: some})
    assert dump() == before


def test_a_blank_cell_takes_back_what_is_stored() -> None:
    load(small())
    load({"items": [changed("items", 2, shelf_life_days="", allergens_free="")["items"][0]]})
    assert Item.objects.get(code="LEEK").shelf_life_days is None
    assert not AllergenWord.objects.filter(item__code="LEEK").exists()


def test_rows_that_are_absent_are_never_deleted() -> None:
    load(small())
    before = {name: len(found) for name, found in dump().items()}
    for name, found in small().items():
        load({name: found[:1]})
    assert {name: len(found) for name, found in dump().items()} == before


def test_a_changed_cell_changes_that_row_alone() -> None:
    load(small())
    before = dump()
    report = load_sheets(raw(changed("sales", 2, qty="64")), by=None, at=timezone.now())
    moved = {name for name, tally in report.sheets.items() if tally.added or tally.changed}
    assert moved == {"sales"}
    after = dump()
    touched = {name for name in after if after[name] != before[name]}
    assert touched == {"inventory.Sale", "inventory.Event"}  # the log says who loaded what
    assert Sale.objects.get().qty == 64


def test_later_loads_may_name_what_is_stored() -> None:
    load(small())
    load({"usage": rows("location,date,item,qty,unit", "COM,2026-02-27,LEEK,1,crate")})
    load({"settings": rows("key,value", "currency,EUR")})
    assert Setting.objects.get(key="currency").value == "EUR"


def test_equal_bookings_are_told_apart_by_their_order() -> None:
    load(small())
    assert Booking.objects.filter(item__code="OIL").count() == 2
    load(changed("bookings", 4, qty="5"))
    assert sorted(Booking.objects.filter(item__code="OIL").values_list("qty", flat=True)) == [2, 5]


@both_kinds
def test_all_problems_of_the_workbook_come_at_once(kind: str, tmp_path: Path) -> None:
    sheets = small()
    sheets["items"][0]["unit"] = "stone"
    sheets["items"][1]["shelf_life_opened_days"] = "soon"
    sheets["sales"][0] |= {"item": "GHOST", "qty": "-1"}
    sheets["stock"][0] |= {"area": "ATTIC"}
    sheets["suppliers"][0]["order_days"] = "mon;someday"
    sheets["pars"][0]["service_level"] = "1.2"
    sheets["drawers"] = rows("code", "A")
    before = dump()
    ran = run("load_workbook", as_file(kind, sheets, tmp_path))
    assert (ran.status, ran.out) == (1, "")
    for place in (
        "items!2 unit: ",
        "items!3 shelf_life_opened_days: ",
        "sales!2 qty: ",
        "stock!2 area: ",
        "suppliers!2 order_days: ",
        "pars!2 service_level: ",
        "drawers!1: ",
    ):
        assert any(line.startswith(place) for line in ran.problems), place
    assert dump() == before


@both_kinds
def test_check_stores_nothing(kind: str, tmp_path: Path) -> None:
    before = dump()
    path = as_file(kind, small(), tmp_path)
    assert run("load_workbook", path, "--check").out.startswith("The workbook can be loaded.")
    told = json.loads(run("load_workbook", path, "--check", "--json").out)
    assert told == {"checked": True, "stored": False, "sheets": {}, "warnings": []}
    bad = as_file(kind, changed("items", 2, kind="rock"), tmp_path)
    assert run("load_workbook", bad, "--check").status == 1
    assert dump() == before


def test_json_on_standard_output_even_with_warnings(tmp_path: Path) -> None:
    """Made, ready-to-eat food kept cold: typing 7 is worth a second look (rules R6)."""
    sheets = changed("items", 5, shelf_life_days="7", ready_to_eat="yes")
    ran = run("load_workbook", as_folder(sheets, tmp_path / "book"), "--json")
    (warning,) = json.loads(ran.out)["warnings"]
    assert warning.startswith("items!5 shelf_life_days: 7 days after is day 8")
    assert ran.problems == [warning]
    assert Item.objects.get(code="FILL").shelf_life_days == 7


def test_a_doubtful_cost_is_a_warning() -> None:
    """9.5 for 5 kg is 0.0019 a gram; 2.1 was meant per kg."""
    report = load_sheets(raw(changed("stock", 2, unit_cost="2.1")), by=None, at=timezone.now())
    (warning,) = report.warnings
    assert warning.message.startswith("stock!2 unit_cost: 2.1")
    assert "per g, ml or each" in warning.message


def test_refused_json_prints_nothing_on_standard_output(tmp_path: Path) -> None:
    ran = run("load_workbook", tmp_path / "nowhere", "--json")
    assert (ran.status, ran.out) == (1, "")
    assert "nowhere" in ran.err


def test_an_empty_workbook_has_every_sheet_and_loads(tmp_path: Path) -> None:
    write_empty_workbook(tmp_path / "empty.xlsx")
    before = dump()
    assert run("load_workbook", tmp_path / "empty.xlsx").status == 0
    assert dump() == before


def test_two_prices_of_one_offer_are_its_history_and_two_packs_are_an_error() -> None:
    header = "supplier,item,pack_qty,pack_unit,price"
    sheets = with_rows(
        "supplier_items",
        header,
        "GRO,LEEK,5,kg,9",
        "GRO,LEEK,10,kg,17",
        drop=("price_breaks", "open_orders"),
    )
    with pytest.raises(Refused, match=r"rows 2 and 3"):
        load(sheets)
