"""The real commands against the brute-force answer, line by line.

``python -m tests.oracle.compare --seeds 1-200 --family A`` hunts for differences; each one is
printed with what either side saw, and ``--keep FOLDER`` keeps the workbooks that show any.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from tests.oracle.bites import seed_range
from tests.oracle.brute import Answer, Line, Order, Reason, answer
from tests.oracle.workbooks import Workbook, generate, write_folder

REPOSITORY = Path(__file__).resolve().parents[2]
# Quantities are printed with a limited number of decimals.
RELATIVE = Fraction(2, 1_000_000)
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Difference:
    where: str
    what: str
    expected: object
    found: object

    def __str__(self) -> str:
        return f"{self.where}: {self.what}: expected {self.expected}, found {self.found}"


@dataclass(frozen=True, slots=True)
class Commands:
    """``manage.py`` on a database of its own in ``folder``."""

    folder: Path

    @property
    def database(self) -> Path:
        return self.folder / "kitchen.sqlite3"

    def run(self, *words: str) -> str:
        environment = os.environ | {
            "REORDER_PRICE_BREAKS": "0",  # the oracle weighs none
            "DATABASE_URL": f"sqlite:///{self.database}",
            "DATA_DIR": str(self.folder),
            "REDIS_URL": "",
        }
        done = subprocess.run(
            [sys.executable, str(REPOSITORY / "manage.py"), *words],
            env=environment,
            cwd=REPOSITORY,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{' '.join(words)} failed:\n{done.stderr[-4000:]}")
        return done.stdout


def empty_database(folder: Path) -> Path:
    """A migrated database to copy from, so that the tables are made once."""
    commands = Commands(folder)
    if not commands.database.exists():
        commands.run("migrate", "--verbosity", "0")
    return commands.database


def engine_answer(workbook: Workbook, folder: Path, empty: Path) -> Json:
    commands = Commands(folder)
    write_folder(workbook.sheets, folder / "workbook")
    shutil.copy(empty, commands.database)
    commands.run("load_workbook", str(folder / "workbook"))
    found: Json = json.loads(commands.run("reorder", "--as-of", workbook.as_of, "--json"))
    return found


def differences(expected: Answer, found: Json) -> list[Difference]:
    return [*_orders(expected, found), *_left_out(expected, found)]


def _orders(expected: Answer, found: Json) -> Iterator[Difference]:
    ours = {(o.supplier, o.place, o.delivery): o for o in expected.orders}
    theirs = {(o["supplier"], o["location"], o["delivery"]): o for o in found["orders"]}
    numbers = [order["number"] for order in found["orders"]]
    if len(set(numbers)) < len(numbers):
        yield Difference("all orders", "numbers", "each once", numbers)
    for key in sorted(ours.keys() | theirs.keys()):
        where = " ".join(key)
        if key not in theirs:
            yield Difference(where, "order", _cases(ours[key]), None)
        elif key not in ours:
            lines = {line["item"]: line["cases"] for line in theirs[key]["lines"]}
            yield Difference(where, "order", None, lines)
        else:
            yield from _one_order(where, ours[key], theirs[key])


def _cases(order: Order) -> dict[str, int]:
    return {line.item: line.cases for line in order.lines}


def _one_order(where: str, ours: Order, theirs: Json) -> Iterator[Difference]:
    for key in ("next_delivery", "order_by", "last_order_by", "decision"):
        if getattr(ours, key) != theirs[key]:
            yield Difference(where, key, getattr(ours, key), theirs[key])
    prefix = f"{ours.supplier}-{ours.delivery.replace('-', '')}-"
    if not theirs["number"].startswith(prefix):
        yield Difference(where, "number", prefix, theirs["number"])
    if abs(ours.value - Fraction(theirs["value"])) > Fraction(2, 100):
        yield Difference(where, "value", float(ours.value), theirs["value"])
    yield from _lines(where, ours, theirs)


def _lines(where: str, ours: Order, theirs: Json) -> Iterator[Difference]:
    expected = {(line.item, line.sku): line for line in ours.lines}
    found: dict[tuple[str, str], Json] = {
        (line["item"], line["sku"]): line for line in theirs["lines"]
    }
    for item, sku in sorted(expected.keys() | found.keys()):
        line = f"{where} {item}/{sku}"
        if (item, sku) not in found:
            missed = expected[item, sku]
            yield Difference(line, f"line {_short(missed.reasons)}", missed.cases, None)
        elif (item, sku) not in expected:
            extra = found[item, sku]
            yield Difference(line, f"line {_short(extra['reasons'])}", None, extra["cases"])
        else:
            yield from _one_line(line, expected[item, sku], found[item, sku])


def _one_line(where: str, ours: Line, theirs: Json) -> Iterator[Difference]:
    if ours.cases != theirs["cases"]:
        yield Difference(where, "cases", ours.cases, theirs["cases"])
    if not same(ours.qty, theirs["qty"]):
        yield Difference(where, "qty", shown(ours.qty), theirs["qty"])
    yield from _reasons(where, ours, theirs["reasons"])


def _reasons(where: str, ours: Line, theirs: Json) -> Iterator[Difference]:
    for key, value in ours.reasons.items():
        if value is not None and not same(value, theirs.get(key)):
            yield Difference(where, f"reason {key}", shown(value), theirs.get(key))


def _left_out(expected: Answer, found: Json) -> Iterator[Difference]:
    theirs = {
        (line["location"], line["item"]): line
        for line in found["not_ordered"]
        if line["item"] not in expected.made
    }
    for key in sorted(expected.left_out.keys() | theirs.keys()):
        where, line = f"{' '.join(key)} not ordered", expected.left_out.get(key)
        if key not in theirs:
            yield Difference(where, "considered", True, False)
        elif key not in expected.left_out:
            yield Difference(where, "considered", False, _short(theirs[key]["reasons"]))
        elif line is not None:
            yield from _reasons(where, line, theirs[key]["reasons"])


def same(ours: Reason, theirs: object) -> bool:
    if isinstance(ours, tuple):
        return list(ours) == list(theirs if isinstance(theirs, list) else [])
    if isinstance(ours, Fraction):
        if not isinstance(theirs, str) or not theirs:
            return False
        return abs(ours - Fraction(theirs)) <= RELATIVE * max(Fraction(1), abs(ours))
    return (ours or "") == (theirs or "")


def shown(value: Reason) -> object:
    return float(value) if isinstance(value, Fraction) else value


def _short(reasons: Json) -> str:
    keys = ("basis_used", "on_hand", "on_order", "use_to_delivery", "use_in_window", "raw_need")
    return " ".join(f"{key}={shown(reasons.get(key))}" for key in keys)


def compare(workbook: Workbook, folder: Path, empty: Path) -> list[Difference]:
    folder.mkdir(parents=True, exist_ok=True)
    expected = answer(workbook.sheets, workbook.as_of)
    return differences(expected, engine_answer(workbook, folder, empty))


def hunt(workbook: Workbook, scratch: Path, keep: Path | None) -> int:
    folder = scratch / workbook.name
    try:
        found: list[object] = list(compare(workbook, folder, empty_database(scratch)))
    except RuntimeError as failure:
        found = [failure]
    for difference in found:
        print(f"{workbook.name} {difference}", flush=True)
    if found and keep is not None:
        write_folder(workbook.sheets, keep / workbook.name)
        (keep / workbook.name / "as_of.txt").write_text(workbook.as_of)
    shutil.rmtree(folder, ignore_errors=True)
    return len(found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=seed_range, default=range(1, 21))
    parser.add_argument("--family", choices=("A", "B"), default="A")
    parser.add_argument("--large", action="store_true", help="160 items, 8 suppliers")
    parser.add_argument("--keep", type=Path, help="folder for the workbooks that differ")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        counts = {
            seed: hunt(generate(asked.family, seed, large=asked.large), Path(scratch), asked.keep)
            for seed in asked.seeds
        }
    print(f"{sum(map(bool, counts.values()))} of {len(counts)} workbooks differ")
    sys.exit(any(counts.values()))


if __name__ == "__main__":
    main()
