"""Every invariant of both apps as a query that should be empty."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import TruncDate

from inventory import append_only
from inventory.engine.dates import Freeze
from inventory.fields import PLACES
from inventory.models import Hold, Inbound, Lot, Movement, OnHand
from inventory.selectors.business import business
from purchasing.models import OrderLine, PurchaseOrder, ReceiptLine
from purchasing.selectors.on_order import still_to_come

Row = dict[str, str]

# Kinds that use a lot: not allowed on hold or past use-by without a manager's word.
_USES = (Movement.Kind.USAGE, Movement.Kind.BATCH_INPUT, Movement.Kind.SENT)


@dataclass(frozen=True, slots=True)
class Invariant:
    """``says`` what must hold; ``rows`` finds what breaks it."""

    code: str
    says: str
    rows: Callable[[], Iterable[Row]]


@dataclass(frozen=True, slots=True)
class Finding:
    """An invariant and the rows that break it, none if it holds."""

    code: str
    says: str
    rows: tuple[Row, ...]


def check_all() -> list[Finding]:
    """Check every invariant. While others write, two queries may see two moments: what is
    not found a second time was no fault."""
    return [_check(one) for one in INVARIANTS]


def _check(invariant: Invariant) -> Finding:
    rows = list(invariant.rows())
    if rows:
        again = list(invariant.rows())
        rows = [row for row in rows if row in again]
    return Finding(invariant.code, invariant.says, tuple(rows))


def _on_hand() -> Iterator[Row]:
    yield from _unequal(
        """
        SELECT lot_id, location_id, '' AS about, qty AS left_side, 0 AS right_side
        FROM inventory_onhand
        UNION ALL
        SELECT lot_id, location_id, '', 0, qty FROM inventory_movement
        """,
        "on_hand",
        "movements",
    )


def _transfers() -> Iterator[Row]:
    yield from _unequal(
        """
        SELECT line.lot_id, load.source_id AS location_id, load.number || ' sent' AS about,
               -line.sent AS left_side, 0 AS right_side
        FROM inventory_transferline line
        JOIN inventory_transfer load ON load.id = line.transfer_id
        WHERE load.sent_at IS NOT NULL
        UNION ALL
        SELECT line.lot_id, load.target_id, load.number || ' arrived', line.arrived, 0
        FROM inventory_transferline line
        JOIN inventory_transfer load ON load.id = line.transfer_id
        WHERE line.arrived IS NOT NULL
        UNION ALL
        SELECT lot_id, location_id, SUBSTR(reference, 10) || ' ' || kind, 0, qty
        FROM inventory_movement WHERE kind IN ('sent', 'arrived')
        """,
        "on_the_load",
        "movements",
    )


def _arrivals() -> Iterator[Row]:
    rows = _query(
        """
        SELECT load.number, lot.strip
        FROM inventory_transferline line
        JOIN inventory_transfer load ON load.id = line.transfer_id
        JOIN inventory_lot lot ON lot.id = line.lot_id
        WHERE (load.arrived_at IS NULL) <> (line.arrived IS NULL)
           OR line.sent <> COALESCE(line.arrived, 0) + COALESCE(line.missing, line.sent)
        """
    )
    return ({"transfer": number, "lot": strip} for number, strip in rows)


def _batches() -> Iterator[Row]:
    yield from _unequal(
        """
        SELECT part.lot_id, batch.location_id, 'batch:' || batch.id || ' batch_input' AS about,
               -part.qty AS left_side, 0 AS right_side
        FROM inventory_batchinput part
        JOIN inventory_batch batch ON batch.id = part.batch_id
        UNION ALL
        SELECT lot_id, location_id, 'batch:' || id || ' made', made_qty, 0
        FROM inventory_batch WHERE finished_at IS NOT NULL
        UNION ALL
        SELECT lot_id, location_id, reference || ' ' || kind, 0, qty
        FROM inventory_movement WHERE kind IN ('batch_input', 'made')
        """,
        "in_the_batch",
        "movements",
    )


def _unequal(sides: str, left: str, right: str) -> Iterator[Row]:
    """Lots and locations for which the two sides of a union do not add up to the same."""
    rows = _query(
        f"""
        SELECT lot.strip, place.code, about, SUM(left_side), SUM(right_side)
        FROM ({sides}) AS side
        JOIN inventory_lot lot ON lot.id = side.lot_id
        JOIN inventory_location place ON place.id = side.location_id
        GROUP BY lot.strip, place.code, about
        HAVING SUM(left_side) <> SUM(right_side)
        ORDER BY about, lot.strip, place.code
        """
    )
    for strip, place, about, one, other in rows:
        named = {"about": about} if about else {}
        yield {"lot": strip, "location": place, **named, left: _text(one), right: _text(other)}


def _query(statement: str) -> list[tuple[str, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return list(cursor.fetchall())


def _text(scaled: int | str) -> str:
    """A sum of stored integers as people read it."""
    return f"{Decimal(scaled).scaleb(-PLACES).normalize():f}"


def _negative() -> Iterable[Row]:
    rows = OnHand.objects.filter(qty__lt=0).select_related("lot", "location")
    return (
        {"lot": row.lot.strip, "location": row.location.code, "qty": str(row.qty)} for row in rows
    )


def _items() -> Iterator[Row]:
    other = ~Q(item=F("lot__item"))
    for row in OnHand.objects.filter(other).select_related("lot", "item"):
        yield {"on_hand": str(row.pk), "lot": row.lot.strip, "item": row.item.code}
    for movement in Movement.objects.filter(other).select_related("lot", "item"):
        yield {"movement": str(movement.pk), "lot": movement.lot.strip, "item": movement.item.code}
    parts = Lot.objects.filter(parent__isnull=False).exclude(item=F("parent__item"))
    for lot in parts.select_related("item"):
        yield {"part": lot.strip, "item": lot.item.code}


def _openings() -> Iterator[Row]:
    opened = Movement.objects.filter(kind=Movement.Kind.OPENING, reverses__isnull=True)
    twice = opened.values("lot__strip").annotate(times=Count("pk")).filter(times__gt=1)
    for row in twice.order_by("lot__strip"):
        yield {"lot": row["lot__strip"], "times": str(row["times"])}


def _splits() -> Iterator[Row]:
    splits = Movement.objects.filter(kind=Movement.Kind.SPLIT)
    sums = splits.values("reference", "location__code").annotate(net=Sum("qty"))
    for row in sums.exclude(net=Decimal(0)).order_by("reference"):
        yield {
            "reference": row["reference"],
            "location": row["location__code"],
            "net": str(row["net"]),
        }
    out = splits.filter(reference=OuterRef("reference"), lot=OuterRef("lot__parent"), qty__lt=0)
    gains = splits.filter(~Exists(out), reverses__isnull=True, qty__gt=0)
    yield from _movements(gains)


def _reversals() -> Iterator[Row]:
    reversals = Movement.objects.filter(reverses__isnull=False)
    mirrored = reversals.annotate(net=F("qty") + F("reverses__qty")).filter(
        net=Decimal(0),
        lot=F("reverses__lot"),
        location=F("reverses__location"),
        kind=F("reverses__kind"),
        reverses__reverses__isnull=True,
    )
    return _movements(reversals.exclude(pk__in=mirrored.values("pk")))


def _uses(uses: QuerySet[Movement]) -> QuerySet[Movement]:
    return uses.filter(kind__in=_USES, qty__lt=0, reverses__isnull=True, allowed_by__isnull=True)


def _used_on_hold() -> Iterator[Row]:
    here = Q(location__isnull=True) | Q(location=OuterRef("location"))
    opened = Q(opened_at__isnull=True) | Q(opened_at__lte=OuterRef("happened_at"))
    closed = Q(closed_at__isnull=True) | Q(closed_at__gt=OuterRef("happened_at"))
    holds = Hold.objects.filter(here, opened, closed, lot=OuterRef("lot"))
    return _movements(_uses(Movement.objects.filter(Exists(holds))))


def _used_past_use_by() -> Iterator[Row]:
    zone = ZoneInfo(business().time_zone)
    dated = _uses(Movement.objects.filter(lot__use_by__isnull=False))
    days = dated.annotate(day=TruncDate("happened_at", tzinfo=zone))
    return _movements(days.filter(day__gt=F("lot__use_by")))


def _movements(movements: QuerySet[Movement]) -> Iterator[Row]:
    for row in movements.select_related("lot", "location").order_by("pk"):
        yield {
            "movement": str(row.pk),
            "kind": row.kind,
            "lot": row.lot.strip,
            "location": row.location.code,
            "qty": str(row.qty),
            "reference": row.reference,
        }


def _parts() -> Iterator[Row]:
    frozen = Lot.State.FROZEN
    parts = Lot.objects.filter(parent__isnull=False).select_related("parent__parent")
    later = Q(use_by__isnull=True, parent__use_by__isnull=False) | Q(use_by__gt=F("parent__use_by"))
    freezing = Q(state=frozen) & ~Q(parent__state=frozen)
    thawing = ~Q(state=frozen) & Q(parent__state=frozen)
    yield from (_part(lot) for lot in parts.filter(later).exclude(freezing).exclude(thawing))
    yield from (_part(lot) for lot in parts.filter(thawing) if _thawed_too_long(lot))


def _thawed_too_long(lot: Lot) -> bool:
    """Later than the date before freezing, whole days frozen added?"""
    frozen = lot.parent
    before = frozen
    while before and before.state == Lot.State.FROZEN and before.parent:
        before = before.parent
    if frozen is None or before is None or before.use_by is None:
        return False
    free = 0
    if before is not frozen and frozen.state_since and lot.state_since:
        free = Freeze(frozen.state_since, lot.state_since).free_days
    return lot.use_by is None or (lot.use_by - before.use_by).days > free


def _part(lot: Lot) -> Row:
    parent = lot.parent
    assert parent is not None
    return {
        "part": lot.strip,
        "use_by": str(lot.use_by or ""),
        "of": parent.strip,
        "its_use_by": str(parent.use_by or ""),
    }


def _inbound() -> Iterator[Row]:
    told = {
        row.source_key: (row.item_id, row.location_id, row.due, row.qty)
        for row in Inbound.objects.filter(source_key__startswith="order:")
    }
    lines = OrderLine.objects.filter(order__in=PurchaseOrder.objects.on_order()).select_related(
        "order"
    )
    still = {
        f"order:{line.order.number}:{line.offer_id}": (
            line.item_id,
            line.order.location_id,
            line.due,
            still_to_come(line),
        )
        for line in lines
    }
    open_lines = {key: fact for key, fact in still.items() if fact[-1] > 0}
    for key in sorted(told.keys() | open_lines.keys()):
        if told.get(key) != open_lines.get(key):
            yield {
                "source": key,
                "inbound": _fact(told.get(key)),
                "line": _fact(open_lines.get(key)),
            }


def _fact(fact: tuple[object, ...] | None) -> str:
    return "none" if fact is None else "item {}, location {}, due {}, {}".format(*fact)


def _receipts() -> Iterator[Row]:
    parts = F("accepted") + F("rejected") + F("substituted") + F("to_follow") + F("cancelled")
    lines = ReceiptLine.objects.alias(parts=parts).exclude(parts=F("expected") + F("over"))
    for line in lines.select_related("item"):
        yield {"receipt_line": str(line.pk), "item": line.item.code}


def _receipts_moved() -> Iterator[Row]:
    """Of a lot that came by a receipt: what the receipt put on hand, undone or not."""
    came = Q(lot__movements__kind=Movement.Kind.RECEIPT)
    lines = ReceiptLine.objects.filter(lot__isnull=False).annotate(
        moved=Sum("lot__movements__qty", filter=came, default=Decimal(0))
    )
    stands = Q(receipt__undone_at__isnull=True)
    wrong = lines.filter((stands & Q(moved__lte=0)) | (~stands & ~Q(moved=0)))
    for line in wrong.select_related("lot").order_by("pk"):
        yield {"receipt_line": str(line.pk), "lot": line.lot.strip if line.lot else ""}


def _order_states() -> Iterator[Row]:
    undated = (
        Q(status=PurchaseOrder.Status.RECEIVED, received_at__isnull=True)
        | Q(status=PurchaseOrder.Status.SETTLED, settled_at__isnull=True)
        | Q(status=PurchaseOrder.Status.CANCELLED, cancelled_at__isnull=True)
    )
    for order in PurchaseOrder.objects.filter(undated).order_by("number"):
        yield {"order": order.number, "status": order.status}


def _triggers() -> Iterator[Row]:
    return ({"trigger": name} for name in append_only.missing(connection))


INVARIANTS = (
    Invariant("on_hand_is_movements", "On hand is the sum of movements.", _on_hand),
    Invariant("never_negative", "On hand is never negative.", _negative),
    Invariant("one_item_a_lot", "Stock, movements and parts have their lot's item.", _items),
    Invariant("opened_once", "A lot has one opening balance.", _openings),
    Invariant("transfers_conserve", "What a load moved is what its lines say.", _transfers),
    Invariant("sent_is_arrived_and_missing", "Sent is arrived plus missing.", _arrivals),
    Invariant("batches_balance", "What a batch moved is what went in and came out.", _batches),
    Invariant("splits_balance", "What leaves a lot for a part arrives in it.", _splits),
    Invariant("reversals_mirror", "A reversal is the opposite of one movement.", _reversals),
    Invariant("nothing_used_on_hold", "No lot on hold is used unallowed.", _used_on_hold),
    Invariant(
        "nothing_used_past_use_by", "No lot past use-by is used unallowed.", _used_past_use_by
    ),
    Invariant(
        "parts_last_no_longer", "A part lasts no longer than its lot, but for days frozen.", _parts
    ),
    Invariant("inbound_is_open_lines", "What is coming is what is open on orders.", _inbound),
    Invariant("receipts_add_up", "The terms of a receipt line add up.", _receipts),
    Invariant("receipts_moved", "A receipt put its lots on hand, or was undone.", _receipts_moved),
    Invariant("states_are_dated", "An order's state says since when.", _order_states),
    Invariant("append_only", "The ledger and the log refuse changes.", _triggers),
)
