"""Goods between locations: what was sent is what arrived and what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.models import Location, Lot, Movement, Stop, Transfer, TransferLine
from inventory.problems import Problem, Refused
from inventory.services.acts import one_act
from inventory.services.counters import next_number
from inventory.services.ledger import Entry, post, reverse
from inventory.services.log import note
from inventory.services.usable import Permit
from inventory.services.usage import cover_unexplained
from inventory.services.wording import amount, of_lot

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Load:
    """Known lots and their quantities (base units, > 0), picked to go."""

    kind: Transfer.Kind
    source: Location
    target: Location
    picks: Sequence[tuple[Lot, Decimal]]
    leaves_on: date
    stop: Stop | None = None
    permit: Permit | None = field(default=None)


@one_act
def send_load(load: Load, *, happened_at: datetime, by: User | None, at: datetime) -> Transfer:
    """Goods leave. Refused if they are not there, or not usable and nobody allowed it."""
    transfer = Transfer.objects.create(
        number=f"T{next_number('transfers')}",
        kind=load.kind,
        source=load.source,
        target=load.target,
        stop=load.stop,
        leaves_on=load.leaves_on,
        sent_at=happened_at,
        sent_by=by,
    )
    TransferLine.objects.bulk_create(
        TransferLine(transfer=transfer, lot=lot, sent=qty) for lot, qty in load.picks
    )
    sent = [
        Entry(Movement.Kind.SENT, lot, load.source, -qty, happened_at, transfer.reference)
        for lot, qty in load.picks
    ]
    post(sent, by=by, at=at, permit=load.permit)
    _note("send", transfer, by, at)
    return transfer


@one_act
def load_arrived(
    number: str,
    *,
    arrived: Mapping[str, Decimal] | None = None,
    happened_at: datetime,
    by: User | None,
    at: datetime,
) -> Transfer:
    """Goods arrive: ``arrived`` base units by strip number, None: everything that was sent.
    What is not named did not arrive and is missing."""
    transfer = _locked(number)
    problems = [*_not_on_its_way(transfer), *_not_sent(transfer, arrived)]
    if problems := problems or _before_it_was_sent(transfer, happened_at):
        raise Refused(problems)
    entries = [
        Entry(
            Movement.Kind.ARRIVED, line.lot, transfer.target, qty, happened_at, transfer.reference
        )
        for line, qty in _close_lines(transfer, arrived)
        if qty
    ]
    gains = post(entries, by=by, at=at)
    cover_unexplained(gains, by=by, at=at)
    transfer.arrived_at, transfer.arrived_by = happened_at, by
    transfer.save(update_fields=["arrived_at", "arrived_by"])
    _note("arrive", transfer, by, at)
    return transfer


@one_act
def call_back(number: str, *, reason: str, by: User | None, at: datetime) -> Transfer:
    """It never left: what is on its way goes back on hand where it came from."""
    transfer = _locked(number)
    if problems := _not_on_its_way(transfer):
        raise Refused(problems)
    _take_back(transfer, Movement.Kind.SENT, reason, by, at)
    transfer.sent_at = transfer.sent_by = None
    transfer.save(update_fields=["sent_at", "sent_by"])
    _note("call_back", transfer, by, at)
    return transfer


@one_act
def undo_arrival(number: str, *, reason: str, by: User | None, at: datetime) -> Transfer:
    """It is still on its way. Refused if some of it is no longer where it arrived."""
    transfer = _locked(number)
    if transfer.arrived_at is None:
        raise Refused(Problem("not_arrived", f"{number} has not arrived yet."))
    _take_back(transfer, Movement.Kind.ARRIVED, reason, by, at)
    transfer.lines.update(arrived=None, missing=None)
    transfer.arrived_at = transfer.arrived_by = None
    transfer.save(update_fields=["arrived_at", "arrived_by"])
    _note("undo_arrival", transfer, by, at)
    return transfer


def _locked(number: str) -> Transfer:
    return (
        Transfer.objects.select_for_update(of=("self",))
        .select_related("source", "target")
        .get(number=number)
    )


def _not_on_its_way(transfer: Transfer) -> list[Problem]:
    if transfer.sent_at is None:
        return [Problem("not_sent", f"{transfer.number} has not been sent.")]
    if transfer.arrived_at is not None:
        return [Problem("arrived_already", f"{transfer.number} has arrived already.")]
    return []


def _before_it_was_sent(transfer: Transfer, happened_at: datetime) -> list[Problem]:
    if transfer.sent_at is None or happened_at >= transfer.sent_at:
        return []
    sent = f"{transfer.number} left at {transfer.sent_at:%Y-%m-%d %H:%M} UTC"
    message = f"{sent}, so it did not arrive before. Correct the time."
    return [Problem("arrived_before_sent", message, "happened_at")]


def _lines(transfer: Transfer) -> list[TransferLine]:
    return list(transfer.lines.select_related("lot__item").order_by("pk"))


def _not_sent(transfer: Transfer, arrived: Mapping[str, Decimal] | None) -> list[Problem]:
    sent = {line.lot.strip: line for line in _lines(transfer)}
    problems = []
    for strip, qty in (arrived or {}).items():
        line = sent.get(strip)
        if line is None:
            problems.append(
                Problem("not_in_load", f"{strip} is not in {transfer.number}; send it first.")
            )
        elif not 0 <= qty <= line.sent:
            problems.append(_more_than_sent(line, qty))
    return problems


def _more_than_sent(line: TransferLine, qty: Decimal) -> Problem:
    item = line.lot.item
    return Problem(
        "more_than_sent",
        f"{of_lot(line.lot)}: {amount(item, line.sent)} were sent, so {amount(item, qty)} cannot "
        "have arrived. Type what arrived; count the lot if there is more.",
        "arrived",
        {"lot": line.lot.strip, "sent": str(line.sent)},
    )


def _close_lines(
    transfer: Transfer, arrived: Mapping[str, Decimal] | None
) -> list[tuple[TransferLine, Decimal]]:
    closed = []
    for line in _lines(transfer):
        qty = line.sent if arrived is None else arrived.get(line.lot.strip, Decimal(0))
        line.arrived, line.missing = qty, line.sent - qty
        closed.append((line, qty))
    TransferLine.objects.bulk_update([line for line, _ in closed], ["arrived", "missing"])
    return closed


def _take_back(
    transfer: Transfer, kind: Movement.Kind, reason: str, by: User | None, at: datetime
) -> None:
    moved = Movement.objects.filter(
        kind=kind, reference=transfer.reference, reverses__isnull=True, reversed_by__isnull=True
    )
    reverse(list(moved.values_list("pk", flat=True)), reason=reason, by=by, at=at)


def _note(verb: str, transfer: Transfer, by: User | None, at: datetime) -> None:
    changes = {"from": transfer.source.code, "to": transfer.target.code}
    note(verb, f"transfer:{transfer.number}", by=by, at=at, changes=changes)
