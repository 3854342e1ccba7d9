"""Traceability records as one sortable sheet: a row an event, a column a fact (21 CFR
1.1455(c)(3)(ii))."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator

from inventory.engine.traceability import Event, missing
from inventory.exchange.csv_folder import harmless
from inventory.exchange.raw import Table
from purchasing.selectors.run_document import digits
from purchasing.selectors.trace_records import Record

HEADER = (
    "event",
    "date",
    "traceability_lot_code",
    "product",
    "quantity",
    "unit",
    "other_party",
    "own_location",
    "lot_code_source",
    "document_type",
    "document_number",
    "went_in",
    "our_strip",
    "on_the_list",
    "missing",
    "keep_until",
)


def trace_table(records: Iterable[Record]) -> Table:
    rows = (row(event, strip) for event, strip in records)
    return Table("trace", HEADER, rows, figures=frozenset({"quantity"}))


def row(event: Event, strip: str) -> tuple[str, ...]:
    return (
        str(event.kind),
        event.on.isoformat() if event.on else "",
        event.code,
        event.product,
        digits(event.qty),
        event.unit,
        event.other_party,
        event.own_place,
        event.code_source,
        event.reference_kind,
        event.reference,
        "; ".join(
            f"{one.code or 'no code'}: {digits(one.qty)} {one.unit} {one.product}"
            for one in event.inputs
        ),
        strip,
        "yes" if event.listed else "no",
        "; ".join(missing(event)),
        event.kept_until.isoformat() if event.kept_until else "",
    )


class _Line:
    """What ``csv`` writes to: gives each line back instead of keeping it."""

    def write(self, text: str) -> str:
        return text


def csv_lines(records: Iterable[Record]) -> Iterator[str]:
    """The sheet line by line, the first with the mark by which spreadsheets know UTF-8."""
    writer = csv.writer(_Line())
    yield "\ufeff" + writer.writerow(HEADER)
    for event, strip in records:
        yield writer.writerow([text and harmless(text) for text in row(event, strip)])
