"""Exact figures, case by case as they go wrong in floats (libraries.md section 2)."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import FieldError, ValidationError
from django.db import DataError, IntegrityError, OperationalError, connection, transaction
from django.db.models import F, Max, Sum
from django.forms import modelform_factory
from hypothesis import given
from hypothesis import strategies as st

from inventory.fields import LIMIT, ONE, Money, Quantity, UnitCost, exact, quantised
from inventory.models import Inbound, Item, ItemCost, Location, OnHand, Sale
from tests import factories as make
from tests.factories import TODAY

TENTH = Decimal("0.1")


@pytest.fixture
def item(db: None) -> Item:
    return make.item()


def stock(qty: Decimal | int | str, count: int = 1) -> list[OnHand]:
    """Rows of on hand, straight into the table."""
    lot = make.lot(0)
    places = [make.location() for _ in range(count)]
    rows = [OnHand(lot=lot, item=lot.item, location=place, qty=qty) for place in places]
    return OnHand.objects.bulk_create(rows)


def total() -> Decimal:
    found: Decimal = OnHand.objects.aggregate(sum=Sum("qty", default=Decimal(0)))["sum"]
    return found


@pytest.mark.parametrize(
    "text",
    [
        "123456789.123456789",
        "0.000000001",
        "9223372036.854775807",
        "28.349523125",
        "453.59237",
        "0",
    ],
    ids=["eighteen digits", "the smallest", "the largest", "an ounce", "a pound", "nothing"],
)
def test_what_is_stored_is_read_back(db: None, text: str) -> None:
    (row,) = stock(text)
    row.refresh_from_db()
    assert row.qty == Decimal(text)


def test_what_lies_in_the_table_is_a_whole_number(db: None) -> None:
    stock(TENTH)
    kind = {"sqlite": "typeof(qty)", "postgresql": "pg_typeof(qty)::text"}[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT qty, {kind} FROM inventory_onhand")
        assert cursor.fetchone() in [(100_000_000, "integer"), (100_000_000, "bigint")]


def test_ten_rows_of_a_tenth_are_one(db: None) -> None:
    stock(TENTH, 10)
    summed = OnHand.objects.values("lot").annotate(sum=Sum("qty"))
    assert total() == 1
    assert summed.filter(sum=Decimal(1)).count() == 1
    assert summed.filter(sum__lt=Decimal(1)).count() == 0


def test_three_tenths_less_a_tenth_three_times_is_nothing(db: None) -> None:
    (row,) = stock(3 * TENTH)
    for _ in range(3):
        OnHand.objects.update(qty=F("qty") - exact(TENTH))
    row.refresh_from_db()
    assert row.qty == 0


def test_a_tenth_and_two_tenths_are_found_as_three(db: None) -> None:
    stock(TENTH)
    OnHand.objects.update(qty=F("qty") + exact(2 * TENTH))
    assert OnHand.objects.filter(qty=Decimal("0.3")).count() == 1


def test_comparison_in_sql_takes_plain_decimals(db: None) -> None:
    stock(TENTH)
    assert OnHand.objects.filter(qty__gte=TENTH).count() == 1
    assert OnHand.objects.filter(qty__gt=TENTH).count() == 0
    assert OnHand.objects.filter(qty__in=[TENTH]).count() == 1


def test_a_large_sum_is_exact(db: None) -> None:
    stock("123456.000000001", 1000)
    assert total() == Decimal("123456000.000001")
    assert OnHand.objects.aggregate(most=Max("qty"))["most"] == Decimal("123456.000000001")


def test_a_sum_past_the_limit_is_never_a_wrong_figure(db: None) -> None:
    """PostgreSQL sums in numeric; SQLite says that the whole numbers are used up."""
    stock(LIMIT, 3)
    if connection.vendor == "postgresql":
        assert total() == 3 * LIMIT
        return
    with pytest.raises(OperationalError, match="integer overflow"):
        total()


def test_a_step_past_the_limit_is_refused_by_the_database(db: None) -> None:
    stock(LIMIT)
    with pytest.raises((IntegrityError, DataError)), transaction.atomic():
        OnHand.objects.update(qty=F("qty") + exact(ONE))
    assert OnHand.objects.get().qty == LIMIT


@pytest.mark.parametrize(
    ("value", "error", "sentence"),
    [
        (0.1, TypeError, "a float is not exact"),
        (Decimal("0.0000000001"), ValueError, "more than 9 decimal places"),
        (LIMIT + ONE, ValueError, "is outside"),
        (-LIMIT - ONE, ValueError, "is outside"),
        (Decimal("NaN"), ValueError, "is outside"),
        (Decimal("Infinity"), ValueError, "is outside"),
        ("a few", ValidationError, "is not a number"),
    ],
    ids=["float", "tenth place", "too much", "too little", "NaN", "infinity", "words"],
)
def test_what_is_not_exact_is_refused(value: Any, error: type[Exception], sentence: str) -> None:
    with pytest.raises(error, match=sentence):
        Quantity().get_prep_value(value)


def test_nothing_but_a_whole_number_gets_into_a_column(db: None) -> None:
    """SQLite columns take anything unless they are told not to."""
    stock(TENTH)
    with (
        pytest.raises((IntegrityError, DataError)),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE inventory_onhand SET qty = '0.5'")


@pytest.mark.parametrize("figure", [F("qty") * F("qty"), F("qty") / F("qty")])
def test_quantities_are_not_multiplied_in_sql(db: None, figure: Any) -> None:
    with pytest.raises(FieldError):
        list(OnHand.objects.annotate(wrong=figure))


def test_a_bare_figure_beside_a_column_is_not_annotated(db: None) -> None:
    with pytest.raises(FieldError):
        list(OnHand.objects.annotate(wrong=F("qty") - TENTH))


def test_a_column_may_be_empty(item: Item) -> None:
    item.refresh_from_db()
    assert item.thaw_hours is None


def test_bulk_writing_is_exact_as_well(item: Item) -> None:
    place: Location = make.location()
    row = Inbound.objects.create(
        item=item, location=place, due=TODAY, qty=TENTH, source="S", source_key="k"
    )
    row.qty = Decimal("0.333333333")
    Inbound.objects.bulk_update([row], ["qty"])
    row.refresh_from_db()
    assert row.qty == Decimal("0.333333333")


def test_a_price_by_the_pound_comes_back_to_the_cent(item: Item) -> None:
    """3.19 a pound, kept per gram, prices a case of 50 pounds at 159.50."""
    per_gram = quantised(Decimal("3.19") / Decimal("453.59237"))
    ItemCost.objects.create(item=item, starts_on=TODAY, cost=per_gram, source="x")
    cost = ItemCost.objects.get().cost
    assert cost == Decimal("0.007032746")
    assert round(cost * 50 * Decimal("453.59237"), 2) == Decimal("159.50")


def test_a_form_reads_nine_places_and_no_more(db: None) -> None:
    form_class = modelform_factory(Sale, fields=["qty"])
    assert form_class({"qty": "0.123456789"}).is_valid()
    refused = form_class({"qty": "0.1234567891"})
    assert "no more than 9 decimal places" in refused.errors["qty"][0]


@pytest.mark.parametrize("kind", [Quantity, Money, UnitCost])
@given(scaled=st.integers(-(2**63) + 1, 2**63 - 1))
def test_every_kind_keeps_every_figure(kind: type[Quantity[Any, Any]], scaled: int) -> None:
    field = kind()
    number = field.from_db_value(scaled, None, connection)
    assert number is not None
    assert field.get_prep_value(number) == scaled
    assert field.get_prep_value(str(number)) == scaled


@given(st.decimals(-(10**9), 10**9, allow_nan=False, places=14))
def test_rounding_is_half_up_and_by_half_a_unit_at_most(number: Decimal) -> None:
    rounded = quantised(number)
    assert abs(rounded - number) <= ONE / 2
    assert quantised(rounded) == rounded


def test_half_a_unit_rounds_up() -> None:
    assert quantised(Decimal("0.0000000005")) == ONE
    assert quantised(Decimal("-0.0000000005")) == -ONE
