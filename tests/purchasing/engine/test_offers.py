"""Whom to buy from: rank, what is in force, landed cost (R1, R13); par rows (R8)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from inventory.engine.kitchen import Item, Place, Recipe
from inventory.engine.sourcing import Sourcing
from purchasing.engine.inputs import Offer, ParRule, Supplier
from purchasing.engine.lines import ParTerms
from purchasing.engine.offers import Market, buyable, cheapest, landed_cost
from purchasing.engine.pars import ParBook
from tests.inventory.engine.small_kitchens import kitchen
from tests.purchasing.engine.line_scenes import AS_OF, CLOCK, daily, decided, line, march, offer

EVERY_DAY = frozenset(range(7))
COM, TRUCK = Place("COM", "commissary"), Place("A", "truck", supplied_by="COM")
LEEK, BROTH = Item("LEEK", "ingredient", "g"), Item("BROTH", "prep", "ml")


def supplier(code: str, *, lead: int = 1, closed: bool = False) -> Supplier:
    order_days = frozenset() if closed else EVERY_DAY
    return Supplier(code, order_days, time(14), lead, EVERY_DAY)


def market(offers: list[Offer], *suppliers: Supplier) -> Market:
    known = {one.code: one for one in suppliers or (supplier("S1"), supplier("S2"))}
    places = kitchen([COM, TRUCK], [LEEK, BROTH], [])
    return Market.at(offers, known, places, clock=CLOCK, as_of=AS_OF)


def chosen(found: Market, place: str = "COM") -> list[tuple[str, str]]:
    return [(one.offer.supplier, one.offer.sku) for one in found.choices(place, "LEEK")]


def by(code: str, rank: int = 1, **terms: Any) -> Offer:
    return offer(supplier=code, rank=rank, **terms)


def test_the_first_rank_is_chosen() -> None:
    assert chosen(market([by("S1", 2), by("S2", 1)])) == [("S2", "")]


def test_equal_ranks_are_all_candidates_in_a_stated_order() -> None:
    offers = [by("S2"), by("S1", sku="B"), by("S1", sku="A")]
    assert chosen(market(offers)) == [("S1", "A"), ("S1", "B"), ("S2", "")]


def test_an_offer_counts_only_if_it_is_in_force_on_its_own_delivery_day() -> None:
    from_thursday = by("S1", prices=((march(5), Decimal(9)),))
    assert chosen(market([from_thursday, by("S2", 2)])) == [("S2", "")]
    later = supplier("S1", lead=3), supplier("S2")
    assert chosen(market([from_thursday, by("S2", 2)], *later)) == [("S1", "")]


def test_a_supplier_without_a_delivery_leaves_its_place_to_the_next_rank() -> None:
    suppliers = supplier("S1", closed=True), supplier("S2")
    assert chosen(market([by("S1"), by("S2", 2)], *suppliers)) == [("S2", "")]


def test_without_any_delivery_the_first_rank_is_named_without_a_slot() -> None:
    suppliers = supplier("S1", closed=True), supplier("S2", closed=True)
    found = market([by("S1"), by("S2", 2)], *suppliers).choices("COM", "LEEK")
    assert [(one.offer.supplier, one.slot) for one in found] == [("S1", None)]


def test_what_is_made_or_sent_from_elsewhere_is_not_bought() -> None:
    broth = Recipe("BROTH", "COM", 1.0, ())
    known = kitchen([COM, TRUCK], [LEEK, BROTH], [broth])
    found = market([by("S1"), by("S1", item="BROTH")])
    assert list(buyable(found, Sourcing(known, {}))) == [("COM", "LEEK")]


def test_a_par_row_that_names_a_supplying_place_wins_over_the_place() -> None:
    known = kitchen([COM, Place("BAR", "kitchen")], [LEEK], [])
    found = Market.at([by("S1")], {"S1": supplier("S1")}, known, clock=CLOCK, as_of=AS_OF)
    assert list(buyable(found, Sourcing(known, {}))) == [("BAR", "LEEK"), ("COM", "LEEK")]
    assert list(buyable(found, Sourcing(known, {("BAR", "LEEK"): "COM"}))) == [("COM", "LEEK")]


def test_no_offer_in_force_is_no_choice() -> None:
    assert chosen(market([by("S1", prices=((march(30), Decimal(9)),))])) == []


WEEK = dict.fromkeys(range(4, 12), 10)


def test_of_equal_ranks_the_lower_price_per_unit_wins() -> None:
    small = decided(line(daily(WEEK), sold=by("S1", pack=10, price="20")))
    large = decided(line(daily(WEEK), sold=by("S2", pack=15, price="27")))
    assert landed_cost(large) == 1.8
    assert cheapest([small, large]) is large


def test_what_would_spoil_makes_a_large_pack_dear() -> None:
    small = decided(line(daily(WEEK), life=2, sold=by("S1", pack=10, price="20")))
    large = decided(line(daily(WEEK), life=2, sold=by("S2", pack=50, price="80")))
    assert landed_cost(small) == 2
    assert landed_cost(large) == pytest.approx(80 / 30)
    assert cheapest([small, large]) is small


def test_equal_cost_goes_by_supplier_and_sku() -> None:
    first = decided(line(daily(WEEK), sold=by("S1", sku="B")))
    second = decided(line(daily(WEEK), sold=by("S2", sku="A")))
    assert cheapest([second, first]) is first


def test_where_nothing_is_needed_the_price_decides() -> None:
    nothing = line(daily({}), sold=by("S1", price="20"))
    assert landed_cost(decided(nothing)) == 2
    assert landed_cost(decided(replace(nothing, offer=by("S2", price="15")))) == 1.5


ROWS = [
    ParRule("COM", "LEEK", None, 30.0, "fixed"),
    ParRule("COM", "LEEK", 4, 60.0, "greater", 0.8),
    ParRule("A", "LEEK", 5, 10.0, "fixed", 0.99, supplied_by="COM"),
]


@pytest.mark.parametrize(
    ("pair", "day", "terms"),
    [
        (("COM", "LEEK"), 5, ParTerms("fixed", 30, 0.9)),  # a Thursday: the row for every day
        (("COM", "LEEK"), 6, ParTerms("greater", 60, 0.8)),  # the row of Friday
        (("A", "LEEK"), 6, ParTerms("forecast", None, 0.9)),  # no row for Friday
        (("COM", "RICE"), 6, ParTerms("forecast", None, 0.9)),
    ],
)
def test_the_par_is_that_of_the_delivery_weekday_else_of_every_day(
    pair: tuple[str, str], day: int, terms: ParTerms
) -> None:
    assert ParBook.of(ROWS, 0.9).terms(pair, march(day)) == terms


def test_levels_and_supplying_places_of_par_rows() -> None:
    book = ParBook.of(ROWS, 0.9)
    assert book.service_levels == {("COM", "LEEK"): 0.8, ("A", "LEEK"): 0.99}
    assert book.supplied_by == {("A", "LEEK"): "COM"}


def test_a_price_must_be_in_force_on_the_delivery_day() -> None:
    one = line(daily(WEEK), sold=by("S1", prices=((march(5), Decimal(9)),)))
    with pytest.raises(ValueError, match="not in force on 2026-03-04"):
        _ = one.unit_cost


def test_dates_of_prices_are_inclusive() -> None:
    rising = by("S1", prices=((date.min, Decimal(9)), (march(4), Decimal(10))))
    assert line(daily(WEEK), sold=rising).case_price == 10
    assert np.isclose(line(daily(WEEK), sold=rising).unit_cost, 1.0)
