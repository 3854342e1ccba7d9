"""Whether a file is an .xlsx package that may be opened, before anything in it is unpacked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import IO
from zipfile import ZipFile, ZipInfo, is_zipfile

from inventory.exchange.raw import MEBIBYTE, MOST_PACKED, MOST_UNPACKED, file_problem
from inventory.problems import Problem

MOST_RATIO = 100
MOST_PARTS = 2_000
# Small parts of one repeated line may shrink to a hundredth; what they unpack to does no harm.
RATIO_FROM = MEBIBYTE
# Everything but sheets and texts: formats, names, theme.
LARGEST_OTHER = 20 * MEBIBYTE
_OLD_OFFICE = bytes.fromhex("d0cf11e0a1b11ae1")
_MACRO_ENDINGS = (".xlsm", ".xltm", ".xlam")
_ENCRYPTED = 0x1


def start_problem(path: Path, stream: IO[bytes]) -> Problem | None:
    """What can be said from the name, the size and the first bytes."""
    start = stream.read(len(_OLD_OFFICE))
    size = path.stat().st_size
    if path.suffix.lower() in _MACRO_ENDINGS:
        return _macros(path.name)
    if size == 0:
        return file_problem(path.name, "the file is empty", "empty_file")
    if size > MOST_PACKED:
        message = f"is larger than {MOST_PACKED // MEBIBYTE} MB; load it in parts"
        return file_problem(path.name, message, "too_large")
    if start == _OLD_OFFICE:
        message = (
            "is protected by a password or an old .xls file; save it as .xlsx without a password"
        )
        return file_problem(path.name, message, "not_xlsx")
    if not start.startswith(b"PK") or not is_zipfile(stream):
        message = "is not an .xlsx workbook; save it as .xlsx"
        return file_problem(path.name, message, "not_xlsx")
    stream.seek(0)
    return None


def package_problems(name: str, archive: ZipFile) -> Iterator[Problem]:
    """Sizes as the package declares them; the standard library reads no byte beyond them."""
    infos = archive.infolist()
    names = {info.filename for info in infos}
    if len(infos) > MOST_PARTS or sum(info.file_size for info in infos) > MOST_UNPACKED:
        message = f"unpacks to more than {MOST_UNPACKED // MEBIBYTE} MB; load it in parts"
        yield file_problem(name, message, "too_large")
        return
    if any(_blown_up(info) for info in infos):
        message = "unpacks to far more than a workbook would; open it and save it again"
        yield file_problem(name, message, "zip_ratio")
        return
    if any(info.flag_bits & _ENCRYPTED for info in infos):
        message = "is protected by a password; save it without one"
        yield file_problem(name, message, "encrypted")
    elif "[Content_Types].xml" not in names or "_rels/.rels" not in names:
        message = "is a zip file but not an .xlsx workbook; save it as .xlsx"
        yield file_problem(name, message, "not_xlsx")
    elif _has_macros(archive, names):
        yield _macros(name)
    elif not any(info.filename.endswith("workbook.xml") for info in infos) and (
        b"spreadsheetml.sheet.main+xml" not in _content_types(archive)
    ):
        message = "is not an .xlsx workbook; save it as .xlsx"
        yield file_problem(name, message, "not_xlsx")


def _blown_up(info: ZipInfo) -> bool:
    name = info.filename.lower()
    if info.file_size > LARGEST_OTHER and "/worksheets/" not in name and "strings" not in name:
        return True
    return info.file_size > max(RATIO_FROM, MOST_RATIO * info.compress_size)


def _has_macros(archive: ZipFile, names: set[str]) -> bool:
    return any(name.lower().endswith("vbaproject.bin") for name in names) or (
        b"macroenabled" in _content_types(archive).lower()
    )


def _content_types(archive: ZipFile) -> bytes:
    with archive.open("[Content_Types].xml") as stream:
        return stream.read(MEBIBYTE)


def _macros(name: str) -> Problem:
    message = "holds macros, which are not read; save it as a workbook without macros (.xlsx)"
    return file_problem(name, message, "macros")
