"""An order as XML of the open standard UBL 2.1 (OASIS, November 2013), as narrow as the Peppol
order of BIS Ordering 3 asks. Written with the standard library; the order of elements is the
schema's.

Units are of UN/ECE Recommendation 20, packages of Recommendation 21 with an X before them.
Peppol rules kept: R001 line numbers once, R003 one currency, R004 and R005 nothing negative,
R008 total of lines, R024 amount of a line, R025 base quantity above 0, R028 two decimals.
"""

from __future__ import annotations

from decimal import Decimal
from xml.etree import ElementTree as xml

from purchasing.papers.sheet import OrderSheet, Party, SheetLine, cents

ORDER = "urn:oasis:names:specification:ubl:schema:xsd:Order-2"
CAC = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
CBC = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"
CUSTOMIZATION = "urn:fdc:peppol.eu:poacc:trns:order:3"
PROFILE = "urn:fdc:peppol.eu:poacc:bis:order_only:3"
ORDER_TYPE = "220"
GTIN_SCHEME = "0160"
CASE = "XCS"

# Units of weight and volume, and what is counted; a price in any of them orders in it.
UNITS = {
    "lb": "LBR",
    "oz": "ONZ",
    "kg": "KGM",
    "g": "GRM",
    "l": "LTR",
    "ml": "MLT",
    "gal": "GLL",
    "qt": "QTL",
    "pt": "PTL",
    "floz": "OZA",
    "cup": "G21",
    "tbsp": "G24",
    "tsp": "G25",
    "each": "EA",
    "dozen": "DZN",
    "head": "HEA",
    "bunch": "XBH",
    "box": "XBX",
    "bag": "XBG",
    "can": "XCX",
    "jar": "XJR",
    "bottle": "XBO",
    "case": CASE,
}


def order_xml(sheet: OrderSheet) -> bytes:
    """The document, UTF-8 with its declaration."""
    for prefix, space in (("", ORDER), ("cac", CAC), ("cbc", CBC)):
        xml.register_namespace(prefix, space)
    root = xml.Element(f"{{{ORDER}}}Order")
    _head(root, sheet)
    _party(root, "BuyerCustomerParty", sheet.buyer)
    _party(root, "SellerSupplierParty", sheet.supplier)
    _delivery(root, sheet)
    total = _add(root, "AnticipatedMonetaryTotal")
    _amount(total, "LineExtensionAmount", sheet.total, sheet.currency)
    _amount(total, "PayableAmount", sheet.total, sheet.currency)
    for line in sheet.lines:
        _line(root, line, sheet.currency)
    xml.indent(root)
    document: bytes = xml.tostring(root, encoding="UTF-8", xml_declaration=True)
    return document


def _head(root: xml.Element, sheet: OrderSheet) -> None:
    _say(root, "CustomizationID", CUSTOMIZATION)
    _say(root, "ProfileID", PROFILE)
    _say(root, "ID", sheet.number)
    if sheet.may_be_a_copy:
        _say(root, "CopyIndicator", "true")
    _say(root, "IssueDate", sheet.issued.date().isoformat())
    _say(root, "IssueTime", f"{sheet.issued:%H:%M:%S}")
    _say(root, "OrderTypeCode", ORDER_TYPE)
    for note in sheet.notes:
        _say(root, "Note", note)
    _say(root, "DocumentCurrencyCode", sheet.currency)
    if sheet.supplier.account:
        _say(root, "CustomerReference", sheet.supplier.account)
    _say(_add(root, "ValidityPeriod"), "EndDate", sheet.delivery.isoformat())


def _party(root: xml.Element, role: str, known: Party) -> None:
    party = _add(_add(root, role), "Party")
    if known.endpoint is not None:
        scheme, identifier = known.endpoint
        _say(party, "EndpointID", identifier, schemeID=scheme)
    _say(_add(party, "PartyName"), "Name", known.name)
    _say(_add(party, "PartyLegalEntity"), "RegistrationName", known.name)
    if known.phone or known.email:
        contact = _add(party, "Contact")
        for name, value in (("Telephone", known.phone), ("ElectronicMail", known.email)):
            if value:
                _say(contact, name, value)


def _delivery(root: xml.Element, sheet: OrderSheet) -> None:
    delivery = _add(root, "Delivery")
    place = _add(_add(delivery, "DeliveryLocation"), "Address")
    _say(_add(place, "AddressLine"), "Line", sheet.deliver_to)
    period = _add(delivery, "RequestedDeliveryPeriod")
    _say(period, "StartDate", sheet.delivery.isoformat())
    _say(period, "EndDate", sheet.delivery.isoformat())


def _line(root: xml.Element, line: SheetLine, currency: str) -> None:
    qty, unit, price = quantity_and_price(line)
    order_line = _add(root, "OrderLine")
    _say(order_line, "Note", _in_words(line))
    item_line = _add(order_line, "LineItem")
    _say(item_line, "ID", str(line.number))
    _say(item_line, "Quantity", _digits(qty), unitCode=unit)
    _amount(item_line, "LineExtensionAmount", cents(qty * price), currency)
    costs = _add(item_line, "Price")
    _say(costs, "PriceAmount", _digits(price), currencyID=currency)
    _say(costs, "BaseQuantity", "1", unitCode=unit)
    item = _add(item_line, "Item")
    _say(item, "Name", line.item)
    if line.sku:
        _say(_add(item, "SellersItemIdentification"), "ID", line.sku)
    if line.gtin:
        _say(_add(item, "StandardItemIdentification"), "ID", line.gtin, schemeID=GTIN_SCHEME)


def quantity_and_price(line: SheetLine) -> tuple[Decimal, str, Decimal]:
    """Quantity, its unit code, and the price of one such unit: what is priced by weight is
    ordered in weight, estimated where it is catch weight, so that the two agree (R025); what
    has no code is ordered by the case."""
    unit = UNITS.get(line.priced_per, "")
    if unit in ("", CASE):
        return Decimal(line.cases), CASE, line.price * line.priced_units
    return line.cases * line.priced_units, unit, line.price


def _in_words(line: SheetLine) -> str:
    size = f"{line.pack}, estimated" if line.catch_weight else line.pack
    return f"{line.cases} case{'s' if line.cases != 1 else ''} of {size}"


def _add(parent: xml.Element, name: str) -> xml.Element:
    return xml.SubElement(parent, f"{{{CAC}}}{name}")


def _say(parent: xml.Element, name: str, value: str, **attributes: str) -> None:
    xml.SubElement(parent, f"{{{CBC}}}{name}", attributes).text = value


def _amount(parent: xml.Element, name: str, amount: Decimal, currency: str) -> None:
    _say(parent, name, f"{cents(amount):f}", currencyID=currency)


def _digits(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
