"""Tips for pars: worked out from the real usage of the last weeks, kept, read by one place."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Min

from inventory.engine.units import as_decimal
from inventory.models import Sale, Usage
from inventory.selectors.measures import Measures
from inventory.selectors.snapshot import one_snapshot
from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.par_tips import (
    Span,
    WeekdayTip,
    deliveries,
    spans,
    tips,
    would_have_done,
)
from purchasing.engine.pars import ParBook
from purchasing.engine.replay_inputs import ONE, Billionths, ReplayLine, Sold, billionths
from purchasing.models import Par
from purchasing.selectors.replay_inputs import replay_inputs

DAYS_BACK = 77  # eight windows of a weekday, with some closures between
DECIDING = (Par.Basis.FIXED, Par.Basis.GREATER)
# Units in which people set broken figures; others are whole (own choice).
BROKEN = frozenset({"g", "kg", "mg", "ml", "l", "lb", "oz", "floz", "gal", "qt", "pt", "cup"})
FIGURES = 3  # that a tip is rounded up to

Document = dict[str, Any]


def work_out_tips(day: date) -> Document:
    """Tips for every pair whose par decides, from the days before ``day``; figures in the unit
    of its par. Raises ``Refused`` where nothing was ever used."""
    with one_snapshot():
        began = _began() or day
        last = day - timedelta(days=1)
        gathered = replay_inputs(min(last, max(began, day - timedelta(days=DAYS_BACK))), last)
        units = _units()
    given = gathered.given
    book = ParBook.of(given.known.pars, given.known.policy.default_service_level)
    rows = [
        _row(line, units[line.pair], given.known, book, gathered.measures, (given.first, last))
        for line in given.lines
        if line.pair in units
    ]
    return {"first": given.first.isoformat(), "last": last.isoformat(), "rows": rows}


def _began() -> date | None:
    firsts = [model.objects.aggregate(day=Min("date"))["day"] for model in (Sale, Usage)]
    return min((day for day in firsts if day is not None), default=None)


def _units() -> dict[tuple[str, str], str]:
    """The unit of each pair's par, where a par decides. One query."""
    rows = Par.objects.filter(basis__in=DECIDING).select_related("location", "item")
    return {
        (row.location.code, row.item.code): row.unit or row.item.unit
        for row in rows.order_by("-weekday")
    }


def _row(
    line: ReplayLine,
    unit: str,
    known: ReorderInputs,
    book: ParBook,
    measures: Measures,
    between: tuple[date, date],
) -> Document:
    sold = min(line.offers, key=lambda one: one.offer.rank)
    first, last = between
    supplier, place = known.suppliers[sold.offer.supplier], known.kitchen.places[line.location]
    windows = spans(deliveries(supplier, place, first, last), line.life, last)
    per = measures.base_per(line.item, unit)
    level = max((book.terms(line.pair, one.start).service_level for one in windows), default=0.95)
    found = tips(line, sold, windows, level, rounding(per, whole=unit not in BROKEN))
    return {
        "place": line.location,
        "item": line.item,
        "unit": unit,
        "tips": [_as_document(tip, per) for tip in found],
        "as_set": [_as_document(tip, per) for tip in _as_set(line, sold, windows, book)],
    }


def _as_set(
    line: ReplayLine, sold: Sold, windows: Sequence[Span], book: ParBook
) -> list[WeekdayTip]:
    """What the pars as they are set would have done."""
    terms = {one.weekday: book.terms(line.pair, one.start) for one in windows}
    pars = {day: billionths(Fraction(one.par)) for day, one in terms.items() if one.par is not None}
    return would_have_done(line, sold, windows, pars) if pars else []


def rounding(per: Fraction, *, whole: bool) -> Callable[[Billionths], Billionths]:
    """Up to ``FIGURES`` figures of a unit of ``per`` base units; ``whole`` ones of pieces."""

    def rounded(par: Billionths) -> Billionths:
        if par <= 0:
            return 0
        figure = Fraction(par, ONE) / per
        step = Fraction(10) ** (math.floor(math.log10(figure)) + 1 - FIGURES)
        step = max(step, Fraction(1)) if whole else step
        return billionths(math.ceil(figure / step) * step * per)

    return rounded


def _as_document(tip: WeekdayTip, per: Fraction) -> Document:
    return {
        "weekday": tip.weekday,
        "par": _word(Fraction(tip.par, ONE) / per),
        "windows": tip.windows,
        "ran_out": tip.ran_out,
        "thrown_away": _word(Fraction(tip.thrown_away, ONE) / per),
        "lost": f"{as_decimal(tip.lost):.2f}",
    }


def _word(figure: Fraction) -> str:
    """Digits without an exponent or empty decimals."""
    text = f"{as_decimal(figure):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def figures_of(row: Mapping[str, Any]) -> dict[int, Decimal]:
    """The tipped par by weekday, in the row's unit."""
    return {int(tip["weekday"]): Decimal(tip["par"]) for tip in row["tips"]}
