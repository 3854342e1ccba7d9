"""Random workbooks of both families, with minimum orders where asked, written as csv files."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from tests.oracle.brute import Answer, answer
from tests.oracle.cells import Sheets
from tests.oracle.dice import Dice
from tests.oracle.flat_kitchens import FlatSize, flat_kitchen
from tests.oracle.nested_kitchens import NestedSize, nested_kitchen

SMALL_FLAT, LARGE_FLAT = FlatSize(items=40, suppliers=5), FlatSize()
SMALL_NESTED = NestedSize()
LARGE_NESTED = NestedSize(raws=160, preps=40, dishes=25, trucks=6, suppliers=8, days=16)


@dataclass(frozen=True, slots=True)
class Workbook:
    """``name`` finds it again: family, seed and size."""

    name: str
    sheets: Sheets
    as_of: str


def generate(family: str, seed: int, *, large: bool = False, minimums: bool = True) -> Workbook:
    """Family A is one level deep, B goes from stops to purchases."""
    if family == "A":
        sheets, as_of = flat_kitchen(seed, LARGE_FLAT if large else SMALL_FLAT)
    else:
        sheets, as_of = nested_kitchen(seed, LARGE_NESTED if large else SMALL_NESTED)
    if minimums:
        _add_minimums(sheets, answer(sheets, as_of), Dice(f"minimums {seed}"))
    return Workbook(f"{family}{seed}{'-large' if large else ''}", sheets, as_of)


def _add_minimums(sheets: Sheets, expected: Answer, dice: Dice) -> None:
    """Minimums that every order of the supplier meets, some of them to the cent."""
    for row in sheets["suppliers"]:
        values = [o.value_with_approved for o in expected.orders if o.supplier == row["code"]]
        if values and dice.chance(0.6):
            share = 1.0 if dice.chance(0.3) else dice.between(0.2, 0.9)
            row["minimum_order"] = _cents_below(min(values) * Fraction(share))
            row["below_minimum"] = dice.pick(("", "refuse", "fee"))
            row["delivery_fee"] = "12.50" if row["below_minimum"] == "fee" else ""


def _cents_below(value: Fraction) -> str:
    cents = int(value * 100)
    return f"{cents // 100}.{cents % 100:02}"


def write_folder(sheets: Sheets, folder: Path) -> None:
    """One csv file a sheet; a column is written if any row of its sheet has it."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet, rows in sheets.items():
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{sheet}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, columns, restval="")
            writer.writeheader()
            writer.writerows(rows)
