"""Draft orders as sheets of paper and lots as strips, for a terminal of 80 columns or more."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from itertools import zip_longest
from typing import Any

from purchasing.words import (
    NOTHING,
    Reasons,
    chance,
    day_name,
    days_left,
    decision,
    exactly,
    moment,
    money,
    ordinal,
    quantity,
    why,
)

WIDTH = 96
FEW = 5  # lots without risk: more are counted, not listed
_UNIT_AFTER = re.compile(r"(?<=\d) (?=(?!to|of|on|in|not|that|there)[a-z]+)")
_MARGIN_FROM = 92  # columns: below that the reason stands under its line
PERSON_IN_CHARGE = (
    "Local code and the licensed person in charge decide what may still be used or sold."
)


@dataclass(frozen=True, slots=True)
class Names:
    """What people call codes; a code without a name stands for itself."""

    items: Mapping[str, str] = field(default_factory=dict)
    suppliers: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)
    business: str = ""
    currency: str = ""


@dataclass(frozen=True, slots=True)
class DraftLine:
    """``price`` per ``priced_per``, which is ``case`` or a weight unit."""

    item: str
    cases: int
    pack: str
    price: Decimal
    priced_per: str
    line_value: Decimal
    unit: str
    reasons: Reasons


@dataclass(frozen=True, slots=True)
class DraftOrder:
    """Moments are business time, as the plan's JSON has them."""

    number: str
    supplier: str
    location: str
    order_by: datetime
    last_order_by: datetime
    delivery: date
    next_delivery: date
    value: Decimal
    minimum_order: Decimal | None
    decision: str
    lines: tuple[DraftLine, ...]


@dataclass(frozen=True, slots=True)
class DraftPlan:
    as_of: datetime
    seed: int
    paths: int
    orders: tuple[DraftOrder, ...]
    left_out: int


@dataclass(frozen=True, slots=True)
class LotAtRisk:
    """``waste``: what will probably not be used in time, in ``unit`` and in money."""

    strip: str
    item: str
    location: str
    qty: Decimal
    unit: str
    days_left: int
    waste: Decimal
    waste_value: Decimal | None  # no cost known
    chance_of_waste: Decimal
    on_hold: bool = False

    @property
    def at_risk(self) -> bool:
        """Past its use-by, or part of it will probably not be used in time."""
        return self.days_left < 0 or self.waste > NOTHING


def plan_of(document: Mapping[str, Any]) -> DraftPlan:
    """From what ``reorder --json`` prints."""
    return DraftPlan(
        as_of=datetime.fromisoformat(document["as_of"]),
        seed=int(document["seed"]),
        paths=int(document["paths"]),
        orders=tuple(_order_of(order) for order in document["orders"]),
        left_out=len(document["not_ordered"]),
    )


def _order_of(order: Mapping[str, Any]) -> DraftOrder:
    minimum = order["minimum_order"]
    return DraftOrder(
        number=order["number"],
        supplier=order["supplier"],
        location=order["location"],
        order_by=datetime.fromisoformat(order["order_by"]),
        last_order_by=datetime.fromisoformat(order["last_order_by"]),
        delivery=date.fromisoformat(order["delivery"]),
        next_delivery=date.fromisoformat(order["next_delivery"]),
        value=Decimal(order["value"]),
        minimum_order=None if minimum in (None, "") else Decimal(minimum),
        decision=order["decision"],
        lines=tuple(_line_of(line) for line in order["lines"]),
    )


def _line_of(line: Mapping[str, Any]) -> DraftLine:
    return DraftLine(
        item=line["item"],
        cases=int(line["cases"]),
        pack=exactly(Decimal(line["pack_qty"]), line["pack_unit"]),
        price=Decimal(line["price"]),
        priced_per=line["priced_per"],
        line_value=Decimal(line["line_value"]),
        unit=line["unit"],
        reasons=Reasons(line["reasons"]),
    )


def lots_of(document: Mapping[str, Any]) -> tuple[LotAtRisk, ...]:
    """From what ``expiring --json`` prints, in its order."""
    return tuple(
        LotAtRisk(
            strip=lot["lot"],
            item=lot["item"],
            location=lot["location"],
            qty=Decimal(lot["qty"]),
            unit=lot["unit"],
            days_left=int(lot["days_left"]),
            waste=Decimal(lot["expected_waste_qty"]),
            waste_value=_amount(lot["expected_waste_value"]),
            chance_of_waste=Decimal(str(lot["chance_of_waste"])),
            on_hold=bool(lot.get("on_hold")),
        )
        for lot in document["lots"]
    )


def _amount(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _ends(left: str, right: str, width: int) -> str:
    """Text at both ends of a line; one below the other where they do not fit."""
    gap = width - len(left) - len(right)
    return f"{left}{' ' * gap}{right}" if gap >= 2 else f"{left}\n{right:>{width}}"


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def orders_text(plan: DraftPlan, names: Names, *, width: int = WIDTH) -> str:
    """Every draft as the sheet it will be, earliest cutoff first."""
    orders = sorted(plan.orders, key=lambda order: (order.order_by, order.number))
    at = f"worked out {day_name(plan.as_of.date())} at {plan.as_of:%H:%M}"
    title = _ends(_titled(names, "orders due"), at, width)
    sheets = [line for order in orders for line in _sheet(order, plan.as_of, names, width)]
    considered = (
        f"{plan.left_out} more lines were considered and need no order."
        f" {plan.paths:,} possible courses of the next days, seed {plan.seed}."
    )
    return "\n".join([title, "", *sheets, *textwrap.wrap(considered, width), ""])


def _titled(names: Names, title: str) -> str:
    return f"{names.business}: {title}" if names.business else title.capitalize()


def _sheet(order: DraftOrder, now: datetime, names: Names, width: int) -> Iterator[str]:
    supplier = names.suppliers.get(order.supplier, order.supplier)
    place = names.places.get(order.location, order.location)
    yield "_" * width
    yield _ends(f"{supplier}, {day_name(order.delivery)}{_count(order)}", order.number, width)
    yield _ends(f"to {place}", f"must last until {day_name(order.next_delivery)}", width)
    yield f"order by {moment(now, order.order_by)}{_may_wait(order)}"
    yield ""
    yield from _lines(order, names, width)
    yield from _total(order, names, width)
    yield ""


def _count(order: DraftOrder) -> str:
    """Nothing for the first order of a delivery; ``, 2nd`` for the second."""
    last = order.number.rsplit("-", 1)[-1]
    return f", {ordinal(int(last))}" if last.isdigit() and int(last) > 1 else ""


def _may_wait(order: DraftOrder) -> str:
    if order.last_order_by <= order.order_by:
        return ""
    last = order.last_order_by
    return f"; last chance for the same delivery {day_name(last.date())} {last:%H:%M}"


def _row(cells: Sequence[str]) -> str:
    cases, item, pack, price, value = cells
    return f"{cases:>5}  {_cut(item, 25):<25} {_cut(pack, 10):>10} {price:>12} {value:>10}"


_ROW_WIDTH = len(_row(("",) * 5))


def _lines(order: DraftOrder, names: Names, width: int) -> Iterator[str]:
    yield _row(("cases", "item", "a case is", "price", names.currency or "value"))
    for line in order.lines:
        per = "case" if line.priced_per == "case" else line.priced_per
        text = _row(
            (
                str(line.cases),
                names.items.get(line.item, line.item),
                line.pack,
                f"{money(line.price)}/{per}",
                money(line.line_value),
            )
        )
        reason = why(line.reasons, line.unit, order.delivery, order.next_delivery)
        yield from _with_margin(text, reason, width)


def _with_margin(text: str, reason: str, width: int) -> Iterator[str]:
    """Reasons stand in the right margin, or under the line where there is none."""
    if width < _MARGIN_FROM:
        yield text
        yield from textwrap.wrap(
            reason, width - 9, initial_indent=" " * 7, subsequent_indent=" " * 7
        )
        return
    # a figure stays with its unit
    held = _UNIT_AFTER.sub("\N{NO-BREAK SPACE}", reason)
    margin = textwrap.wrap(held, width - _ROW_WIDTH - 2)
    for left, right in zip_longest([text], margin, fillvalue=""):
        yield f"{left:<{_ROW_WIDTH}}  {right}".rstrip().replace("\N{NO-BREAK SPACE}", " ")


def _total(order: DraftOrder, names: Names, width: int) -> Iterator[str]:
    yield " " * (_ROW_WIDTH - 10) + "-" * 10
    words = decision(order.decision, order.minimum_order, order.next_delivery)
    yield from _with_margin(_row(("", "", "", "total", money(order.value))), words, width)


def expiring_text(
    lots: Sequence[LotAtRisk],
    as_of: date,
    names: Names,
    *,
    width: int = WIDTH,
    most: int | None = None,
) -> str:
    """Lots that will probably not be used in time, most money first, up to ``most``; the
    others too where they are few."""
    title = _ends(
        _titled(names, "what expires soonest"),
        f"most money at risk first, {day_name(as_of)}",
        width,
    )
    risky = [lot for lot in lots if lot.at_risk]
    safe = len(lots) - len(risky)
    listed = list(lots) if safe <= FEW else risky
    rows = [_lot_row(lot, names, width) for lot in listed[:most]]
    heading = _strip(("strip", "what", "there is", "use it", names.currency or "at risk"))
    body = [heading, *rows] if rows else ["Nothing is at risk in these days."]
    more = _not_listed(len(listed) - len(rows), len(lots) - len(listed))
    end = textwrap.wrap(" ".join([*more, PERSON_IN_CHARGE]), width)
    return "\n".join([title, "", *body, "", *end, ""])


def _not_listed(risky: int, safe: int) -> Iterator[str]:
    if risky:
        yield f"{risky} more with less at risk."
    if safe:
        yield f"{safe} more lots expire in these days and will be used in time."


def _lot_row(lot: LotAtRisk, names: Names, width: int) -> str:
    text = _strip(
        (
            lot.strip,
            names.items.get(lot.item, lot.item),
            quantity(lot.qty, lot.unit),
            days_left(lot.days_left),
            "not known" if lot.waste_value is None else money(lot.waste_value),
        )
    )
    place = names.places.get(lot.location, lot.location)
    return "\n".join(_with_margin(text, f"{place}: {_at_risk(lot)}", width))


def _at_risk(lot: LotAtRisk) -> str:
    if lot.days_left < 0:
        return "take it out, unless a manager says why not"
    if not lot.at_risk:
        return "will be used in time"
    lost = quantity(lot.waste, lot.unit)
    return f"about {lost} not used in time ({chance(lot.chance_of_waste)})"


def _strip(cells: Sequence[str]) -> str:
    strip, what, there, left, value = cells
    return f"{strip:<5} {_cut(what, 23):<23} {there:>10} {left:<16} {value:>9}"
