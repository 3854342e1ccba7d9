"""A draft in a buyer's hands: cases, lines, another offer, the delivery let pass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal

from inventory.engine.units import as_decimal
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.selectors.measures import item_measures
from inventory.services.acts import one_act
from purchasing.models import Offer, OrderLine, PurchaseOrder
from purchasing.selectors.offers import price_on
from purchasing.selectors.supply import case_base, case_sizes, priced_units
from purchasing.services.order_hand import Hand, Status, demand_status, take, written

MOST_CASES = 9999
LONGEST_WHY = 120


@dataclass(frozen=True, slots=True)
class NewCases:
    """What a person wants of one line; ``field`` names the input."""

    line_id: int
    cases: int
    why: str = ""

    @property
    def field(self) -> str:
        return f"cases-{self.line_id}"


@one_act
def change_lines(number: str, wanted: Sequence[NewCases], *, hand: Hand) -> PurchaseOrder:
    """Set the cases of lines; ours stay beside them. Lines that keep their cases are left
    alone; ours typed again gives the line back to the runs. Refused with every wrong figure."""
    order = take(number, hand, Act.DRAFT)
    demand_status(order, Status.DRAFT)
    lines = {line.pk: line for line in order.lines.select_related("offer", "item")}
    if any(one.line_id not in lines for one in wanted):
        raise NotThere
    pairs = [(lines[one.line_id], one) for one in wanted]
    if problems := [each for line, one in pairs for each in _wrong_cases(line.offer, one)]:
        raise Refused(problems)
    changed = {line.item.name: _set(line, one) for line, one in pairs if _differs(line, one)}
    if changed:
        _touch(order, hand, "change", {"lines": changed})
    return order


@one_act
def add_line(number: str, offer_id: int, cases: int, *, why: str = "", hand: Hand) -> OrderLine:
    """An offer of the same supplier that is not on the order yet."""
    order = take(number, hand, Act.DRAFT)
    demand_status(order, Status.DRAFT)
    try:
        offer = _offer_of(order, offer_id)
    except Refused as refused:
        raise Refused([*refused.problems, *_none(cases)]) from refused
    return put_on(order, offer, cases, why, hand)


@one_act
def other_offer(number: str, line_id: int, offer_id: int, *, hand: Hand) -> OrderLine:
    """The same item in another pack of this supplier: the fewest cases that hold as much."""
    order = take(number, hand, Act.DRAFT)
    demand_status(order, Status.DRAFT)
    line = order.lines.select_related("offer", "item").filter(pk=line_id).first()
    if line is None:
        raise NotThere
    offer = _offer_of(order, offer_id)
    if offer.item_id != line.item_id:
        message = f"{offer} is not {line.item}. Take an offer of the same item, or add a line."
        raise Refused(Problem("another_item", message, f"offer-{line_id}"))
    cases = _as_much(line, offer)
    was = line.cases
    line.cases, line.touched = 0, True
    line.save(update_fields=["cases", "touched"])
    new = _line(order, offer, cases, why=line.touched_why)
    new.reasons = line.reasons
    new.save()
    _touch(order, hand, "change", {"lines": {line.item.name: [was, 0], _named(offer): [0, cases]}})
    return new


@one_act
def skip_delivery(number: str, *, why: str, hand: Hand) -> PurchaseOrder:
    """Let this delivery pass: later runs leave the draft alone. Refused without a word why: who
    finds the kitchen short reads it."""
    order = take(number, hand, Act.DRAFT)
    demand_status(order, Status.DRAFT)
    if not why.strip():
        message = "Say why this delivery may pass, in a word or two, such as 'closed on Friday'."
        raise Refused(Problem("no_reason", message, "why"))
    if order.skipped_at is None:
        order.skipped_at, order.skipped_by = hand.at, hand.by
        order.skipped_why = why.strip()[:LONGEST_WHY]
        _write_skip(order, hand, "skip")
    return order


@one_act
def take_up(number: str, *, hand: Hand) -> PurchaseOrder:
    """Order for a skipped delivery after all."""
    order = take(number, hand, Act.DRAFT)
    demand_status(order, Status.DRAFT)
    if order.skipped_at is not None:
        order.skipped_at, order.skipped_by, order.skipped_why = None, None, ""
        _write_skip(order, hand, "take_up")
    return order


def put_on(order: PurchaseOrder, offer: Offer, cases: int, why: str, hand: Hand) -> OrderLine:
    """A new line on a draft that is in hand; a step of a larger act."""
    wanted = NewCases(offer.pk, cases)
    problems = [
        Problem(each.code, each.message, "add-cases", each.data)
        for each in _wrong_cases(offer, wanted)
    ]
    known = order.lines.filter(offer=offer).first()
    problems += [*_none(cases), *(() if known else _no_price(offer, order.delivery))]
    if problems:
        raise Refused(problems)
    was = known.cases if known else 0
    line = known or _line(order, offer, cases, why=why)
    line.cases, line.touched, line.touched_why = cases, True, why[:LONGEST_WHY]
    line.save()
    _touch(order, hand, "add", {"lines": {_named(offer): [was, cases]}})
    return line


def _none(cases: int) -> Iterator[Problem]:
    if cases < 1:
        yield Problem("no_cases", "Add 1 case or more.", "add-cases")


def _touch(order: PurchaseOrder, hand: Hand, verb: str, changes: dict[str, object]) -> None:
    order.touched = True
    written(order, hand, verb, ["touched"], changes)


def _write_skip(order: PurchaseOrder, hand: Hand, verb: str) -> None:
    fields = ["skipped_at", "skipped_by", "skipped_why"]
    written(order, hand, verb, fields, {"why": order.skipped_why})


def _differs(line: OrderLine, wanted: NewCases) -> bool:
    return line.cases != wanted.cases or (line.touched and line.touched_why != wanted.why)


def _set(line: OrderLine, wanted: NewCases) -> list[int]:
    """Cases before and after."""
    was = line.cases
    line.cases = wanted.cases
    line.touched = wanted.cases != line.our_cases
    line.touched_why = wanted.why[:LONGEST_WHY] if line.touched else ""
    line.save(update_fields=["cases", "touched", "touched_why"])
    return [was, line.cases]


def _wrong_cases(offer: Offer, wanted: NewCases) -> Iterator[Problem]:
    """0 takes the line off; else as the supplier sells it."""
    cases, name = wanted.cases, offer.item.name
    if cases < 0 or cases > MOST_CASES:
        message = f"{name}: {cases} cases cannot be ordered. Type 0 to {MOST_CASES:,}."
        yield Problem("cases_out_of_range", message, wanted.field)
    elif 0 < cases < offer.minimum_cases:
        message = (
            f"{name}: {offer.supplier} sells {offer.minimum_cases} cases or more; you typed "
            f"{cases}. Type {offer.minimum_cases}, or 0."
        )
        yield Problem("below_minimum_cases", message, wanted.field)
    elif cases % offer.case_multiple:
        less = cases - cases % offer.case_multiple
        message = (
            f"{name}: {offer.supplier} sells it by {offer.case_multiple}; you typed {cases}. "
            f"Type {less} or {less + offer.case_multiple}."
        )
        yield Problem("not_a_multiple", message, wanted.field)


def _offer_of(order: PurchaseOrder, offer_id: int) -> Offer:
    """An offer that this order may hold."""
    offers = Offer.objects.filter(supplier=order.supplier_id, retired_on__isnull=True)
    offer = offers.select_related("item", "supplier").filter(pk=offer_id).first()
    if offer is None:
        message = f"{order.supplier} does not sell that. Choose one of the list."
        raise Refused(Problem("not_their_offer", message, "offer"))
    return offer


def _line(order: PurchaseOrder, offer: Offer, cases: int, *, why: str) -> OrderLine:
    """Not stored. The pack and the price are written on the line."""
    measures = item_measures(case_sizes())
    return OrderLine(
        order=order,
        offer=offer,
        item=offer.item,
        cases=cases,
        our_cases=0,
        touched=True,
        touched_why=why[:LONGEST_WHY],
        pack_qty=offer.pack_qty,
        pack_unit=offer.pack_unit,
        pack_base=as_decimal(case_base(offer, measures)),
        price=_price(offer, order.delivery),
        priced_per=offer.priced_per,
        priced_units=priced_units(offer, measures),
        reasons={"unit": offer.item.unit},
    )


def _price(offer: Offer, day: date) -> Decimal:
    price = price_on(offer, day)
    if price is None:
        raise Refused(list(_no_price(offer, day)))
    return price


def _no_price(offer: Offer, day: date) -> Iterator[Problem]:
    if price_on(offer, day) is None:
        message = f"{_named(offer)} has no price on {day:%a} {day.day} {day:%b}. Type its price."
        yield Problem("no_price", message, "offer")


def _as_much(line: OrderLine, offer: Offer) -> int:
    """The fewest cases of ``offer`` that hold what the line holds, as it is sold."""
    base = as_decimal(case_base(offer, item_measures(case_sizes())))
    packs = (line.cases * line.pack_base / base).to_integral_value(ROUND_CEILING)
    least = max(int(packs), offer.minimum_cases)
    return -(-least // offer.case_multiple) * offer.case_multiple


def _named(offer: Offer) -> str:
    return f"{offer.item.name} {offer.sku}".strip()
