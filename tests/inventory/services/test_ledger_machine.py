"""A state machine drives the ledger against a dictionary, ten thousand steps and more."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, precondition, rule, run_state_machine_as_test

from inventory.fields import ONE
from inventory.models import Hold, Lot, Transfer
from inventory.services.counts import Counted, post_count
from inventory.services.holds import hold_lot, release_hold
from inventory.services.ledger import reverse_movement
from inventory.services.lots import Change, Part, split_lot
from inventory.services.take_outs import Known, take_out, use_from_lot
from inventory.services.transfers import Load, call_back, load_arrived, send_load, undo_arrival
from inventory.services.usage import Use, report_use
from tests import factories as make
from tests.inventory.services.ledger_beside import PLACES, LedgerBeside
from tests.inventory.services.ledger_model import (
    BY_DOCUMENT,
    ITEMS,
    Model,
    ModelHold,
    ModelLot,
    ModelUse,
    Moved,
)

EXAMPLES, STEPS = 160, 120
BECOMES = {"open": "opened", "thaw": "thawing", "freeze": "frozen"}

# Awkward on purpose: thirds and tenths that binary numbers cannot hold.
quantities = st.one_of(
    st.sampled_from([1, 100_000_000, 333_333_333, 1_000_000_000, 453_592_370_000]),
    st.integers(1, 3_000_000_000),
)
which = st.integers(0, 10_000)
places = st.sampled_from(PLACES)
items = st.sampled_from(sorted(ITEMS))


def exact(scaled: int) -> Decimal:
    return scaled * ONE


def scaled(qty: Decimal) -> int:
    return int(qty.scaleb(9))


class LedgerMachine(LedgerBeside):
    """Each rule says what the model expects, then asks the ledger."""

    @initialize(lives=st.lists(st.integers(0, 9), min_size=4, max_size=4))
    def stock_up(self, lives: list[int]) -> None:
        """So that every rule has something to work on, whichever rules an example tries."""
        for life, place, item in zip(lives, (*PLACES, "COM"), [*ITEMS] * 2, strict=True):
            self.receive_lot(item, place, 5_000_000_000, life, "")

    @rule(
        item=items,
        place=places,
        qty=quantities,
        life=st.one_of(st.none(), st.integers(-1, 12)),
        frozen=st.sampled_from(["", "", "frozen"]),
    )
    def receive(self, item: str, place: str, qty: int, life: int | None, frozen: str) -> None:
        self.receive_lot(item, place, qty, life, frozen)

    def receive_lot(self, item: str, place: str, qty: int, life: int | None, frozen: str) -> None:
        now = self.tick("receive")
        use_by = None if life is None else self.day + timedelta(days=life)
        lot = make.lot(of=self.items[item], when=now, use_by=use_by, state=frozen)
        self.know(lot)
        make.receive(lot, self.places[place], exact(qty), when=now)
        self.settle([(lot.pk, place, qty, "receipt")])

    @precondition(lambda self: self.model.stock)
    @rule(stock=which, share=st.integers(0, 3), qty=quantities)
    def use_known_lot(self, stock: int, share: int, qty: int) -> None:
        """All of it, a third too much, or any quantity."""
        now = self.tick("use_known_lot")
        lot, place = self.a_stock(stock)
        qty = self.part_of(lot, place, share, qty)
        moves = [(lot, place, -qty, "usage")]
        allowed = self.model.fits(moves) and self.model.usable(lot, place, self.minute, self.day)
        known = Known(self.lot(lot), self.places[place], exact(qty), now)
        self.attempt(allowed, lambda: use_from_lot(known, by=None, at=now))
        self.settle(moves if allowed else [])

    @precondition(lambda self: self.model.stock)
    @rule(stock=which, share=st.integers(0, 3), qty=quantities)
    def waste(self, stock: int, share: int, qty: int) -> None:
        now = self.tick("waste")
        lot, place = self.a_stock(stock)
        qty = self.part_of(lot, place, share, qty)
        moves = [(lot, place, -qty, "take_out")]
        allowed = self.model.fits(moves)
        known = Known(self.lot(lot), self.places[place], exact(qty), now)
        self.attempt(allowed, lambda: take_out(known, reason="x", waste=True, by=None, at=now))
        self.settle(moves if allowed else [])

    @rule(item=items, place=places, qty=quantities)
    def report(self, item: str, place: str, qty: int) -> None:
        self.report_said(item, place, qty)

    def report_said(self, item: str, place: str, qty: int) -> None:
        now = self.tick("report")
        use = ModelUse(item, place, qty, self.minute, self.day)
        moves, left = self.model.draw(use)
        said = Use(self.items[item], self.places[place], exact(qty), now)
        report_use([said], by=None, at=now)
        self.settle(moves)
        if left:
            self.model.unexplained.append(ModelUse(item, place, left, self.minute, self.day))

    @precondition(lambda self: self.model.stock)
    @rule(stock=which, to=places, share=st.integers(0, 3), qty=quantities)
    def send(self, stock: int, to: str, share: int, qty: int) -> None:
        lot, source = self.a_stock(stock)
        if source == to:
            return
        now = self.tick("send")
        qty = self.part_of(lot, source, share, qty)
        moves = [(lot, source, -qty, "sent")]
        allowed = self.model.fits(moves) and self.model.usable(lot, source, self.minute, self.day)
        picks = [(self.lot(lot), exact(qty))]
        load = Load(Transfer.Kind.BETWEEN, self.places[source], self.places[to], picks, self.day)
        sent = self.attempt(allowed, lambda: send_load(load, happened_at=now, by=None, at=now))
        self.settle(moves if allowed else [])
        if sent:
            self.loads[sent.number] = (source, to, lot, qty, self.minute)

    @precondition(lambda self: self.loads)
    @rule(load=which, missing=st.integers(0, 2))
    def arrive(self, load: int, missing: int) -> None:
        self.load_arrives(load, missing, self.tick("arrive"), late=False)

    @precondition(lambda self: self.loads)
    @rule(load=which, missing=st.integers(0, 2))
    def arrive_late(self, load: int, missing: int) -> None:
        """It arrived when it was sent, and is written down only now."""
        self.load_arrives(load, missing, self.tick("arrive_late"), late=True)

    @precondition(lambda self: self.loads)
    @rule(load=which, more=quantities)
    def arrive_late_after_use(self, load: int, more: int) -> None:
        """The load explains a part of what was used out of it, and more, before it was known."""
        _, place, lot, sent, _ = self.loads[sorted(self.loads)[load % len(self.loads)]]
        self.report_said(self.model.lots[lot].item, place, sent + more)
        self.load_arrives(load, 0, self.tick("arrive_late_after_use"), late=True)

    def load_arrives(self, load: int, missing: int, now: datetime, late: bool) -> None:
        number = sorted(self.loads)[load % len(self.loads)]
        source, target, lot, sent, minute = self.loads.pop(number)
        arrived = max(0, sent - missing)
        since = minute if late else self.minute
        moves: list[Moved] = [(lot, target, arrived, "arrived")] if arrived else []
        load_arrived(
            number,
            arrived={self.model.lots[lot].strip: exact(arrived)},
            happened_at=self.moments[since],
            by=None,
            at=now,
        )
        covered = self.covered_by_arrival(lot, target, since, moves)
        self.settle(covered)
        self.arrived[number] = (source, lot, sent, minute)

    def covered_by_arrival(
        self, lot: int, place: str, since: int, moves: list[Moved]
    ) -> list[Moved]:
        trial = Model(dict(self.model.stock), self.model.lots, self.model.holds)
        trial.apply(moves)
        everything, still = list(moves), []
        for use in self.model.unexplained:
            left = use.qty
            mine = use.item == self.model.lots[lot].item and use.place == place
            if moves and mine and since <= use.minute:
                drawn, left = trial.draw(use, {lot})
                trial.apply(drawn)
                everything += drawn
            if left:
                still.append(ModelUse(use.item, use.place, left, use.minute, use.day))
        self.model.unexplained = still
        return everything

    @precondition(lambda self: self.loads)
    @rule(load=which)
    def call_load_back(self, load: int) -> None:
        now = self.tick("call_load_back")
        number = sorted(self.loads)[load % len(self.loads)]
        source, _, lot, sent, _ = self.loads.pop(number)
        call_back(number, reason="", by=None, at=now)
        self.settle([(lot, source, sent, "sent")], reversal=True)

    @precondition(lambda self: self.arrived)
    @rule(load=which)
    def undo_an_arrival(self, load: int) -> None:
        now = self.tick("undo_an_arrival")
        number = sorted(self.arrived)[load % len(self.arrived)]
        line = Transfer.objects.get(number=number).lines.get()
        target = Transfer.objects.get(number=number).target.code
        moves: list[Moved] = (
            [(line.lot_id, target, -scaled(line.arrived), "arrived")] if line.arrived else []
        )
        allowed = self.model.fits(moves)
        self.attempt(allowed, lambda: undo_arrival(number, reason="", by=None, at=now))
        self.settle(moves if allowed else [], reversal=True)
        if allowed:
            source, lot, sent, minute = self.arrived.pop(number)
            self.loads[number] = (source, target, lot, sent, minute)

    @precondition(lambda self: self.model.lots)
    @rule(lot=which, place=places, share=st.integers(0, 3), qty=quantities)
    def count(self, lot: int, place: str, share: int, qty: int) -> None:
        now = self.tick("count")
        pk = list(self.model.lots)[lot % len(self.model.lots)]
        found = 0 if share == 0 else self.part_of(pk, place, share, qty)
        difference = found - self.model.there(pk, place)
        line = Counted(self.lot(pk), self.places[place], exact(found))
        post_count([line], reference="count:1", counted_at=now, by=None, at=now)
        self.settle([(pk, place, difference, "count")] if difference else [])
        item = self.model.lots[pk].item
        self.model.unexplained = [
            use for use in self.model.unexplained if (use.item, use.place) != (item, place)
        ]

    @precondition(lambda self: self.model.stock)
    @rule(
        stock=which,
        change=st.sampled_from(["open", "thaw", "freeze", "portion"]),
        share=st.integers(0, 3),
        qty=quantities,
    )
    def split(self, stock: int, change: str, share: int, qty: int) -> None:
        now = self.tick("split")
        lot, place = self.a_stock(stock)
        qty = self.part_of(lot, place, share, qty)
        out: Moved = (lot, place, -qty, "split")
        free = not self.model.held(lot, place, self.minute)
        allowed = free and self.model.fits([out]) and self.model.may_change(lot, change)
        part = Part(self.lot(lot), self.places[place], exact(qty), Change(change))
        child = self.attempt(allowed, lambda: split_lot(part, happened_at=now, by=None, at=now))
        if child is None:
            self.settle([])
            return
        self.follow_split(lot, child, change)
        self.settle([out, (child.pk, place, qty, "split")], group=child.strip)

    def follow_split(self, lot: int, child: Lot, change: str) -> None:
        parent = self.model.lots[lot]
        expected = ModelLot(
            parent.item,
            self.model.split_use_by(lot, change, self.day),
            parent.received,
            child.strip,
            BECOMES.get(change, parent.state),
            self.day if change in BECOMES else parent.since,
            lot,
        )
        self.know(child)
        assert self.model.lots[child.pk] == expected
        for hold in [hold for hold in self.model.holds if hold.lot == lot and not hold.closed]:
            self.model.holds.append(ModelHold(child.pk, hold.place, hold.opened))

    @precondition(lambda self: self.model.movements)
    @rule(movement=which)
    def reverse(self, movement: int) -> None:
        now = self.tick("reverse")
        pk = list(self.model.movements)[movement % len(self.model.movements)]
        chosen = self.model.movements[pk]
        together = [
            one
            for one in self.model.movements.values()
            if one is chosen or (chosen.group and one.group == chosen.group)
            if one is chosen or not one.is_reversal
        ]
        if chosen.group and chosen.is_reversal:
            together = [one for one in together if not one.is_reversal]
        moves = [
            (lot, place, -qty, kind) for lot, place, qty, kind in (one.moved for one in together)
        ]
        allowed = (
            chosen.moved[3] not in BY_DOCUMENT
            and not any(one.is_reversal or one.reversed for one in together)
            and self.model.fits(moves)
        )
        self.attempt(allowed, lambda: reverse_movement(pk, reason="x", by=None, at=now))
        self.settle(moves if allowed else [], group=chosen.group, reversal=True)
        for one in together if allowed else []:
            one.reversed = True

    @precondition(lambda self: self.model.lots)
    @rule(lot=which, place=st.one_of(st.none(), places))
    def hold(self, lot: int, place: str | None) -> None:
        now = self.tick("hold")
        pk = list(self.model.lots)[lot % len(self.model.lots)]
        where = self.places[place] if place else None
        new = {one for one in self.model.family(pk) if not self.model.open_hold(one, place)}
        reason = Hold.Reason.TEMPERATURE
        holds = hold_lot(self.lot(pk), location=where, reason=reason, by=None, at=now)
        assert {hold.lot_id for hold in holds} == new
        self.model.holds += [ModelHold(one, place, self.minute) for one in sorted(new)]

    @precondition(lambda self: any(not hold.closed for hold in self.model.holds))
    @rule(number=which)
    def release(self, number: int) -> None:
        now = self.tick("release")
        still = [hold for hold in self.model.holds if not hold.closed]
        chosen = still[number % len(still)]
        row = Hold.objects.still_open().get(
            lot_id=chosen.lot, location=self.places[chosen.place] if chosen.place else None
        )
        release_hold(row.pk, why="", by=None, at=now)
        chosen.closed = self.minute


def test_the_ledger_never_parts_from_a_plain_dictionary(db: None) -> None:
    LedgerBeside.steps_taken = LedgerBeside.refusals = 0
    LedgerBeside.rules_seen.clear()
    run_state_machine_as_test(
        LedgerMachine,
        settings=settings(
            max_examples=EXAMPLES,
            stateful_step_count=STEPS,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    print(f"{LedgerBeside.steps_taken} steps, {LedgerBeside.refusals} refused")
    print(dict(LedgerBeside.rules_seen))
    assert LedgerBeside.steps_taken >= 10_000
    assert LedgerBeside.refusals >= 500
    assert min(LedgerBeside.rules_seen.values()) >= 5
