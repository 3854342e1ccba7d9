"""Records that a traceability rule asks for: which facts of an event are missing, and how long
they are kept.

FSMA Food Traceability Rule, 21 CFR 1.1340, 1.1345, 1.1350, 1.1305, 1.1455. Whether a truck's
pitch counts as a place of its own is not settled; the cautious reading is taken, so a load of
listed food is shipped and received. Local code and the licensed person in charge decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

KEPT_YEARS = 2
FARM_KEPT = timedelta(days=180)


class Kind(StrEnum):
    RECEIVING = "receiving"
    SHIPPING = "shipping"
    TRANSFORMATION = "transformation"


class Source(StrEnum):
    """From whom it came, where that changes what has to be known."""

    SUPPLIER = "supplier"
    COUNTER = "counter"  # ad hoc from another shop or restaurant, 1.1305(k)
    FARM = "farm"  # from the farm itself, 1.1305(j)


class Fact(StrEnum):
    """Key data elements, numbered as in 1.1345(a) and 1.1340(a)."""

    CODE = "1 traceability lot code"
    QUANTITY = "2 quantity and unit"
    PRODUCT = "3 product"
    OTHER_PARTY = "4 the other party's location"
    OWN_PLACE = "5 own location"
    DATE = "6 date"
    CODE_SOURCE = "7 who assigned the lot code"
    REFERENCE = "8 reference document"
    INPUTS = "lots that went in"


@dataclass(frozen=True, slots=True)
class Input:
    """What a transformation took of one lot. ``listed``: on the Food Traceability List."""

    code: str
    product: str
    qty: Decimal
    unit: str
    listed: bool = True


@dataclass(frozen=True, slots=True)
class Event:
    """One event of one lot; an empty text is not known."""

    kind: Kind
    code: str
    product: str
    qty: Decimal
    unit: str
    on: date | None
    listed: bool = True
    source: Source = Source.SUPPLIER
    other_party: str = ""
    own_place: str = ""
    code_source: str = ""
    reference_kind: str = ""
    reference: str = ""
    inputs: tuple[Input, ...] = ()

    @property
    def is_complete(self) -> bool:
        return not missing(self)

    @property
    def kept_until(self) -> date | None:
        """The last day on which the record must be there."""
        if self.on is None:
            return None
        if self.source is Source.FARM:
            return self.on + FARM_KEPT
        return _years_later(self.on)


_OF_SUPPLIER = (
    *(Fact.CODE, Fact.QUANTITY, Fact.PRODUCT, Fact.OTHER_PARTY, Fact.OWN_PLACE, Fact.DATE),
    *(Fact.CODE_SOURCE, Fact.REFERENCE),
)
_NEEDED = {
    (Kind.RECEIVING, Source.SUPPLIER): _OF_SUPPLIER,
    (Kind.RECEIVING, Source.COUNTER): (Fact.PRODUCT, Fact.DATE, Fact.OTHER_PARTY),
    (Kind.RECEIVING, Source.FARM): (Fact.OTHER_PARTY, Fact.DATE),
}
_OF_TRANSFORMATION = tuple(
    fact for fact in (*_OF_SUPPLIER, Fact.INPUTS) if fact is not Fact.OTHER_PARTY
)


def missing(event: Event) -> tuple[Fact, ...]:
    """Facts that the rule asks for and nobody gave; none of food that is not listed, which
    covers meat, and what a kill step took off the list."""
    if not event.listed:
        return ()
    known = set(_known(event))
    return tuple(fact for fact in _needed(event) if fact not in known)


def _needed(event: Event) -> tuple[Fact, ...]:
    if event.kind is Kind.TRANSFORMATION:
        return _OF_TRANSFORMATION
    return _NEEDED.get((event.kind, event.source), _OF_SUPPLIER)


def _known(event: Event) -> Iterator[Fact]:
    told = {
        Fact.CODE: event.code,
        Fact.QUANTITY: event.qty and event.unit,
        Fact.PRODUCT: event.product,
        Fact.OTHER_PARTY: event.other_party,
        Fact.OWN_PLACE: event.own_place,
        Fact.DATE: event.on,
        Fact.CODE_SOURCE: event.code_source,
        Fact.REFERENCE: event.reference_kind and event.reference,
        Fact.INPUTS: event.inputs and all(one.code for one in event.inputs if one.listed),
    }
    return (fact for fact, value in told.items() if value)


def _years_later(day: date) -> date:
    try:
        return day.replace(year=day.year + KEPT_YEARS)
    except ValueError:  # 29 February
        return date(day.year + KEPT_YEARS, 3, 1)
