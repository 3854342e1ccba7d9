"""The plain page: every draft as the sheet it will be, and what expires soonest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.engine.dates import BusinessClock
from inventory.models import OnHand
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.supply import case_sizes

SOONEST = 25


@dataclass(frozen=True, slots=True)
class SheetLine:
    cases: int
    item: str
    pack: str
    price: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One draft order, ready to read. ``deadline``: the hour and how long until then."""

    number: str
    supplier: str
    to: str
    delivery: str
    lasts_until: str
    deadline: str
    lines: tuple[SheetLine, ...]
    total: str
    minimum: str


@dataclass(frozen=True, slots=True)
class Strip:
    """One lot as a strip of label tape. ``note`` is empty where nothing is wrong."""

    strip: str
    item: str
    place: str
    there: str
    use_by: str
    days_left: str
    value: str
    note: str


@dataclass(frozen=True, slots=True)
class PlanPage:
    business: str
    currency: str
    now: str
    worked_out: str
    sheets: tuple[Sheet, ...]
    strips: tuple[Strip, ...]


def plan_page(now: datetime) -> PlanPage:
    """Everything the page shows, in a number of queries that does not grow with rows."""
    house = business()
    clock = BusinessClock(house.time_zone)
    measures = item_measures(case_sizes())
    local = clock.local(int(now.timestamp()))
    drafts = list(_drafts())
    last = max((draft.run.as_of for draft in drafts if draft.run), default=None)
    return PlanPage(
        business=house.business_name or "The kitchen",
        currency=house.currency,
        now=f"{words.day_name(local.date())}, {local:%H:%M}",
        worked_out=f"{clock.local(int(last.timestamp())):%a %H:%M}" if last else "",
        sheets=tuple(_sheet(draft, clock, local) for draft in drafts),
        strips=tuple(_strip(row, local.date(), measures) for row in _soonest()),
    )


def _drafts() -> list[PurchaseOrder]:
    drafts = PurchaseOrder.objects.drafts().select_related("supplier", "location", "run")
    return list(
        drafts.prefetch_related("lines__item", "lines__offer").order_by("order_by", "number")
    )


def _sheet(draft: PurchaseOrder, clock: BusinessClock, now: datetime) -> Sheet:
    lines = list(draft.lines.all())
    next_delivery = draft.next_delivery or draft.delivery
    total = sum((_value(line) for line in lines), Decimal(0))
    return Sheet(
        number=draft.number,
        supplier=draft.supplier.name,
        to=draft.location.name,
        delivery=words.day_name(draft.delivery),
        lasts_until=words.day_name(next_delivery),
        deadline=_deadline(draft.order_by, clock, now),
        lines=tuple(_line(line, draft.delivery, next_delivery) for line in lines),
        total=words.money(total),
        minimum=words.decision(draft.decision, draft.supplier.minimum_order, next_delivery),
    )


def _deadline(order_by: datetime | None, clock: BusinessClock, now: datetime) -> str:
    return words.moment(now, clock.local(int(order_by.timestamp()))) if order_by else ""


def _line(line: OrderLine, delivery: date, next_delivery: date) -> SheetLine:
    unit = str(line.reasons.get("unit", line.item.unit))
    return SheetLine(
        cases=line.cases,
        item=line.item.name,
        pack=words.exactly(line.pack_qty, line.pack_unit),
        price=f"{words.money(line.price)}/{line.priced_per}",
        value=words.money(_value(line)),
        why=words.why(words.Reasons(line.reasons), unit, delivery, next_delivery),
    )


def _value(line: OrderLine) -> Decimal:
    return line.cases * line.price * line.priced_units


def _soonest() -> list[OnHand]:
    rows = OnHand.objects.filter(qty__gt=0, lot__use_by__isnull=False)
    return list(
        rows.select_related("lot", "item", "location").order_by("lot__use_by", "lot__strip")[
            :SOONEST
        ]
    )


def _strip(row: OnHand, today: date, measures: Measures) -> Strip:
    lot = row.lot
    assert lot.use_by is not None
    left = (lot.use_by - today).days
    cost = lot.unit_cost
    return Strip(
        strip=lot.strip,
        item=row.item.name,
        place=row.location.name,
        there=words.quantity(measures.in_own_unit(row.item.code, row.qty), row.item.unit),
        use_by=words.day_name(lot.use_by),
        days_left=words.days_left(left),
        value="" if cost is None else words.money(cost * row.qty),
        note="take it out, unless a manager says why not" if left < 0 else "",
    )
