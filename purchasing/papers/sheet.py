"""An order as it leaves the house: everything that its papers say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Party:
    """``endpoint``: scheme and identifier on the Peppol network (0088 GLN, 0060 DUNS, 0199
    LEI), where there is one."""

    name: str
    account: str = ""
    email: str = ""
    phone: str = ""
    endpoint: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class SheetLine:
    """``pack`` in words, such as 40 lb; ``priced_units`` how many units of ``priced_per`` a
    case holds, estimated where it is catch weight."""

    number: int
    item: str
    sku: str
    gtin: str
    cases: int
    pack: str
    price: Decimal
    priced_per: str
    priced_units: Decimal
    catch_weight: bool = False

    @property
    def value(self) -> Decimal:
        """Rounded to cents here, so that the total is the sum of what is shown."""
        return cents(self.cases * self.price * self.priced_units)


@dataclass(frozen=True, slots=True)
class OrderSheet:
    """``issued`` on the wall clock of the business. ``notes`` are printed under the lines.
    ``may_be_a_copy``: it may have been sent before."""

    number: str
    buyer: Party
    supplier: Party
    deliver_to: str
    delivery: date
    issued: datetime
    currency: str
    approved_by: str = ""
    lines: tuple[SheetLine, ...] = ()
    notes: tuple[str, ...] = ()
    may_be_a_copy: bool = False

    @property
    def total(self) -> Decimal:
        return sum((line.value for line in self.lines), Decimal(0))


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)
