"""The random workbooks are sharp: each other reading of a rule changes lines somewhere."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.oracle.bites import changed_lines, readings_of
from tests.oracle.readings import Otherwise
from tests.oracle.workbooks import generate, write_folder

MOST_SEEDS = 80
# Rare by nature: a clock change inside a chain of steps, two late runs with a life of no day.
TOO_RARE = {
    Otherwise.WALL_CLOCK_HOURS,
    Otherwise.LATE_PREP_DAY_IN_THE_PAST,
    Otherwise.FIRST_RANK_OR_NOTHING,
}

CASES = [(family, r) for family in "AB" for r in readings_of(family) if r not in TOO_RARE]


@pytest.mark.parametrize(
    ("family", "reading"), CASES, ids=[f"{family}: {reading}" for family, reading in CASES]
)
def test_reading_a_rule_otherwise_changes_lines(family: str, reading: Otherwise) -> None:
    assert any(changed_lines(family, seed, reading)[0] for seed in range(1, MOST_SEEDS))


@pytest.mark.parametrize("family", ["A", "B"])
def test_the_same_seed_gives_the_same_workbook(family: str) -> None:
    assert generate(family, 7) == generate(family, 7)
    assert generate(family, 7) != generate(family, 8)


def test_a_written_folder_holds_a_file_for_each_sheet(tmp_path: Path) -> None:
    book = generate("B", 3)
    write_folder(book.sheets, tmp_path)
    assert {path.stem for path in tmp_path.iterdir()} == set(book.sheets)
    with (tmp_path / "items.csv").open(newline="", encoding="utf-8") as file:
        assert [row["code"] for row in csv.DictReader(file)] == [
            row["code"] for row in book.sheets["items"]
        ]


def test_the_large_flat_workbook_has_160_items_and_8_suppliers() -> None:
    sheets = generate("A", 1, large=True).sheets
    assert (len(sheets["items"]), len(sheets["suppliers"])) == (160, 8)
