"""What people do at the same time, each in a process and on a connection of their own.

``python -m tests.concurrency.people`` reads one act a line (JSON: its name and arguments) and
answers with one JSON document a line.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from tests.databases import Database

if TYPE_CHECKING:
    from inventory.models import Item, Location, Lot

Json = Any


class Person:
    """Somebody with a connection of their own."""

    def __init__(self, database: Database, acts: str = "people") -> None:
        self._process = database.start("-m", f"tests.concurrency.{acts}")

    def ask(self, *act: object) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(f"{json.dumps(act)}\n")
        self._process.stdin.flush()

    def answer(self) -> Json:
        assert self._process.stdout is not None and self._process.stderr is not None
        line = self._process.stdout.readline()
        assert line, self._process.stderr.read()
        return json.loads(line)

    def does(self, *act: object) -> Json:
        self.ask(*act)
        return self.answer()

    def leave(self) -> None:
        self._process.communicate(timeout=60)


def at_once(people: tuple[Person, Person], *acts: tuple[object, ...]) -> list[Json]:
    for person, act in zip(people, acts, strict=True):
        person.ask(*act)
    return [person.answer() for person in people]


def stock(lots: int, qty: int) -> Json:
    """``lots`` lots of one item at COM, ``qty`` of each."""
    from tests import factories as make

    item = make.item(code="LEEK", may_freeze=True)
    place = make.location(code="COM")
    return [make.lot(qty, at=place, of=item).strip for _ in range(lots)]


def look() -> Json:
    """What is there now, and what breaks the rules."""
    from inventory.models import Event, Hold, Lot, Movement, OnHand, UnexplainedUse
    from purchasing.selectors.invariants import check_all

    return {
        "on_hand": {row.lot.strip: float(row.qty) for row in OnHand.objects.select_related("lot")},
        "movements": Movement.objects.count(),
        "unexplained": [float(row.qty) for row in UnexplainedUse.objects.order_by("pk")],
        "lots": Lot.objects.count(),
        "strips": len(set(Lot.objects.values_list("strip", flat=True))),
        "holds": Hold.objects.count(),
        "events": Event.objects.count(),
        "broken": [str(finding) for finding in check_all() if finding.rows],
    }


def use(strip: str, qty: int, times: int) -> Json:
    """Draw from one lot again and again; how often that worked."""
    from inventory.services.take_outs import Known, use_from_lot

    lot, place = _lot(strip), _place()

    def once() -> None:
        now = datetime.now(UTC)
        use_from_lot(Known(lot, place, Decimal(qty), now), by=None, at=now)

    return _worked(once, times)


def report(qty: int, times: int) -> Json:
    """Report use of the item, whatever the lot."""
    from inventory.services.usage import Use, report_use

    item, place = _item(), _place()

    def once() -> None:
        now = datetime.now(UTC)
        report_use([Use(item, place, Decimal(qty), now)], by=None, at=now)

    return _worked(once, times)


def send(order: str, times: int) -> Json:
    """Post one movement of every lot, in this order or backwards."""
    from django.db import transaction

    from inventory.models import Lot, Movement
    from inventory.services.ledger import Entry, post

    place = _place()
    lots = list(Lot.objects.order_by("pk" if order == "forwards" else "-pk"))

    def once() -> None:
        now = datetime.now(UTC)
        entries = [
            Entry(Movement.Kind.COUNT, lot, place, Decimal(-1 if at % 2 else 1), now)
            for at, lot in enumerate(lots)
        ]
        with transaction.atomic(durable=True):
            post(entries, by=None, at=now)

    return _worked(once, times)


def reverse(movement: int) -> Json:
    from inventory.services.ledger import reverse_movement

    return _worked(lambda: reverse_movement(movement, reason="", by=None, at=datetime.now(UTC)), 1)


def hold(strip: str) -> Json:
    from inventory.models import Hold
    from inventory.services.holds import hold_lot

    lot = _lot(strip)
    return len(hold_lot(lot, reason=Hold.Reason.RECALL, by=None, at=datetime.now(UTC)))


def release(strip: str) -> Json:
    from inventory.models import Hold
    from inventory.services.holds import release_hold

    hold = Hold.objects.get(lot=_lot(strip))
    return _worked(lambda: release_hold(hold.pk, why="", by=None, at=datetime.now(UTC)), 1)


def split(strip: str, times: int) -> Json:
    from inventory.services.lots import Change, Part, split_lot

    lot, place = _lot(strip), _place()

    def once() -> None:
        now = datetime.now(UTC)
        part = Part(lot, place, Decimal(1), Change.PORTION)
        split_lot(part, happened_at=now, by=None, at=now)

    return _worked(once, times)


def arrive(number: str) -> Json:
    from inventory.services.transfers import load_arrived

    now = datetime.now(UTC)
    return _worked(lambda: load_arrived(number, happened_at=now, by=None, at=now), 1)


def load_for_truck(strip: str) -> Json:
    """A load of 4 on its way to T1; its number."""
    from inventory.models import Transfer
    from inventory.services.transfers import Load, send_load
    from tests import factories as make

    now = datetime.now(UTC)
    truck = make.location(code="T1")
    picks = [(_lot(strip), Decimal(4))]
    load = Load(Transfer.Kind.LOAD_OUT, _place(), truck, picks, date(2026, 3, 4))
    return send_load(load, happened_at=now, by=None, at=now).number


def open_balances(rows: int) -> Json:
    """Load opening balances; how many were new."""
    from django.db import transaction

    from inventory.services.openings import Opening, post_openings

    item, place = _item(), _place()
    openings = [Opening(f"COM|LEEK|{at}", item, place, Decimal(at + 1)) for at in range(rows)]
    with transaction.atomic(durable=True):
        return post_openings(openings, by=None, at=datetime.now(UTC))


def draft_order(lines: int) -> Json:
    """A draft of some lines, 2 cases each; its number."""
    from tests.purchasing.services.order_scenes import draft

    return draft(*[2] * lines).number


def buyer(name: str) -> Json:
    from tests.purchasing.services import order_scenes

    return order_scenes.buyer(first_name=name).username


def change_order(number: str, who: str, version: int, cases: int) -> Json:
    """Set the cases of every line."""
    from purchasing.models import OrderLine
    from purchasing.services.order_lines import NewCases, change_lines

    lines = OrderLine.objects.filter(order__number=number).order_by("pk")
    wanted = [NewCases(pk, cases) for pk in lines.values_list("pk", flat=True)]
    return _worked(lambda: change_lines(number, wanted, hand=_hand(who, version)), 1)


def approve_order(number: str, who: str, version: int) -> Json:
    from purchasing.services.orders import approve

    return _worked(lambda: approve(number, hand=_hand(who, version)), 1)


def send_order(number: str, who: str) -> Json:
    from purchasing.services.sending import send

    return _worked(lambda: send(number, hand=_hand(who)), 1)


def undo_order(number: str, who: str) -> Json:
    from purchasing.services.orders import undo_approval

    return _worked(lambda: undo_approval(number, hand=_hand(who)), 1)


def send_mail() -> Json:
    """Send what waits, into a folder; numbers sent."""
    from purchasing.services.sending import send_what_waits

    return send_what_waits(at=datetime.now(UTC)).sent


def order_now(number: str) -> Json:
    from inventory.models import Event
    from purchasing.models import PurchaseOrder

    order = PurchaseOrder.objects.get(number=number)
    return {
        "status": order.status,
        "version": order.version,
        "cases": sorted(order.lines.values_list("cases", flat=True)),
        "sendings": order.sendings.count(),
        "sent": order.sendings.filter(sent_at__isnull=False).count(),
        "events": Event.objects.filter(subject=f"order:{number}").count(),
    }


def _hand(who: str, version: int | None = None) -> Any:
    from django.contrib.auth.models import User

    from inventory.selectors.viewers import viewer_of
    from purchasing.services.order_hand import Hand

    user = User.objects.get(username=who)
    return Hand(viewer_of(user), user, datetime.now(UTC), version)


def _worked(once: Callable[[], object], times: int) -> dict[str, object]:
    from inventory.problems import Refused

    done, refused = 0, []
    for _ in range(times):
        try:
            once()
            done += 1
        except Refused as refusal:
            refused.append(str(refusal))
    return {"done": done, "refused": refused[:1], "times_refused": len(refused)}


def _lot(strip: str) -> Lot:
    from inventory.models import Lot

    return Lot.objects.select_related("item").get(strip=strip)


def _item() -> Item:
    from inventory.models import Item

    return Item.objects.get(code="LEEK")


def _place() -> Location:
    from inventory.models import Location

    return Location.objects.get(code="COM")


ACTS: dict[str, Callable[..., Json]] = {
    act.__name__: act
    for act in (stock, look, use, report, send, reverse, hold, release, split, arrive)
    + (draft_order, buyer, change_order, approve_order, send_order, undo_order, send_mail)
    + (order_now,)
} | {"load_for_truck": load_for_truck, "open_balances": open_balances}


def main() -> None:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    for line in sys.stdin:
        name, *arguments = json.loads(line)
        print(json.dumps(ACTS[name](*arguments)), flush=True)


if __name__ == "__main__":
    main()
