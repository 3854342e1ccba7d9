"""What the invented scenario promises: enough of everything, and nothing that hangs loose."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from purchasing.exchange.demo import demo_workbook
from tests.purchasing.exchange.demo_readings import (
    MOMENTS,
    MONDAY,
    book,
    codes,
    day,
    depth,
    kind_of,
    lines_of,
    where,
)

at_any_moment = pytest.mark.parametrize("as_of", MOMENTS.values(), ids=MOMENTS)
TODAY = MONDAY.date()


@pytest.mark.parametrize(
    ("kind", "least"),
    [("ingredient", 60), ("prep", 25), ("menu", 20), ("packaging", 12), ("resale", 4)],
)
def test_has_enough_items_of_each_kind(kind: str, least: int) -> None:
    assert len(codes(book(), kind)) >= least


def test_is_a_commissary_five_trucks_and_a_counter() -> None:
    kinds = sorted(row["kind"] for row in book()["locations"])
    assert kinds == ["commissary", "kitchen", *["truck"] * 5]


def test_buys_from_six_suppliers_or_more_and_each_is_somebodys_first_choice() -> None:
    suppliers = {row["code"] for row in book()["suppliers"]}
    first = {row["supplier"] for row in where(book()["supplier_items"], rank="1")}
    assert len(suppliers) >= 6
    assert suppliers - first == {"DROVERS"}  # the market is everybody's second choice


def test_recipes_are_three_prep_items_deep_and_never_go_round() -> None:
    lines = lines_of(book())
    assert max(depth(item, lines) for item in codes(book(), "prep")) == 3
    assert max(depth(item, lines) for item in codes(book(), "menu")) == 4


def test_every_prep_item_and_dish_has_a_recipe() -> None:
    made = {row["item"] for row in book()["recipes"]}
    assert made == codes(book(), "prep") | codes(book(), "menu") == set(lines_of(book()))


def test_every_dish_takes_packaging() -> None:
    lines, packaging = lines_of(book()), codes(book(), "packaging")
    for dish in codes(book(), "menu"):
        assert {line["item"] for line in lines[dish]} & packaging, dish


def test_every_prep_item_is_used_and_every_bought_item_is_sold_by_somebody() -> None:
    used = {line["item"] for line in book()["recipe_lines"]}
    used |= {row["item"] for sheet in ("sales", "usage") for row in book()[sheet]}
    offered = {row["item"] for row in book()["supplier_items"]}
    kinds = kind_of(book())
    assert {item for item, kind in kinds.items() if item not in used} == set()
    assert {i for i, kind in kinds.items() if kind not in ("prep", "menu")} <= offered


def test_allergens_of_exactly_one_bought_food_are_not_stated() -> None:
    food = where(book()["items"], kind="ingredient")
    silent = [row["code"] for row in food if not row["allergens"] + row["allergens_free"]]
    assert silent == ["STOCK-BASE"]


def test_stated_allergens_are_the_nine_each_said_once() -> None:
    for row in book()["items"]:
        columns = (row["allergens"], row["allergens_may"], row["allergens_free"])
        said = [word for column in columns for word in column.split(";") if word]
        assert len(said) in (0, 9) and len(set(said)) == len(said), row["code"]


@pytest.mark.parametrize(
    ("item", "share", "source"),
    [
        ("ONION", "90", "SR 11282"),
        ("SCALLION", "83", "Food Buying Guide, green onion"),
        ("GARLIC", "87", "SR 11215"),
        ("CABBAGE", "80", "SR 11109"),
        ("CARROT", "89", "SR 11124"),
        ("POTATO", "75", "SR 11353"),
        ("MANGO", "71", "SR 09176"),
        ("PORK-BUTT", "57.8", "SR 10083"),
        ("BEEF-GROUND", "65.7", "SR 23575"),
        ("CHICKEN-THIGH", "60", "SR 05096"),
        ("RICE", "261", "Food Buying Guide, section 4"),
    ],
)
def test_yields_are_the_published_ones(item: str, share: str, source: str) -> None:
    shares = {row["yield_pct"] for row in where(book()["recipe_lines"], item=item)}
    assert shares == {share}, source


@at_any_moment
def test_history_is_the_120_days_before_today(as_of: datetime) -> None:
    days = {day(row) for row in book(as_of)["sales"]}
    assert (min(days), max(days)) == (
        as_of.date() - timedelta(days=120),
        as_of.date() - timedelta(days=1),
    )
    assert len(days) == 120
    assert 4_000 <= len(book(as_of)["sales"]) <= 6_500


@at_any_moment
def test_two_to_five_trucks_are_out_and_four_or_five_on_saturdays(as_of: datetime) -> None:
    out: dict[str, set[str]] = {}
    for row in book(as_of)["stops"]:
        out.setdefault(row["date"], set()).add(row["location"])
    counts = {(day({"date": d}).weekday() == 5, len(trucks)) for d, trucks in out.items()}
    assert counts == {(True, 4), (True, 5), (False, 2), (False, 3), (False, 4)}


@at_any_moment
def test_stops_go_on_for_three_weeks(as_of: datetime) -> None:
    assert max(map(day, book(as_of)["stops"])) == as_of.date() + timedelta(days=20)


@at_any_moment
def test_sales_belong_to_a_stop_that_was_held_or_to_the_counter(as_of: datetime) -> None:
    columns = ("location", "date", "opens", "site")
    held = {tuple(row[c] for c in columns) for row in where(book(as_of)["stops"], cancelled="")}
    for row in book(as_of)["sales"]:
        at_counter = row["location"] == "CORNER" and not row["site"] + row["opens"]
        assert at_counter or tuple(row[c] for c in columns) in held, row


@at_any_moment
def test_a_stop_is_cancelled_within_the_week(as_of: datetime) -> None:
    ahead = [(day(row) - as_of.date()).days for row in where(book(as_of)["stops"], cancelled="yes")]
    assert len([days for days in ahead if 0 <= days <= 7]) == 1


@at_any_moment
def test_a_caterer_has_booked_a_truck_on_a_day_without_a_stop(as_of: datetime) -> None:
    booked = where(book(as_of)["bookings"], location="HEARTH", status="confirmed")
    days = {row["date"] for row in booked}
    stops = {row["date"] for row in where(book(as_of)["stops"], location="HEARTH")}
    assert len(days) == 1 and not days & stops
    assert as_of.date() < day(booked[0]) <= as_of.date() + timedelta(days=9)


@at_any_moment
def test_a_wedding_has_only_been_asked_about(as_of: datetime) -> None:
    assert where(book(as_of)["bookings"], status="enquiry")


@at_any_moment
def test_an_event_lies_ahead_with_covers_typed_and_guaranteed(as_of: datetime) -> None:
    fair = where(book(as_of)["stops"], event="river fair")
    ahead = [row for row in fair if day(row) >= as_of.date()]
    assert ahead and all(row["expected_covers"] and row["guaranteed_covers"] for row in ahead)
    assert len(fair) > len(ahead)  # and there is one to learn from


@at_any_moment
def test_a_supplier_is_closed_on_one_of_its_next_delivery_days(as_of: datetime) -> None:
    days = {row["code"]: row["delivery_days"] for row in book(as_of)["suppliers"]}
    ahead = [
        row
        for row in book(as_of)["supplier_closures"]
        if timedelta(days=2) <= day(row) - as_of.date() <= timedelta(days=8)
    ]
    assert [f"{day(row):%a}".lower() in days[row["supplier"]] for row in ahead] == [True]


def test_catch_weight_goods_are_priced_by_the_pound_and_have_a_usual_weight() -> None:
    varying = where(book()["supplier_items"], catch_weight="yes")
    assert len(varying) >= 2
    assert all(row["priced_per"] == "lb" and row["nominal_qty"] for row in varying)


def test_something_is_kept_frozen_and_must_thaw() -> None:
    assert [row["code"] for row in book()["items"] if row["thaw_hours"]]


@at_any_moment
def test_some_dishes_sold_out_while_the_truck_was_open(as_of: datetime) -> None:
    closes = {
        (row["location"], row["date"], row["opens"]): row["closes"] for row in book(as_of)["stops"]
    }
    gone = [row for row in book(as_of)["sales"] if row["sold_out_at"]]
    assert 20 <= len(gone) <= 400
    for row in gone:
        key = (row["location"], row["date"], row["opens"])
        assert row["opens"] <= row["sold_out_at"] <= closes[key], row


@at_any_moment
def test_lots_expire_in_time_to_matter(as_of: datetime) -> None:
    usable = [row for row in book(as_of)["stock"] if row["use_by"] and not row["hold"]]
    soon = [row for row in usable if 0 <= (day(row, "use_by") - as_of.date()).days <= 3]
    assert len([row for row in soon if row["location"] == "MILL"]) >= 10


@at_any_moment
def test_one_lot_is_on_hold_and_one_is_past_its_use_by(as_of: datetime) -> None:
    stock = book(as_of)["stock"]
    past = [row for row in stock if row["use_by"] and day(row, "use_by") < as_of.date()]
    assert [row["item"] for row in where(stock, hold="yes")] == ["CHICKEN-GROUND"]
    assert [row["item"] for row in past] == ["SPINACH"]


@at_any_moment
def test_use_by_follows_from_the_life_of_the_item(as_of: datetime) -> None:
    lives = {row["code"]: row["shelf_life_days"] for row in book(as_of)["items"]}
    for row in book(as_of)["stock"]:
        if row["use_by"]:
            life = timedelta(days=int(lives[row["item"]]))
            assert day(row, "received") + life == day(row, "use_by"), row
            assert day(row, "received") < as_of.date()


@at_any_moment
def test_trucks_and_counter_have_stock_too(as_of: datetime) -> None:
    assert {row["location"] for row in book(as_of)["stock"]} == {
        row["code"] for row in book(as_of)["locations"]
    }


@at_any_moment
def test_an_order_is_late_and_all_others_are_still_to_come(as_of: datetime) -> None:
    late = [row for row in book(as_of)["open_orders"] if day(row, "due") < as_of.date()]
    assert len({row["po"] for row in late}) == 1
    assert len(book(as_of)["open_orders"]) > len(late)


@at_any_moment
def test_open_orders_are_due_on_delivery_days_that_are_not_closures(as_of: datetime) -> None:
    days = {row["code"]: row["delivery_days"] for row in book(as_of)["suppliers"]}
    shut = {(row["supplier"], row["date"]) for row in book(as_of)["supplier_closures"]}
    for row in book(as_of)["open_orders"]:
        assert f"{day(row, 'due'):%a}".lower() in days[row["supplier"]], row
        assert (row["supplier"], row["due"]) not in shut, row


def test_one_supplier_confirmed_less_than_was_ordered() -> None:
    answered = [row for row in book()["open_orders"] if row["confirmed_cases"]]
    assert [int(row["cases"]) - int(row["confirmed_cases"]) for row in answered] == [1]


def test_pars_are_fixed_for_what_keeps_and_forecast_for_what_does_not() -> None:
    storage = {row["code"]: row["storage"] for row in book()["items"]}
    for row in where(book()["pars"], location="MILL"):
        assert bool(row["par"]) is (row["basis"] in ("fixed", "greater")), row
        if storage[row["item"]] == "chilled":
            assert row["basis"] == "forecast", row


def test_no_place_has_two_pars_for_one_item_and_weekday() -> None:
    keys = [(row["location"], row["item"], row["weekday"]) for row in book()["pars"]]
    assert len(keys) == len(set(keys))


def test_what_the_counter_does_not_buy_itself_comes_from_the_commissary() -> None:
    lines, kinds = lines_of(book()), kind_of(book())
    carried = {
        line["item"] for row in where(book()["menu"], location="CORNER")
        for line in lines.get(row["item"], [{"item": row["item"]}])
    }  # fmt: skip
    rows = {row["item"]: row for row in where(book()["pars"], location="CORNER")}
    assert {item for item in carried if kinds[item] != "prep"} <= set(rows)
    own = {item for item, row in rows.items() if not row["supplied_by"]}
    assert own == {"NOODLE", "SPROUT", "WATER", "GINGER-FIZZ", "COLD-TEA", "APPLE-FIZZ"}


@pytest.mark.parametrize("as_of", [MONDAY, MOMENTS["year end"]], ids=["monday", "year end"])
def test_the_same_moment_gives_the_same_workbook(as_of: datetime) -> None:
    assert demo_workbook(as_of) == demo_workbook(as_of)


def test_a_changed_row_is_not_seen_by_the_next_caller() -> None:
    for rows in demo_workbook(MONDAY).values():
        for row in rows:
            row.clear()
    assert demo_workbook(MONDAY) == book()


def test_a_moment_is_turned_into_business_time_and_without_a_zone_is_business_time() -> None:
    # 06:00 on 2 March is 12:00 UTC in the business's zone
    assert demo_workbook(datetime(2026, 3, 2, 12, tzinfo=UTC)) == book()
    assert demo_workbook(MONDAY.replace(tzinfo=None)) == book()


def test_a_week_later_everything_lies_a_week_later() -> None:
    later = demo_workbook(MONDAY + timedelta(days=7))
    assert {day(row) for row in later["sales"]} == {
        day(row) + timedelta(days=7) for row in book()["sales"]
    }
