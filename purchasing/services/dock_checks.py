"""What speaks against taking a delivery in: every problem of every line, at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.engine.allergens import MOST_CAUTIOUS_FIRST, Card, Word
from inventory.engine.dates import use_by_received
from inventory.engine.safety import Arrival, Finding, Judged, Verdict, received
from inventory.models import Item
from inventory.problems import Problem, Refused
from inventory.selectors.measures import Measures
from purchasing.models import OrderLine
from purchasing.services.dock import CameLine, CameLot, Delivery, Substitute, field_of

# A case this far from its usual weight was mistyped (common practice, no source).
LEAST_OF_NOMINAL, MOST_OF_NOMINAL = Decimal("0.5"), Decimal("1.5")


@dataclass(frozen=True, slots=True)
class Dock:
    """What the checks read: the day and moment, whether this person may override a caution,
    units, and the allergens of substitutes and of what they replace."""

    day: date
    at: datetime
    may_allow: bool
    measures: Measures
    allergens: Mapping[str, Card]


def judged_as(item: Item) -> Judged:
    """As what an item is judged unless somebody says otherwise."""
    if item.storage == Item.Storage.FROZEN:
        return Judged.FROZEN
    return Judged.COLD if item.tcs else Judged.PLAIN


def line_problems(
    line: OrderLine, came: CameLine, delivery: Delivery, dock: Dock
) -> Iterator[Problem]:
    yield from _figures(line, came)
    for lot in came.lots:
        if lot.cases > 0:
            yield from _lot(line, came, lot, delivery, dock)
    if came.accepted > 0:
        yield from _condition(line.item, came, delivery, dock)
    if came.substitute:
        yield from _substitute(line, came, came.substitute, delivery, dock)
    if not delivery.seen:
        yield from _labels(came)


def finding_of(item: Item, came: CameLine, at: datetime) -> Finding | None:
    """What was found at the dock about food that is to be taken in."""
    judged = came.judged or judged_as(item)
    return received(Arrival(item.name, judged, came.reading, at, bool(came.thawed)))


def _figures(line: OrderLine, came: CameLine) -> Iterator[Problem]:
    name = line.item.name
    figures = (*(lot.cases for lot in came.lots), came.rejected, came.brings_again)
    if min(*figures, came.substituted, Decimal(0)) < 0:
        yield Problem("negative", f"{name}: cases are 0 or more.", field_of(line.pk, "accepted"))
    if came.brings_again > came.rejected:
        yield Problem(
            "brings_more_again",
            f"{name}: {came.rejected.normalize():f} cases are rejected, so no more than that can "
            "be brought again.",
            field_of(line.pk, "again"),
        )
    if came.rejected > 0 and not came.reject_reason.strip():
        yield Problem("no_reason", f"{name}: say why it is rejected.", field_of(line.pk, "reason"))


def _lot(
    line: OrderLine, came: CameLine, lot: CameLot, delivery: Delivery, dock: Dock
) -> Iterator[Problem]:
    item = line.item
    yield from _code_and_date(item, line.pk, lot.supplier_lot, lot.use_by or lot.printed, "")
    yield from _use_by(item, line.pk, lot, delivery, dock)
    if line.offer.catch_weight:
        yield from _weights(line, lot, delivery, dock)


def _code_and_date(
    item: Item, line_id: int, lot_code: str, last_day: date | None, which: str
) -> Iterator[Problem]:
    if item.traceability_listed and not lot_code.strip():
        yield Problem(
            "lot_missing",
            f"{item.name} is on the traceability list: scan its label, or type the lot code.",
            field_of(line_id, f"{which}lot"),
        )
    if item.tcs and item.shelf_life_days is None and last_day is None:
        yield Problem(
            "use_by_missing",
            f"{item.name} spoils and no life is set for it: type the use-by from the case.",
            field_of(line_id, f"{which}use_by"),
        )


def _use_by(
    item: Item, line_id: int, lot: CameLot, delivery: Delivery, dock: Dock
) -> Iterator[Problem]:
    known = [use_by_received(dock.day, item.shelf_life_days), lot.printed]
    latest = min((day for day in known if day), default=None)
    if lot.use_by and latest and lot.use_by > latest:
        yield Problem(
            "use_by_too_late",
            f"{item.name}: the use-by is {latest} at the latest, not {lot.use_by}. Nobody "
            "lengthens a use-by by hand: type an earlier day, or leave it empty.",
            field_of(line_id, "use_by"),
            {"latest": str(latest)},
        )
    last = min((day for day in (lot.use_by, lot.printed) if day), default=None)
    if last and last < dock.day:
        finding = Finding(
            "past_use_by",
            Verdict.MANAGER,
            f"{item.name} came past its use-by of {last}. Reject it, or have a manager accept it "
            "and say why.",
        )
        yield from _manager(finding, line_id, "use_by", delivery, dock)


def _weights(line: OrderLine, lot: CameLot, delivery: Delivery, dock: Dock) -> Iterator[Problem]:
    name, at_fault = line.item.name, field_of(line.pk, "weights")
    if lot.total is not None:
        weights, count = [lot.total / max(lot.cases, Decimal(1))], Decimal(1)
    else:
        weights, count = list(lot.weights), lot.cases
    if len(weights) != count:
        yield Problem(
            "weights_missing",
            f"{name} is sold by weight: {lot.cases.normalize():f} cases are accepted and "
            f"{len(weights)} weighed. Weigh each case, or type the total of the slip.",
            at_fault,
            {"cases": str(lot.cases), "weighed": len(weights)},
        )
    if any(weight <= 0 for weight in weights):
        yield Problem("weight_not_positive", f"{name}: a case weighs more than 0.", at_fault)
        return
    try:
        per = dock.measures.base_per(line.item.code, lot.weight_unit)
    except Refused as refused:
        yield from (Problem(one.code, one.message, at_fault) for one in refused.problems)
        return
    odd = [w for w in weights if not _is_usual(w * Decimal(per.numerator) / per.denominator, line)]
    if odd and not delivery.seen:
        usual = line.pack_base * per.denominator / per.numerator
        yield Problem(
            "weight_unlikely",
            f"{name}: a case of {odd[0].normalize():f} {lot.weight_unit}, where "
            f"{usual.quantize(Decimal('0.1'))} is usual. Type it again, or tick that it is right.",
            at_fault,
        )


def _is_usual(base: Decimal, line: OrderLine) -> bool:
    return LEAST_OF_NOMINAL <= base / line.pack_base <= MOST_OF_NOMINAL


def _condition(item: Item, came: CameLine, delivery: Delivery, dock: Dock) -> Iterator[Problem]:
    judged = came.judged or judged_as(item)
    if judged is Judged.FROZEN:
        if came.thawed is None:
            yield Problem(
                "frozen_not_said",
                f"{item.name} is sold frozen: say whether it came frozen hard.",
                field_of(came.line_id, "thawed"),
            )
    elif judged is not Judged.PLAIN and came.reading is None:
        yield Problem(
            "temperature_missing",
            f"{item.name} must be cold: read the temperature of its group or of this case.",
            field_of(came.line_id, "temp"),
        )
    if finding := finding_of(item, came, dock.at):
        yield from _manager(finding, came.line_id, "temp", delivery, dock)


def _manager(
    finding: Finding, line_id: int, name: str, delivery: Delivery, dock: Dock
) -> Iterator[Problem]:
    at_fault = field_of(line_id, name)
    match finding.verdict:
        case Verdict.DUTY:
            return
        case Verdict.REJECT:
            yield Problem(finding.code, finding.caution, at_fault)
        case Verdict.MANAGER if not dock.may_allow:
            who = "A manager must sign in on this device to accept it: what was typed stays here."
            yield Problem(finding.code, f"{finding.caution} {who}", at_fault)
        case Verdict.MANAGER if not delivery.override.strip():
            say = "You may: write the reason under the list."
            yield Problem(finding.code, f"{finding.caution} {say}", "override")


def _substitute(
    line: OrderLine, came: CameLine, sub: Substitute, delivery: Delivery, dock: Dock
) -> Iterator[Problem]:
    at_fault = field_of(line.pk, "sub_item")
    if sub.item.pk == line.item_id:
        yield Problem("same_item", f"{sub.item} is what was ordered: count it there.", at_fault)
    if sub.qty <= 0 or sub.cases <= 0:
        yield Problem(
            "substitute_nothing",
            f"{sub.item}: type how many cases it replaces and how much of it came.",
            field_of(line.pk, "sub_qty"),
        )
    try:
        dock.measures.base_per(sub.item.code, sub.unit)
    except Refused as refused:
        unit = field_of(line.pk, "sub_unit")
        yield from (Problem(one.code, one.message, unit) for one in refused.problems)
    yield from _code_and_date(sub.item, line.pk, sub.supplier_lot, sub.use_by, "sub_")
    lot = CameLot(sub.cases, sub.supplier_lot, use_by=sub.use_by)
    yield from _use_by(sub.item, line.pk, lot, delivery, dock)
    yield from _condition(sub.item, came, delivery, dock)
    worse = allergen_warnings(dock.allergens[line.item.code], dock.allergens[sub.item.code])
    if worse and not sub.allergens_seen:
        yield Problem(
            "allergens_differ",
            f"{sub.item} instead of {line.item}: {'; '.join(worse)}. Tell the kitchen, and tick "
            "that you have seen it; or send it back.",
            field_of(line.pk, "sub_allergens_seen"),
            {"allergens": worse},
        )


def allergen_warnings(ordered: Card, instead: Card) -> list[str]:
    """Where the substitute is said to be worse than what was ordered. What nobody has stated
    of it never reads as free."""
    known = {said.allergen: said.word for said in ordered}
    worse = []
    for said in instead:
        before = known.get(said.allergen, Word.NOT_STATED)
        if MOST_CAUTIOUS_FIRST.index(said.word) < MOST_CAUTIOUS_FIRST.index(before):
            worse.append(f"{said.allergen}: {_SAYS[said.word]}, before {_SAYS[before]}")
    unknown = all(said.word is Word.NOT_STATED for said in instead)
    return ["no allergens are stated of it"] if unknown else worse


_SAYS = {
    Word.CONTAINS: "contains",
    Word.MAY_CONTAIN: "may contain",
    Word.NOT_STATED: "not stated",
    Word.FREE: "free",
}


def _labels(came: CameLine) -> Iterator[Problem]:
    for warning in came.warnings:
        name = {"lot": "lot", "use_by": "use_by", "weight": "weights"}.get(warning.field, "scan")
        yield Problem(
            warning.code,
            f"{warning.message} Tick that you have looked, or correct it.",
            field_of(came.line_id, name),
        )


def use_by_of(item: Item, day: date, *said: date | None) -> date | None:
    """The earliest of the item's life and the days that a label or a person gives."""
    known = [use_by_received(day, item.shelf_life_days), *said]
    return min((one for one in known if one), default=None)


def problems_of(
    lines: Mapping[int, OrderLine], delivery: Delivery, dock: Dock
) -> Sequence[Problem]:
    return [
        problem
        for came in delivery.lines
        if came.line_id in lines
        for problem in line_problems(lines[came.line_id], came, delivery, dock)
    ]
