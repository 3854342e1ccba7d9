"""Each constraint of the kitchen's tables bites."""

from __future__ import annotations

from datetime import date, time, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from inventory import models as tables
from tests import factories as make
from tests.constraints import Case, Sound, kinds_agree, refused, untried
from tests.factories import NOW, TODAY

MINUS = Decimal("-0.000000001")
OPENS = time(11)


@pytest.fixture
def scene(db: None) -> Any:
    place, item = make.location(), make.item()
    made = make.item(kind="prep")
    recipe = tables.Recipe.objects.create(item=made, makes_qty=1, makes_unit="kg")
    lot = make.lot(0, of=item)
    transfer = tables.Transfer.objects.create(
        number="A", kind="return", source=place, target=make.location(), leaves_on=TODAY
    )
    batch = tables.Batch.objects.create(
        recipe=recipe, location=place, started_at=NOW, expected_qty=1
    )
    return SimpleNamespace(
        place=place,
        other=transfer.target,
        item=item,
        prep=make.item(kind="prep"),
        recipe=recipe,
        lot=lot,
        transfer=transfer,
        batch=batch,
        user=make.user(),
    )


SOUND: Sound = {
    tables.Item: lambda s: {"code": "NEW", "name": "New", "kind": "menu", "unit": "each"},
    tables.ItemUnit: lambda s: {"item": s.item, "word": "pan", "qty": 2, "of_unit": "kg"},
    tables.AllergenWord: lambda s: {"item": s.item, "allergen": "milk", "says": "may"},
    tables.ItemCost: lambda s: {"item": s.item, "starts_on": TODAY, "cost": 0, "source": "x"},
    tables.Location: lambda s: {"code": "NEW", "name": "New", "kind": "truck"},
    tables.StorageArea: lambda s: {
        "location": s.place,
        "code": "DRY",
        "name": "Dry store",
        "kind": "dry",
    },
    tables.ClosingDay: lambda s: {"location": s.place, "date": TODAY},
    tables.Inbound: lambda s: {
        "item": s.item,
        "location": s.place,
        "due": TODAY,
        "qty": 1,
        "source": "x",
        "source_key": "x",
    },
    tables.Lot: lambda s: {"item": s.item, "strip": "ZZZZZ", "origin": "receipt"},
    tables.Hold: lambda s: {
        "lot": s.lot,
        "location": s.place,
        "reason": "other",
        "opened_at": NOW,
    },
    tables.Movement: lambda s: {
        "lot": s.lot,
        "item": s.item,
        "location": s.place,
        "qty": 1,
        "kind": "receipt",
        "happened_at": NOW,
        "recorded_at": NOW,
    },
    tables.OnHand: lambda s: {"lot": s.lot, "item": s.item, "location": s.place, "qty": 0},
    tables.UnexplainedUse: lambda s: {
        "item": s.item,
        "location": s.place,
        "qty": 1,
        "happened_at": NOW,
        "recorded_at": NOW,
    },
    tables.Membership: lambda s: {"user": s.user, "role": "buyer", "location": s.place},
    tables.Recipe: lambda s: {"item": s.prep, "makes_qty": 1, "makes_unit": "kg"},
    tables.RecipeLine: lambda s: {
        "recipe": s.recipe,
        "item": s.item,
        "position": 1,
        "qty": 1,
        "unit": "kg",
    },
    tables.Batch: lambda s: {
        "recipe": s.recipe,
        "location": s.place,
        "started_at": NOW,
        "expected_qty": 1,
    },
    tables.BatchInput: lambda s: {"batch": s.batch, "lot": s.lot, "qty": 1},
    tables.Sale: lambda s: {
        "location": s.place,
        "date": TODAY,
        "item": s.item,
        "qty": 0,
        "opens": OPENS,
    },
    tables.Usage: lambda s: {
        "location": s.place,
        "date": TODAY,
        "item": s.item,
        "qty": 0,
        "unit": "kg",
    },
    tables.Stop: lambda s: {"location": s.place, "date": TODAY, "opens": OPENS, "site": "Quay"},
    tables.MenuEntry: lambda s: {"location": s.place, "item": s.item, "first": TODAY},
    tables.Booking: lambda s: {
        "location": s.place,
        "date": TODAY,
        "item": s.item,
        "qty": 0,
        "unit": "each",
    },
    tables.Transfer: lambda s: {
        "number": "NEW",
        "kind": "between",
        "source": s.place,
        "target": s.other,
        "leaves_on": TODAY,
    },
    tables.TransferLine: lambda s: {"transfer": s.transfer, "lot": s.lot, "sent": 5},
}

EARLIER = NOW - timedelta(seconds=1)
CASES = [
    Case("item_density_positive", tables.Item, {"grams_per_ml": 0}),
    Case("item_piece_weight_positive", tables.Item, {"grams_per_each": 0}),
    Case("item_thaw_hours_not_negative", tables.Item, {"thaw_hours": MINUS}),
    Case("house_unit_once_per_item", tables.ItemUnit, twice=True),
    Case("house_unit_positive", tables.ItemUnit, {"qty": 0}),
    Case("allergen_once_per_item", tables.AllergenWord, twice=True),
    Case("item_cost_once_per_day", tables.ItemCost, twice=True),
    Case("item_cost_not_negative", tables.ItemCost, {"cost": MINUS}),
    # its own number, which the next location will have
    Case("location_not_supplied_by_itself", tables.Location, {"id": 999, "supplied_by_id": 999}),
    Case("area_code_once_per_location", tables.StorageArea, twice=True),
    Case("closing_day_once", tables.ClosingDay, twice=True),
    Case("inbound_positive", tables.Inbound, {"qty": 0}),
    Case("lot_part_has_parent", tables.Lot, {"origin": "part"}),
    Case("lot_not_part_of_itself", tables.Lot, {"id": 999, "parent_id": 999, "origin": "part"}),
    Case("lot_cost_not_negative", tables.Lot, {"unit_cost": MINUS}),
    Case("one_open_hold_per_lot_and_location", tables.Hold, twice=True),
    Case("one_open_hold_per_lot_and_location_blank", tables.Hold, {"location": None}, twice=True),
    Case("hold_closes_after_it_opens", tables.Hold, {"closed_at": EARLIER}),
    Case("movement_moves_something", tables.Movement, {"qty": 0}),
    Case("movement_has_a_moment", tables.Movement, {"happened_at": None}),
    Case("movement_recorded_after_it_happened", tables.Movement, {"recorded_at": EARLIER}),
    Case("movement_allowed_for_a_reason", tables.Movement, {"allowed_by": lambda s: s.user}),
    Case("on_hand_once", tables.OnHand, twice=True),
    Case("on_hand_not_negative", tables.OnHand, {"qty": MINUS}),
    Case("unexplained_use_positive", tables.UnexplainedUse, {"qty": 0}),
    Case("unexplained_use_cleared_by_something", tables.UnexplainedUse, {"cleared_at": NOW}),
    Case("unexplained_use_cleared_by_something", tables.UnexplainedUse, {"cleared_by": "x"}),
    Case("membership_once", tables.Membership, twice=True),
    Case("membership_once_blank", tables.Membership, {"location": None}, twice=True),
    Case("membership_limit_not_negative", tables.Membership, {"approve_up_to": MINUS}),
    Case("recipe_makes_something", tables.Recipe, {"makes_qty": 0}),
    Case("recipe_lead_not_negative", tables.Recipe, {"lead_hours": MINUS}),
    Case("recipe_batch_limits_positive", tables.Recipe, {"batch_min_qty": 0}),
    Case("recipe_batch_limits_positive", tables.Recipe, {"batch_max_qty": 0}),
    Case("recipe_batch_limits_in_order", tables.Recipe, {"batch_min_qty": 2, "batch_max_qty": 1}),
    Case("recipe_line_once_per_item", tables.RecipeLine, twice=True),
    Case("recipe_line_positive", tables.RecipeLine, {"qty": 0}),
    Case("recipe_line_yield_positive", tables.RecipeLine, {"yield_pct": 0}),
    Case("batch_finished_has_a_lot", tables.Batch, {"finished_at": NOW}),
    Case("batch_finished_has_a_lot", tables.Batch, {"made_qty": 1}),
    Case("batch_finished_has_a_lot", tables.Batch, {"finished_at": NOW, "lot": lambda s: s.lot}),
    Case("batch_input_once", tables.BatchInput, twice=True),
    Case("batch_input_positive", tables.BatchInput, {"qty": 0}),
    Case("sale_once", tables.Sale, twice=True),
    Case("sale_once_blank", tables.Sale, {"opens": None}, twice=True),
    Case("sale_not_negative", tables.Sale, {"qty": MINUS}),
    Case("usage_once", tables.Usage, twice=True),
    Case("usage_not_negative", tables.Usage, {"qty": MINUS}),
    Case("stop_once", tables.Stop, twice=True),
    Case("stop_once_blank", tables.Stop, {"opens": None}, twice=True),
    Case("stop_covers_not_negative", tables.Stop, {"expected_covers": MINUS}),
    Case("stop_covers_not_negative", tables.Stop, {"guaranteed_covers": MINUS}),
    Case("menu_entry_once", tables.MenuEntry, twice=True),
    Case("menu_entry_once_blank", tables.MenuEntry, {"first": None}, twice=True),
    Case("menu_entry_dates_in_order", tables.MenuEntry, {"last": date(2026, 3, 3)}),
    Case("booking_once", tables.Booking, twice=True),
    Case("booking_not_negative", tables.Booking, {"qty": MINUS}),
    Case("transfer_goes_somewhere", tables.Transfer, {"target": lambda s: s.place}),
    Case("transfer_sent_before_arrived", tables.Transfer, {"arrived_at": NOW}),
    Case("transfer_line_once", tables.TransferLine, twice=True),
    Case("transfer_line_positive", tables.TransferLine, {"sent": 0}),
    Case(
        "transfer_sent_is_arrived_and_missing",
        tables.TransferLine,
        {"arrived": 4, "missing": 2},
    ),
    Case("transfer_sent_is_arrived_and_missing", tables.TransferLine, {"arrived": 5}),
    Case(
        "transfer_sent_is_arrived_and_missing",
        tables.TransferLine,
        {"arrived": 6, "missing": -1},
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_database_refuses(case: Case, scene: Any) -> None:
    wrong = {name: value(scene) if callable(value) else value for name, value in case.wrong.items()}
    refused(Case(case.constraint, case.model, wrong, case.twice), SOUND[case.model](scene))


def test_no_constraint_is_left_untried() -> None:
    assert untried("inventory", CASES) == set()
    assert all(map(kinds_agree, CASES))


def test_a_closed_hold_leaves_room_for_another(scene: Any) -> None:
    sound = SOUND[tables.Hold](scene)
    tables.Hold.objects.create(**sound, closed_at=NOW)
    tables.Hold.objects.create(**sound, closed_at=NOW)
    tables.Hold.objects.create(**sound)


def test_an_opening_balance_needs_no_moment(scene: Any) -> None:
    sound = {**SOUND[tables.Movement](scene), "kind": "opening", "happened_at": None}
    assert tables.Movement.objects.create(**sound).pk
