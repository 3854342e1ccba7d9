"""Cautions at the dock: temperatures, frozen that thawed, catch weights, substitutes, labels."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User

from inventory.engine.safety import Judged, Reading
from inventory.models import AllergenWord, Item, Lot, Membership
from inventory.problems import Problem, Refused
from purchasing.models import OrderLine, PurchaseOrder, ReceiptLine
from purchasing.services.dock import Substitute
from tests import factories as make
from tests.purchasing.services.dock_scenes import (
    as_ordered,
    chilled,
    dry,
    frozen,
    line_of,
    lot_of,
    ordered,
    take_in,
)

WARM = Reading(Decimal("41.1"), "F")


@pytest.fixture
def staff(db: None) -> User:
    return make.member(Membership.Role.STAFF)


@pytest.fixture
def boss(db: None) -> User:
    return make.manager()


def codes(who: User, order: PurchaseOrder, *lines: Any, **facts: Any) -> list[str]:
    with pytest.raises(Refused) as refusal:
        take_in(order, who, *lines, **facts)
    return [problem.code for problem in refusal.value.problems]


def warm_line(order: PurchaseOrder, item: Item) -> Any:
    return as_ordered(line_of(order, item), reading=WARM)


def test_rc_02_staff_cannot_take_in_what_is_too_warm(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    with pytest.raises(Refused, match=r"41\.1 °F.*41 °F or below.*A manager must sign in"):
        take_in(order, staff, warm_line(order, item), override="it was only the door")


def test_a_manager_takes_it_in_and_says_why(boss: User) -> None:
    item, other = chilled(), chilled()
    order = ordered(item, other)
    lines = [warm_line(order, item), as_ordered(line_of(order, other))]
    assert codes(boss, order, *lines) == ["too_warm"]
    receipt = take_in(order, boss, *lines, override="straight into the blast chiller")
    by_item = {row.item: row for row in ReceiptLine.objects.filter(receipt=receipt)}
    assert by_item[item].override_reason == "straight into the blast chiller"
    assert by_item[item].override_by == boss
    assert by_item[item].temperature == WARM.degrees
    assert by_item[other].override_by is None


@pytest.mark.parametrize(("degrees", "unit"), [(7, "F"), (-40, "F"), (-5, "C")])
def test_chilled_goods_read_as_frozen_need_a_manager(
    staff: User, boss: User, degrees: int, unit: str
) -> None:
    item = chilled()
    order = ordered(item)
    came = as_ordered(line_of(order, item), reading=Reading(Decimal(degrees), unit))
    with pytest.raises(Refused, match=rf"{degrees} °{unit} is frozen.*A manager must sign in"):
        take_in(order, staff, came, override="it is cold enough")
    assert codes(boss, order, came) == ["too_cold"]
    take_in(order, boss, came, override="it was on dry ice")
    assert ReceiptLine.objects.get().override_by == boss


def test_the_caution_says_who_decides(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    with pytest.raises(Refused, match="Local code and the licensed person in charge decide"):
        take_in(order, staff, warm_line(order, item))


def test_rc_06_a_celsius_reading_is_judged_in_celsius(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    came = as_ordered(line_of(order, item), reading=Reading(Decimal(57), "C"), judged=Judged.HOT)
    take_in(order, staff, came)
    row = ReceiptLine.objects.get()
    assert (row.temperature, row.temperature_unit) == (Decimal(57), "C")


@pytest.mark.parametrize("degrees", [-5, 30, 41])
def test_rc_07_frozen_that_came_thawed_is_taken_in_by_nobody(boss: User, degrees: int) -> None:
    item = frozen()
    order = ordered(item)
    reading = Reading(Decimal(degrees), "F")
    came = as_ordered(line_of(order, item), reading=reading, thawed=True)
    assert codes(boss, order, came, override="we use it today") == ["arrived_thawed"]


def test_frozen_that_came_thawed_can_be_rejected(staff: User) -> None:
    item = frozen()
    order = ordered(item)
    came = as_ordered(
        line_of(order, item),
        accepted=0,
        rejected=Decimal(5),
        reject_reason="thawed",
        thawed=True,
    )
    take_in(order, staff, came)
    row = ReceiptLine.objects.get()
    assert (row.arrived_frozen, row.rejected) == (False, Decimal(5))


def test_somebody_says_whether_frozen_goods_are_frozen(staff: User) -> None:
    item = frozen()
    order = ordered(item)
    came = as_ordered(line_of(order, item), thawed=None)
    assert codes(staff, order, came) == ["frozen_not_said"]


def test_rc_08_milk_at_44_f_is_taken_in_by_staff(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    reading = Reading(Decimal(44), "F")
    came = as_ordered(line_of(order, item), reading=reading, judged=Judged.OTHER_LAW)
    assert lot_of(take_in(order, staff, came)).item == item


def test_food_past_its_use_by_needs_a_manager(staff: User, boss: User) -> None:
    item = chilled()
    order = ordered(item)
    came = as_ordered(line_of(order, item), lot={"printed": date(2026, 3, 3)})
    assert codes(staff, order, came) == ["past_use_by"]
    take_in(order, boss, came, override="for the stock pot, today")
    assert ReceiptLine.objects.get().override_by == boss


# Catch weight


def beef_line(weight_unit: str = "lb", **facts: Any) -> OrderLine:
    """2 cases of about 40 lb at 3.19 a lb."""
    beef = chilled(code="BEEF", name="Beef")
    order = ordered()
    offer = make.offer(
        supplier=order.supplier,
        item=beef,
        pack_qty=Decimal(40),
        pack_unit="lb",
        priced_per="lb",
        catch_weight=True,
        nominal_qty=Decimal(40),
    )
    base = Decimal("453.59237") * 40
    return make.order_line(
        order,
        offer=offer,
        cases=2,
        pack_base=base,
        price=Decimal("3.19"),
        priced_per="lb",
        priced_units=Decimal(40),
    )


def weighed(line: OrderLine, *weights: str, **facts: Any) -> Any:
    lot = {"weights": tuple(map(Decimal, weights)), "weight_unit": "lb", **facts}
    return as_ordered(line, lot=lot)


def test_catch_weights_are_summed(staff: User) -> None:
    line = beef_line()
    lot = lot_of(take_in(line.order, staff, weighed(line, "41.25", "38.5")))
    assert lot.on_hand.get().qty == Decimal("36173.9915075")
    assert lot.unit_cost == Decimal("0.007032746")
    row = ReceiptLine.objects.get()
    assert (row.accepted, row.weight) == (Decimal(2), Decimal("36173.991507500"))


def test_every_case_is_weighed(staff: User) -> None:
    line = beef_line()
    assert codes(staff, line.order, weighed(line, "41.25")) == ["weights_missing"]


def test_the_total_of_the_slip_will_do(staff: User) -> None:
    line = beef_line()
    came = weighed(line, total=Decimal("79.75"))
    assert lot_of(take_in(line.order, staff, came)).on_hand.get().qty == Decimal("36173.9915075")


def test_an_unlikely_weight_is_asked_about_once(staff: User) -> None:
    line = beef_line()
    came = weighed(line, "41.25", "4.1")
    with pytest.raises(Refused, match=r"a case of 4\.1 lb, where 40\.0 is usual"):
        take_in(line.order, staff, came)
    take_in(line.order, staff, came, seen=True)


@pytest.mark.parametrize("weight", ["0", "-3"])
def test_a_weight_is_more_than_nothing(staff: User, weight: str) -> None:
    line = beef_line()
    assert codes(staff, line.order, weighed(line, "41.25", weight)) == ["weight_not_positive"]


def test_a_weight_in_a_unit_that_is_none_is_refused(staff: User) -> None:
    line = beef_line()
    came = weighed(line, "41", "40", weight_unit="stone")
    assert codes(staff, line.order, came) == ["unknown_unit"]


# Substitutes


def say(item: Item, **words: str) -> None:
    for allergen, says in words.items():
        AllergenWord.objects.create(item=item, allergen=allergen, says=says)


def replaced(order: PurchaseOrder, item: Item, by: Item, **facts: Any) -> Any:
    sub = Substitute(by, Decimal(5), Decimal(48), "kg", **facts)
    return as_ordered(line_of(order, item), accepted=0, lots=(), substitute=sub)


def test_a_substitute_becomes_a_lot_of_its_own(staff: User) -> None:
    item, other = dry(), dry()
    say(item, milk="free")
    say(other, milk="free")
    order = ordered(item)
    take_in(order, staff, replaced(order, item, other))
    order.refresh_from_db()
    first, second = ReceiptLine.objects.order_by("pk")
    assert (first.item, first.substituted, first.lot) == (item, Decimal(5), None)
    assert (second.item, second.instead_of, second.over) == (other, first, Decimal(5))
    assert second.lot and second.lot.on_hand.get().qty == 48_000
    assert order.status == "received"


@pytest.mark.parametrize(
    ("ordered_says", "other_says", "message"),
    [
        ({"sesame": "free"}, {"sesame": "contains"}, "sesame: contains, before free"),
        ({"milk": "free", "eggs": "free"}, {"milk": "free"}, "eggs: not stated, before free"),
        ({"milk": "may"}, {"milk": "contains"}, "milk: contains, before may contain"),
        ({"milk": "contains"}, {}, "no allergens are stated of it"),
    ],
    ids=["contains", "not stated is not free", "contains where it may", "nothing stated"],
)
def test_allergens_of_a_substitute_are_compared(
    staff: User, ordered_says: dict[str, str], other_says: dict[str, str], message: str
) -> None:
    item, other = dry(), dry()
    say(item, **ordered_says)
    say(other, **other_says)
    order = ordered(item)
    with pytest.raises(Refused, match=message):
        take_in(order, staff, replaced(order, item, other))
    take_in(order, staff, replaced(order, item, other, allergens_seen=True))


def test_a_substitute_that_says_no_worse_is_no_caution(staff: User) -> None:
    item, other = dry(), dry()
    say(item, milk="contains", eggs="may")
    say(other, milk="contains", eggs="free")
    order = ordered(item)
    take_in(order, staff, replaced(order, item, other))


def test_a_cold_substitute_is_probed(staff: User) -> None:
    item, other = dry(), chilled()
    order = ordered(item)
    came = replaced(order, item, other, allergens_seen=True)
    assert codes(staff, order, came) == ["temperature_missing"]


def test_a_substitute_needs_figures_that_make_sense(staff: User) -> None:
    item, other = dry(), dry()
    order = ordered(item)
    sub = Substitute(other, Decimal(5), Decimal(0), "case", allergens_seen=True)
    came = as_ordered(line_of(order, item), lots=(), substitute=sub)
    assert codes(staff, order, came) == ["substitute_nothing", "unknown_unit"]


def test_what_was_ordered_is_no_substitute(staff: User) -> None:
    item = dry()
    say(item, milk="free")
    order = ordered(item)
    assert codes(staff, order, replaced(order, item, item)) == ["same_item"]


def test_a_trap_of_a_label_is_shown_before_it_is_believed(staff: User) -> None:
    item = dry()
    order = ordered(item)
    trap = Problem("separator_lost", "The lot reads too long.", "lot")
    came = replace(as_ordered(line_of(order, item)), warnings=(trap,))
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, came)
    (problem,) = refusal.value.problems
    assert (problem.code, problem.field) == ("separator_lost", f"l{came.line_id}-lot")
    take_in(order, staff, came, seen=True)
    assert Lot.objects.count() == 1
