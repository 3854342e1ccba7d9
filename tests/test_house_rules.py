"""Rules of the house that no ready-made linter knows, read from the syntax tree."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
# Where quantities and money are exact: floats live in the engine only.
EXACT = ("models", "services")


def sources(*layers: str) -> list[Path]:
    files = [
        file
        for app in ("inventory", "purchasing")
        for file in (REPOSITORY / app).rglob("*.py")
        if "migrations" not in file.parts
    ]
    return sorted(file for file in files if not layers or file.parent.name in layers)


def bare_figures_beside_f(tree: ast.AST) -> Iterator[int]:
    """Lines on which ``F`` meets arithmetic with anything but ``F`` and ``exact``.

    A bare ``Decimal`` is refused by SQLite and rounded away by PostgreSQL: the subtraction is
    lost in silence.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp):
            sides = [node.left, node.right]
            if any(_is_call(side, "F") for side in sides) and not all(map(_is_exact, sides)):
                yield node.lineno


def _is_call(node: ast.AST, *names: str) -> bool:
    if not isinstance(node, ast.Call):
        return False
    called = node.func
    return (isinstance(called, ast.Name) and called.id in names) or (
        isinstance(called, ast.Attribute) and called.attr in names
    )


def _is_exact(node: ast.AST) -> bool:
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub):
        return _is_exact(node.left) and _is_exact(node.right)
    return _is_call(node, "F", "exact")


def floats(tree: ast.AST) -> Iterator[int]:
    """Lines with a float: the type, a call of it, or a figure with a point."""
    for node in ast.walk(tree):
        match node:
            case ast.Name(id="float") | ast.Attribute(attr="FloatField" | "DecimalField"):
                yield node.lineno
            case ast.Constant(value=float()):
                yield node.lineno


Check = Callable[[ast.AST], Iterator[int]]


def found(check: Check, files: list[Path]) -> list[str]:
    return [
        f"{file.relative_to(REPOSITORY)}:{line}"
        for file in files
        for line in check(ast.parse(file.read_text()))
    ]


def test_no_bare_figure_stands_beside_f() -> None:
    assert found(bare_figures_beside_f, sources()) == []


def test_no_float_passes_through_tables_and_services() -> None:
    assert found(floats, sources(*EXACT)) == []


def test_naive_moments_are_refused_by_the_linter() -> None:
    settings = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())
    assert "DTZ" in settings["tool"]["ruff"]["lint"]["select"]


# The checks themselves, on lines that they must and must not mind.


@pytest.mark.parametrize(
    "line",
    [
        'F("qty") - Decimal("0.1")',
        'F("qty") - 1',
        'qty + F("qty")',
        'models.F("qty") * 2',
        'F("qty") + Value(change)',
        'F("qty") + exact(change) * 2',
    ],
)
def test_bare_figures_are_found(line: str) -> None:
    assert list(bare_figures_beside_f(ast.parse(line))) == [1]


@pytest.mark.parametrize(
    "line",
    [
        'F("qty") + exact(change)',
        'fields.exact(change) + F("qty")',
        'F("arrived") + F("missing") - F("over")',
        'Q(qty__gte=F("other"))',
        "qty - 1",
    ],
)
def test_exact_figures_are_let_be(line: str) -> None:
    assert list(bare_figures_beside_f(ast.parse(line))) == []


@pytest.mark.parametrize(
    ("line", "is_float"),
    [
        ("x = 0.5", True),
        ("def f(qty: float) -> None: ...", True),
        ("float(qty)", True),
        ("models.FloatField()", True),
        ("models.DecimalField()", True),
        ("x = Decimal('0.5') + 1", False),
    ],
)
def test_floats_are_found(line: str, is_float: bool) -> None:
    assert bool(list(floats(ast.parse(line)))) is is_float
