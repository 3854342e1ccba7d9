"""A first look at the XML of an .xlsx file that keeps nothing but places: limits, document
types, formulas without a value. What passes is safe to hand to openpyxl."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Final
from xml.parsers import expat

from openpyxl.utils import column_index_from_string

from inventory.exchange.raw import LONGEST_CELL, MEBIBYTE, MOST_COLUMNS, MOST_LISTED, MOST_ROWS

MAIN: Final = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_ROW, _CELL, _FORMULA, _VALUE, _TEXT, _STRING, _SHEET = (
    f"{MAIN} {tag}" for tag in ("row", "c", "f", "v", "t", "si", "worksheet")
)
# openpyxl keeps these in memory; a kitchen's workbook has a small share of them.
MOST_ELEMENTS: Final = 300_000
MOST_STRINGS: Final = 1_000_000
# Elements of one row, which is in memory as a whole; 16,384 formatted cells may be blank.
_FULLEST_ROW: Final = 100_000
_SHORT: Final = 64
Place = tuple[int, int]


class Unsafe(Exception):
    """The part must not be read; the text says why, with what would be right."""


class TooManyRows(Exception):
    pass


class TooManyColumns(Exception):
    """The argument is the row."""


@dataclass(slots=True)
class Strings:
    """Numbers of the shared texts that are blank, and of those that are too long."""

    blank: set[str] = field(default_factory=set)
    long: set[str] = field(default_factory=set)


@dataclass(slots=True)
class SheetPlaces:
    """``width``: columns up to the last name of row 1. Places are (row, column) from 1; lists
    stop at ``MOST_LISTED``. ``uncalculated`` holds a bit per column (1 << column) by row."""

    width: int = 0
    last_row: int = 0
    uncalculated: dict[int, int] = field(default_factory=dict)
    errors: list[Place] = field(default_factory=list)
    long: list[Place] = field(default_factory=list)
    beyond: list[Place] = field(default_factory=list)


class _Scanner:
    """Refuses document types and floods of elements; remembers how long the last text was."""

    def __init__(self) -> None:
        self.elements = 0
        self.collecting = False
        self.short = ""
        self.length = 0
        self.blank = True

    def scan(self, stream: IO[bytes]) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = _refuse_doctype
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.text
        while block := stream.read(MEBIBYTE // 16):
            parser.Parse(block, False)
        parser.Parse(b"", True)

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        if self.elements > MOST_ELEMENTS:
            raise Unsafe("holds far more formats, notes or drawings than a kitchen's workbook")

    def end(self, tag: str) -> None:
        return

    def text(self, data: str) -> None:
        if self.collecting:
            self.length += len(data)
            self.blank = self.blank and data.isspace()
            if self.length <= _SHORT:
                self.short += data

    def forget(self) -> None:
        self.short, self.length, self.blank = "", 0, True


class _StringScanner(_Scanner):
    def __init__(self) -> None:
        super().__init__()
        self.strings = Strings()
        self.count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == _STRING:
            self.forget()
        elif tag == _TEXT:
            self.collecting = True

    def end(self, tag: str) -> None:
        if tag == _TEXT:
            self.collecting = False
        elif tag == _STRING:
            if self.blank:
                self.strings.blank.add(str(self.count))
            if self.length > LONGEST_CELL:
                self.strings.long.add(str(self.count))
            self.count += 1
        if self.count > MOST_STRINGS:
            raise Unsafe(f"holds more than {MOST_STRINGS:,} different texts; load it in parts")


class _SheetScanner(_Scanner):
    def __init__(self, strings: Strings) -> None:
        super().__init__()
        self.strings = strings
        self.found = SheetPlaces()
        self.root = ""
        self.row = self.column = self.in_row = 0
        self.inside = False
        self.kind = ""
        self.formula = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.in_row += 1
        if self.inside and self.in_row > _FULLEST_ROW:
            raise TooManyColumns(self.row)
        if tag == _CELL:
            self._start_cell(attributes)
        elif tag in (_VALUE, _TEXT):
            self.collecting = True
        elif tag == _FORMULA:
            self.formula = True
        elif tag == _ROW:
            self._start_row(attributes)
        elif not self.inside:
            self._start_other(tag, attributes)

    def _start_other(self, tag: str, attributes: dict[str, str]) -> None:
        if not self.root:
            self.root = tag
            if tag != _SHEET:
                raise Unsafe("is of another kind; save it as a plain Excel workbook (.xlsx)")
        super().start(tag, attributes)

    def _start_row(self, attributes: dict[str, str]) -> None:
        row = int(float(attributes["r"])) if "r" in attributes else self.row + 1
        if row <= self.row:
            raise Unsafe(f"has its rows out of order at row {row}; open and save the file once")
        self.row, self.column, self.in_row, self.inside = row, 0, 0, True

    def _start_cell(self, attributes: dict[str, str]) -> None:
        place = attributes.get("r")
        letters = place.rstrip("0123456789") if place else ""
        self.column = column_index_from_string(letters) if letters else self.column + 1
        self.kind = attributes.get("t", "n")
        self.formula = False
        self.forget()

    def end(self, tag: str) -> None:
        if tag in (_VALUE, _TEXT):
            self.collecting = False
        elif tag == _CELL:
            self._end_cell()
        elif tag == _ROW:
            self.inside = False

    def _end_cell(self) -> None:
        # A formula that gives an empty text has the kind "str" and an empty value.
        uncalculated = self.formula and self.length == 0 and self.kind != "str"
        shared = self.kind == "s"
        if not uncalculated and (
            self.blank or (shared and self.short.strip() in self.strings.blank)
        ):
            return
        self._check_place()
        found, place = self.found, (self.row, self.column)
        found.last_row = self.row
        if self.row == 1:
            found.width = max(found.width, self.column)
        elif self.column > found.width:
            _list(found.beyond, place)
        if uncalculated:
            found.uncalculated[self.row] = found.uncalculated.get(self.row, 0) | 1 << self.column
        elif self.kind == "e":
            _list(found.errors, place)
        elif self.length > LONGEST_CELL or (shared and self.short.strip() in self.strings.long):
            _list(found.long, place)

    def _check_place(self) -> None:
        if self.row > MOST_ROWS + 1:
            raise TooManyRows
        if self.column > MOST_COLUMNS:
            raise TooManyColumns(self.row)


def scan_part(stream: IO[bytes]) -> None:
    """Any part but sheets and texts."""
    _Scanner().scan(stream)


def scan_strings(stream: IO[bytes]) -> Strings:
    scanner = _StringScanner()
    scanner.scan(stream)
    return scanner.strings


def scan_sheet(stream: IO[bytes], strings: Strings) -> SheetPlaces:
    scanner = _SheetScanner(strings)
    scanner.scan(stream)
    return scanner.found


def columns_of(bits: int) -> Iterator[int]:
    return (column for column in range(bits.bit_length()) if bits >> column & 1)


def _list(places: list[Place], place: Place) -> None:
    if len(places) < MOST_LISTED:
        places.append(place)


def _refuse_doctype(*_: object) -> None:
    raise Unsafe("declares a document type, which no spreadsheet program writes; save it again")
