"""A whole workbook as records, indexed the way the rules ask for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from tests.oracle.cells import Row, Sheets, day, hour, needed, number, text, weekdays, yes
from tests.oracle.clock import Clock
from tests.oracle.measures import Measure, measure_of
from tests.oracle.readings import AS_WRITTEN, Otherwise, Reading
from tests.oracle.records import (
    Booking,
    Item,
    Offer,
    OpenLine,
    Par,
    Place,
    Recipe,
    StockRow,
    Stop,
    Supplier,
)


@dataclass(frozen=True, slots=True)
class Book:
    clock: Clock
    places: dict[str, Place]
    items: dict[str, Item]
    suppliers: dict[str, Supplier]
    offers: tuple[Offer, ...]
    pars: tuple[Par, ...]
    recipes: dict[str, Recipe]
    stops: tuple[Stop, ...]
    bookings: tuple[Booking, ...]
    stock: tuple[StockRow, ...]
    open_lines: tuple[OpenLine, ...]
    reading: Reading

    def reads(self, variant: Otherwise) -> bool:
        return variant in self.reading

    def offers_of(self, item: str) -> list[Offer]:
        return [offer for offer in self.offers if offer.item == item]

    def is_made(self, item: str) -> bool:
        return self.items[item].kind == "prep" and item in self.recipes

    def one_stock(self, item: str) -> bool:
        """R12.8: bought, undated, and kept on return."""
        record = self.items[item]
        bought = record.kind != "prep"
        return bought and record.life is None and record.comes_back

    def pack_of(self, line: OpenLine) -> Fraction:
        for offer in self.offers_of(line.item):
            if offer.supplier == line.supplier and line.sku in ("", offer.sku):
                return offer.pack
        raise ValueError(f"no offer for {line}")


def read_book(sheets: Sheets, reading: Reading = AS_WRITTEN) -> Book:
    words = [*sheets.get("item_units", []), *_cases_as_words(sheets)]
    measures = {text(row, "code"): measure_of(row, words) for row in sheets["items"]}
    return Book(
        clock=Clock(ZoneInfo(_setting(sheets, "time_zone"))),
        places={place.code: place for place in _places(sheets)},
        items={item.code: item for item in _items(sheets, measures)},
        suppliers={supplier.code: supplier for supplier in _suppliers(sheets)},
        offers=tuple(_offer(row, measures) for row in sheets.get("supplier_items", [])),
        pars=tuple(_par(row, measures) for row in sheets.get("pars", [])),
        recipes={text(row, "item"): _recipe(row, sheets, measures, reading)
                 for row in sheets.get("recipes", [])},
        stops=tuple(_stop(row) for row in sheets.get("stops", [])),
        bookings=tuple(_booking(row, measures) for row in sheets.get("bookings", [])),
        stock=tuple(_stock(row, sheets, measures) for row in sheets.get("stock", [])),
        open_lines=tuple(_open_line(row, reading) for row in sheets.get("open_orders", [])),
        reading=reading,
    )  # fmt: skip


def _cases_as_words(sheets: Sheets) -> Iterator[Row]:
    """``case`` is a unit of an item where exactly one offer gives it a size."""
    offers = sheets.get("supplier_items", [])
    codes = [text(row, "item") for row in offers]
    for row in offers:
        if codes.count(text(row, "item")) == 1:
            size = {"qty": text(row, "pack_qty"), "of_unit": text(row, "pack_unit")}
            yield {"item": text(row, "item"), "unit": "case", **size}


def _setting(sheets: Sheets, key: str) -> str:
    return next(text(row, "value") for row in sheets["settings"] if text(row, "key") == key)


def _places(sheets: Sheets) -> Iterator[Place]:
    closures = sheets.get("location_closures", [])
    for row in sheets["locations"]:
        code = text(row, "code")
        yield Place(
            code,
            text(row, "kind"),
            text(row, "supplied_by"),
            weekdays(row, "receives"),
            hour(row, "opens"),
            hour(row, "closes"),
            hour(row, "load_time"),
            frozenset(
                shut for r in closures if text(r, "location") == code and (shut := day(r, "date"))
            ),
        )


def _items(sheets: Sheets, measures: dict[str, Measure]) -> Iterator[Item]:
    for row in sheets["items"]:
        code, life = text(row, "code"), text(row, "shelf_life_days")
        yield Item(
            code,
            text(row, "kind"),
            measures[code],
            int(life) if life else None,
            text(row, "storage"),
            number(row, "thaw_hours"),
            yes(row, "tcs"),
            yes(row, "ready_to_eat"),
            text(row, "on_return"),
        )


def _suppliers(sheets: Sheets) -> Iterator[Supplier]:
    closures = sheets.get("supplier_closures", [])
    for row in sheets["suppliers"]:
        code, cutoff = text(row, "code"), hour(row, "cutoff")
        assert cutoff is not None
        yield Supplier(
            code,
            weekdays(row, "order_days"),
            cutoff,
            int(text(row, "lead_days")),
            weekdays(row, "delivery_days"),
            hour(row, "arrives"),
            frozenset(
                shut for r in closures if text(r, "supplier") == code and (shut := day(r, "date"))
            ),
            number(row, "minimum_order"),
            number(row, "delivery_fee"),
        )


def _offer(row: Row, measures: dict[str, Measure]) -> Offer:
    measure = measures[text(row, "item")]
    nominal = number(row, "nominal_qty") if yes(row, "catch_weight") else None
    pack = measure.to_base(nominal or needed(row, "pack_qty"), text(row, "pack_unit"))
    priced_per = text(row, "priced_per") or "case"
    units = Fraction(1)
    if priced_per != "case":
        units = pack / measure.to_base(Fraction(1), priced_per)
    return Offer(
        text(row, "supplier"),
        text(row, "item"),
        text(row, "sku"),
        pack,
        needed(row, "price") * units,
        int(text(row, "minimum_cases") or 1),
        int(text(row, "case_multiple") or 1),
        int(text(row, "rank") or 1),
        day(row, "valid_from"),
    )


def _par(row: Row, measures: dict[str, Measure]) -> Par:
    measure, par = measures[text(row, "item")], number(row, "par")
    if par is not None:
        par = measure.to_base(par, text(row, "unit") or measure.unit)
    weekday = min(weekdays(row, "weekday")) if text(row, "weekday") else None
    return Par(
        text(row, "location"),
        text(row, "item"),
        weekday,
        par,
        text(row, "basis"),
        text(row, "supplied_by"),
    )


def _recipe(row: Row, sheets: Sheets, measures: dict[str, Measure], reading: Reading) -> Recipe:
    item = text(row, "item")
    makes = measures[item].to_base(needed(row, "makes_qty"), text(row, "makes_unit"))
    unit = text(row, "batch_unit") or text(row, "makes_unit")
    smallest, largest = number(row, "batch_min_qty"), number(row, "batch_max_qty")
    return Recipe(
        item,
        text(row, "made_at"),
        int((number(row, "lead_hours") or 0) * 3600),
        None if smallest is None else measures[item].to_base(smallest, unit),
        None if largest is None else measures[item].to_base(largest, unit),
        int(text(row, "batch_minutes") or 0),
        tuple(
            (text(line, "item"), _drawn(line, measures, reading) / makes)
            for line in sheets["recipe_lines"]
            if text(line, "recipe") == item
        ),
    )


def _drawn(line: Row, measures: dict[str, Measure], reading: Reading) -> Fraction:
    usable = measures[text(line, "item")].to_base(needed(line, "qty"), text(line, "unit"))
    if Otherwise.YIELDS_LEFT_OUT in reading:
        return usable
    return usable / ((number(line, "yield_pct") or 100) / Fraction(100))


def _stop(row: Row) -> Stop:
    on, opens, closes = day(row, "date"), hour(row, "opens"), hour(row, "closes")
    assert on and opens is not None and closes is not None
    return Stop(text(row, "location"), on, opens, closes, yes(row, "cancelled"))


def _booking(row: Row, measures: dict[str, Measure]) -> Booking:
    item, on = text(row, "item"), day(row, "date")
    assert on
    qty = measures[item].to_base(needed(row, "qty"), text(row, "unit"))
    confirmed = text(row, "status") in ("", "confirmed")
    return Booking(text(row, "location"), on, item, qty, confirmed)


def _stock(row: Row, sheets: Sheets, measures: dict[str, Measure]) -> StockRow:
    item, received, use_by = text(row, "item"), day(row, "received"), day(row, "use_by")
    life = next(text(r, "shelf_life_days") for r in sheets["items"] if text(r, "code") == item)
    if use_by is None and received is not None and life:
        use_by = received + timedelta(days=int(life))
    return StockRow(
        text(row, "location"),
        item,
        measures[item].to_base(needed(row, "qty"), text(row, "unit")),
        received,
        use_by,
        yes(row, "hold"),
    )


def _open_line(row: Row, reading: Reading) -> OpenLine:
    due = day(row, "due")
    assert due
    confirmed = text(row, "confirmed_cases")
    if Otherwise.CONFIRMED_IGNORED in reading:
        confirmed = ""
    cases = confirmed or text(row, "cases")
    return OpenLine(
        text(row, "supplier"),
        text(row, "po"),
        text(row, "location"),
        text(row, "item"),
        text(row, "sku"),
        Fraction(cases),
        due,
    )
