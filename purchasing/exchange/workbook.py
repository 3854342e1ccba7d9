"""The whole workbook: all sheets of both apps, in order: check, load, save."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from django.db import transaction

from inventory.exchange.book import RawSheet, parse_book
from inventory.exchange.checks import check_kitchen
from inventory.exchange.export import KITCHEN_ROWS, stock
from inventory.exchange.files import Table, read_book, write_book
from inventory.exchange.grammar import Book, Sheet
from inventory.exchange.known import known_kitchen
from inventory.exchange.sheets import KITCHEN_SHEETS
from inventory.exchange.stock import double_lots, stock_problems, store_stock
from inventory.exchange.store import store_kitchen
from inventory.exchange.upsert import Tally
from inventory.problems import Problem, Refused
from inventory.selectors.measures import item_measures
from inventory.services.log import note
from inventory.services.turns import one_at_a_time
from purchasing.exchange.checks import case_sizes_with, check_purchasing
from purchasing.exchange.export import PURCHASING_ROWS
from purchasing.exchange.open_orders import store_open_orders
from purchasing.exchange.sheets import PURCHASING_SHEETS
from purchasing.exchange.store import store_purchasing
from purchasing.models import PurchaseOrder
from purchasing.selectors.supply import case_sizes
from purchasing.services.inbound import tell_kitchen

if TYPE_CHECKING:
    from django.contrib.auth.models import User

SHEETS: tuple[Sheet, ...] = (*KITCHEN_SHEETS, *PURCHASING_SHEETS)


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What a load did, sheet by sheet, and what is worth a second look."""

    sheets: dict[str, Tally] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = ()

    @property
    def changed(self) -> bool:
        return any(tally.added or tally.changed for tally in self.sheets.values())


def check_workbook(path: Path) -> LoadReport:
    """Only look. Raises ``Refused`` with every problem of the whole workbook."""
    return LoadReport(warnings=tuple(checked_book(read_book(path)).warnings))


def load_workbook(path: Path, *, by: User | None, at: datetime) -> LoadReport:
    """All or nothing. Rows absent from the file are never deleted; the same file twice
    changes nothing."""
    return load_sheets(read_book(path), by=by, at=at, name=path.name)


def load_sheets(
    raw: Iterable[RawSheet], *, by: User | None, at: datetime, name: str = ""
) -> LoadReport:
    """Reading and checking happen outside the transaction, which is short. ``name``: the
    file's, for the log."""
    book = checked_book(raw)
    with transaction.atomic(durable=True):
        one_at_a_time("workbook")
        report = LoadReport(_stored(book, by, at), tuple(book.warnings))
        if report.changed:
            told = {sheet: _told(tally) for sheet, tally in report.sheets.items()}
            note("load", f"workbook:{name[:100]}", by=by, at=at, changes=told)
        return report


def preview_workbook(path: Path, *, at: datetime) -> LoadReport:
    """What a load would do: it is done and taken back. Raises ``Refused`` with every problem."""
    book = checked_book(read_book(path))
    with transaction.atomic(durable=True):
        one_at_a_time("workbook")
        report = LoadReport(_stored(book, None, at), tuple(book.warnings))
        transaction.set_rollback(True)
        return report


def _told(tally: Tally) -> str:
    return f"{tally.added} new, {tally.changed} changed, {tally.same} as before"


def checked_book(raw: Iterable[RawSheet]) -> Book:
    """Every rule of the workbook, for a file or a form. Raises ``Refused`` with every problem."""
    book = parse_book(raw, SHEETS)
    sizes = case_sizes_with(book)
    known = known_kitchen(book, sizes)
    check_kitchen(book, known)
    check_purchasing(book, known)
    book.complain(double_lots(book))
    if not book.problems:
        book.complain(stock_problems(book, known.measures))
    if book.problems:
        raise Refused(book.sorted_problems())
    return book


def _stored(book: Book, by: User | None, at: datetime) -> dict[str, Tally]:
    done = store_kitchen(book)
    done |= store_purchasing(book)
    measures = item_measures(case_sizes())
    done["stock"] = store_stock(book, measures, by=by, at=at)
    done["open_orders"] = store_open_orders(book, measures)
    if book["open_orders"] or book["items"]:
        tell_kitchen(PurchaseOrder.objects.on_order())
    return {sheet.name: done[sheet.name] for sheet in SHEETS if sheet.name in book.rows}


def save_workbook(path: Path) -> None:
    """The planning state as a workbook: loaded into an empty database it gives the same plans.
    The ledger, receipts and the log are not in it; a backup is the full copy."""
    measures = item_measures(case_sizes())
    rows = {**KITCHEN_ROWS, "stock": lambda: stock(measures), **PURCHASING_ROWS}
    tables = (
        Table(sheet.name, sheet.header, rows[sheet.name](), figures=sheet.figures)
        for sheet in SHEETS
    )
    write_book(path, tables)


def write_empty_workbook(path: Path) -> None:
    """Every sheet with its columns, a note on each, and drop-downs where a word is chosen."""
    write_book(
        path,
        (
            Table(
                sheet.name,
                sheet.header,
                (),
                notes={column.name: column.note for column in sheet.columns},
                choices={c.name: c.choices for c in sheet.columns if c.choices},
            )
            for sheet in SHEETS
        ),
    )
