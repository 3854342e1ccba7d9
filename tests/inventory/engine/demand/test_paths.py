from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand.history import History
from inventory.engine.demand.paths import DemandPaths, draw_paths, learn_demand
from inventory.engine.kitchen import Booking, MenuSpan
from tests.inventory.engine.demand.scenes import (
    T,
    daily_usage,
    kitchen,
    market_sales,
    past,
    run,
    sales,
    stop,
    usage,
)

TUESDAY = T + timedelta(days=1)


def same(one: DemandPaths, other: DemandPaths) -> bool:
    return (
        one.stops.keys() == other.stops.keys()
        and one.direct.keys() == other.direct.keys()
        and all(np.array_equal(one.stops[key], other.stops[key]) for key in one.stops)
        and all(np.array_equal(one.direct[key], other.direct[key]) for key in one.direct)
    )


# Nothing to learn from


def test_no_history_and_no_stop_is_no_demand_on_one_certain_path() -> None:
    demand = run(History.empty(), kitchen())
    assert (demand.stops, demand.direct) == ({}, {})
    assert demand.weights.tolist() == [1.0]


def test_a_stop_without_typed_covers_and_without_sales_adds_nothing() -> None:
    menus = {"VAN1": (MenuSpan("SOUP"),)}
    assert run(History.empty(), kitchen(stops=(stop(TUESDAY),), menus=menus)).stops == {}


def test_bookings_are_not_part_of_the_paths() -> None:
    place = replace(kitchen(), bookings=(Booking("COM", TUESDAY, "LEEK", 500.0),))
    assert run(History.empty(), place).direct == {}


def test_an_item_never_used_gets_nothing() -> None:
    demand = run(past(usage=daily_usage()), kitchen())
    assert list(demand.direct) == [("REST", "LEEK")]


def test_cancelled_and_past_stops_are_left_out() -> None:
    stops = (stop(TUESDAY, cancelled=True), stop(T - timedelta(days=6)))
    assert run(past(sales=market_sales()), kitchen(stops=stops)).stops == {}


# Direct usage


def test_usage_follows_the_weekday() -> None:
    demand = run(past(usage=daily_usage()), kitchen())
    mean = demand.direct["REST", "LEEK"].mean(axis=1)
    assert mean[:5] == pytest.approx([20.0] * 5, rel=0.15)
    assert mean[5:] == pytest.approx([40.0] * 2, rel=0.15)


def test_paths_are_whole_weights_and_never_negative() -> None:
    demand = run(past(usage=daily_usage(), sales=market_sales()), kitchen(stops=(stop(TUESDAY),)))
    assert demand.weights.sum() == pytest.approx(1.0)
    assert all((paths >= 0).all() for paths in [*demand.direct.values(), *demand.stops.values()])
    assert demand.direct["REST", "LEEK"].shape == (7, 400)


def test_today_counts_what_is_still_to_come() -> None:
    history = past(usage=daily_usage())
    whole = run(history, kitchen()).direct["REST", "LEEK"]
    left = run(history, kitchen(), used_today={("REST", "LEEK"): 15.0}).direct["REST", "LEEK"]
    assert np.array_equal(left[0], np.maximum(whole[0] - 15.0, 0.0))
    assert np.array_equal(left[1:], whole[1:])


def test_a_closed_day_has_no_usage() -> None:
    place = kitchen()
    shut = replace(place.places["REST"], closed_on=frozenset({TUESDAY}))
    place = replace(place, places={**place.places, "REST": shut})
    usage_paths = run(past(usage=daily_usage()), place).direct["REST", "LEEK"]
    assert not usage_paths[1].any()
    assert usage_paths[2].any()


def test_counter_sales_of_a_place_without_stops_stay_dishes() -> None:
    days = [T - timedelta(days=back) for back in range(1, 57)]
    sold = sales([("REST", "", day, "SOUP", 30.0, False) for day in days])
    demand = run(past(sales=sold), kitchen(stops=(stop(TUESDAY),)))
    assert demand.direct["REST", "SOUP"].mean() == pytest.approx(30.0, rel=0.05)


def test_sold_out_days_are_lower_bounds() -> None:
    days = [T - timedelta(days=back) for back in range(1, 57)]
    rng = np.random.default_rng(3)
    demand = rng.poisson(40, size=len(days))
    sold = np.minimum(demand, 40)
    marked = sales([("REST", "", d, "SOUP", q, q == 40) for d, q in zip(days, sold, strict=True)])
    plain = marked.assign(sold_out=False)
    lifted = run(past(sales=marked), kitchen()).direct["REST", "SOUP"].mean()
    capped = run(past(sales=plain), kitchen()).direct["REST", "SOUP"].mean()
    assert capped < 38.5 < lifted < 45.0


def test_a_short_history_gives_a_forecast() -> None:
    history = past(usage=usage([("REST", "LEEK", T - timedelta(days=1), 50.0)]))
    assert run(history, kitchen()).direct["REST", "LEEK"].mean() > 0


def test_rare_use_stays_rare() -> None:
    days = [T - timedelta(days=back) for back in range(10, 200, 10)]
    history = past(usage=usage([("REST", "LEEK", day, 10.0) for day in days]))
    assert run(history, kitchen()).direct["REST", "LEEK"].mean() == pytest.approx(1.0, rel=0.4)


# Stops


def test_stop_portions_come_from_turnout_and_mix() -> None:
    place = kitchen(stops=(stop(TUESDAY),))
    demand = run(past(sales=market_sales(weeks=40)), place, paths=2000)
    soup, stew = (demand.stops[place.stops[0].key, dish].mean() for dish in ("SOUP", "STEW"))
    assert soup + stew == pytest.approx(60.0, rel=0.15)
    assert soup / (soup + stew) == pytest.approx(2 / 3, abs=0.06)


def test_dishes_of_one_stop_move_together() -> None:
    place = kitchen(stops=(stop(TUESDAY),))
    demand = run(past(sales=market_sales(weeks=40)), place, paths=2000)
    soup, stew = (demand.stops[place.stops[0].key, dish] for dish in ("SOUP", "STEW"))
    assert np.corrcoef(soup, stew)[0, 1] > 0.2


def test_stops_of_one_day_share_a_factor_and_stops_of_two_days_do_not() -> None:
    evening = stop(TUESDAY, site="Fair", opens=time(18))
    later = stop(TUESDAY + timedelta(days=7))
    place = kitchen(stops=(stop(TUESDAY), evening, later))
    demand = run(past(sales=market_sales(weeks=40)), place, paths=2000)
    first, same_day, other_day = (demand.stops[s.key, "SOUP"] for s in place.stops)
    assert np.corrcoef(first, same_day)[0, 1] > 0.1
    assert abs(np.corrcoef(first, other_day)[0, 1]) < 0.08


def test_typed_covers_are_divided_by_the_mix() -> None:
    place = kitchen(stops=(stop(TUESDAY, covers=200.0),))
    demand = run(past(sales=market_sales(weeks=40)), place, paths=2000)
    total = sum(paths for paths in demand.stops.values())
    assert np.mean(total) == pytest.approx(200.0, rel=0.02)


def test_typed_covers_without_any_sales_use_the_menu_in_equal_shares() -> None:
    menus = {"VAN1": (MenuSpan("SOUP"), MenuSpan("STEW"))}
    place = kitchen(stops=(stop(TUESDAY, covers=80.0),), menus=menus)
    demand = run(History.empty(), place, paths=1000)
    means = [paths.mean() for paths in demand.stops.values()]
    assert means == pytest.approx([40.0, 40.0], rel=0.05)


def test_typed_covers_that_proved_too_high_are_scaled_down() -> None:
    past_stops = tuple(stop(T - timedelta(days=7 * w - 1), covers=120.0) for w in range(1, 41))
    place = kitchen(stops=(*past_stops, stop(TUESDAY, covers=120.0)))
    demand = run(past(sales=market_sales(weeks=40)), place, paths=1000)
    assert sum(p.mean() for p in demand.stops.values()) == pytest.approx(67.0, rel=0.1)


def test_a_new_dish_on_the_menu_starts_from_the_prior() -> None:
    menus = {
        "VAN1": (MenuSpan("SOUP"), MenuSpan("STEW"), MenuSpan("BUN", first=T)),
    }
    place = kitchen(stops=(stop(TUESDAY, covers=90.0),), menus=menus)
    demand = run(past(sales=market_sales(weeks=40)), place, paths=1000)
    assert demand.stops[place.stops[0].key, "BUN"].mean() == pytest.approx(22.5, rel=0.1)


def test_a_dish_off_the_menu_is_not_sold() -> None:
    gone = MenuSpan("STEW", last=T - timedelta(days=1))
    place = kitchen(stops=(stop(TUESDAY),), menus={"VAN1": (MenuSpan("SOUP"), gone)})
    demand = run(past(sales=market_sales()), place)
    assert {item for _, item in demand.stops} == {"SOUP"}


def test_a_menu_entry_of_another_site_is_not_sold() -> None:
    menus = {"VAN1": (MenuSpan("SOUP"), MenuSpan("STEW", site="Fair"))}
    demand = run(past(sales=market_sales()), kitchen(stops=(stop(TUESDAY),), menus=menus))
    assert {item for _, item in demand.stops} == {"SOUP"}


def test_a_new_site_borrows_from_the_others() -> None:
    place = kitchen(stops=(stop(TUESDAY, site="Park"),))
    demand = run(past(sales=market_sales(weeks=40)), place)
    assert sum(p.mean() for p in demand.stops.values()) == pytest.approx(60.0, rel=0.2)


def test_drinks_are_taken_beside_the_dishes() -> None:
    rows = market_sales(weeks=40)
    cola = rows[rows["item"] == "STEW"].assign(item="COLA")
    place = kitchen(stops=(stop(TUESDAY, covers=90.0),))
    demand = run(past(sales=pd.concat([rows, cola])), place, paths=1000)
    key = place.stops[0].key
    assert demand.stops[key, "SOUP"].mean() + demand.stops[key, "STEW"].mean() == pytest.approx(
        90.0, rel=0.03
    )
    assert demand.stops[key, "COLA"].mean() == pytest.approx(30.0, rel=0.2)


def test_one_dish_keeps_the_exact_strata_of_the_turnout() -> None:
    """The paths are the equal slices of the distribution: sorted, they do not depend on
    the seed (R14)."""
    place = kitchen(stops=(stop(TUESDAY, covers=100.0),), menus={"VAN1": (MenuSpan("SOUP"),)})
    one, other = (run(History.empty(), place, seed=seed) for seed in (1, 2))
    key = place.stops[0].key, "SOUP"
    assert np.array_equal(np.sort(one.stops[key]), np.sort(other.stops[key]))
    assert not np.array_equal(one.stops[key], other.stops[key])


def test_a_truck_uses_only_where_it_stops() -> None:
    days = [T - timedelta(days=back) for back in range(1, 57)]
    napkins = usage([("VAN1", "LEEK", day, 10.0) for day in days])
    demand = run(past(usage=napkins), kitchen(stops=(stop(TUESDAY),)))
    used = demand.direct["VAN1", "LEEK"].mean(axis=1)
    assert used[1] == pytest.approx(10.0, rel=0.1)
    assert used[[0, 2, 3, 4, 5, 6]].tolist() == [0.0] * 6


# Same again, whatever else is planned


def test_same_seed_same_paths_and_another_seed_others() -> None:
    history = past(usage=daily_usage(), sales=market_sales())
    place = kitchen(stops=(stop(TUESDAY),))
    assert same(run(history, place), run(history, place))
    assert not same(run(history, place), run(history, place, seed=2))


def test_row_order_never_matters() -> None:
    history = past(usage=daily_usage(), sales=market_sales())
    shuffled = History(
        history.sales.sample(frac=1.0, random_state=1),
        history.usage.sample(frac=1.0, random_state=2),
    )
    place = kitchen(stops=(stop(TUESDAY), stop(TUESDAY, location="VAN2")))
    turned = replace(place, stops=place.stops[::-1])
    assert same(run(history, place), run(shuffled, turned))


def test_rows_from_today_on_are_not_seen() -> None:
    history = past(usage=daily_usage(), sales=market_sales())
    late = usage([("REST", "LEEK", T, 9000.0), ("REST", "LEEK", TUESDAY, 9000.0)])
    sold = sales([("VAN1", "Quay", T, "SOUP", 9000.0, False)])
    more = History(pd.concat([history.sales, sold]), pd.concat([history.usage, late]))
    place = kitchen(stops=(stop(TUESDAY),))
    assert same(run(history, place), run(more, place))


def test_another_stop_changes_no_number_of_this_one() -> None:
    history = past(sales=market_sales())
    alone = run(history, kitchen(stops=(stop(TUESDAY),)))
    beside = run(history, kitchen(stops=(stop(TUESDAY, location="VAN2", covers=50.0),
                                         stop(TUESDAY))))  # fmt: skip
    assert all(np.array_equal(beside.stops[key], alone.stops[key]) for key in alone.stops)


def test_more_days_change_no_number_of_the_first() -> None:
    history = past(usage=daily_usage())
    week, fortnight = run(history, kitchen(), days=7), run(history, kitchen(), days=14)
    key = "REST", "LEEK"
    assert np.array_equal(week.direct[key], fortnight.direct[key][:7])


def test_one_path_is_accepted() -> None:
    demand = run(past(usage=daily_usage()), kitchen(), paths=1)
    assert demand.direct["REST", "LEEK"].shape == (7, 1)


# Items that move together


def weather_usage(days: int = 200) -> pd.DataFrame:
    """Two goods of the restaurant that share the day's weather."""
    rng = np.random.default_rng(8)
    rows = []
    for back in range(days, 0, -1):
        weather = rng.gamma(12.0, 1 / 12.0)
        for item in ("LEEK", "COLA"):
            rows.append(("REST", item, T - timedelta(days=back), float(rng.poisson(80 * weather))))
    return usage(rows)


def test_goods_that_moved_together_do_so_on_the_paths() -> None:
    demand = run(past(usage=weather_usage()), kitchen(), paths=1000)
    leek, cola = (demand.direct["REST", item][1] for item in ("LEEK", "COLA"))
    assert np.corrcoef(leek, cola)[0, 1] > 0.4


def test_goods_that_moved_apart_do_so_on_the_paths() -> None:
    rows = pd.concat([daily_usage(days=200), daily_usage("COLA", days=200, seed=6)])
    demand = run(past(usage=rows), kitchen(), paths=1000)
    leek, cola = (demand.direct["REST", item][1] for item in ("LEEK", "COLA"))
    assert np.corrcoef(leek, cola)[0, 1] < 0.3


def test_a_weekday_always_shut_stays_shut() -> None:
    rows = daily_usage()
    open_rows = rows[rows["day"].dt.day_name() != "Sunday"]
    used = run(past(usage=open_rows), kitchen(), days=14).direct["REST", "LEEK"]
    assert not used[[6, 13]].any()
    assert used[[0, 5, 12]].all()


def test_two_halves_of_the_paths_have_the_same_mean() -> None:
    used = run(past(usage=daily_usage()), kitchen(), paths=1000).direct["REST", "LEEK"]
    assert used[:, :500].mean() == pytest.approx(used[:, 500:].mean(), rel=0.03)


def test_more_history_of_another_place_with_stops_only_changes_nothing_direct() -> None:
    alone = run(past(usage=daily_usage()), kitchen(stops=(stop(TUESDAY),)))
    both = run(past(usage=daily_usage(), sales=market_sales()), kitchen(stops=(stop(TUESDAY),)))
    key = "REST", "LEEK"
    assert np.array_equal(alone.direct[key], both.direct[key])


# Learnt once, drawn on several days


def test_a_model_serves_the_days_after_it_was_learnt() -> None:
    history, place = past(usage=daily_usage()), kitchen()
    model = learn_demand(history, place, first_day=T, days=14)
    later = T + timedelta(days=5)
    drawn = draw_paths(
        model, place, first_day=later, days=7, seed=1, paths=400, used_today={}
    ).direct["REST", "LEEK"]
    assert drawn.mean(axis=1)[:2] == pytest.approx([40.0, 40.0], rel=0.15)
    assert drawn.mean(axis=1)[2:] == pytest.approx([20.0] * 5, rel=0.15)


def test_drawing_from_a_model_is_the_same_as_asking_at_once() -> None:
    history, place = (
        past(usage=daily_usage(), sales=market_sales()),
        kitchen(stops=(stop(TUESDAY),)),
    )
    model = learn_demand(history, place, first_day=T, days=7)
    drawn = draw_paths(model, place, first_day=T, days=7, seed=1, paths=400, used_today={})
    assert same(drawn, run(history, place))
