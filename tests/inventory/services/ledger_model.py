"""What the ledger should do, told with plain dictionaries and no database.

Written from the design page, not from the services: quantities are whole numbers of 10^-9
base units, moments are minutes, places and items are names.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta

Stock = dict[tuple[int, str], int]
# lot, place, quantity, kind
Moved = tuple[int, str, int, str]


@dataclass(frozen=True)
class Facts:
    """Lives in days once opened and once thawed; whether seven-day marking applies."""

    opened: int | None
    thawed: int | None
    marked: bool


ITEMS = {"LEEK": Facts(3, 2, False), "STOCK": Facts(None, None, True)}
BY_DOCUMENT = {"receipt", "sent", "arrived"}


@dataclass
class ModelLot:
    item: str
    use_by: date | None
    received: date
    strip: str
    state: str = ""
    since: date | None = None
    parent: int | None = None


@dataclass
class ModelHold:
    lot: int
    place: str | None
    opened: int
    closed: int | None = None

    def covers(self, lot: int, place: str, minute: int) -> bool:
        here = self.lot == lot and self.place in (None, place)
        return here and self.opened <= minute and (self.closed is None or self.closed > minute)


@dataclass
class ModelUse:
    item: str
    place: str
    qty: int
    minute: int
    day: date


@dataclass
class ModelMovement:
    moved: Moved
    group: str
    is_reversal: bool = False
    reversed: bool = False


@dataclass
class Model:
    stock: Stock = field(default_factory=dict)
    lots: dict[int, ModelLot] = field(default_factory=dict)
    holds: list[ModelHold] = field(default_factory=list)
    unexplained: list[ModelUse] = field(default_factory=list)
    movements: dict[int, ModelMovement] = field(default_factory=dict)

    def there(self, lot: int, place: str) -> int:
        return self.stock.get((lot, place), 0)

    def fits(self, moves: list[Moved]) -> bool:
        net: Counter[tuple[int, str]] = Counter()
        for lot, place, qty, _ in moves:
            net[lot, place] += qty
        return all(self.there(*key) + qty >= 0 for key, qty in net.items())

    def apply(self, moves: list[Moved]) -> None:
        for lot, place, qty, _ in moves:
            self.stock[lot, place] = self.there(lot, place) + qty

    def held(self, lot: int, place: str, minute: int) -> bool:
        return any(hold.covers(lot, place, minute) for hold in self.holds)

    def usable(self, lot: int, place: str, minute: int, day: date) -> bool:
        use_by = self.lots[lot].use_by
        return not self.held(lot, place, minute) and (use_by is None or use_by >= day)

    def draw(self, use: ModelUse, among: set[int] | None = None) -> tuple[list[Moved], int]:
        """First expired first; the moves and what no lot covers."""
        mine = [
            lot
            for (lot, place), qty in self.stock.items()
            if qty > 0 and place == use.place and self.lots[lot].item == use.item
            if among is None or lot in among
            if self.usable(lot, place, use.minute, use.day)
        ]
        mine.sort(key=lambda lot: self._turn(self.lots[lot]))
        moves, left = [], use.qty
        for lot in mine:
            taken = min(left, self.there(lot, use.place))
            if taken:
                moves.append((lot, use.place, -taken, "usage"))
                left -= taken
        return moves, left

    @staticmethod
    def _turn(lot: ModelLot) -> tuple[date, date, str]:
        return lot.use_by or date.max, lot.received, lot.strip

    def family(self, lot: int) -> set[int]:
        found = {lot}
        while True:
            more = {pk for pk, one in self.lots.items() if one.parent in found} - found
            if not more:
                return found
            found |= more

    def open_hold(self, lot: int, place: str | None) -> bool:
        return any(
            hold.lot == lot and hold.place == place and hold.closed is None for hold in self.holds
        )

    def split_use_by(self, lot: int, change: str, day: date) -> date | None:
        parent = self.lots[lot]
        facts = ITEMS[parent.item]
        if change == "portion":
            return parent.use_by
        if change == "freeze":
            return None
        life = facts.opened if change == "open" else facts.thawed
        limits = [parent.use_by] if parent.use_by else []
        if life is not None:
            limits.append(day + timedelta(days=life))
        if change == "open" and facts.marked:
            limits.append(day + timedelta(days=6))
        if parent.state == "frozen":
            limits += self._with_frozen_days(parent, day)
        return min(limits, default=None)

    def _with_frozen_days(self, parent: ModelLot, day: date) -> list[date]:
        before = parent
        while before.state == "frozen" and before.parent is not None:
            before = self.lots[before.parent]
        if before.use_by is None or parent.since is None:
            return []
        return [before.use_by + timedelta(days=max(0, (day - parent.since).days - 1))]

    def may_change(self, lot: int, change: str) -> bool:
        frozen = self.lots[lot].state == "frozen"
        return {"freeze": not frozen, "thaw": frozen}.get(change, True)
