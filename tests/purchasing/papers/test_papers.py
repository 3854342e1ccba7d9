"""Orders as PDF, spreadsheet and phone script."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from pypdf import PdfReader

from purchasing.papers.csv_file import HEADER, order_csv
from purchasing.papers.pdf import order_pdf
from purchasing.papers.phone import in_their_order
from purchasing.papers.sheet import OrderSheet, Party
from tests.purchasing.papers.sheets import line, sheet


def read(order: OrderSheet) -> PdfReader:
    return PdfReader(io.BytesIO(order_pdf(order)))


def rows(order: OrderSheet) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(order_csv(order).decode("utf-8-sig"))))


def test_the_sheet_says_who_what_when_and_how_much() -> None:
    (only,) = read(sheet(line(), line(2, item="Leeks", sku="77", pack="10 kg"))).pages
    text = only.extract_text()
    for word in ("Marsh Growers", "Yard kitchen", "PO-1001", "Wed 4 Mar 2026", "A-77"):
        assert word in text
    assert "1042" in text and "Leeks" in text and "319.20" in text
    assert "approved by Ines" in text


def test_many_lines_take_further_pages_with_the_heads_again() -> None:
    pages = read(sheet(*(line(number) for number in range(1, 91)))).pages
    assert len(pages) > 1
    assert all("a case is" in page.extract_text() for page in pages)


def test_letters_of_other_languages_are_printed() -> None:
    (page,) = read(sheet(line(item="Česnek <čerstvý> & křen"))).pages
    assert "Česnek <čerstvý> & křen" in page.extract_text()


@pytest.mark.parametrize(("currency", "width"), [("USD", 612), ("GBP", 595)])
def test_the_paper_is_that_of_the_country(currency: str, width: int) -> None:
    (page,) = read(sheet(currency=currency)).pages
    assert int(page.mediabox.width) == width


def test_the_same_order_is_the_same_file() -> None:
    assert order_pdf(sheet()) == order_pdf(sheet())


def test_a_spreadsheet_has_one_row_a_line() -> None:
    first, second = rows(
        sheet(line(), line(2, cases=3, priced_per="case", priced_units=Decimal(1)))
    )
    assert tuple(first) == HEADER
    assert (first["order"], first["sku"], first["cases"]) == ("PO-1001", "1042", "1")
    assert (first["price"], first["value"], second["value"]) == ("3.99", "159.60", "11.97")


@pytest.mark.parametrize("word", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_cell_of_a_spreadsheet_is_a_formula(word: str) -> None:
    (row,) = rows(sheet(line(item=word), supplier=Party(word, account=word)))
    assert row["item"] == f"'{word}"
    assert row["account"] == f"'{word}"


def test_the_phone_script_follows_the_suppliers_list() -> None:
    names = {"a": "200", "b": "", "c": "30", "d": "K-2", "e": "K-10"}
    lines = tuple(line(n, item=item, sku=sku) for n, (item, sku) in enumerate(names.items()))
    assert [one.item for one in in_their_order(lines)] == ["c", "a", "e", "d", "b"]
