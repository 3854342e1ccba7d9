"""Figures, days and moments as people type them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from purchasing.web.typed import Typed

NOW = datetime(2026, 3, 4, 9, tzinfo=UTC)


def read(values: dict[str, str]) -> Typed:
    return Typed(values, lambda name: f"Leeks, {name}")


def codes(typed: Typed) -> list[str]:
    return [problem.code for problem in typed.problems]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("41.25", Decimal("41.25")),
        ("41,25", Decimal("41.25")),
        (" 5 ", Decimal(5)),
        ("1,000.5", Decimal("1000.5")),
        ("-3", Decimal(-3)),
        ("", None),
    ],
)
def test_figures(text: str, number: Decimal | None) -> None:
    typed = read({"qty": text})
    assert (typed.number("qty"), codes(typed)) == (number, [])


@pytest.mark.parametrize("text", ["five", "1e400", "NaN", "Infinity", "0.0000000001", "1.2.3"])
def test_what_is_no_figure_is_told(text: str) -> None:
    typed = read({"qty": text})
    assert typed.number("qty") is None
    (problem,) = typed.problems
    assert (problem.code, problem.field) == ("not_a_number", "qty")
    assert problem.message == f"Leeks, qty: '{text}' is not a figure."


def test_several_figures_in_one_input() -> None:
    typed = read({"weights": "41.25 38,5;40\n39"})
    assert typed.numbers("weights") == tuple(map(Decimal, ["41.25", "38.5", "40", "39"]))


def test_days() -> None:
    typed = read({"a": "2026-03-04", "b": "", "c": "tomorrow"})
    assert [typed.day(name) for name in "abc"] == [date(2026, 3, 4), None, None]
    assert codes(typed) == ["not_a_day"]


def test_moments() -> None:
    typed = read({"a": "2026-03-04T08:30:00.000Z", "b": "", "c": "soon", "d": "2026-03-04T08:30"})
    half_past = datetime(2026, 3, 4, 8, 30, tzinfo=UTC)
    assert [typed.moment(name, NOW) for name in "abcd"] == [half_past, NOW, NOW, half_past]
    assert codes(typed) == ["not_a_moment"]
