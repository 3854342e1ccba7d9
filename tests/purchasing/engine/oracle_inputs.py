"""A workbook as the oracle reads it, as inputs of a run: what the selectors do, without tables."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from inventory.engine.demand.history import History
from inventory.engine.kitchen import Coming, Kitchen
from purchasing.engine.inputs import Offer, ParRule, Policy, ReorderInputs, Supplier
from purchasing.engine.slots import first_delivery_from
from tests.oracle.book import Book, read_book
from tests.oracle.cells import Sheets
from tests.purchasing.engine.test_levels_against_oracle import kitchen_of


def inputs_of(sheets: Sheets, as_of: str) -> tuple[ReorderInputs, int]:
    book = read_book(sheets)
    moment = book.clock.read(as_of)
    suppliers = {code: supplier_of(book, code) for code in book.suppliers}
    kitchen = whole_kitchen(book, moment, suppliers)
    inputs = ReorderInputs(
        kitchen=kitchen,
        history=History.empty(),
        suppliers=suppliers,
        offers=tuple(offers_of(book)),
        pars=tuple(pars_of(book)),
        policy=Policy(book.clock.zone.key, default_service_level=0.9),
        approved_value=approved(book),
    )
    return inputs, moment


def money(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def whole_kitchen(book: Book, as_of: int, suppliers: dict[str, Supplier]) -> Kitchen:
    kitchen = kitchen_of(book, as_of)
    places = {
        code: replace(place, receives=book.places[code].receives)
        for code, place in kitchen.places.items()
    }
    kitchen = replace(kitchen, places=places)
    return replace(kitchen, coming=tuple(coming_of(book, kitchen, suppliers, as_of)))


def coming_of(
    book: Book, kitchen: Kitchen, suppliers: dict[str, Supplier], as_of: int
) -> Iterator[Coming]:
    today = book.clock.day_of(as_of)
    for line in book.open_lines:
        supplier, place = suppliers[line.supplier], kitchen.places[line.place]
        late = line.due < today
        day: date | None = line.due
        if late:
            day = first_delivery_from(today, supplier, place)
        if day is None or line.cases <= 0:
            continue
        life = book.items[line.item].life
        yield Coming(
            line.place,
            line.item,
            day,
            float(line.cases * book.pack_of(line)),
            None if life is None else day + timedelta(days=life),
            supplier.arrives,
            late,
            line.po,
        )


def supplier_of(book: Book, code: str) -> Supplier:
    row = book.suppliers[code]
    return Supplier(
        code,
        row.order_days,
        row.cutoff,
        row.lead,
        row.delivery_days,
        row.arrives,
        row.shut_on,
        None if row.minimum_order is None else money(row.minimum_order),
        row.delivery_fee is not None,
        money(row.delivery_fee or Fraction(0)),
    )


def offers_of(book: Book) -> Iterator[Offer]:
    for row in book.offers:
        yield Offer(
            supplier=row.supplier,
            item=row.item,
            sku=row.sku,
            pack_qty=money(row.pack),
            pack_unit=book.items[row.item].measure.base,
            pack_base=float(row.pack),
            priced_per="case",
            priced_units=Decimal(1),
            prices=((row.valid_from or date.min, money(row.case_price)),),
            minimum_cases=row.minimum,
            case_multiple=row.multiple,
            rank=row.rank,
        )


def pars_of(book: Book) -> Iterator[ParRule]:
    for row in book.pars:
        par = None if row.par is None else float(row.par)
        supplied_by = row.supplied_by or None
        yield ParRule(row.place, row.item, row.weekday, par, row.basis, None, supplied_by)


def approved(book: Book) -> dict[tuple[str, str, date], Decimal]:
    value: dict[tuple[str, str, date], Decimal] = defaultdict(Decimal)
    for line in book.open_lines:
        offer = next(
            one
            for one in book.offers_of(line.item)
            if one.supplier == line.supplier and line.sku in ("", one.sku)
        )
        value[line.supplier, line.place, line.due] += money(line.cases * offer.case_price)
    return dict(value)
