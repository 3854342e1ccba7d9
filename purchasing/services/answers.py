"""What the supplier says of an order, line by line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.models import Item
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.services.acts import one_act
from purchasing.models import Answer, OrderLine, PurchaseOrder
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.inbound import tell_kitchen
from purchasing.services.order_hand import Hand, Status, demand_status, take, written

Says = Answer.Says


@dataclass(frozen=True, slots=True)
class Said:
    """Of one line. ``cases``: what will come (``short``, ``new_date``: all of it if None);
    ``substitute``: the code of the item offered in its place."""

    line_id: int
    says: str
    cases: int | None = None
    substitute: str = ""
    new_date: date | None = None
    note: str = ""


@one_act
def note_answers(number: str, said: Sequence[Said], *, hand: Hand) -> PurchaseOrder:
    """What comes is what the supplier says from now on; the kitchen and the drafts follow.
    Refused with everything that is wrong."""
    order = take(number, hand, Act.SEND)
    demand_status(order, Status.SENT, Status.APPROVED)
    lines = {line.pk: line for line in order.lines.select_related("item")}
    if any(one.line_id not in lines for one in said):
        raise NotThere
    offered = _offered(said)
    problems = [each for one in said for each in _wrong(lines[one.line_id], one, order, offered)]
    if problems:
        raise Refused(problems)
    told = {lines[one.line_id].item.name: one.says for one in said}
    for one in said:
        _store(lines[one.line_id], one, offered, hand)
    if said:
        written(order, hand, "answer", [], {"says": told})
        tell_kitchen([order.pk])
        ask_for_fresh_drafts(at=hand.at, why=f"answer to {number}")
    return order


@one_act
def confirm_all(number: str, *, hand: Hand) -> PurchaseOrder:
    """All lines come as ordered."""
    order = take(number, hand, Act.SEND)
    demand_status(order, Status.SENT, Status.APPROVED)
    open_lines = order.lines.filter(cases__gt=0, confirmed_cases__isnull=True)
    names = {}
    for line in open_lines.select_related("item"):
        _store(line, Said(line.pk, Says.CONFIRMED), {}, hand)
        names[line.item.name] = Says.CONFIRMED.value
    if names:
        written(order, hand, "answer", [], {"says": names})
        tell_kitchen([order.pk])
    return order


def _store(line: OrderLine, said: Said, offered: dict[str, Item], hand: Hand) -> None:
    line.confirmed_cases = _coming(line, said)
    line.comes_on = said.new_date if said.says == Says.NEW_DATE else None
    line.save(update_fields=["confirmed_cases", "comes_on"])
    Answer.objects.create(
        line=line,
        says=said.says,
        cases=line.confirmed_cases,
        substitute=offered.get(said.substitute),
        new_date=line.comes_on,
        at=hand.at,
        by=hand.by,
        note=said.note[:200],
    )


def _coming(line: OrderLine, said: Said) -> int:
    """Cases of the line itself; a substitute is another item."""
    match said.says:
        case Says.CONFIRMED:
            return line.cases
        case Says.NOT_COMING | Says.SUBSTITUTE:
            return 0
        case _:
            return line.cases if said.cases is None else said.cases


def _offered(said: Sequence[Said]) -> dict[str, Item]:
    codes = {one.substitute for one in said if one.substitute}
    return {item.code: item for item in Item.objects.filter(code__in=codes)}


def _wrong(
    line: OrderLine, said: Said, order: PurchaseOrder, offered: dict[str, Item]
) -> Iterator[Problem]:
    name, field = line.item.name, f"says-{line.pk}"
    if said.says not in Says.values:
        yield Problem("no_such_answer", f"{name}: choose one of the answers.", field)
        return
    coming = _coming(line, said)
    if said.says == Says.SHORT and said.cases is None:
        message = f"{name}: how many cases come? Type the figure, 0 to {line.cases}."
        yield Problem("no_cases", message, f"coming-{line.pk}")
    elif not 0 <= coming <= line.cases:
        message = f"{name}: {line.cases} cases were ordered; {coming} cannot come."
        yield Problem("cases_out_of_range", message, f"coming-{line.pk}")
    elif coming < line.received_cases:
        message = f"{name}: {line.received_cases.normalize():f} cases have come in already."
        yield Problem("came_in_already", message, f"coming-{line.pk}")
    if said.says == Says.SUBSTITUTE and said.substitute not in offered:
        message = f"{name}: what do they offer instead? Choose an item of the list."
        yield Problem("no_such_item", message, f"substitute-{line.pk}")
    if said.says == Says.NEW_DATE:
        yield from _wrong_day(line, said, order)


def _wrong_day(line: OrderLine, said: Said, order: PurchaseOrder) -> Iterator[Problem]:
    name, field = line.item.name, f"day-{line.pk}"
    if said.new_date is None:
        yield Problem("no_day", f"{name}: on which day does it come?", field)
    elif said.new_date == order.delivery:
        yield Problem("same_day", f"{name}: that is the day it was ordered for.", field)
