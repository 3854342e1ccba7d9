"""TR-01 to TR-09 of food-standards.md section 2, on single events (21 CFR 1.1300 to 1.1465);
the sheet made from real lots is tested in purchasing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from inventory.engine.traceability import Event, Fact, Input, Kind, Source, missing

AUGUST_1 = date(2028, 8, 1)

TOMATOES = Event(
    kind=Kind.RECEIVING,
    code="T-77",
    product="Tomatoes, vine",
    qty=Decimal(10),
    unit="lb",
    on=AUGUST_1,
    other_party="Ferry Road Produce",
    own_place="Mill Lane commissary",
    code_source="Ferry Road Produce",
    reference_kind="delivery note",
    reference="DN-114",
)


def test_a_whole_receipt_lacks_nothing() -> None:
    assert TOMATOES.is_complete


@pytest.mark.parametrize(
    ("blank", "fact"),
    [
        pytest.param({"reference": ""}, Fact.REFERENCE, id="TR-01 no document number"),
        pytest.param({"code": ""}, Fact.CODE, id="no lot code"),
        pytest.param({"other_party": ""}, Fact.OTHER_PARTY, id="nobody sent it"),
        pytest.param({"own_place": ""}, Fact.OWN_PLACE, id="it came nowhere"),
        pytest.param({"on": None}, Fact.DATE, id="no date"),
        pytest.param({"code_source": ""}, Fact.CODE_SOURCE, id="nobody gave the code"),
        pytest.param({"qty": Decimal(0)}, Fact.QUANTITY, id="no quantity"),
        pytest.param({"product": ""}, Fact.PRODUCT, id="no product"),
    ],
)
@pytest.mark.parametrize("kind", [Kind.RECEIVING, Kind.SHIPPING])
def test_what_is_missing_is_named(kind: Kind, blank: dict[str, object], fact: Fact) -> None:
    assert missing(replace(TOMATOES, kind=kind, **blank)) == (fact,)  # type: ignore[arg-type]


def test_tr_02_beef_is_not_traced_and_lacks_nothing() -> None:
    beef = replace(TOMATOES, product="Beef, boneless", code="", reference="", listed=False)
    assert beef.is_complete


RELISH = replace(
    TOMATOES,
    kind=Kind.TRANSFORMATION,
    code="KALUM",
    product="Relish, fresh",
    qty=Decimal(15),
    other_party="",
    code_source="Mill Lane commissary",
    reference_kind="batch",
    reference="12",
    inputs=(
        Input("T-77", "Tomatoes, vine", Decimal(10), "lb"),
        Input("T-78", "Tomatoes, vine", Decimal(5), "lb"),
        Input("P-9", "Parsley", Decimal(1), "lb"),
    ),
)


def test_tr_03_a_transformation_names_each_lot_that_went_in() -> None:
    assert RELISH.is_complete
    assert missing(replace(RELISH, inputs=())) == (Fact.INPUTS,)


def test_a_listed_input_without_a_code_is_a_gap_one_that_is_not_listed_is_none() -> None:
    oil = Input("", "Oil", Decimal(1), "lb", listed=False)
    herbs = Input("", "Parsley", Decimal(1), "lb")
    assert replace(RELISH, inputs=(*RELISH.inputs, oil)).is_complete
    assert missing(replace(RELISH, inputs=(herbs,))) == (Fact.INPUTS,)


def test_tr_05_roasted_peppers_are_off_the_list_and_need_no_code() -> None:
    roasted = replace(RELISH, product="Peppers, fire-roasted", code="", listed=False)
    assert roasted.is_complete


def test_tr_06_from_the_farm_itself_its_name_and_address_are_kept_180_days() -> None:
    lettuce = replace(TOMATOES, source=Source.FARM, code="", reference="", code_source="")
    assert lettuce.is_complete
    assert lettuce.kept_until == date(2029, 1, 28)
    assert missing(replace(lettuce, other_party="")) == (Fact.OTHER_PARTY,)


@pytest.mark.parametrize(
    ("on", "until"),
    [
        pytest.param(AUGUST_1, date(2030, 8, 1), id="TR-07"),
        pytest.param(date(2028, 2, 29), date(2030, 3, 1), id="leap day: not a day less"),
    ],
)
def test_records_are_kept_two_years(on: date, until: date) -> None:
    assert replace(TOMATOES, on=on).kept_until == until


def test_tr_09_bought_at_a_shop_needs_product_date_and_the_shop() -> None:
    parsley = replace(TOMATOES, source=Source.COUNTER, code="", reference="", code_source="")
    assert parsley.is_complete
    assert missing(replace(parsley, other_party="")) == (Fact.OTHER_PARTY,)
