"""Bought at the counter: a shop receipt becomes lots, without an order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from inventory.engine.dates import use_by_received
from inventory.engine.units import as_decimal
from inventory.models import Item, Location
from inventory.problems import Problem, Refused
from inventory.roles import Act
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.lots import new_lots
from purchasing.models import Receipt, ReceiptLine
from purchasing.selectors.put_away import areas_for
from purchasing.services.dock import moment_told
from purchasing.services.dock_checks import use_by_of
from purchasing.services.dock_lots import Put, Shelf
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.order_hand import Hand
from purchasing.services.receiving import into_stock


@dataclass(frozen=True, slots=True)
class Bought:
    """``qty`` ``unit`` of an item; ``price`` of all of it, None: not known. ``row``: where it
    stands in the form."""

    row: int
    item: Item
    qty: Decimal
    unit: str
    price: Decimal | None = None
    use_by: date | None = None
    supplier_lot: str = ""


def bought_field(row: int, name: str) -> str:
    return f"b{row}-{name}"


@one_act
def buy(
    shop: str,
    lines: Sequence[Bought],
    place: Location,
    *,
    happened_at: datetime,
    hand: Hand,
    document: str = "",
) -> Receipt:
    """Lots, movements and a receipt that names the shop. Refused with every problem at once."""
    if not hand.viewer.may(Act.RECEIVE, place.pk):
        who = "Commissary staff, buyers and managers book what was bought"
        raise Refused(Problem("not_allowed", f"{who} at {place}. Ask one of them."))
    when, measures = moment_told(happened_at, hand.at), item_measures()
    day = business().day_of(when)
    problems = [*_whole(shop, lines), *_lines(lines, day, measures)]
    if problems:
        raise Refused(problems)
    receipt = Receipt.objects.create(
        bought_from=shop.strip(),
        location=place,
        document=document.strip(),
        happened_at=when,
        recorded_at=hand.at,
        by=hand.by,
    )
    puts = _puts(lines, Shelf(day, measures, areas_for(place, [one.item for one in lines])))
    new_lots([put.lot for put in puts])
    ReceiptLine.objects.bulk_create(_row(receipt, put) for put in puts)
    into_stock(receipt, puts, hand)
    note("buy", receipt.reference, by=hand.by, at=hand.at, changes=_said(receipt, puts))
    ask_for_fresh_drafts(at=hand.at, why="something was bought at the counter")
    return receipt


def _whole(shop: str, lines: Sequence[Bought]) -> Iterator[Problem]:
    if not shop.strip():
        yield Problem("shop_missing", "Type the shop and where it is.", "shop")
    if not lines:
        yield Problem("nothing_bought", "Type what was bought: item, how much, unit.", "b1-item")


def _lines(lines: Sequence[Bought], day: date, measures: Measures) -> Iterator[Problem]:
    for one in lines:
        name = one.item.name
        if one.qty <= 0:
            yield Problem("not_positive", f"{name}: type how much.", bought_field(one.row, "qty"))
        if one.price is not None and one.price < 0:
            yield Problem(
                "negative", f"{name}: a price is 0 or more.", bought_field(one.row, "price")
            )
        yield from _unit(one, measures)
        yield from _use_by(one, day)


def _unit(one: Bought, measures: Measures) -> Iterator[Problem]:
    try:
        measures.base_per(one.item.code, one.unit)
    except Refused as refused:
        at_fault = bought_field(one.row, "unit")
        yield from (Problem(each.code, each.message, at_fault) for each in refused.problems)


def _use_by(one: Bought, day: date) -> Iterator[Problem]:
    item, at_fault = one.item, bought_field(one.row, "use_by")
    latest = use_by_received(day, item.shelf_life_days)
    if one.use_by and latest and one.use_by > latest:
        yield Problem(
            "use_by_too_late",
            f"{item.name}: the use-by is {latest} at the latest, not {one.use_by}. Nobody "
            "lengthens a use-by by hand.",
            at_fault,
        )
    if one.use_by and one.use_by < day:
        yield Problem(
            "past_use_by",
            f"{item.name} is past its use-by of {one.use_by}: take it back.",
            at_fault,
        )
    if item.tcs and latest is None and one.use_by is None:
        yield Problem(
            "use_by_missing",
            f"{item.name} spoils and no life is set for it: type the use-by of the pack.",
            at_fault,
        )


def _puts(lines: Sequence[Bought], shelf: Shelf) -> list[Put]:
    puts = []
    for one in lines:
        qty = shelf.measures.in_base(one.item.code, one.qty, one.unit)
        cost = None if one.price is None else as_decimal(Fraction(one.price) / Fraction(qty))
        use_by = use_by_of(one.item, shelf.day, one.use_by)
        lot = shelf.new_lot(one.item, one.supplier_lot, use_by, cost)
        puts.append(Put(lot, qty, None, one.qty, one.unit))
    return puts


def _row(receipt: Receipt, put: Put) -> ReceiptLine:
    """Nothing was expected, so all of it came over; in the unit it was typed in."""
    many = put.typed_qty or Decimal(0)
    return ReceiptLine(receipt=receipt, item=put.lot.item, lot=put.lot, accepted=many, over=many)


def _said(receipt: Receipt, puts: Sequence[Put]) -> dict[str, object]:
    return {"from": receipt.bought_from, "lots": [put.lot.strip for put in puts]}
