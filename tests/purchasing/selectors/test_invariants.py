"""Each invariant, broken behind the services' back, is reported with the row at fault."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection

from inventory import append_only
from purchasing.selectors.invariants import INVARIANTS, Row, check_all
from tests.purchasing.selectors.busy_kitchen import busy_kitchen

# What is done to the tables, the invariant that must notice, and what its row must name.
FAULTS = {
    "a movement is changed": (
        "UPDATE inventory_movement SET qty = qty - 1000000000 WHERE kind = 'receipt'",
        "on_hand_is_movements",
        {"location": "COM"},
    ),
    "a movement is gone": (
        "DELETE FROM inventory_movement WHERE kind = 'count'",
        "on_hand_is_movements",
        {"location": "COM"},
    ),
    "stock is gone": (
        "DELETE FROM inventory_onhand WHERE qty > 0",
        "on_hand_is_movements",
        {"on_hand": "0"},
    ),
    "stock appears": (
        "UPDATE inventory_onhand SET qty = qty + 1 WHERE location_id = "
        "(SELECT id FROM inventory_location WHERE code = 'T1')",
        "on_hand_is_movements",
        {"on_hand": "95.000000001", "movements": "95"},
    ),
    "stock below nothing": (
        "UPDATE inventory_onhand SET qty = -5000000000 WHERE qty = 95000000000",
        "never_negative",
        {"qty": "-5.000000000", "location": "T1"},
    ),
    "stock of another item": (
        "UPDATE inventory_onhand SET item_id = (SELECT id FROM inventory_item WHERE code = 'SOUP')",
        "one_item_a_lot",
        {"item": "SOUP"},
    ),
    "a movement of another item": (
        "UPDATE inventory_movement SET item_id = "
        "(SELECT id FROM inventory_item WHERE code = 'SOUP')",
        "one_item_a_lot",
        {"item": "SOUP"},
    ),
    "a part of another item": (
        "UPDATE inventory_lot SET item_id = (SELECT id FROM inventory_item WHERE code = 'SOUP') "
        "WHERE origin = 'part'",
        "one_item_a_lot",
        {"item": "SOUP"},
    ),
    "opened twice": (
        "UPDATE inventory_movement SET kind = 'opening', "
        "lot_id = (SELECT id FROM inventory_lot WHERE origin = 'opening') WHERE kind = 'receipt'",
        "opened_once",
        {"times": "4"},
    ),
    "more sent than moved": (
        "UPDATE inventory_transferline "
        "SET sent = sent + 1000000000, missing = missing + 1000000000",
        "transfers_conserve",
        {"about": "T1 sent", "on_the_load": "-101", "movements": "-100"},
    ),
    "less arrived than moved": (
        "UPDATE inventory_transferline SET arrived = arrived - 1, missing = missing + 1",
        "transfers_conserve",
        {"about": "T1 arrived", "movements": "95"},
    ),
    "moved without a load": (
        "UPDATE inventory_movement SET reference = 'transfer:T9' WHERE kind = 'arrived'",
        "transfers_conserve",
        {"about": "T9 arrived"},
    ),
    "sent is not arrived and missing": (
        "UPDATE inventory_transferline SET missing = missing + 1",
        "sent_is_arrived_and_missing",
        {"transfer": "T1"},
    ),
    "arrived without its lines": (
        "UPDATE inventory_transfer SET arrived_at = sent_at WHERE number = 'T2'",
        "sent_is_arrived_and_missing",
        {"transfer": "T2"},
    ),
    "a batch took more": (
        "UPDATE inventory_batchinput SET qty = qty + 1000000000",
        "batches_balance",
        {"in_the_batch": "-41", "movements": "-40"},
    ),
    "a batch made more": (
        "UPDATE inventory_batch SET made_qty = made_qty + 1000000000",
        "batches_balance",
        {"in_the_batch": "76", "movements": "75"},
    ),
    "a part got less": (
        "UPDATE inventory_movement SET qty = qty - 1 WHERE kind = 'split' AND qty > 0",
        "splits_balance",
        {"net": "-1E-9"},
    ),
    "a part came from elsewhere": (
        "UPDATE inventory_lot SET parent_id = (SELECT id FROM inventory_lot "
        "WHERE origin = 'opening') WHERE origin = 'part'",
        "splits_balance",
        {"kind": "split"},
    ),
    "a reversal of less": (
        "UPDATE inventory_movement SET qty = qty - 1 WHERE reverses_id IS NOT NULL",
        "reversals_mirror",
        {"kind": "usage"},
    ),
    "a reversal at another place": (
        "UPDATE inventory_movement SET location_id = (SELECT id FROM inventory_location "
        "WHERE code = 'T1') WHERE reverses_id IS NOT NULL",
        "reversals_mirror",
        {"location": "T1"},
    ),
    "use of a lot on hold that nobody allowed": (
        "UPDATE inventory_movement SET allowed_by_id = NULL",
        "nothing_used_on_hold",
        {"reference": "use:held"},
    ),
    "use past use-by that nobody allowed": (
        "UPDATE inventory_movement SET allowed_by_id = NULL",
        "nothing_used_past_use_by",
        {"reference": "use:held"},
    ),
    "a part that lasts longer": (
        "UPDATE inventory_lot SET use_by = '2030-01-01' WHERE state = 'opened'",
        "parts_last_no_longer",
        {"use_by": "2030-01-01"},
    ),
    "a part that lasts for ever": (
        "UPDATE inventory_lot SET use_by = NULL WHERE state = 'opened'",
        "parts_last_no_longer",
        {"use_by": ""},
    ),
    # frozen on the 4th, out on the 24th: 19 whole days are free
    "a thawed part that lasts a day too long": (
        "UPDATE inventory_lot SET use_by = '2026-04-02' WHERE state = 'thawing'",
        "parts_last_no_longer",
        {"use_by": "2026-04-02"},
    ),
    "more coming than is open": (
        "UPDATE inventory_inbound SET qty = qty + 1",
        "inbound_is_open_lines",
        {},
    ),
    "nothing coming of what is open": (
        "DELETE FROM inventory_inbound",
        "inbound_is_open_lines",
        {"inbound": "none"},
    ),
    "coming on another day": (
        "UPDATE inventory_inbound SET due = '2026-03-30'",
        "inbound_is_open_lines",
        {},
    ),
    "coming of an order that is done": (
        "UPDATE purchasing_purchaseorder SET status = 'received', received_at = '2026-03-04'",
        "inbound_is_open_lines",
        {"line": "none"},
    ),
    "a receipt that does not add up": (
        "UPDATE purchasing_receiptline SET accepted = accepted + 1",
        "receipts_add_up",
        {"item": "LEEK"},
    ),
    "a receipt undone that left its lots": (
        "UPDATE purchasing_receipt SET undone_at = '2026-03-04', undone_why = 'by hand'",
        "receipts_moved",
        {},
    ),
    "a state without its day": (
        "UPDATE purchasing_purchaseorder SET status = 'cancelled'",
        "states_are_dated",
        {"order": "PO-1", "status": "cancelled"},
    ),
}


@pytest.fixture
def busy(db: None) -> None:
    busy_kitchen()


def broken() -> dict[str, tuple[Row, ...]]:
    return {finding.code: finding.rows for finding in check_all() if finding.rows}


def test_after_something_of_everything_all_invariants_hold(busy: None) -> None:
    assert broken() == {}


@contextmanager
def nothing_refused() -> Iterator[None]:
    """Without triggers and checks; the rollback of the test brings them back."""
    append_only.remove(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
            yield
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
        else:
            _drop_checks()
            yield


def _drop_checks() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT conrelid::regclass::text, conname FROM pg_constraint WHERE contype = 'c'"
            " AND conrelid::regclass::text ~ '^(inventory|purchasing)_'"
        )
        for table, name in cursor.fetchall():
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_reported(busy: None, fault: str) -> None:
    act, code, names = FAULTS[fault]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    with nothing_refused(), connection.cursor() as cursor:
        cursor.execute(act)
        assert cursor.rowcount > 0
    rows = broken()[code]
    assert any(names.items() <= row.items() for row in rows), rows


def test_missing_triggers_are_named(busy: None) -> None:
    append_only.remove(connection)
    names = [row["trigger"] for row in broken()["append_only"]]
    assert names[:2] == ["inventory_movement_no_update", "inventory_movement_no_delete"]
    assert "inventory_event_no_update" in names


def test_every_invariant_has_a_test_that_breaks_it() -> None:
    tried = {code for _, code, _ in FAULTS.values()} | {"append_only"}
    assert tried == {invariant.code for invariant in INVARIANTS}
