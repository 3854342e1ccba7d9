"""A workbook as an .xlsx file, written row by row. A figure is a number where a spreadsheet
keeps all of its digits; all else is text: nothing is calculated, and nothing is rounded when
the file is loaded back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from inventory.exchange.raw import MOST_ROWS, Table, plain_row

# A drop-down typed into a cell's rule holds no more.
_LONGEST_LIST = 255
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_DIGITS = 15  # that a spreadsheet keeps of a number
_NARROWEST, _WIDEST = 10, 40


def write_xlsx(path: Path, tables: Iterable[Table]) -> None:
    book = Workbook(write_only=True)
    try:
        for table in tables:
            _write_sheet(book.create_sheet(table.name), table)
        book.save(path)
    finally:
        _close(book)


def _close(book: Workbook) -> None:
    """Sheets of a workbook that was given up hold open files."""
    sheets: list[Any] = book.worksheets
    for sheet in sheets:
        if not sheet.closed:
            sheet.close()


def _write_sheet(sheet: Any, table: Table) -> None:
    sheet.freeze_panes = "A2"
    for position, name in enumerate(table.header, 1):
        width = min(max(_NARROWEST, len(name) + 2), _WIDEST)
        sheet.column_dimensions[get_column_letter(position)].width = width
        if rule := _drop_down(table.choices.get(name, ()), position):
            sheet.data_validations.append(rule)
    sheet.append([_name(sheet, name, table.notes.get(name)) for name in table.header])
    for number, row in enumerate(table.rows, 2):
        texts = zip(table.header, plain_row(table, number, row), strict=True)
        sheet.append(
            [
                _figure(text) if text and name in table.figures else _text(sheet, text)
                for name, text in texts
            ]
        )


def _name(sheet: Any, name: str, note: str | None) -> Any:
    cell = WriteOnlyCell(sheet, name)
    cell.font = Font(bold=True)
    if note:
        cell.comment = Comment(note, "")
    return cell


def _figure(text: str) -> str | int | float:
    if not _NUMBER.fullmatch(text) or sum(map(str.isdigit, text)) > _DIGITS:
        return text
    return float(text) if "." in text else int(text)


def _text(sheet: Any, text: str | None) -> Any:
    """A cell of its own for what openpyxl would take for a formula or an error."""
    if not text or text[0] not in "=#":
        return text or None
    cell = WriteOnlyCell(sheet, text)
    cell.data_type = "s"
    return cell


def _drop_down(choices: Sequence[str], position: int) -> DataValidation | None:
    listed = ",".join(choices)
    if (
        not choices
        or len(listed) > _LONGEST_LIST
        or '"' in listed
        or listed.count(",") >= len(choices)
    ):
        return None
    letter = get_column_letter(position)
    rule = DataValidation(type="list", formula1=f'"{listed}"', allow_blank=True)
    rule.add(f"{letter}2:{letter}{MOST_ROWS + 1}")
    return rule
