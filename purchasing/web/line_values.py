"""What was typed into each line of a delivery, beside the line itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from purchasing.selectors.delivery_page import DeliveryPage, DockGroup, DockLine


@dataclass(frozen=True, slots=True)
class Line:
    """``said``: what was typed, by the short name of the input."""

    facts: DockLine
    said: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Group:
    """``temp`` and ``is_hard``: what was said of all its lines."""

    facts: DockGroup
    lines: tuple[Line, ...]
    temp: str
    is_hard: bool


def with_values(page: DeliveryPage, typed: Mapping[str, str]) -> list[Group]:
    return [
        Group(
            group,
            tuple(Line(line, _said(line, typed)) for line in group.lines),
            typed.get(f"g-{group.key}-temp", ""),
            bool(typed.get(f"g-{group.key}-hard")),
        )
        for group in page.groups
    ]


def _said(line: DockLine, typed: Mapping[str, str]) -> dict[str, str]:
    prefix = f"l{line.pk}-"
    return dict(_own(prefix, typed))


def _own(prefix: str, typed: Mapping[str, str]) -> Iterable[tuple[str, str]]:
    for name, value in typed.items():
        if name.startswith(prefix):
            yield name.removeprefix(prefix), value
