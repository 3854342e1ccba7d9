"""The ledger beside a plain dictionary: shared parts of the state machine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, TypeVar

from django.db import connection, transaction
from hypothesis.stateful import RuleBasedStateMachine, invariant

from inventory.models import Lot
from inventory.problems import Refused
from purchasing.selectors.invariants import check_all
from tests import factories as make
from tests.factories import NOW, TODAY
from tests.inventory.services.ledger_model import ITEMS, Model, ModelLot, ModelMovement, Moved

PLACES = ("COM", "T1", "T2")
Result = TypeVar("Result")


class LedgerBeside(RuleBasedStateMachine):
    """The ledger beside its model: what is asked after every step. Each example is rolled back."""

    steps_taken = 0
    refusals = 0
    rules_seen: Counter[str] = Counter()

    def __init__(self) -> None:
        super().__init__()
        self.block = transaction.atomic()
        # Lets durable services run inside, as Django's TestCase does.
        self.block._from_testcase = True  # type: ignore[attr-defined]
        self.block.__enter__()
        self.model = Model()
        self.minute, self.day = 0, TODAY
        self.moments: dict[int, datetime] = {}
        self.loads: dict[str, tuple[str, str, int, int, int]] = {}  # on their way
        self.arrived: dict[str, tuple[str, int, int, int]] = {}
        self.last_movement = 0
        self.places = {code: make.location(code=code) for code in PLACES}
        self.items = {code: make.item(code=code, **self._facts(code)) for code in ITEMS}
        self.codes = {place.pk: code for code, place in self.places.items()}
        self.codes |= {-item.pk: code for code, item in self.items.items()}  # apart from places
        self.rows_of_lots: dict[int, Lot] = {}

    @staticmethod
    def _facts(code: str) -> dict[str, Any]:
        facts = ITEMS[code]
        return {
            "may_freeze": True,
            "shelf_life_opened_days": facts.opened,
            "shelf_life_thawed_days": facts.thawed,
            "tcs": facts.marked,
            "ready_to_eat": facts.marked,
        }

    def teardown(self) -> None:
        try:
            broken = [finding for finding in check_all() if finding.rows]
            assert broken == []
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    def tick(self, name: str) -> datetime:
        """Every step is a minute after the one before, some a day, a few nine days."""
        LedgerBeside.steps_taken += 1
        LedgerBeside.rules_seen[name] += 1
        self.minute += 1
        self.day += timedelta(days=(self.minute % 7 == 0) + 8 * (self.minute % 31 == 0))
        passed = timedelta(days=(self.day - TODAY).days, minutes=self.minute)
        self.moments[self.minute] = NOW + passed
        return NOW + passed

    # What the model and the database say must agree.

    def attempt(self, allowed: bool, act: Callable[[], Result]) -> Result | None:
        """``act`` works if the model allows it, else it is refused and changes nothing."""
        if allowed:
            return act()
        LedgerBeside.refusals += 1
        try:
            act()
        except Refused:
            return None
        raise AssertionError("this should have been refused")

    def settle(self, moves: list[Moved], group: str = "", reversal: bool = False) -> None:
        """The new movements are those of the model; it then follows."""
        rows = self.rows(
            "SELECT id, lot_id, location_id, qty, kind FROM inventory_movement "
            f"WHERE id > {self.last_movement} ORDER BY id"
        )
        found = {pk: (lot, self.codes[place], qty, kind) for pk, lot, place, qty, kind in rows}
        assert Counter(found.values()) == Counter(moves)
        for pk, moved in found.items():
            self.model.movements[pk] = ModelMovement(moved, group, reversal)
            self.last_movement = pk
        self.model.apply(moves)

    @staticmethod
    def rows(statement: str) -> list[tuple[Any, ...]]:
        """Plain SQL: it is asked after every step."""
        with connection.cursor() as cursor:
            cursor.execute(statement)
            return list(cursor.fetchall())

    @invariant()
    def on_hand_is_what_the_model_says(self) -> None:
        rows = self.rows("SELECT lot_id, location_id, qty FROM inventory_onhand WHERE qty <> 0")
        found = {(lot, self.codes[place]): qty for lot, place, qty in rows}
        assert found == {key: qty for key, qty in self.model.stock.items() if qty}

    @invariant()
    def what_is_unexplained_is_what_the_model_says(self) -> None:
        rows = self.rows(
            "SELECT item_id, location_id, SUM(qty) FROM inventory_unexplaineduse "
            "WHERE cleared_at IS NULL GROUP BY item_id, location_id"
        )
        found = {(self.codes[-item], self.codes[place]): qty for item, place, qty in rows}
        expected: Counter[tuple[str, str]] = Counter()
        for use in self.model.unexplained:
            expected[use.item, use.place] += use.qty
        assert found == expected

    # Choosing

    def a_stock(self, number: int) -> tuple[int, str]:
        """Mostly something that is there."""
        there = [key for key, qty in self.model.stock.items() if qty and number % 5]
        keys = there or list(self.model.stock)
        return keys[number % len(keys)]

    def lot(self, pk: int) -> Lot:
        return self.rows_of_lots[pk]

    def know(self, lot: Lot) -> None:
        self.rows_of_lots[lot.pk] = lot
        self.model.lots[lot.pk] = ModelLot(
            lot.item.code,
            lot.use_by,
            lot.received_on or TODAY,
            lot.strip,
            lot.state,
            lot.state_since,
            lot.parent_id,
        )

    def part_of(self, lot: int, place: str, share: int, qty: int) -> int:
        there = self.model.there(lot, place)
        return {0: there, 1: there + 1, 2: there // 2}.get(share, qty) or qty
