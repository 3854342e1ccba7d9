"""From stops to purchases, tied together (rules R12, steps 1, 7 and 8; worked cases K, L)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inventory.engine.kitchen import Item, Kitchen, LoadOut
from inventory.problems import Refused
from tests.inventory.engine.small_kitchens import booking, kitchen, lot, place, recipe, stop
from tests.purchasing.engine.level_scenes import (
    COM,
    LEEK,
    RICE,
    STOCK,
    STOCK_RECIPE,
    A,
    batches,
    case_k,
    case_l,
    drawn,
    loaded,
    plan,
    soups,
)

# --- Worked cases of the rules (own numbers there, no source) --------------------------------


def test_worked_case_k_pulses_are_drawn_the_evening_before() -> None:
    result = plan(case_k(), "03-02 06:00")
    assert loaded(result, "K") == [("A", "03-05 07:00", 15.0)]
    assert batches(result, "K") == [("03-04 16:00", 10.0), ("03-04 17:00", 10.0)]
    assert drawn(result.draws["COM", "PULSES"]) == [
        ("03-04 16:00", "03-04", 2.0),
        ("03-04 17:00", "03-04", 2.0),
    ]
    assert result.runs[0].left.tolist() == [8.0]


def test_worked_case_l_load_outs_of_fill() -> None:
    assert loaded(plan(case_l(), "03-18 06:00"), "FILL") == [
        ("A", "03-21 07:00", 11.0),
        ("A", "03-21 16:00", 8.0),
        ("B", "03-21 19:30", 14.0),
        ("A", "03-23 07:00", 10.0),
    ]


def test_worked_case_l_batches_of_fill_and_base() -> None:
    result = plan(case_l(), "03-18 06:00")
    assert batches(result, "FILL") == [
        ("03-20 14:00", 6.0),
        ("03-20 14:30", 6.0),
        ("03-20 15:00", 6.0),
        ("03-20 15:30", 6.0),
        ("03-21 06:00", 4.0),
        ("03-21 06:30", 3.0),
        ("03-23 06:00", 6.0),
        ("03-23 06:30", 4.0),
    ]
    assert batches(result, "BASE") == [("03-19 15:00", 10.0), ("03-20 15:00", 10.0)]
    assert [run.left.tolist() for run in result.runs if run.item == "BASE"] == [[2.0], [8.5]]
    assert not any(run.late or run.does_not_last for run in result.runs)


def test_worked_case_l_raw_usage() -> None:
    draws = plan(case_l(), "03-18 06:00").draws
    assert drawn(draws["COM", "BEAN"]) == [
        ("03-19 15:00", "03-19", 5.0),
        ("03-20 15:00", "03-20", 5.0),
    ]
    assert drawn(draws["COM", "ONION"]) == [
        ("03-20 14:00", "03-20", 1.5),
        ("03-20 14:30", "03-20", 1.5),
        ("03-20 15:00", "03-20", 1.5),
        ("03-20 15:30", "03-20", 1.5),
        ("03-21 06:00", "03-21", 1.0),
        ("03-21 06:30", "03-21", 0.75),
        ("03-23 06:00", "03-23", 1.5),
        ("03-23 06:30", "03-23", 1.0),
    ]
    assert drawn(draws["COM", "ROLL"]) == [
        ("03-21 07:00", "03-21", 60.0),
        ("03-21 16:00", "03-22", 40.0),
        ("03-21 19:30", "03-22", 50.0),
        ("03-23 07:00", "03-23", 50.0),
    ]
    assert [row[2] for row in drawn(draws["COM", "CUP"])] == [60.0, 40.0, 70.0, 50.0]


def test_worked_case_l_cups_on_truck_c_count_at_the_commissary() -> None:
    aboard = plan(case_l(), "03-18 06:00").aboard
    assert [(lot.location, lot.item, lot.qty) for lot in aboard] == [("COM", "CUP", 30.0)]


# --- 1. Stops --------------------------------------------------------------------------------


def test_prep_items_are_loaded_as_they_are_and_not_opened_up_at_the_stop() -> None:
    there = stop("A", "03-05")
    result = plan(soups(stops=[there]), "03-02 06:00", stops={(there.key, "SOUP"): [10]})
    assert loaded(result, "STOCK") == [("A", "03-05 07:00", 3000.0)]
    assert drawn(result.draws["COM", "LEEK"]) == [
        ("03-05 06:00", "03-05", 600.0),
        ("03-05 07:00", "03-05", 500.0),
    ]


def test_dishes_inside_dishes_open_up_line_by_line() -> None:
    menu = Item("MENU", "menu", "each")
    known = soups(bookings=[booking("COM", "03-05", "MENU", 4)])
    meal = recipe("MENU", 2, {"SOUP": 2, "RICE": 500})
    known = replace(
        known, items={**known.items, "MENU": menu}, recipes={**known.recipes, "MENU": meal}
    )
    result = plan(known, "03-02 06:00")
    assert drawn(result.draws["COM", "RICE"]) == [("03-05 06:00", "03-05", 1000.0)]
    assert batches(result, "STOCK") == [("03-04 15:00", 1200.0)]


def test_bookings_at_a_truck_are_added_to_the_first_stop_and_never_scaled() -> None:
    first, second = stop("A", "03-05", "08:00"), stop("A", "03-05", "17:00")
    known = soups(stops=[second, first], bookings=[booking("A", "03-05", "STOCK", 100)])
    result = plan(
        known,
        "03-02 06:00",
        stops={(first.key, "SOUP"): [1, 2], (second.key, "SOUP"): [1, 3]},
        weights=np.array([0.5, 0.5]),
    )
    # At 0.9 the target is the larger of two even paths.
    targets = {one.stop: one.target for one in result.loads if one.item == "STOCK"}
    assert targets == {first.key: 700.0, second.key: 900.0}


def test_a_booking_whose_stops_are_all_cancelled_counts_as_nothing_and_is_said() -> None:
    known = soups(
        stops=[stop("A", "03-05", cancelled=True)], bookings=[booking("A", "03-05", "SOUP", 9)]
    )
    result = plan(known, "03-02 06:00")
    assert (result.draws, result.loads) == ({}, ())
    [note] = result.not_ready
    assert note.code == "booking_without_stop"
    assert note.message == (
        "9 SOUP are booked at A on 2026-03-05, but every stop of that day is cancelled, so"
        " nothing is planned for them. Put the stop back, or cancel the booking."
    )


def test_a_booking_without_a_planned_stop_is_loaded_as_without_an_opening_time() -> None:
    evening = place("A", by="COM", loads="19:30")
    known = soups(places=[COM, evening], bookings=[booking("A", "03-05", "STOCK", 9)])
    result = plan(known, "03-02 06:00")
    assert loaded(result, "STOCK") == [("A", "03-05 19:30", 9.0)]
    assert result.not_ready == ()


def test_bookings_before_t_are_past() -> None:
    known = soups(bookings=[booking("A", "03-01", "SOUP", 9), booking("COM", "03-01", "SOUP", 9)])
    assert plan(known, "03-02 06:00").draws == {}


# --- 2 to 4. Loads on paths, and what comes back ---------------------------------------------


def test_a_truck_has_its_own_service_level() -> None:
    there = stop("A", "03-05")
    result = plan(
        soups(stops=[there]),
        "03-02 06:00",
        stops={(there.key, "STOCK"): [1, 2, 3, 4]},
        weights=np.full(4, 0.25),
        service_levels={("A", "STOCK"): 0.5},
    )
    assert [one.target for one in result.loads] == [2.0]


def test_dated_goods_are_netted_truck_by_truck() -> None:
    b = place("B", by="COM", loads="07:00")
    known = soups(
        places=[COM, A, b],
        stops=[stop("A", "03-05"), stop("B", "03-05")],
        bookings=[booking("A", "03-05", "LEEK", 10), booking("B", "03-05", "LEEK", 10)],
        lots=[lot("A", "LEEK", 30, "03-09")],
    )
    result = plan(known, "03-02 06:00")
    assert drawn(result.draws["COM", "LEEK"]) == [("03-05 07:00", "03-05", 10.0)]
    assert result.aboard == ()


def test_a_stop_without_demand_still_throws_away_what_does_not_keep() -> None:
    cooked = replace(STOCK, tcs=True)
    known = soups(
        stops=[stop("A", "03-04"), stop("A", "03-05")],
        bookings=[booking("A", "03-05", "STOCK", 10)],
        lots=[lot("A", "STOCK", 4, "03-09")],
    )
    kept = plan(known, "03-02 06:00")
    thrown = plan(replace(known, items={**known.items, "STOCK": cooked}), "03-02 06:00")
    assert [row[2] for row in loaded(kept, "STOCK")] == [6.0]
    assert [row[2] for row in loaded(thrown, "STOCK")] == [10.0]


def test_a_cancelled_stop_throws_nothing_away() -> None:
    known = soups(
        stops=[stop("A", "03-04", cancelled=True), stop("A", "03-05")],
        bookings=[booking("A", "03-05", "STOCK", 10)],
        lots=[lot("A", "STOCK", 4, "03-09")],
    )
    cooked = {**known.items, "STOCK": replace(STOCK, on_return="keep_if_cold")}
    assert [
        row[2] for row in loaded(plan(replace(known, items=cooked), "03-02 06:00"), "STOCK")
    ] == [6.0]


def test_a_load_out_already_sent_asks_nothing_more_of_the_commissary() -> None:
    there = stop("A", "03-05")
    known = soups(
        stops=[there],
        bookings=[booking("A", "03-05", "SOUP", 10)],
        load_outs=[LoadOut(there.key, "STOCK", 2000.0)],
    )
    result = plan(known, "03-05 08:00")
    assert (result.draws, result.loads) == ({}, ())


# --- 5 and 6. Prep, tied to what it takes ----------------------------------------------------


def test_mr_04_sixty_portions_explode_through_prep_and_direct_lines() -> None:
    result = plan(portions_of_mr_04(), "03-02 06:00")
    assert batches(result, "P") == [("03-05 06:00", 4.0)]
    assert sum(row[2] for row in drawn(result.draws["COM", "I"])) == pytest.approx(4.2)
    assert sum(row[2] for row in drawn(result.draws["COM", "J"])) == pytest.approx(1.6)


def test_mr_05_exploding_without_netting_prep_first_asks_too_much() -> None:
    known = portions_of_mr_04()
    netted = plan(known, "03-02 06:00").draws["COM", "I"]
    not_netted = plan(replace(known, lots=()), "03-02 06:00").draws["COM", "I"]
    assert netted.qty.sum() - 1.25 == pytest.approx(2.95)
    assert not_netted.qty.sum() == pytest.approx(6.6)


def portions_of_mr_04() -> Kitchen:
    """60 portions of 120 g P and 20 g I; 3.2 kg P on hand; 10 kg P takes 6 kg usable of I at
    yield 80 % and 4 kg of J (inventory-theory.md). In kg."""
    items = [Item(code, "ingredient", "kg") for code in "IJ"]
    return kitchen(
        [COM],
        [Item("D", "menu", "each"), Item("P", "prep", "kg"), *items],
        [recipe("D", 1, {"P": 0.12, "I": 0.02}), recipe("P", 10, {"I": 6 / 0.8, "J": 4})],
        bookings=[booking("COM", "03-05", "D", 60)],
        lots=[lot("COM", "P", 3.2)],
    )


def test_an_input_stored_frozen_is_drawn_its_thawing_hours_before_the_batch() -> None:
    frozen = replace(LEEK, stored_frozen=True, thaw_hours=20)
    known = soups(bookings=[booking("COM", "03-06", "STOCK", 1000)])
    result = plan(replace(known, items={**known.items, "LEEK": frozen}), "03-02 06:00")
    # The batch starts 03-05 15:00; 20 hours before is 19:00, so 16:00 on 03-04. It must be
    # good on the day of the batch.
    assert drawn(result.draws["COM", "LEEK"]) == [("03-04 16:00", "03-05", 200.0)]


def test_goods_loaded_frozen_are_drawn_their_thawing_hours_before_they_leave() -> None:
    frozen = replace(LEEK, stored_frozen=True, thaw_hours=2)
    known = soups(stops=[stop("A", "03-05")], bookings=[booking("A", "03-05", "LEEK", 10)])
    result = plan(replace(known, items={**known.items, "LEEK": frozen}), "03-02 06:00")
    assert drawn(result.draws["COM", "LEEK"]) == [("03-04 16:00", "03-05", 10.0)]


def test_a_late_batch_draws_its_inputs_at_as_of() -> None:
    known = soups(bookings=[booking("COM", "03-02", "STOCK", 1000)])
    result = plan(known, "03-02 06:30")
    assert drawn(result.draws["COM", "LEEK"]) == [("03-02 06:30", "03-02", 200.0)]
    assert result.runs[0].late is True


def test_an_item_used_at_two_depths_waits_for_all_that_it_goes_into() -> None:
    deep = recipe("BASE", 1, {"RICE": 1})
    known = kitchen(
        [COM],
        [*(Item(code, "prep", "g") for code in ("TOP", "MIDDLE", "BASE")), RICE],
        [recipe("TOP", 1, {"MIDDLE": 1, "BASE": 2}), recipe("MIDDLE", 1, {"BASE": 3}), deep],
        bookings=[booking("COM", "03-05", "TOP", 10)],
    )
    result = plan(known, "03-02 06:00")
    assert drawn(result.draws["COM", "RICE"]) == [("03-05 06:00", "03-05", 50.0)]
    assert len([run for run in result.runs if run.item == "BASE"]) == 1


@pytest.mark.parametrize("kind", ["prep", "menu"])
def test_a_cycle_of_recipes_is_refused_by_name(kind: str) -> None:
    known = kitchen(
        [COM],
        [Item(code, kind, "g") for code in ("RYE", "SOUR")],
        [recipe("RYE", 1, {"SOUR": 1}), recipe("SOUR", 1, {"RYE": 1})],
        bookings=[booking("COM", "03-05", "RYE", 1)],
    )
    with pytest.raises(Refused, match="RYE needs SOUR needs RYE"):
        plan(known, "03-02 06:00")


# --- 7. Raw usage ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opens", "as_of", "expected"),
    [
        pytest.param("06:00", "03-02 06:00", "03-05 06:00", id="when the commissary opens"),
        pytest.param(None, "03-02 06:00", "03-05", id="no hour where none is known"),
        pytest.param("06:00", "03-05 09:00", "03-05 09:00", id="still to be drawn: from now on"),
    ],
)
def test_bookings_at_the_commissary_are_needed_when_it_opens(
    opens: str | None, as_of: str, expected: str
) -> None:
    where = place("COM", "commissary", hours=(opens, None), closed=("03-05",))
    known = soups(places=[where], bookings=[booking("COM", "03-05", "LEEK", 9)])
    assert drawn(plan(known, as_of).draws["COM", "LEEK"]) == [(expected, "03-05", 9.0)]


@pytest.mark.parametrize(("opens", "expected"), [("08:00", "03-05 08:00"), (None, "03-05 00:00")])
def test_prep_for_bookings_and_direct_sales_is_needed_at_opening_else_as_the_day_begins(
    opens: str | None, expected: str
) -> None:
    where = place("COM", "commissary", hours=(opens, None))
    quick = recipe("STOCK", 1000, {"LEEK": 200})
    known = kitchen([where], [STOCK, LEEK], [quick], bookings=[booking("COM", "03-05", "STOCK", 5)])
    assert batches(plan(known, "03-02 06:00"), "STOCK") == [(expected, 5.0)]
    direct = {("COM", "STOCK"): [[0], [0], [0], [7]]}
    sold = plan(replace(known, bookings=()), "03-02 06:00", direct=direct)
    assert batches(sold, "STOCK") == [(expected, 7.0)]


def test_direct_usage_has_no_hour() -> None:
    result = plan(soups(), "03-02 06:00", direct={("COM", "SOUP"): [[1], [0], [2]]})
    leek = [row for row in drawn(result.draws["COM", "LEEK"]) if row[0] == row[1]]
    assert leek == [("03-02", "03-02", 50.0), ("03-04", "03-04", 100.0)]


def test_the_plan_reaches_as_far_as_a_stop_whose_chain_starts_in_time() -> None:
    slow = replace(STOCK_RECIPE, lead_hours=72)
    known = soups(stops=[stop("A", "03-09")], bookings=[booking("A", "03-09", "SOUP", 10)])
    known = replace(known, recipes={**known.recipes, "STOCK": slow})
    result = plan(known, "03-02 06:00", until="03-06")
    # The leeks that are loaded on 03-09 are drawn after the last day needed.
    assert drawn(result.draws["COM", "LEEK"]) == [("03-05 15:00", "03-05", 600.0)]
