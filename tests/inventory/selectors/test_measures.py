"""Units of stored items."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.models import ItemUnit
from inventory.problems import Refused
from inventory.selectors.measures import item_measures
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_house_units_densities_and_cases_of_each_item() -> None:
    leeks = make.item(code="LEEK", grams_per_each=Decimal(180))
    make.item(code="OIL", unit="l", grams_per_ml=Decimal("0.92"))
    ItemUnit.objects.create(item=leeks, word="bunch", qty=Decimal(3), of_unit="each")
    measures = item_measures({"LEEK": (Decimal(5), "kg"), "OIL": (Decimal(4), "gal")})
    assert measures.in_base("LEEK", Decimal(2), "bunch") == 1080
    assert measures.in_base("LEEK", Decimal(2), "case") == 10_000
    assert measures.in_base("OIL", Decimal(1), "case") == Decimal("15141.647136")
    assert measures.in_base("OIL", Decimal(920), "g") == 1000
    assert measures.in_own_unit("OIL", Decimal(1500)) == Decimal("1.5")
    assert (measures.base_unit("OIL"), measures.own_unit("OIL")) == ("ml", "l")


def test_a_word_of_one_item_means_nothing_to_another() -> None:
    leeks, beans = make.item(code="LEEK"), make.item(code="BEAN")
    ItemUnit.objects.create(item=leeks, word="bunch", qty=Decimal(500), of_unit="g")
    ItemUnit.objects.create(item=beans, word="tub", qty=Decimal(2), of_unit="kg")
    with pytest.raises(Refused, match="'bunch' is not a unit"):
        item_measures().in_base("BEAN", Decimal(1), "bunch")
    with pytest.raises(Refused, match="no case size"):
        item_measures().in_base("BEAN", Decimal(1), "case")


def test_a_quantity_is_rounded_once_to_nine_places() -> None:
    make.item(code="LEEK", unit="oz")
    measures = item_measures()
    third = measures.in_base("LEEK", Decimal("0.333333333"), "oz")
    assert third == Decimal("9.449841032")  # 28.349523125 / 3, less a billionth of an ounce


def test_two_queries_whatever_the_items(count_queries: Callable[..., int]) -> None:
    for _ in range(20):
        make.item()
    assert count_queries(item_measures) == 2
