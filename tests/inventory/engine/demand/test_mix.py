from __future__ import annotations

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand.mix import MenuMix, SoldRates, learn_rates, menu_mix
from inventory.engine.demand.sessions import stop_sales
from inventory.engine.kitchen import Kitchen, MenuSpan
from tests.inventory.engine.demand.scenes import T, kitchen, market_sales, sales, stop

TUESDAY = T + timedelta(days=1)


def rates_of(table: pd.DataFrame, place: Kitchen) -> SoldRates:
    rows = stop_sales(table, place, T)
    age = (pd.Timestamp(T) - rows["day"]).dt.days.to_numpy(dtype=np.float64)
    return learn_rates(rows, age, place)


def mix_of(table: pd.DataFrame, place: Kitchen) -> MenuMix:
    found = menu_mix(place.stops[0], rates_of(table, place), place)
    assert found is not None
    return found


def share(mix: MenuMix, item: str) -> float:
    return float(mix.share[mix.items.index(item)])


def test_shares_of_dishes_sum_to_one() -> None:
    mix = mix_of(market_sales(), kitchen(stops=(stop(TUESDAY),)))
    assert mix.items == ("SOUP", "STEW")
    assert mix.share.sum() == pytest.approx(1.0)
    assert share(mix, "SOUP") == pytest.approx(2 / 3, abs=0.06)


def test_another_truck_starts_from_the_shares_of_the_business() -> None:
    menus = {"VAN2": (MenuSpan("SOUP"), MenuSpan("STEW"))}
    place = kitchen(stops=(stop(TUESDAY, location="VAN2"), stop(TUESDAY)), menus=menus)
    assert share(mix_of(market_sales(weeks=30), place), "SOUP") == pytest.approx(2 / 3, abs=0.06)


def test_a_dish_offered_and_never_taken_loses_its_prior() -> None:
    spans = tuple(MenuSpan(item) for item in ("SOUP", "STEW", "BUN"))
    place = kitchen(stops=(stop(TUESDAY),), menus={"VAN1": spans})
    rows = market_sales(weeks=30)
    none = rows[rows["item"] == "STEW"].assign(item="BUN", qty=0.0)
    assert share(mix_of(pd.concat([rows, none]), place), "BUN") < 0.02


def test_without_a_menu_old_dishes_are_no_longer_offered() -> None:
    old = sales([("VAN1", "Quay", T - timedelta(days=90), "BUN", 50.0, False)])
    mix = mix_of(pd.concat([market_sales(), old]), kitchen(stops=(stop(TUESDAY),)))
    assert "BUN" not in mix.items


def test_nothing_offered_is_no_mix() -> None:
    place = kitchen(stops=(stop(TUESDAY),))
    assert menu_mix(place.stops[0], SoldRates({}, {}, {}), place) is None


def test_goods_beside_the_dishes_that_were_never_sold_get_nothing() -> None:
    spans = (MenuSpan("SOUP"), MenuSpan("COLA"))
    place = kitchen(stops=(stop(TUESDAY),), menus={"VAN1": spans})
    mix = mix_of(market_sales(), place)
    assert share(mix, "COLA") == 0.0
    assert share(mix, "SOUP") == 1.0


def test_goods_alone_divide_the_guests_between_them() -> None:
    rows = sales([("VAN1", "Quay", T - timedelta(days=6), "COLA", 40.0, False)])
    mix = mix_of(rows, kitchen(stops=(stop(TUESDAY),)))
    assert mix.dish.tolist() == [True]
    assert share(mix, "COLA") == 1.0


def test_the_mix_of_a_day_is_steadier_the_more_is_known() -> None:
    place = kitchen(stops=(stop(TUESDAY),))
    short, long = (mix_of(market_sales(weeks=weeks), place) for weeks in (1, 20))
    assert short.steadiness < long.steadiness <= 150.0
