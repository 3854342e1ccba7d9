"""The form of a delivery: what was typed, as values for the service."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from inventory.engine.gs1 import Scan, parse_scan
from inventory.engine.safety import Judged, Reading
from inventory.engine.units import MASS, as_decimal, convert
from inventory.problems import Problem, Refused
from purchasing.selectors.delivery_page import DeliveryPage, DockLine, item_named
from purchasing.services.dock import (
    NONE,
    CameLine,
    CameLot,
    Delivery,
    Rest,
    Substitute,
    field_of,
)
from purchasing.web.dock_names import dock_names
from purchasing.web.typed import Typed

ORDERED, DIFFERS, REJECT, AWAY = "ordered", "differs", "reject", "away"
OTHER = "other"
FEW = 2  # lines not looked at that are told one by one


def read_delivery(
    values: Mapping[str, str],
    page: DeliveryPage,
    today: date,
    at: datetime,
    pictures: Sequence[bytes] = (),
) -> tuple[Delivery, datetime, list[Problem]]:
    """The delivery, when it happened by the device's clock, and every figure that is none.

    Lines that nobody touched are left out, so the service tells them. In place of a figure
    that cannot be read stands what was expected, so that it tells all else that is wrong."""
    typed = Typed(values, dock_names(page))
    lines = [came for line in page.lines if (came := _came(line, page, typed, today))]
    happened_at = typed.moment("happened_at", at)
    delivery = Delivery(
        lines,
        document=typed.text("document"),
        override=typed.text("override"),
        seen=typed.is_ticked("seen"),
        pictures=pictures,
    )
    return delivery, happened_at, typed.problems


def _came(line: DockLine, page: DeliveryPage, typed: Typed, today: date) -> CameLine | None:
    how = typed.text(line.field["how"])
    if how not in (ORDERED, DIFFERS, REJECT, AWAY):
        return None
    expected = typed.number(line.field["expected"])
    came = CameLine(line.pk, line.cases if expected is None else expected)
    came = _counted(came, how, line, typed)
    came = replace(
        came,
        reading=_reading(line, typed, page.temp_unit),
        judged=_judged(line, typed),
        thawed=_thawed(line, typed),
    )
    lots, warnings = _lots(came, how, line, typed, today)
    return replace(came, lots=lots, warnings=warnings)


def _counted(came: CameLine, how: str, line: DockLine, typed: Typed) -> CameLine:
    """What was rejected, replaced, and what becomes of the rest."""
    rest = Rest.CLOSED if typed.text(line.field["rest"]) == Rest.CLOSED else Rest.FOLLOWS
    came = replace(came, rest=rest)
    if how in (ORDERED, AWAY):
        return came
    number = typed.number(line.field["rejected"])
    rejected = (came.expected if how == REJECT else NONE) if number is None else number
    brings = rejected if typed.is_ticked(line.field["again"]) else NONE
    return replace(
        came,
        rejected=rejected,
        reject_reason=_reason(line, typed),
        brings_again=brings,
        substitute=_substitute(line, typed) if how == DIFFERS else None,
    )


def _reason(line: DockLine, typed: Typed) -> str:
    chosen = typed.text(line.field["reason"])
    said = typed.text(line.field["reason_other"])
    return said if chosen in ("", OTHER) else ", ".join(filter(None, (chosen, said)))


def _accepted(came: CameLine, how: str, line: DockLine, typed: Typed) -> Decimal:
    if how == AWAY:
        return NONE
    if how == DIFFERS:
        typed_figure = typed.text(line.field["accepted"])
        number = typed.number(line.field["accepted"])
        return came.expected if typed_figure and number is None else number or NONE
    return came.expected - came.rejected


def _lots(
    came: CameLine, how: str, line: DockLine, typed: Typed, today: date
) -> tuple[tuple[CameLot, ...], tuple[Problem, ...]]:
    """The accepted cases by lot code, filled from labels that nobody has read yet."""
    accepted = _accepted(came, how, line, typed)
    unread = list(_scans(typed.text(line.field["scan"]), line, typed, today))
    read = list(_scans(typed.text(line.field["read"]), line, typed, today))
    second = typed.number(line.field["cases2"]) or NONE
    weights = (*typed.numbers(line.field["weights"]), *weights_of(unread, line.unit))
    codes = [scan.lot for scan in unread if scan.lot]
    printed = [typed.day(line.field["printed"]), *(scan.last_day for scan in unread)]
    first = CameLot(
        cases=accepted - second,
        supplier_lot=typed.text(line.field["lot"]) or next(iter(codes), ""),
        printed=min((day for day in printed if day), default=None),
        use_by=typed.day(line.field["use_by"]),
        weights=weights,
        total=typed.number(line.field["total"]),
        weight_unit=line.unit,
    )
    other = CameLot(
        cases=second,
        supplier_lot=typed.text(line.field["lot2"]),
        use_by=typed.day(line.field["use_by2"]),
        weights=typed.numbers(line.field["weights2"]),
        weight_unit=line.unit,
    )
    warnings = [warning for scan in (*read, *unread) for warning in scan.warnings]
    lots = (first, other) if second else (first,)
    return tuple(lot for lot in lots if lot.cases), _each_once(warnings)


def _each_once(warnings: Iterable[Problem]) -> tuple[Problem, ...]:
    by_code = {(warning.code, warning.message): warning for warning in warnings}
    return tuple(by_code.values())


def weights_of(scans: Iterable[Scan], unit: str) -> Iterator[Decimal]:
    """Net weights in ``unit``: as printed where the label says so, else turned into it."""
    for scan in scans:
        if weight := in_unit_of(scan, unit):
            yield weight


def in_unit_of(scan: Scan, unit: str) -> Decimal | None:
    printed = {weight.unit: weight.qty for weight in scan.weights}
    if unit in printed:
        return printed[unit]
    if not scan.weights or unit not in MASS:
        return None
    first = scan.weights[0]
    return as_decimal(convert(first.qty, first.unit, unit)).normalize()


def _scans(text: str, line: DockLine, typed: Typed, today: date) -> Iterator[Scan]:
    for one in filter(None, (part.strip() for part in text.splitlines())):
        try:
            yield parse_scan(one, today=today)
        except Refused as refused:
            typed.problems += [
                Problem(each.code, f"{line.item}: {each.message}", line.field["lot"])
                for each in refused.problems
            ]


def _reading(line: DockLine, typed: Typed, unit: str) -> Reading | None:
    """Its own reading, else that of its group."""
    unit = typed.text("temp_unit") if typed.text("temp_unit") in ("F", "C") else unit
    own = typed.number(line.field["temp"])
    degrees = typed.number(f"g-{line.group}-temp") if own is None else own
    return None if degrees is None else Reading(degrees, unit)


def _judged(line: DockLine, typed: Typed) -> Judged | None:
    said = typed.text(line.field["judged"])
    return Judged(said) if said in tuple(Judged) else None


def _thawed(line: DockLine, typed: Typed) -> bool | None:
    if typed.is_ticked(line.field["thawed"]):
        return True
    return False if typed.is_ticked(f"g-{line.group}-hard") else None


def _substitute(line: DockLine, typed: Typed) -> Substitute | None:
    named, at_fault = typed.text(line.field["sub_item"]), line.field["sub_item"]
    if not named:
        return None
    item = item_named(named)
    if item is None:
        say = f"there is no item '{named}'. Choose one of the list, by name or code."
        typed.wrong("unknown_item", say, at_fault)
        return None
    return Substitute(
        item=item,
        cases=typed.number(line.field["sub_cases"]) or NONE,
        qty=typed.number(line.field["sub_qty"]) or NONE,
        unit=typed.text(line.field["sub_unit"]) or item.unit,
        supplier_lot=typed.text(line.field["sub_lot"]),
        use_by=typed.day(line.field["sub_use_by"]),
        allergens_seen=typed.is_ticked(line.field["sub_allergens_seen"]),
    )


def without_what_follows(problems: Sequence[Problem], unread: Sequence[Problem]) -> list[Problem]:
    """Of the service's problems those that do not merely follow from a figure of the same line
    that cannot be read."""
    fields = {problem.field for problem in unread}
    return [one for one in problems if not fields & set(_rests_on(one.field))]


def _rests_on(field: str) -> list[str]:
    """Inputs by which a problem at this one would be another, or none."""
    line, bar, name = field.partition("-")
    return [f"{line}{bar}{other}" for other in (name, *_RESTS_ON.get(name, ()))]


_COUNTS = ("accepted", "rejected", "cases2", "sub_cases")
_RESTS_ON = {
    "accepted": _COUNTS,
    "again": ("rejected",),
    "reason": ("rejected",),
    "weights": (*_COUNTS, "total", "weights2"),
    "sub_qty": ("sub_cases",),
}


def by_group(problems: Iterable[Problem], page: DeliveryPage) -> list[Problem]:
    """One question for each group instead of one for each of its lines."""
    rest: list[Problem] = []
    problems = _unsaid_together(list(problems), page)
    groups = {line.pk: line.group for line in page.lines}
    asked: dict[str, str] = {}
    for problem in problems:
        name = _GROUP_FIELDS.get(problem.code)
        pk = _line_of(problem.field, groups)
        if name is None or pk is None:
            rest.append(problem)
        else:
            asked[f"g-{groups[pk]}-{name}"] = problem.code
    unread = {problem.field for problem in rest}
    asked = {field: code for field, code in asked.items() if field not in unread}
    return [*(Problem(code, _GROUP_SAYS[code], field) for field, code in asked.items()), *rest]


def _unsaid_together(problems: list[Problem], page: DeliveryPage) -> list[Problem]:
    """Many lines that nobody looked at are one sentence, not a screen full."""
    unsaid = [problem for problem in problems if problem.code == "line_not_said"]
    if len(unsaid) <= FEW:
        return problems
    names = {line.field["how"]: line.item for line in page.lines}
    listed = ", ".join(names.get(problem.field, "") for problem in unsaid)
    say = f"{len(unsaid)} lines were not looked at: {listed}. Press 'as ordered', or say what came."
    rest = [problem for problem in problems if problem not in unsaid]
    return [Problem("line_not_said", say, unsaid[0].field), *rest]


_GROUP_FIELDS = {"temperature_missing": "temp", "frozen_not_said": "hard"}
_GROUP_SAYS = {
    "temperature_missing": "Read the temperature of the cold group, once for all of it.",
    "frozen_not_said": "Look whether the frozen goods are hard, and tick it; reject what thawed.",
}


def _line_of(field: str, groups: Mapping[int, str]) -> int | None:
    return next((pk for pk in groups if field.startswith(field_of(pk, ""))), None)
