"""What cannot be right is refused in a sentence that says where and what would be right."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.exchange.raw import UNCALCULATED, RawSheet
from inventory.problems import Refused
from purchasing.exchange.workbook import SHEETS, LoadReport, load_sheets
from tests.purchasing.exchange.books import Sheets, as_folder, dump, run, small

pytestmark = pytest.mark.django_db

PLACE = re.compile(r"\w+!\d+( [\w.]+)?: \S")


@dataclass(frozen=True, slots=True)
class Case:
    """``cells`` of one row of the small workbook changed; ``said`` is a pattern."""

    name: str
    sheet: str
    row: int
    cells: dict[str, Any]
    said: str
    column: str = ""

    @property
    def place(self) -> str:
        return f"{self.sheet}!{self.row} {self.column or next(iter(self.cells))}: "


def sheets_of(book: Sheets) -> Iterator[RawSheet]:
    for name, found in book.items():
        header = tuple(dict.fromkeys(column for row in found for column in row))
        cells: Iterable[tuple[int, tuple[Any, ...]]] = (
            (number, tuple(row.get(column) for column in header))
            for number, row in enumerate(found, 2)
        )
        yield RawSheet(name, header, iter(cells))


def load(book: Sheets) -> LoadReport:
    return load_sheets(sheets_of(book), by=None, at=timezone.now())


def refused(book: Sheets) -> list[str]:
    """The sentences; nothing may be stored."""
    before = dump()
    with pytest.raises(Refused) as caught:
        load(book)
    assert dump() == before
    said = [problem.message for problem in caught.value.problems]
    assert all(PLACE.match(sentence) for sentence in said), said
    return said


FIGURES = [
    Case(f"figure {name}", "stock", 2, {"qty": value}, said)
    for name, value, said in (
        ("in words", "seven", "is not a number; type a figure such as"),
        ("NaN", "NaN", "is not a number"),
        ("nan as a number", float("nan"), "is not a number"),
        ("Infinity", "Infinity", "is not a number"),
        ("-inf as a number", float("-inf"), "is not a number"),
        ("1e309", "1e309", "is too large"),
        ("1e9999999999", "1e9999999999", "is not a number|is too large"),
        ("negative", "-1", "must be 0 or more"),
        ("with a comma", "1,5", "use a point, not a comma"),
        ("in digits of another script", "٣", "is not a number"),
        ("hexadecimal", "0x10", "is not a number"),
        ("with an underscore", "1_000", "is not a number"),
        ("true", True, "is not a number"),
        ("a date", date(2026, 3, 1), "is not a number"),
        ("a formula without a value", UNCALCULATED, "open and save the file once"),
        ("of a million digits", "9" * 1_000_000, "is not a number|is too large"),
        ("blank", "", "is empty"),
        ("zeros and a control character", "1\x002", "control character"),
        ("larger than the ledger", "9300000", "is too large"),
    )
]
DATES = [
    Case(f"date {name}", "sales", 2, {"date": value}, said)
    for name, value, said in (
        ("day first", "27-02-2026", "a date is YYYY-MM-DD"),
        ("American", "2/27/26", "a date is YYYY-MM-DD"),
        ("that does not exist", "2026-02-30", "a date is YYYY-MM-DD"),
        ("in the year 1", "0001-01-01", "outside the years"),
        ("in the year 9999", "9999-12-31", "outside the years"),
        ("with an hour", datetime.fromisoformat("2026-02-27T11:00"), "has an hour"),
        ("as a number", 46080, "is not a date"),
        ("of an ISO week", "2026-W09-5", "a date is YYYY-MM-DD"),
    )
]
HOURS = [
    Case(f"hour {value}", "suppliers", 2, {"cutoff": value}, "a time is HH:MM")
    for value in ("25:00", "24:00", "12.30", "2 pm", "12:60", 0.5, "noon")
]
WORDS = [
    Case("kind", "items", 2, {"kind": "rock"}, "one of ingredient prep menu packaging resale"),
    Case("yes or no", "items", 2, {"tcs": "maybe"}, "must be yes or no"),
    Case("weekday", "suppliers", 2, {"order_days": "mon;feb"}, "one of mon tue wed thu fri"),
    Case("no weekday at all", "suppliers", 2, {"delivery_days": ";"}, "mon;thu"),
    Case("setting unknown", "settings", 2, {"key": "colour"}, "one of business_name time_zone"),
    Case("temperature unit", "storage_areas", 2, {"temp_unit": "K"}, "one of F C"),
    Case("basis", "pars", 2, {"basis": "guess"}, "one of fixed forecast greater cost"),
    Case("status", "open_orders", 2, {"status": "lost"}, "one of approved sent"),
    Case("half a case", "open_orders", 2, {"cases": "2.5"}, "not a whole number"),
    Case("half a day of life", "items", 2, {"shelf_life_days": "1.5"}, "not a whole number"),
    Case("negative life", "items", 2, {"shelf_life_days": "-1"}, "whole number from 0"),
    Case("text too long", "items", 2, {"name": "x" * 5000}, "at most 120"),
    Case("allergen too long", "items", 2, {"allergens": "x" * 200}, "at most 40"),
    Case("code with a space", "items", 2, {"code": "LE EK"}, "up to 40 letters"),
    Case("code of 41 letters", "items", 2, {"code": "A" * 41}, "up to 40 letters"),
    Case("code as a long number", "items", 2, {"code": 1e15}, "make it a text cell"),
    Case("code as half a number", "items", 2, {"code": 1.5}, "make it a text cell"),
    Case("code as a date", "items", 2, {"code": date(2026, 3, 1)}, "make the cell a text cell"),
    Case("GTIN with another check digit", "supplier_items", 2, {"gtin": "12345678901"}, "GTIN|"),
    Case("GTIN as too long a number", "supplier_items", 2, {"gtin": 123456789012345}, "text cell"),
    Case("GTIN with letters", "supplier_items", 2, {"gtin": "ABC12345"}, "8, 12, 13 or 14 digits"),
]
SETTINGS = [
    Case(f"{key} {value}", "settings", row, {"value": value}, said)
    for row, key, value, said in (
        (3, "time zone", "Mars/Olympus", "a name such as Europe"),
        (3, "time zone", "../../etc/passwd", "a name such as Europe"),
        (3, "time zone", "/etc/localtime", "a name such as Europe"),
        (3, "time zone", "Europe", "a name such as Europe"),
        (4, "currency", "pounds", "three letters"),
        (5, "service level", "1", "between 0 and 1"),
        (5, "service level", "95", "between 0 and 1"),
        (5, "service level", "nan", "between 0 and 1"),
        (6, "holding rate", "-1", "a share such as"),
        (7, "week starts", "8", "is one of mon"),
        (8, "price alert", "a lot", "a percentage"),
        (9, "allergen list", "all", "us9 or eu14"),
        (10, "leave share", "1.5", "from 0 to 1"),
    )
]
BETWEEN_ROWS = [
    Case("unknown location", "usage", 2, {"location": "MOON"}, "no location 'MOON'.*locations"),
    Case("unknown item", "usage", 2, {"item": "SPACE"}, "no item 'SPACE'.*items"),
    Case("unknown recipe", "recipe_lines", 2, {"recipe": "OIL"}, "no recipe 'OIL'.*recipes"),
    Case("unknown supplier", "supplier_items", 6, {"supplier": "X"}, "no supplier 'X'.*suppliers"),
    Case("unknown area", "stock", 2, {"area": "ATTIC"}, "no area .*'ATTIC'.*storage_areas"),
    Case("area elsewhere", "stock", 6, {"area": "COLD"}, "no area .*'COLD'.*storage_areas"),
    Case("unknown supplying location", "locations", 3, {"supplied_by": "X"}, "no location 'X'"),
    Case("unknown source of a par", "pars", 6, {"supplied_by": "X"}, "no location 'X'"),
    Case("unknown sku", "open_orders", 2, {"sku": "LK7"}, "no offer with sku 'LK7'"),
    Case("sku left out", "open_orders", 2, {"sku": ""}, "LK10 LK5", "sku"),
    Case("not sold there", "open_orders", 2, {"item": "TRAY"}, "does not sell TRAY"),
    Case("unknown unit", "usage", 2, {"unit": "stone"}, "not a unit.*item_units"),
    Case("unit of the item", "items", 2, {"unit": "stone"}, "stone.*use one of"),
    Case("no density", "usage", 2, {"unit": "cup"}, "without a density.*grams_per_ml"),
    Case("no weight of one", "usage", 2, {"item": "OIL", "unit": "each"}, "grams_per_each", "unit"),
    Case("no case size", "stock", 2, {"item": "FILL", "unit": "case"}, "no case size", "unit"),
    Case("word taken", "item_units", 2, {"unit": "kg"}, "a word of your own"),
    Case("house unit of nothing", "item_units", 2, {"of_unit": "heap"}, "'heap' is not a unit"),
    Case("case of cases", "supplier_items", 5, {"pack_unit": "case"}, "case"),
    Case("priced per litre", "supplier_items", 5, {"priced_per": "l"}, "unit of weight"),
    Case("par missing", "pars", 2, {"par": ""}, "basis greater needs a par"),
    Case("service level 1.2", "pars", 2, {"service_level": "1.2"}, "between 0 and 1"),
    Case("service level 0", "pars", 2, {"service_level": "0"}, "between 0 and 1"),
    Case("warmest below coldest", "storage_areas", 2, {"max_temp": "-5"}, "colder than min_temp"),
    Case("menu ends first", "menu", 3, {"to": "2026-02-01"}, "before from"),
    Case("use-by before received", "stock", 2, {"use_by": "2026-02-28"}, "before received"),
    Case("largest batch below least", "recipes", 2, {"batch_max_qty": "4"}, "less than batch_min"),
    Case("batch longer than the day", "recipes", 2, {"batch_minutes": "961"}, "960 working"),
    Case("yield 0", "recipe_lines", 2, {"yield_pct": "0"}, "more than 0"),
    Case("yield below 0", "recipe_lines", 2, {"yield_pct": "-80"}, "more than 0"),
    Case("recipe of nothing", "recipes", 2, {"makes_qty": "0"}, "more than 0"),
    Case("pack of nothing", "supplier_items", 2, {"pack_qty": "0"}, "more than 0"),
    Case("closes as it opens", "locations", 2, {"closes": "05:00"}, "same as opens"),
]
CASES = [*FIGURES, *DATES, *HOURS, *WORDS, *SETTINGS, *BETWEEN_ROWS]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_refused_with_its_place(case: Case) -> None:
    book = small()
    book[case.sheet][case.row - 2].update(case.cells)
    said = [sentence for sentence in refused(book) if sentence.startswith(case.place)]
    assert said, (case.place, refused(book))
    assert any(re.search(case.said, sentence) for sentence in said), said
    assert all(len(sentence) < 1000 for sentence in said), "a sentence is no page"


DOUBLE_KEYS = [
    sheet.name
    for sheet in SHEETS
    if sheet.name not in ("bookings", "stock", "supplier_items", "pars", "menu")
]


@pytest.mark.parametrize("name", [*DOUBLE_KEYS, "stock", "supplier_items", "pars", "menu"])
def test_a_double_key_names_both_rows(name: str) -> None:
    book = small()
    book[name].append(dict(book[name][0]))
    last = len(book[name]) + 1
    (said,) = [one for one in refused(book) if one.startswith(f"{name}!{last} ")]
    assert re.search(rf"\b2 and {last}\b", said)


def test_two_offers_of_one_item_without_sku_name_both_rows() -> None:
    book = small()
    twin = {**book["supplier_items"][4], "pack_qty": "20", "price": "40"}
    book["supplier_items"].append(twin)
    (said,) = refused(book)
    assert said.startswith("supplier_items!8 sku: rows 6 and 8")
    assert "its own sku" in said


def test_two_pars_for_one_weekday_name_both_rows() -> None:
    book = small()
    book["pars"].append({**book["pars"][1], "par": "20"})
    (said,) = refused(book)
    assert "rows 3 and 8" in said


def test_a_cycle_of_recipes_is_named() -> None:
    book = small()
    book["recipe_lines"][0]["item"] = "DUMP"
    said = refused(book)
    assert any("DUMP needs FILL needs DUMP" in one for one in said)


def test_a_recipe_that_needs_itself_is_named() -> None:
    book = small()
    book["recipe_lines"][0]["item"] = "FILL"
    assert any("FILL needs FILL" in one for one in refused(book))


def test_house_units_that_go_round_are_named() -> None:
    book = small()
    book["item_units"][0]["of_unit"] = "crate"
    said = refused(book)
    assert any(re.search(r"bunch = crate = bunch|crate = bunch = crate", one) for one in said)


def test_locations_that_supply_one_another_are_named() -> None:
    book = small()
    book["locations"][0]["supplied_by"] = "VAN1"
    assert any("COM is supplied by VAN1 is supplied by COM" in one for one in refused(book))


def test_a_location_that_supplies_itself_is_named() -> None:
    book = small()
    book["locations"][1]["supplied_by"] = "VAN1"
    assert any("VAN1 is supplied by VAN1" in one for one in refused(book))


def test_no_commissary_and_no_place_to_make_it() -> None:
    book = small()
    book["locations"][0]["kind"] = "kitchen"
    book["recipes"][0]["made_at"] = ""
    assert any(one.startswith("recipes!2 made_at: there is no commissary") for one in refused(book))


def test_a_code_as_a_number_is_read_where_nothing_is_lost() -> None:
    book: Any = {"items": [{"code": 1042.0, "name": 7, "kind": "ingredient", "unit": "kg"}]}
    assert load(book).sheets["items"].added == 1


def test_an_unknown_sheet_names_those_there_are() -> None:
    book = small()
    book["drawers"] = [{"code": "A"}]
    (said,) = refused(book)
    assert said.startswith("drawers!1")
    assert "settings locations" in said


def test_an_unknown_column_names_those_there_are() -> None:
    book = small()
    for row in book["usage"]:
        row["colour"] = "green"
    said = refused(book)
    assert any(
        one.startswith("usage!1 colour: ") and "location date item qty unit" in one for one in said
    )


@pytest.mark.parametrize(
    ("name", "column"),
    [(sheet.name, column) for sheet in SHEETS for column in sheet.required],
    ids=lambda word: word,
)
def test_a_required_column_that_is_missing_is_named(name: str, column: str) -> None:
    book = small()
    for row in book[name]:
        del row[column]
    said = refused(book)
    assert any(one.startswith(f"{name}!1 {column}: this column is required") for one in said)


@pytest.mark.parametrize("name", [sheet.name for sheet in SHEETS])
def test_a_row_of_blank_cells_says_what_is_missing(name: str) -> None:
    book = small()
    book[name].append(dict.fromkeys(book[name][0], ""))
    required = next(sheet for sheet in SHEETS if sheet.name == name).required
    said = refused(book)
    for column in required:
        assert any(
            one.startswith(f"{name}!{len(book[name]) + 1} {column}: is empty") for one in said
        )


def test_a_csv_full_of_wrong_rows_ends_with_status_1_and_sentences(tmp_path: Path) -> None:
    book = small()
    for row in book["sales"]:
        row["qty"] = "=1+1"
    ran = run("load_workbook", as_folder(book, tmp_path / "book"))
    assert (ran.status, ran.out) == (1, "")
    assert ran.problems[0].startswith("sales!2 qty: ")
    assert "Traceback" not in ran.err


# Anything at all in any cell of any sheet.

CODES = ["COM", "VAN1", "LEEK", "OIL", "SKIN", "FILL", "DUMP", "TRAY", "GRO", "DRY", "LK5", "COLD"]
LIKELY = [
    *CODES, "kg", "g", "l", "each", "case", "bunch", "crate", "cup", "yes", "no", "mon", "mon;thu",
    "0", "1", "-1", "0.5", "1e9", "9e9", "1e-9", "9223372036.854775807", "2026-03-02",
    "2026-02-29", "07:00", "fixed", "greater", "cost", "truck", "commissary", "menu", "prep",
    "sent", "time_zone", "UTC", "=1+1", "", " ", "NaN",
]  # fmt: skip
cells = st.one_of(
    st.sampled_from(LIKELY),
    st.none(),
    st.text(max_size=12),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.just(UNCALCULATED),
)


@st.composite
def spoilt_books(draw: st.DrawFn) -> Sheets:
    """The small workbook with some cells replaced and some sheets left out."""
    book: Any = small()
    for name in draw(st.lists(st.sampled_from(sorted(book)), max_size=4, unique=True)):
        del book[name]
    for _ in range(draw(st.integers(1, 6))):
        name = draw(st.sampled_from(sorted(book)))
        row = draw(st.sampled_from(book[name]))
        row[draw(st.sampled_from(sorted(row)))] = draw(cells)
    return dict(book)


@st.composite
def random_sheets(draw: st.DrawFn) -> list[RawSheet]:
    """Known sheets with random cells under their own columns."""
    headers = {sheet.name: sheet.header for sheet in SHEETS}
    chosen = draw(st.lists(st.sampled_from(sorted(headers)), min_size=1, max_size=4, unique=True))
    return [RawSheet(name, *_filled(draw, headers[name])) for name in chosen]


def _filled(draw: st.DrawFn, header: Sequence[str]) -> tuple[tuple[str, ...], Iterator[Any]]:
    columns = tuple(draw(st.lists(st.sampled_from(header), min_size=1, unique=True)))
    rows = draw(st.lists(st.tuples(*[cells] * len(columns)), max_size=4))
    return columns, iter(list(enumerate(rows, 2)))


def stored_or_refused(sheets: Iterable[RawSheet]) -> None:
    try:
        load_sheets(sheets, by=None, at=timezone.now())
    except Refused as no:
        assert no.problems
        assert all(PLACE.match(one.message) for one in no.problems), no.problems


unhurried = settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@unhurried
@given(spoilt_books())
def test_a_spoilt_workbook_is_stored_or_refused(book: Sheets) -> None:
    stored_or_refused(sheets_of(book))


@unhurried
@given(random_sheets())
def test_random_cells_are_stored_or_refused(sheets: list[RawSheet]) -> None:
    stored_or_refused(sheets)
