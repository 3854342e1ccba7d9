"""Back to the supplier and forward to the stops, with quantities that add up."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import Hold, Lot
from inventory.services.ledger import reverse_movement
from inventory.services.lots import Change, Part, split_lot
from inventory.services.take_outs import Known, take_out
from purchasing.selectors.trace import trace
from purchasing.selectors.trace_document import trace_document
from purchasing.selectors.trace_told import told
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.selectors.traced_kitchen import HOUR, POUND, Kitchen, batch, kitchen

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> Kitchen:
    return kitchen()


def freshly(lot: Lot) -> Lot:
    return Lot.objects.select_related("item", "parent").get(pk=lot.pk)


def test_every_pound_of_the_relish_is_somewhere(house: Kitchen) -> None:
    sums = trace_document(freshly(house.relish))["account"]
    assert sums == {
        "came": "15",
        "on_hand": "9.5",
        "used_in": "0",
        "parts": "0",
        "on_its_way": "0",
        "sold": "4",
        "taken_out": "1",
        "not_explained": "0.5",
        "adds_up": True,
    }


def test_back_to_each_lot_that_went_in_with_its_quantity(house: Kitchen) -> None:
    found = trace_document(freshly(house.relish))["back"]
    assert [(one["supplier_lot"], one["source_qty"]) for one in found] == [
        ("T-77", "10"),
        ("T-78", "5"),
        ("P-9", "1"),
    ]
    assert {one["received"]["supplier"] for one in found} == {house.supplier.code}


def test_forward_from_the_tomatoes_to_the_stop(house: Kitchen) -> None:
    found = trace_document(freshly(house.tomatoes[0]))
    assert found["account"]["used_in"] == "10"
    (relish,) = found["forward"]
    assert (relish["lot"], relish["source_qty"]) == (house.relish.strip, "10")
    assert relish["sold"][0]["stops"] == ["Harbour"]
    assert relish["loads"][0]["missing"] == "0.5"


def test_each_place_has_an_account_that_adds_up(house: Kitchen) -> None:
    places = trace_document(freshly(house.relish))["places"]
    assert [(one["location"], one["came"], one["on_its_way"]) for one in places] == [
        ("COM", "15", "6"),
        ("PIER", "5.5", "0"),
    ]
    assert all(one["adds_up"] for one in places)


def test_parts_are_in_the_account_of_the_whole(house: Kitchen) -> None:
    part = split_lot(
        Part(house.tomatoes[0], house.commissary, POUND, Change.PORTION),
        happened_at=NOW,
        by=None,
        at=NOW,
    )
    found = trace(freshly(house.tomatoes[0]))
    assert found.parts == (part,)
    assert found.whereabouts.account.on_hand == 2 * POUND
    assert found.whereabouts.account.adds_up
    behind = trace(freshly(part)).behind
    assert [(one.lot, one.qty, one.batch) for one in behind] == [(house.tomatoes[0], POUND, "")]


def test_what_was_taken_back_never_happened(house: Kitchen) -> None:
    later = NOW + 3 * HOUR
    mistake = take_out(
        Known(house.relish, house.truck, POUND / 2, later),
        reason="spoiled",
        waste=True,
        by=None,
        at=later,
    )
    reverse_movement(mistake.pk, reason="it was the other tub", by=None, at=later)
    found = trace_document(freshly(house.relish))
    assert [one["why"] for one in found["taken_out"]] == ["dropped or spilled"]
    assert found["account"]["adds_up"] is True


def test_it_reads_as_one_would_say_it(house: Kitchen) -> None:
    said = told(freshly(house.tomatoes[0]))
    assert said.came_from == (
        "Came from Ferry Road Produce on Wed 4 Mar at 06:00 to Mill Lane; delivery note DN-1; "
        "received by Wen.",
    )
    assert (said.account[1].figure, said.account[1].details) == ("2", ("2 lb, Mill Lane",))
    (leg,) = said.ahead
    assert leg.sentence == f"10 lb of {said.strip} went into it on Wed 4 Mar"
    assert "sold or served: 4 lb, Pier truck, Wed 4 Mar, Harbour" in leg.details
    assert said.places_to_tell == ("Mill Lane", "Pier truck")


def test_a_made_lot_tells_what_went_into_it(house: Kitchen) -> None:
    said = told(freshly(house.relish))
    assert said.came_from == ("Made here on Wed 4 Mar.",)
    assert [leg.item for leg in said.behind] == ["Tomatoes", "Tomatoes", "Parsley"]
    assert said.behind[0].details[0] == "Lot code T-77."


def test_open_holds_along_the_way_are_said(house: Kitchen) -> None:
    Hold.objects.create(lot=house.relish, reason="recall", note="glass", opened_at=NOW)
    said = told(freshly(house.parsley))
    assert said.holds == (f"{house.relish.strip} is on hold everywhere: recall, glass",)


def test_queries_do_not_grow_with_what_was_made_of_it(
    house: Kitchen, count_queries: Callable[..., int]
) -> None:
    lot = freshly(house.tomatoes[0])
    few = count_queries(told, lot)
    for _ in range(8):
        batch(make.item(kind="prep"), house.commissary, {lot: Decimal(10)}, Decimal(10))
    assert count_queries(told, lot) == few


def spoken(strip: str, *flags: str) -> str:
    out = StringIO()
    call_command("trace", strip, *flags, stdout=out)
    return out.getvalue()


def test_the_command_prints_the_sentences_or_the_document(house: Kitchen) -> None:
    strip = house.tomatoes[0].strip
    text = spoken(strip.lower())
    assert f"Tomatoes {strip}, lot code T-77" in text
    assert "It adds up." in text
    assert "Local code and the licensed person in charge decide" in text
    assert json.loads(spoken("T-77", "--json"))["lot"] == strip


def test_the_command_says_what_is_not_there(house: Kitchen) -> None:
    err = StringIO()
    with pytest.raises(SystemExit):
        call_command("trace", "NOONE", stderr=err)
    assert "No lot has the strip 'NOONE', nor that lot code." in err.getvalue()
    make.lot(1, supplier_lot="T-77")
    with pytest.raises(SystemExit):
        call_command("trace", "T-77", stderr=err)
    assert "is the lot code of several lots" in err.getvalue()
