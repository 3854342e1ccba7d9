"""A workbook as a folder of .csv files, one a sheet."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

from inventory.exchange.grammar import problem_at
from inventory.exchange.raw import (
    LONGEST_CELL,
    MEBIBYTE,
    MOST_COLUMNS,
    MOST_LISTED,
    MOST_ROWS,
    MOST_UNPACKED,
    RawRow,
    RawSheet,
    Table,
    beyond_header,
    blank,
    file_problem,
    header_names,
    header_problems,
    plain_row,
    too_long,
    too_many_columns,
    too_many_rows,
    trimmed,
    unread,
)
from inventory.problems import Problem, Refused

MOST_FILES = 200
_BLANK_SIZE = 64
_SPACE = codecs.BOM_UTF8 + b" \t\r\n"
_HIDES_ROWS = frozenset({"missing_header", "too_many_columns", "too_many_rows"})
LONGEST_LINE = 4 * MEBIBYTE
# Files that operating systems leave in folders.
_LEFT_BEHIND = frozenset({"thumbs.db", "desktop.ini", "__macosx"})
_UTF8_BOM = b"\xef\xbb\xbf"
_UTF16_BOMS = (b"\xff\xfe", b"\xfe\xff")
_AFTER_LONE_RETURN = re.compile(r"(?<=\r)(?!\n)")
# Spreadsheet programs calculate cells that begin so; a plain negative number does no harm.
_RISKY = "=+-@\t\n"
_NEGATIVE_NUMBER = re.compile(r"-\d+(\.\d+)?")


def read_folder(folder: Path) -> Iterator[RawSheet]:
    """Sheets in the order of their names; a file is checked before its rows are given."""
    for path in _entries(folder):
        if (sheet := _no_sheet(path)) is not None:
            yield sheet
            continue
        problems, whole = _file_problems(path)
        if not whole:
            yield unread(path.stem, problems=problems)
            continue
        records = _records(path)
        _, header = next(records)
        names = header_names(header)
        yield RawSheet(path.stem, names, _rows(records, len(names)), problems)


def write_folder(folder: Path, tables: Iterable[Table]) -> None:
    """One file a table, into an empty folder."""
    for table in tables:
        with open(folder / f"{table.name}.csv", "w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(table.header)
            for number, row in enumerate(table.rows, 2):
                writer.writerow([text and harmless(text) for text in plain_row(table, number, row)])


def harmless(text: str) -> str:
    """Text that no spreadsheet program takes for a formula; ``as_meant`` undoes it."""
    if _NEGATIVE_NUMBER.fullmatch(text):
        return text
    return f"'{text}" if text[0] in _RISKY or _reads_as_marked(text) else text


def as_meant(text: str) -> str:
    return text[1:] if _reads_as_marked(text) else text


def _reads_as_marked(text: str) -> bool:
    return len(text) > 1 and text[0] == "'" and text[1] in _RISKY + "'"


def _entries(folder: Path) -> list[Path]:
    """What lies in the folder, but for what operating systems leave there."""
    entries = sorted(folder.iterdir())
    shown = [
        path
        for path in entries
        if path.name[0] not in ".~"
        and path.name.lower() not in _LEFT_BEHIND
        and not _is_blank(path)
    ]
    sheets = [path for path in shown if _is_csv(path) or path.is_symlink()]
    if not sheets:
        message = "the folder holds no .csv file; there must be one for each sheet"
        raise Refused(file_problem(folder.name, message, "empty_folder"))
    if len(shown) > MOST_FILES:
        message = f"the folder holds {len(shown)} files; there is one for each sheet"
        raise Refused(file_problem(folder.name, message, "too_many_files"))
    if sum(path.stat().st_size for path in sheets if path.is_file()) > MOST_UNPACKED:
        message = f"the files hold more than {MOST_UNPACKED // MEBIBYTE} MB; load them in parts"
        raise Refused(file_problem(folder.name, message, "too_large"))
    return shown


def _is_blank(path: Path) -> bool:
    """A file without a single character is a sheet that is absent."""
    plain_file = _is_csv(path) and path.is_file() and not path.is_symlink()
    return plain_file and path.stat().st_size <= _BLANK_SIZE and not path.read_bytes().strip(_SPACE)


def _is_csv(path: Path) -> bool:
    return path.suffix.lower() == ".csv"


def _no_sheet(path: Path) -> RawSheet | None:
    """What stands for an entry that is no csv file; None if it is one."""
    if path.is_symlink():
        message = "is a symbolic link; put the file itself into the folder"
        return unread(path.stem, problems=[file_problem(path.name, message, "symbolic_link")])
    if not _is_csv(path):
        message = "is not a .csv file and was left aside; save a sheet as CSV (UTF-8)"
        return unread(path.name, warnings=[file_problem(path.name, message, "left_aside")])
    if not path.is_file():
        message = "is not a file; put a .csv file of this name into the folder"
        return unread(path.stem, problems=[file_problem(path.name, message, "not_csv")])
    return None


def _file_problems(path: Path) -> tuple[list[Problem], bool]:
    """What is wrong with the file, and whether all of its rows can be read."""
    problems: list[Problem] = []
    try:
        for problem in _sheet_problems(path.stem, _records(path)):
            problems.append(problem)
            if len(problems) == MOST_LISTED:
                message = "there may be more; correct these first"
                problems.append(file_problem(path.name, message, "more_problems"))
                break
    except Refused as refused:
        problems.extend(refused.problems)
        return problems, False
    return problems, not any(problem.code in _HIDES_ROWS for problem in problems)


def _sheet_problems(sheet: str, records: Iterator[tuple[int, list[str]]]) -> Iterator[Problem]:
    _, first = next(records, (1, []))
    header = header_names(first)
    yield from header_problems(sheet, header)
    if not any(header):
        return
    if len(header) > MOST_COLUMNS:
        yield too_many_columns(sheet, 1)
        return
    for number, cells in records:
        if number > MOST_ROWS + 1 and trimmed(cells):
            yield too_many_rows(sheet)
            return
        if len(cells) > len(header):
            extra = enumerate(cells[len(header) :], len(header) + 1)
            yield from (beyond_header(sheet, number, at) for at, cell in extra if not blank(cell))
        for name, cell in zip(header, cells, strict=False):
            if len(cell) > LONGEST_CELL:
                yield too_long(sheet, number, name, len(cell))


def _rows(records: Iterator[tuple[int, list[str]]], width: int) -> Iterator[RawRow]:
    for number, cells in records:
        if trimmed(cells):
            cells = cells[:width] + [""] * (width - len(cells))
            yield number, tuple(cell or None for cell in cells)


def _records(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Records by their number, blank ones too; cells as they stand, line ends as ``\\n``."""
    with open(path, "rb") as stream:
        lines = _lines(path.name, stream)
        first = next(lines, "")
        reader = csv.reader(_chain(first, lines), delimiter=_delimiter(first), strict=True)
        number = 0
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise Refused(_quote_problem(path.stem, number + 1, error)) from None
            number += 1
            yield number, [_read(cell) for cell in cells]


def _read(cell: str) -> str:
    return as_meant(cell.replace("\r\n", "\n").replace("\r", "\n"))


def _chain(first: str, lines: Iterator[str]) -> Iterator[str]:
    if first:
        yield first
    yield from lines


def _quote_problem(sheet: str, number: int, error: csv.Error) -> Problem:
    if "field limit" in str(error) or "end of data" in str(error):
        message = "a quotation mark is opened and not closed, or a cell is too long"
    else:
        message = "a closing quotation mark is followed by something else than the next cell"
    hint = 'write a quotation mark inside a quoted cell twice ("")'
    return problem_at(sheet, number, "", f"{message}; {hint}", "broken_quotes")


def _delimiter(header: str) -> str:
    outside = re.sub(r'"[^"]*"', "", header)
    return ";" if outside.count(";") > outside.count(",") else ","


def _lines(name: str, stream: BinaryIO) -> Iterator[str]:
    """Lines with their ends, none longer than ``LONGEST_LINE`` bytes."""
    number = 0
    while line := stream.readline(LONGEST_LINE + 1):
        number += 1
        if number == 1:
            if line.startswith(_UTF16_BOMS):
                raise Refused(_encoding_problem(name, 1))
            line = line.removeprefix(_UTF8_BOM)
        yield from _AFTER_LONE_RETURN.split(_decoded(name, number, line))


def _decoded(name: str, number: int, line: bytes) -> str:
    if len(line) > LONGEST_LINE:
        message = f"line {number} is longer than {LONGEST_LINE // MEBIBYTE} MB; is it a CSV file?"
        raise Refused(file_problem(name, message, "long_line"))
    if b"\0" in line:
        message = f"line {number} holds a zero byte; save the file again as CSV (UTF-8)"
        raise Refused(file_problem(name, message, "zero_byte"))
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        raise Refused(_encoding_problem(name, number)) from None


def _encoding_problem(name: str, number: int) -> Problem:
    message = f"line {number} is not UTF-8 text; save the file again as CSV (UTF-8)"
    return file_problem(name, message, "not_utf8")
