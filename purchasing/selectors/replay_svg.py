"""Pictures of a replay: what each rule would have cost, what it would have run short of, and
what would have lain in stock. Places are shares of a hundred, so that a picture is as wide as
the page; words and figures stand beside them in letters of the page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

KINDS = ("before", "lost_margin", "waste", "holding", "fees")
STEPS = (1, 2, 5)
DAYS_NAMED = 8
WHOLE = Decimal(100)


@dataclass(frozen=True, slots=True)
class Part:
    """``kind``: which cost, the class of its pattern."""

    kind: str
    x: str
    width: str


@dataclass(frozen=True, slots=True)
class Bar:
    word: str
    figure: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """``style``: which dashes, 0 to 7; ``points`` of a polyline, 0 to 100 either way."""

    word: str
    style: int
    points: str


@dataclass(frozen=True, slots=True)
class Mark:
    """``is_more``: left out where it is narrow."""

    at: str
    word: str
    is_more: bool = False


@dataclass(frozen=True, slots=True)
class Lines:
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]
    days: tuple[Mark, ...]


def cost_bars(
    costs: Mapping[str, Mapping[str, Decimal]], figures: Mapping[str, str]
) -> tuple[Bar, ...]:
    """One bar a rule, its costs by kind one behind the other; of a rule that earns by running
    out (a margin below 0) only what costs is drawn."""
    nothing = Decimal(0)
    amounts = {
        word: [max(of.get(kind, nothing), nothing) for kind in KINDS] for word, of in costs.items()
    }
    most = max((sum(parts, nothing) for parts in amounts.values()), default=nothing) or Decimal(1)
    return tuple(_bar(word, figures[word], parts, most) for word, parts in amounts.items())


def share_bars(shares: Mapping[str, Decimal], figures: Mapping[str, str]) -> tuple[Bar, ...]:
    """One bar each for a share (0 to 1)."""
    most = max(shares.values(), default=Decimal(0)) or Decimal(1)
    return tuple(
        _bar(word, figures[word], [share], most, kinds=("missing",))
        for word, share in shares.items()
    )


def _bar(
    word: str, figure: str, parts: Sequence[Decimal], most: Decimal, kinds: Sequence[str] = KINDS
) -> Bar:
    x, drawn = Decimal(0), list[Part]()
    for kind, amount in zip(kinds, parts, strict=True):
        width = amount / most * WHOLE
        if amount > 0:
            drawn.append(Part(kind, _at(x), _at(width)))
        x += width
    return Bar(word, figure, tuple(drawn))


def stock_lines(nights: Mapping[str, Sequence[str]], days: Sequence[str]) -> Lines:
    """Value in stock each night, one line a rule. ``days``: what to call each night."""
    values = {word: [Decimal(text) for text in row] for word, row in nights.items()}
    most = max((max(row) for row in values.values() if row), default=Decimal(0)) or Decimal(1)
    step = _step(most)
    count = int(most / step) + 1
    top = step * count
    lines = [
        Line(word, n, " ".join(_point(d, value, len(row), top) for d, value in enumerate(row)))
        for n, (word, row) in enumerate(values.items())
    ]
    marks = [Mark(_at(_y(step * n, top)), f"{step * n:,.0f}") for n in range(count + 1)]
    return Lines(tuple(lines), tuple(marks), tuple(_named(days)))


def _named(days: Sequence[str]) -> list[Mark]:
    every = max(-(-len(days) // DAYS_NAMED), 1)
    return [
        Mark(
            at=_at(_x(n, len(days))),
            word=days[n],
            is_more=bool(nth % 2),
        )
        for nth, n in enumerate(range(0, len(days), every))
    ]


def _step(most: Decimal) -> Decimal:
    """A round step that makes at most five."""
    size = Decimal(1).scaleb((most / 5).adjusted())
    return next((size * n for n in STEPS if size * n * 5 >= most), size * 10)


def _point(nth: int, value: Decimal, count: int, top: Decimal) -> str:
    return f"{_at(_x(nth, count))},{_at(_y(value, top))}"


def _x(nth: int, count: int) -> Decimal:
    return WHOLE * nth / max(count - 1, 1)


def _y(value: Decimal, top: Decimal) -> Decimal:
    return WHOLE - WHOLE * value / top


def _at(place: Decimal) -> str:
    return f"{place:.2f}"
