"""What people say at the dock, as values; shared by receiving and buying at the counter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from inventory.engine.safety import Judged, Reading
from inventory.models import Item
from inventory.problems import Problem, Refused

NONE = Decimal(0)
# screens.md, Without signal: a phone's clock may be a little fast.
AHEAD_ALLOWED = timedelta(minutes=10)


def field_of(line_id: int, name: str) -> str:
    """Name and id of an input of a line, in the form and in problems."""
    return f"l{line_id}-{name}"


class Rest(StrEnum):
    """What becomes of cases that did not come."""

    FOLLOWS = "follows"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class CameLot:
    """Accepted cases of one lot code. ``printed``: the last day on the case's own label, which
    only ever shortens; ``use_by``: the day a person wants on ours. ``weights``: of each case,
    in ``weight_unit``, where the offer is catch weight; ``total``: of all of them together."""

    cases: Decimal
    supplier_lot: str = ""
    printed: date | None = None
    use_by: date | None = None
    weights: tuple[Decimal, ...] = ()
    total: Decimal | None = None
    weight_unit: str = ""


@dataclass(frozen=True, slots=True)
class Substitute:
    """``cases`` of the ordered item replaced by ``qty`` ``unit`` of another one."""

    item: Item
    cases: Decimal
    qty: Decimal
    unit: str
    supplier_lot: str = ""
    use_by: date | None = None
    allergens_seen: bool = False


@dataclass(frozen=True, slots=True)
class CameLine:
    """One line of the order as it came, in cases. ``expected``: what the page showed as still
    to come. ``brings_again``: of the rejected, what the supplier brings again. ``thawed``:
    frozen food that was not frozen any more; None: nobody looked."""

    line_id: int
    expected: Decimal
    lots: Sequence[CameLot] = ()
    rejected: Decimal = NONE
    reject_reason: str = ""
    brings_again: Decimal = NONE
    rest: Rest = Rest.FOLLOWS
    substitute: Substitute | None = None
    reading: Reading | None = None
    judged: Judged | None = None
    thawed: bool | None = None
    warnings: Sequence[Problem] = ()

    @property
    def accepted(self) -> Decimal:
        return sum((lot.cases for lot in self.lots), NONE)

    @property
    def substituted(self) -> Decimal:
        return self.substitute.cases if self.substitute else NONE

    @property
    def missing(self) -> Decimal:
        """Negative: more came than was expected."""
        return self.expected - self.accepted - self.rejected - self.substituted

    @property
    def over(self) -> Decimal:
        return max(NONE, -self.missing)

    @property
    def to_follow(self) -> Decimal:
        return max(NONE, self.missing) if self.rest is Rest.FOLLOWS else NONE

    @property
    def cancelled(self) -> Decimal:
        return max(NONE, self.missing) if self.rest is Rest.CLOSED else NONE

    @property
    def given_up(self) -> Decimal:
        """Cases of the order that will not come any more."""
        return self.substituted + self.cancelled + self.rejected - self.brings_again


@dataclass(frozen=True, slots=True)
class Delivery:
    """A whole delivery. ``override``: why a manager takes it in all the same; ``seen``: the
    cautions of labels and weights were shown and are accepted. ``pictures``: files as sent."""

    lines: Sequence[CameLine]
    document: str = ""
    override: str = ""
    seen: bool = False
    pictures: Sequence[bytes] = ()


def moment_told(happened_at: datetime, at: datetime) -> datetime:
    """When it happened, by the device's clock. Refused if that is still to come."""
    if happened_at > at + AHEAD_ALLOWED:
        raise Refused(
            Problem(
                "happens_later",
                f"The clock of this device says {happened_at:%Y-%m-%d %H:%M} UTC, which is still "
                "to come. Set its clock right and send again.",
                "happened_at",
            )
        )
    return min(happened_at, at)
