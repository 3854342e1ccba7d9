from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from inventory.engine.streams import stream

DAY = date(2026, 3, 2)


def test_the_same_name_gives_the_same_numbers() -> None:
    one, other = (stream(1, "usage", "COM/LEEK", DAY).random(5) for _ in range(2))
    assert np.array_equal(one, other)


def test_numbers_do_not_depend_on_process_or_machine() -> None:
    """Own value, written down so that a change of the naming is noticed."""
    assert stream(1, "usage", "COM/LEEK", DAY).integers(1000, size=3).tolist() == [152, 644, 469]


@pytest.mark.parametrize(
    "name",
    [
        (2, "usage", "COM/LEEK", DAY),
        (1, "turnout", "COM/LEEK", DAY),
        (1, "usage", "COM/LEEKS", DAY),
        (1, "usage", "COM/LEEK", date(2026, 3, 3)),
        (1, "usageCOM", "/LEEK", DAY),
    ],
    ids=["seed", "kind", "code", "date", "same letters, other parts"],
)
def test_every_part_of_the_name_counts(name: tuple[int, str, str, date]) -> None:
    assert not np.array_equal(
        stream(*name).random(5), stream(1, "usage", "COM/LEEK", DAY).random(5)
    )
