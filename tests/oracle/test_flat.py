"""The commands against the brute-force answer: bookings of bought items, one level deep."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.oracle.compare import compare
from tests.oracle.workbooks import generate


@pytest.mark.parametrize("seed", range(1, 7))
def test_small_kitchens_get_every_line_right(seed: int, tmp_path: Path, empty: Path) -> None:
    assert [str(d) for d in compare(generate("A", seed), tmp_path, empty)] == []


@pytest.mark.parametrize("seed", range(101, 103))
def test_kitchens_without_minimums_get_every_line_right(
    seed: int, tmp_path: Path, empty: Path
) -> None:
    book = generate("A", seed, minimums=False)
    assert [str(d) for d in compare(book, tmp_path, empty)] == []


def test_160_items_from_8_suppliers_get_every_line_right(tmp_path: Path, empty: Path) -> None:
    book = generate("A", 1, large=True)
    assert [str(d) for d in compare(book, tmp_path, empty)] == []
