"""A walk over lots: back to what it was made of, forward to what was made of it, and the
account of each lot, in which every gram is somewhere.

Quantities are exact, in base units of the lot's item. Movements that were taken back, and what
took them back, are left out by the caller: together they are nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum

ZERO = Decimal(0)


class Fate(StrEnum):
    """What a movement of the ledger means for the account of a lot."""

    CAME = "came"  # received, made, opening balance
    SPLIT = "split"  # from or to a part of the lot
    USED_IN = "used_in"
    SENT = "sent"
    ARRIVED = "arrived"
    SOLD = "sold"
    TAKEN_OUT = "taken_out"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True)
class Moved:
    """``qty`` is signed, negative: out."""

    lot: str
    place: str
    fate: Fate
    qty: Decimal


@dataclass(frozen=True, slots=True)
class Account:
    """``came`` is the sum of the others. ``parts``: opened, thawed, frozen or portioned into
    lots of their own; ``on_its_way``: sent and not yet arrived (of one place: all it sent);
    ``not_explained``: missing on arrival, and what counts found less (or, below 0, more)."""

    came: Decimal = ZERO
    on_hand: Decimal = ZERO
    used_in: Decimal = ZERO
    parts: Decimal = ZERO
    on_its_way: Decimal = ZERO
    sold: Decimal = ZERO
    taken_out: Decimal = ZERO
    not_explained: Decimal = ZERO

    @property
    def accounted(self) -> Decimal:
        whole = (getattr(self, one.name) for one in fields(self) if one.name != "came")
        return sum(whole, ZERO)

    @property
    def adds_up(self) -> bool:
        return self.came == self.accounted


def account(
    moves: Iterable[Moved],
    *,
    missing: Decimal = ZERO,
    on_hand: Decimal | None = None,
    on_its_way: Decimal | None = None,
) -> Account:
    """The account of one lot, or of a lot and its parts as one. ``missing``: what was found
    missing when loads of it arrived. ``on_hand`` and ``on_its_way`` as shelves and load slips
    say, so that the account shows where they and the movements differ; None: as the movements
    say, which always adds up."""
    seen = list(moves)
    net: dict[Fate, Decimal] = defaultdict(Decimal)
    for move in seen:
        net[move.fate] += move.qty
    split_in, split_out = _split(seen)
    under_way = -net[Fate.SENT] - net[Fate.ARRIVED] - missing
    return Account(
        came=net[Fate.CAME] + split_in,
        on_hand=sum(net.values(), ZERO) if on_hand is None else on_hand,
        used_in=-net[Fate.USED_IN],
        parts=split_out,
        on_its_way=under_way if on_its_way is None else on_its_way,
        sold=-net[Fate.SOLD],
        taken_out=-net[Fate.TAKEN_OUT],
        not_explained=missing - net[Fate.COUNTED],
    )


def account_at_place(moves: Iterable[Moved], *, on_hand: Decimal | None = None) -> Account:
    """What came to one place (from outside or from another) and what became of it there."""
    seen = list(moves)
    whole = account(seen, on_hand=on_hand)
    arrived = sum((move.qty for move in seen if move.fate is Fate.ARRIVED), ZERO)
    changed = {"came": whole.came + arrived, "on_its_way": whole.on_its_way + arrived}
    names = (one.name for one in fields(Account))
    return Account(**{name: changed.get(name, getattr(whole, name)) for name in names})


def _split(moves: list[Moved]) -> tuple[Decimal, Decimal]:
    """In and out. What went to a part that is in the same account is neither."""
    by_lot: dict[str, Decimal] = defaultdict(Decimal)
    for move in moves:
        if move.fate is Fate.SPLIT:
            by_lot[move.lot] += move.qty
    if len({move.lot for move in moves}) > 1:
        net = sum(by_lot.values(), ZERO)
        return max(net, ZERO), max(-net, ZERO)
    qtys = [move.qty for move in moves if move.fate is Fate.SPLIT]
    came = sum((qty for qty in qtys if qty > 0), ZERO)
    return came, came - sum(qtys, ZERO)


@dataclass(frozen=True, slots=True)
class Link:
    """``qty`` base units of ``source`` became (part of) ``target``, in a batch or as a part."""

    source: str
    target: str
    qty: Decimal
    batch: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """``level``: how many batches or parts away from the lot that was asked for."""

    level: int
    link: Link


def back(lot: str, links: Iterable[Link]) -> list[Step]:
    """What it was made of, and what that was made of: each link once, near ones first within
    each branch."""
    return list(_walk(lot, _by(links, lambda link: link.target), lambda link: link.source))


def forward(lot: str, links: Iterable[Link]) -> list[Step]:
    """What was made of it, and of that."""
    return list(_walk(lot, _by(links, lambda link: link.source), lambda link: link.target))


def _by(links: Iterable[Link], end: Callable[[Link], str]) -> Mapping[str, list[Link]]:
    found: dict[str, list[Link]] = defaultdict(list)
    for link in links:
        found[end(link)].append(link)
    return found


def _walk(
    lot: str, ways: Mapping[str, list[Link]], onward: Callable[[Link], str]
) -> Iterator[Step]:
    """A lot that is reached twice is followed once; both links are told."""
    waiting = [Step(1, link) for link in reversed(ways.get(lot, []))]
    followed = {lot}
    while waiting:
        step = waiting.pop()
        yield step
        reached = onward(step.link)
        if reached not in followed:
            followed.add(reached)
            waiting.extend(Step(step.level + 1, link) for link in reversed(ways.get(reached, [])))
