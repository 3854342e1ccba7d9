"""A form is a workbook of a few rows: the same kinds of cell, the same checks, so that one rule
lives in one place. What is wrong is said of the form's fields instead of sheet and row."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from inventory.exchange.book import TextSheet
from inventory.exchange.grammar import Book
from inventory.problems import Problem, Refused
from purchasing.exchange.workbook import checked_book
from purchasing.form_words import fact_labels

Rows = Mapping[str, Sequence[Mapping[str, str]]]  # by sheet
# Sheet, place of the row among the form's rows (from 0), column: the form's field.
FieldOf = Callable[[str, int, str], str]

_FIRST_ROW = 2
# Cells, rows by themselves, rows that name each other, and the book of what is left.
_ROUNDS = 4


def checked_form(rows: Rows, field_of: FieldOf) -> Book:
    """The checked rows. Raises ``Refused`` with every problem, each at its field."""
    book, problems = read_form(rows, field_of)
    if problems or book is None:
        raise Refused(problems)
    return book


def read_form(rows: Rows, field_of: FieldOf) -> tuple[Book | None, list[Problem]]:
    """The rows as a book, and every problem at its field.

    A workbook does not check a row further whose cell is wrong; of a form everything is told
    at once, so wrong cells are taken out, or something usual put in, and the rest is checked.
    The book is then that of the rest, None where even that is wrong.
    """
    told: list[Problem] = []
    wrong: set[_Cell] = set()
    for _round in range(_ROUNDS):
        try:
            return _book(_without(rows, wrong)), list(_of_the_form(told, field_of))
        except Refused as refused:
            new = (one for one in refused.problems if one not in told)
            told += [one for one in new if not _follows(one, wrong)]
        found = {cell for problem in told if (cell := _cell(problem))}
        if found <= wrong:
            break
        wrong = found
    return None, list(_of_the_form(told, field_of))


def _book(rows: Rows) -> Book:
    return checked_book([TextSheet(name, list(texts)) for name, texts in rows.items() if texts])


# Columns that are called otherwise there.
_OF_SHEET = {("item_units", "unit"): "word"}
_Cell = tuple[str, int, str]  # sheet, row among the form's rows, column
STAND_IN = "stand-in"
_STAND_INS = {
    ("items", "code"): STAND_IN,
    ("item_units", "item"): STAND_IN,
    ("items", "name"): STAND_IN,
    ("items", "kind"): "ingredient",
    ("items", "unit"): "each",
    ("pars", "basis"): "forecast",
}


def _cell(problem: Problem) -> _Cell | None:
    sheet, row = problem.data.get("sheet"), problem.data.get("row")
    if isinstance(sheet, str) and isinstance(row, int) and problem.field:
        return sheet, row - _FIRST_ROW, problem.field
    return None


def _without(rows: Rows, wrong: set[_Cell]) -> Rows:
    return {
        sheet: [
            {
                column: _STAND_INS.get((sheet, column), "")
                if (sheet, place, column) in wrong
                else text
                for column, text in row.items()
            }
            for place, row in enumerate(texts)
        ]
        for sheet, texts in rows.items()
    }


def _follows(problem: Problem, wrong: set[_Cell]) -> bool:
    """Said of a cell that was taken out, or of units where the unit itself is wrong."""
    columns = {(sheet, column) for sheet, _row, column in wrong}
    is_of_units = problem.field in ("of_unit", "unit") and ("items", "unit") in columns
    return is_of_units or _cell(problem) in wrong


def _of_the_form(problems: Sequence[Problem], field_of: FieldOf) -> Iterator[Problem]:
    labels = fact_labels()
    for problem in problems:
        sheet, row = problem.data.get("sheet"), problem.data.get("row")
        if not isinstance(sheet, str) or not isinstance(row, int):
            yield problem
            continue
        column = problem.field
        place = f"{sheet}!{row} {column}".rstrip() + ": "
        label = (_OF_SHEET.get((sheet, column)) or labels.get(column, column)).capitalize()
        message = _sentence(label, problem.message.removeprefix(place))
        field = field_of(sheet, row - _FIRST_ROW, column)
        yield replace(problem, message=message, field=field)


def _sentence(label: str, said: str) -> str:
    return f"{label} is missing." if said.startswith("is empty; ") else f"{label}: {plain(said)}."


def plain(message: str) -> str:
    """Without the workbook's column names."""
    labels = fact_labels()
    columns = "|".join(word for word in labels if "_" in word)
    return re.sub(rf"\b({columns})\b", lambda found: f"'{labels[found[0]]}'", message).rstrip(".")
