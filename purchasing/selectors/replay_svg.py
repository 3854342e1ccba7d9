"""Pictures of a replay: what each rule would have cost, what it would have run short of, and
what would have lain in stock. Places are texts of an SVG; words and figures stand beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

LEFT, RIGHT = 210, 530  # what stands behind the longest bar takes up to 110
ROW, BAR, TOP = 30, 18, 6
HEIGHT, FLOOR, CEILING = 220, 190, 12
LINE_LEFT, LINE_RIGHT = 64, 632
KINDS = ("lost_margin", "waste", "holding", "fees")
STEPS = (1, 2, 5)
DAYS_NAMED = 8


@dataclass(frozen=True, slots=True)
class Part:
    """``kind``: which cost, the class of its pattern."""

    kind: str
    x: str
    width: str


@dataclass(frozen=True, slots=True)
class Bar:
    """``mark``: where the figure stands, behind the bar."""

    word: str
    figure: str
    y: str
    middle: str
    mark: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Bars:
    height: int
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """``style``: which dashes, 0 to 7; ``points`` of a polyline."""

    word: str
    style: int
    points: str


@dataclass(frozen=True, slots=True)
class Mark:
    at: str
    word: str


@dataclass(frozen=True, slots=True)
class Lines:
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]
    days: tuple[Mark, ...]


def cost_bars(totals: Mapping[str, Mapping[str, str]], figures: Mapping[str, str]) -> Bars:
    """One bar a rule, its costs one behind the other; of a rule that earns by running out
    (a margin below 0) only what costs is drawn."""
    nothing = Decimal(0)
    amounts = {
        word: [max(Decimal(of[kind]), nothing) for kind in KINDS] for word, of in totals.items()
    }
    most = max((sum(parts, nothing) for parts in amounts.values()), default=nothing) or Decimal(1)
    rows = [
        _bar(n, word, figures[word], parts, most) for n, (word, parts) in enumerate(amounts.items())
    ]
    return Bars(_height(rows), tuple(rows))


def share_bars(shares: Mapping[str, Decimal], figures: Mapping[str, str]) -> Bars:
    """One bar a rule for the share (0 to 1) of what was asked for and was not there."""
    most = max(shares.values(), default=Decimal(0)) or Decimal(1)
    rows = [
        _bar(n, word, figures[word], [share], most, kinds=("missing",))
        for n, (word, share) in enumerate(shares.items())
    ]
    return Bars(_height(rows), tuple(rows))


def _height(rows: Sequence[Bar]) -> int:
    return TOP + ROW * len(rows)


def _bar(
    nth: int,
    word: str,
    figure: str,
    parts: Sequence[Decimal],
    most: Decimal,
    kinds: Sequence[str] = KINDS,
) -> Bar:
    y, x, drawn = TOP + nth * ROW, Decimal(LEFT), list[Part]()
    for kind, amount in zip(kinds, parts, strict=True):
        width = amount / most * (RIGHT - LEFT)
        if amount > 0:
            drawn.append(Part(kind, _at(x), _at(width)))
        x += width
    return Bar(word, figure, str(y), str(y + BAR - 4), _at(x + 6), tuple(drawn))


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
    every = -(-len(days) // DAYS_NAMED)
    named = [Mark(_at(_x(n, len(days))), days[n]) for n in range(0, len(days), max(every, 1))]
    return Lines(tuple(lines), tuple(marks), tuple(named))


def _step(most: Decimal) -> Decimal:
    """A round step that makes at most five."""
    size = Decimal(1).scaleb((most / 5).adjusted())
    return next((size * n for n in STEPS if size * n * 5 >= most), size * 10)


def _point(nth: int, value: Decimal, count: int, top: Decimal) -> str:
    return f"{_at(_x(nth, count))},{_at(_y(value, top))}"


def _x(nth: int, count: int) -> Decimal:
    return LINE_LEFT + Decimal(LINE_RIGHT - LINE_LEFT) * nth / max(count - 1, 1)


def _y(value: Decimal, top: Decimal) -> Decimal:
    return FLOOR - (FLOOR - CEILING) * value / top


def _at(place: Decimal) -> str:
    return f"{place:.1f}"
