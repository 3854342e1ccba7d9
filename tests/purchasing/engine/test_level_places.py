"""One stock everywhere, and where things come from (rules R1; R12, step 8)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from inventory.engine.kitchen import Item, Kitchen, LoadOut
from inventory.problems import Refused
from tests.inventory.engine.small_kitchens import booking, coming, kitchen, lot, place, stop
from tests.purchasing.engine.level_scenes import (
    COM,
    STOCK,
    STOCK_RECIPE,
    A,
    drawn,
    loaded,
    plan,
    soups,
)

CUP = Item("CUP", "packaging", "each")


def cups(**more: Any) -> Kitchen:
    return kitchen(more.pop("places", [COM, A]), [CUP], [], **more)


def test_undated_goods_that_come_back_are_one_stock_and_stops_draw_their_full_need() -> None:
    there = stop("A", "03-05")
    known = cups(
        stops=[there],
        lots=[lot("A", "CUP", 30), lot("COM", "CUP", 5)],
        arrivals=[coming("A", "CUP", 7, "03-04")],
        load_outs=[],
    )
    weights = np.array([0.5, 0.5])
    result = plan(known, "03-02 06:00", stops={(there.key, "CUP"): [10, 20]}, weights=weights)
    # The need of each path and not the load target: what is left stays in the one stock.
    assert result.draws["COM", "CUP"].qty.tolist() == [[10.0, 20.0]]
    assert [(one.location, one.qty) for one in result.aboard] == [("COM", 30.0)]
    assert [(one.location, one.qty) for one in result.aboard_coming] == [("COM", 7.0)]


def test_cups_on_their_way_to_a_stop_are_part_of_the_one_stock() -> None:
    there = stop("A", "03-05")
    known = cups(
        stops=[there],
        bookings=[booking("A", "03-05", "CUP", 10)],
        load_outs=[LoadOut(there.key, "CUP", 12.0)],
    )
    result = plan(known, "03-05 08:00")
    assert [(one.location, one.qty) for one in result.aboard] == [("COM", 12.0)]
    assert result.draws["COM", "CUP"].qty.tolist() == [[10.0]]


@pytest.mark.parametrize(
    "item",
    [
        pytest.param(replace(CUP, shelf_life_days=9), id="dated"),
        pytest.param(replace(CUP, on_return="discard"), id="does not come back"),
        pytest.param(replace(CUP, kind="prep"), id="a prep item"),
    ],
)
def test_all_else_is_netted_truck_by_truck(item: Item) -> None:
    known = cups(bookings=[booking("A", "03-05", "CUP", 10)], lots=[lot("A", "CUP", 30)])
    result = plan(replace(known, items={"CUP": item}), "03-02 06:00")
    assert (result.draws, result.aboard) == ({}, ())


def test_a_par_rows_supplying_place_wins_over_the_trucks_own() -> None:
    other = place("OTHER", "commissary")
    known = cups(places=[COM, other, A], bookings=[booking("A", "03-05", "CUP", 10)])
    result = plan(known, "03-02 06:00", supplied_by={("A", "CUP"): "OTHER"})
    assert list(result.draws) == [("OTHER", "CUP")]


def test_a_kitchen_supplied_by_the_commissary_keeps_what_it_holds() -> None:
    diner = place("DINER", "kitchen", by="COM")
    known = soups(
        places=[COM, diner],
        bookings=[booking("DINER", "03-04", "STOCK", 1), booking("DINER", "03-05", "STOCK", 10)],
        lots=[lot("DINER", "STOCK", 6, "03-09")],
    )
    cooked = {**known.items, "STOCK": replace(STOCK, on_return="discard")}
    result = plan(replace(known, items=cooked), "03-02 06:00")
    assert loaded(result, "STOCK") == [("DINER", "03-05 00:00", 5.0)]


def test_a_kitchen_that_buys_for_itself_gets_its_prep_from_where_it_is_made() -> None:
    diner = place("DINER", "kitchen", hours=("10:00", None))
    known = soups(places=[COM, diner], bookings=[booking("DINER", "03-05", "SOUP", 1)])
    result = plan(known, "03-02 06:00")
    assert drawn(result.draws["DINER", "LEEK"]) == [("03-05 10:00", "03-05", 50.0)]
    assert loaded(result, "STOCK") == [("DINER", "03-05 00:00", 300.0)]
    assert [row[2] for row in drawn(result.draws["COM", "LEEK"])] == [60.0]


def test_what_a_supplied_kitchen_makes_takes_its_own_stock_first() -> None:
    diner = place("DINER", "kitchen", by="COM")
    there = replace(STOCK_RECIPE, made_at="DINER")
    known = soups(
        places=[COM, diner],
        bookings=[booking("COM", "03-05", "STOCK", 1000)],
        lots=[lot("DINER", "LEEK", 150, "03-09")],
    )
    result = plan(replace(known, recipes={"STOCK": there}), "03-02 06:00")
    assert [row[2] for row in drawn(result.draws["COM", "LEEK"])] == [50.0]
    assert [run.place for run in result.runs] == ["DINER"]


def test_a_truck_that_buys_for_itself_draws_when_its_stop_opens() -> None:
    known = cups(
        places=[place("A")],
        stops=[stop("A", "03-05")],
        bookings=[booking("A", "03-05", "CUP", 10), booking("A", "03-06", "CUP", 1)],
    )
    result = plan(known, "03-02 06:00")
    assert drawn(result.draws["A", "CUP"]) == [
        ("03-05 11:00", "03-05", 10.0),
        ("03-06", "03-06", 1.0),
    ]


def test_places_that_supply_each_other_are_refused_by_name() -> None:
    known = cups(places=[place("A", by="B"), place("B", by="A")])
    with pytest.raises(Refused, match="A is supplied by B is supplied by A"):
        plan(known, "03-02 06:00")
