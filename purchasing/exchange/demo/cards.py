"""Recipe cards: a head line, then one line for each thing that goes in.

A card is ``CODE makes QTY UNIT`` and, after bars, batch limits (``batch 5 to 20``, in the
unit made), ``minutes 30``, ``hands-off 4`` (hours), ``hands-on 20`` and ``with`` a machine.
A line below it is ``ITEM QTY UNIT`` and the yield in per cent where it is not 100.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from purchasing.exchange.demo.table import Row


@dataclass(frozen=True, slots=True)
class Card:
    item: str
    makes: float
    unit: str
    limits: dict[str, str]
    lines: list[CardLine] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class CardLine:
    """``qty`` is the usable quantity; ``share`` the usable per cent of what is drawn."""

    item: str
    qty: float
    unit: str
    share: str = ""

    @property
    def drawn(self) -> float:
        return self.qty / (float(self.share or 100) / 100)


def cards(text: str) -> list[Card]:
    """Cards of ``text``, which are set apart by a blank line."""
    return [_card(block.strip().splitlines()) for block in text.strip().split("\n\n")]


def _card(lines: list[str]) -> Card:
    head, *limits = [part.strip() for part in lines[0].split("|")]
    item, makes, qty, unit = head.split()
    if makes != "makes":
        raise ValueError(f"no recipe head: {lines[0]}")
    card = Card(item, float(qty), unit, dict(_limit(part) for part in limits))
    card.lines.extend(_line(line) for line in lines[1:])
    return card


def _limit(part: str) -> tuple[str, str]:
    word, value = part.split(maxsplit=1)
    return word, value


def _line(text: str) -> CardLine:
    item, qty, unit, *share = text.split()
    return CardLine(item, float(qty), unit, *share)


def recipe_row(card: Card) -> Row:
    smallest, _, largest = card.limits.get("batch", "").partition(" to ")
    return {
        "item": card.item,
        "makes_qty": f"{card.makes:g}",
        "makes_unit": card.unit,
        "made_at": "",
        "lead_hours": card.limits.get("hands-off", ""),
        "hands_on_minutes": card.limits.get("hands-on", ""),
        "batch_min_qty": smallest,
        "batch_max_qty": largest,
        "batch_unit": card.unit if smallest else "",
        "batch_minutes": card.limits.get("minutes", ""),
        "equipment": card.limits.get("with", ""),
    }


def line_rows(card: Card) -> list[Row]:
    return [
        {
            "recipe": card.item,
            "item": line.item,
            "qty": f"{line.qty:g}",
            "unit": line.unit,
            "yield_pct": line.share,
        }
        for line in card.lines
    ]
