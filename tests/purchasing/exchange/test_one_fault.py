"""One fault is told once, at the cell it is in, and hides no other."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.utils import timezone

from inventory.problems import Refused
from purchasing.exchange.workbook import load_sheets
from tests.purchasing.exchange.books import (
    Sheets,
    as_folder,
    as_xlsx,
    changed,
    raw,
    rows,
    run,
    small,
)

pytestmark = pytest.mark.django_db


def load(sheets: Sheets) -> list[str]:
    """Warnings of a load."""
    report = load_sheets(raw(sheets), by=None, at=timezone.now())
    return [warning.message for warning in report.warnings]


def refused(sheets: Sheets) -> list[str]:
    with pytest.raises(Refused) as caught:
        load(sheets)
    return [problem.message for problem in caught.value.problems]


ONE_CELL = [
    ("items", 2, {"shelf_life_days": "soon"}),
    ("items", 2, {"unit": "stone"}),
    ("items", 2, {"name": ""}),
    ("item_units", 2, {"qty": "many"}),
    ("locations", 2, {"opens": "late"}),
    ("locations", 2, {"kind": "barge"}),
    ("storage_areas", 2, {"kind": "warm"}),
    ("recipes", 2, {"makes_qty": "-1"}),
    ("suppliers", 2, {"cutoff": "noon"}),
    ("supplier_items", 2, {"price": "cheap"}),
    ("supplier_items", 5, {"pack_qty": "0"}),
]


@pytest.mark.parametrize(("sheet", "row", "cells"), ONE_CELL)
def test_what_a_broken_row_names_is_not_called_missing(
    sheet: str, row: int, cells: dict[str, str]
) -> None:
    (said,) = refused(changed(sheet, row, **cells))
    assert said.startswith(f"{sheet}!{row} {next(iter(cells))}: ")


def test_a_sheet_with_an_unknown_column_is_read_all_the_same() -> None:
    sheets = small()
    for row in sheets["items"]:
        row["colour"] = "green"
    sheets["items"][3]["shelf_life_days"] = "soon"
    said = refused(sheets)
    assert [one[:24] for one in said] == ["items!1 colour: there is", "items!5 shelf_life_days:"]


def test_what_is_wrong_with_files_comes_with_what_is_wrong_with_cells(tmp_path: Path) -> None:
    """A sheet that cannot be read hides what it names: nobody is told that this is missing."""
    folder = as_folder(changed("sales", 2, qty="-1"), tmp_path / "book")
    for name in ("items", "locations", "suppliers", "supplier_items", "storage_areas"):
        file = folder / f"{name}.csv"
        file.write_bytes(file.read_text("utf-8").encode("utf-16"))
    with open(folder / "usage.csv", "a") as usage:
        usage.write("COM,2026-02-27,LEEK,1,kg,extra\n")
    (folder / "pars.csv").unlink()
    (folder / "pars.csv").symlink_to(folder / "menu.csv")
    (folder / "notes.txt").write_text("call the dairy")
    ran = run("load_workbook", folder)
    assert ran.status == 1
    assert [line.partition(": ")[0] for line in ran.problems] == [
        "items.csv",
        "locations.csv",
        "pars.csv",
        "storage_areas.csv",
        "supplier_items.csv",
        "suppliers.csv",
        "sales!2 qty",
        "usage!3 column F",
    ]


def test_an_error_in_a_cell_comes_with_the_others(tmp_path: Path) -> None:
    sheets = changed("sales", 2, qty="#DIV/0!")
    sheets["usage"][0]["item"] = "GHOST"
    ran = run("load_workbook", as_xlsx(sheets, tmp_path / "book.xlsx"))
    assert [line.partition(": ")[0] for line in ran.problems] == ["sales!2 qty", "usage!2 item"]


def test_files_of_other_kinds_do_not_stop_a_load(tmp_path: Path) -> None:
    folder = as_folder(small(), tmp_path / "book")
    (folder / "notes.txt").write_text("call the dairy")
    ran = run("load_workbook", folder)
    assert ran.status == 0
    assert ran.problems == [
        "notes.txt: is not a .csv file and was left aside; save a sheet as CSV (UTF-8)"
    ]


def test_problems_come_in_the_order_of_the_rows() -> None:
    sheets = small()
    sheets["usage"] = rows(
        "location,date,item,qty,unit",
        "COM,2026-02-26,LEEK,1,stone",
        "COM,2026-02-27,GHOST,1,kg",
        "COM,2026-02-28,LEEK,-1,kg",
        "COM,2026-02-28,OIL,1,l",
        "COM,2026-02-28,OIL,2,l",
    )
    places = [one.partition(":")[0] for one in refused(sheets)]
    assert places == ["usage!2 unit", "usage!3 item", "usage!4 qty", "usage!6 item"]


def test_a_quantity_that_the_ledger_cannot_hold_is_refused_in_its_own_unit() -> None:
    (said,) = refused(changed("stock", 2, qty="9300000"))
    assert said == "stock!2 qty: 9300000 kg is too large; at most 9,223,372,036 g fit"


def test_a_pack_too_small_to_count_is_refused() -> None:
    sheets = changed("supplier_items", 5, pack_qty="0.00000001", pack_unit="mg")
    assert refused(sheets) == [
        "supplier_items!5 pack_qty: 0.00000001 mg is less than a billionth of 1 ml; type more",
        "pars!7 par: 1 case is less than a billionth of 1 ml; type more",
    ]


def test_an_order_of_more_than_can_be_counted_is_refused() -> None:
    (said,) = refused(changed("open_orders", 3, cases="1000000"))
    assert said == "open_orders!3 cases: 1000000 is too large; at most 461,168 cases fit"


def test_an_offer_with_and_one_without_sku_name_both_rows() -> None:
    (said,) = refused(changed("supplier_items", 4, sku=""))
    assert said.startswith("supplier_items!4 sku: rows 2 and 4 are two offers of LEEK from GRO")


def test_one_offer_named_twice_in_an_order_names_both_rows() -> None:
    sheets = changed("supplier_items", 5, sku="OIL20")
    sheets["open_orders"].append({**sheets["open_orders"][1], "sku": "OIL20"})
    (said,) = refused(sheets)
    assert said == "open_orders!4 sku: rows 3 and 4 name the same offer; keep one"


def test_a_par_that_leads_back_to_its_location_is_named() -> None:
    sheets = changed("pars", 5, supplied_by="VAN1")
    said = refused(sheets)
    assert "pars!5 supplied_by: COM is supplied by VAN1 is supplied by COM: name one that buys " \
        "TRAY itself" in said  # fmt: skip


def test_the_unit_that_lots_are_counted_in_stays() -> None:
    load(small())
    assert load(changed("items", 3, unit="gal")) == []
    (said,) = refused(changed("items", 3, unit="kg"))
    assert said.startswith("items!3 unit: kg counts it in g, but its lots are counted in ml")


def test_an_item_may_be_kept_in_a_word_of_its_own() -> None:
    sheets = changed("items", 2, unit="bunch")
    sheets["stock"][0]["unit_cost"] = ""
    assert load(sheets) == []
    (said,) = refused(changed("items", 2, unit="heap"))
    assert said.startswith("items!2 unit: 'heap' is not a unit of it; use one of cup dozen")


def test_a_density_makes_another_unit_right() -> None:
    sheets = changed("usage", 2, unit="cup")
    assert "without a density" in refused(sheets)[0]
    sheets["items"][0]["grams_per_ml"] = "0.4"
    assert load(sheets) == []


def test_a_chain_of_fifty_thousand_recipes_is_looked_through() -> None:
    """Depth is no way to keep a load busy."""
    count = 50_000
    sheets: Sheets = {
        "items": [
            {"code": f"P{n}", "name": "Broth", "kind": "prep", "unit": "l"} for n in range(count)
        ],
        "recipes": [{"item": f"P{n}", "makes_qty": "1", "makes_unit": "l"} for n in range(count)],
        "recipe_lines": [
            {"recipe": f"P{n}", "item": f"P{(n + 1) % count}", "qty": "1", "unit": "l"}
            for n in range(count)
        ],
        "locations": small()["locations"],
    }
    said = refused(sheets)
    assert any("a recipe cannot need itself" in one for one in said)


WARNED = [
    ("items", 5, {"shelf_life_days": "7", "ready_to_eat": "yes"}, "shelf_life_days: 7 days after"),
    ("recipes", 2, {"lead_hours": "73"}, "lead_hours: 73 hands-off hours outlast the life"),
    ("stock", 2, {"unit_cost": "2.1"}, "unit_cost: 2.1 is more than ten times off"),
    ("stock", 2, {"unit_cost": "0.00001"}, "unit_cost: 0.00001 is more than ten times off"),
    ("supplier_items", 5, {"nominal_qty": "18"}, "nominal_qty: is only used where catch_weight"),
]


@pytest.mark.parametrize(("sheet", "row", "cells", "said"), WARNED)
def test_what_is_doubtful_is_told_and_loaded(
    sheet: str, row: int, cells: dict[str, str], said: str
) -> None:
    (warning,) = load(changed(sheet, row, **cells))
    assert warning.startswith(f"{sheet}!{row} {said}")


NOT_WARNED = [
    ("items", 5, {"shelf_life_days": "6", "ready_to_eat": "yes"}),
    ("items", 2, {"shelf_life_days": "7", "ready_to_eat": "yes", "tcs": "yes"}),
    ("recipes", 2, {"lead_hours": "72"}),
    # 0.0019 by the one offer, 0.0019 by the other
    ("stock", 2, {"unit_cost": "0.018"}),
]


@pytest.mark.parametrize(("sheet", "row", "cells"), NOT_WARNED)
def test_what_is_at_the_limit_is_not_doubtful(sheet: str, row: int, cells: dict[str, str]) -> None:
    assert load(changed(sheet, row, **cells)) == []


def test_a_stored_price_tells_a_doubtful_cost_too() -> None:
    load({name: found for name, found in small().items() if name not in ("stock", "open_orders")})
    (warning,) = load({"stock": changed("stock", 2, unit_cost="2.1")["stock"]})
    assert warning.startswith("stock!2 unit_cost: 2.1")
