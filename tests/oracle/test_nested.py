"""The commands against the brute-force answer: from stops to purchases, all levels."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.oracle.compare import compare
from tests.oracle.workbooks import Workbook, generate
from tests.oracle.worked import CASE_K, CASE_K_AS_OF, CASE_L, CASE_L_AS_OF


@pytest.mark.parametrize(
    "book",
    [Workbook("K", CASE_K, CASE_K_AS_OF), Workbook("L", CASE_L, CASE_L_AS_OF)],
    ids=["case K", "case L"],
)
def test_the_worked_cases_come_out_of_the_commands(
    book: Workbook, tmp_path: Path, empty: Path
) -> None:
    assert [str(d) for d in compare(book, tmp_path, empty)] == []


@pytest.mark.parametrize("seed", range(1, 9))
def test_small_kitchens_get_every_line_right(seed: int, tmp_path: Path, empty: Path) -> None:
    assert [str(d) for d in compare(generate("B", seed), tmp_path, empty)] == []


def test_a_large_kitchen_gets_every_line_right(tmp_path: Path, empty: Path) -> None:
    book = generate("B", 1, large=True)
    assert [str(d) for d in compare(book, tmp_path, empty)] == []
