"""Workbooks as files: one .xlsx file, or a folder of .csv files, read and written."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from inventory.exchange.csv_folder import read_folder, write_folder
from inventory.exchange.raw import (
    UNCALCULATED,
    Cell,
    RawRow,
    RawSheet,
    Table,
    Uncalculated,
    file_problem,
)
from inventory.exchange.xlsx import read_xlsx
from inventory.exchange.xlsx_out import write_xlsx
from inventory.problems import Refused

__all__ = [
    "UNCALCULATED",
    "Cell",
    "RawRow",
    "RawSheet",
    "Table",
    "Uncalculated",
    "read_book",
    "write_book",
]

# Endings of files that a folder must not be named after.
_OTHER_FILES = frozenset({".csv", ".ods", ".tsv", ".txt", ".xls", ".xlsb", ".xlsm", ".zip"})


def read_book(path: Path) -> Iterator[RawSheet]:
    """The sheets of a workbook, streamed, each with what is wrong with it as a file; its rows
    must be walked before the next one. Raises ``Refused`` where none can be read."""
    try:
        if path.is_dir():
            yield from read_folder(path)
        elif not path.exists():
            raise Refused(file_problem(str(path), "there is no such file or folder", "no_file"))
        elif path.suffix.lower() == ".csv":
            message = "is one sheet; give the folder in which the .csv files lie"
            raise Refused(file_problem(path.name, message, "one_csv"))
        else:
            yield from read_xlsx(path)
    except OSError as error:
        message = f"cannot be read ({error.strerror or error})"
        raise Refused(file_problem(path.name, message, "unreadable")) from error


def write_book(path: Path, tables: Iterable[Table]) -> None:
    """Write an .xlsx file or, under any other name, a folder of .csv files. Nothing stands
    under ``path`` before all is written; other files of an existing folder are left alone."""
    _check_kind(path)
    try:
        if _is_xlsx(path):
            _write_file(path, tables)
        else:
            _write_files(path, tables)
    except OSError as error:
        message = f"cannot be written ({error.strerror or error})"
        raise Refused(file_problem(str(path), message, "unwritable")) from error


def _is_xlsx(path: Path) -> bool:
    return path.suffix.lower() == ".xlsx"


def _check_kind(path: Path) -> None:
    if path.suffix.lower() in _OTHER_FILES:
        message = "name a file that ends in .xlsx, or a folder for .csv files"
        raise Refused(file_problem(path.name, message, "unknown_kind"))


def _write_file(path: Path, tables: Iterable[Table]) -> None:
    made = Path(tempfile.mkdtemp(prefix=f".{path.name}.", dir=path.parent))
    try:
        write_xlsx(made / path.name, tables)
        os.replace(made / path.name, path)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _write_files(path: Path, tables: Iterable[Table]) -> None:
    made = Path(tempfile.mkdtemp(prefix=f".{path.name}.", dir=path.parent))
    try:
        write_folder(made, tables)
        path.mkdir(exist_ok=True)
        for file in made.iterdir():
            os.replace(file, path / file.name)
    finally:
        shutil.rmtree(made, ignore_errors=True)
