"""The page of one order: the sheet it will be, with reasons, and what can be done now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Prefetch
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.engine.dates import BusinessClock
from inventory.models import Event, Item
from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from purchasing import words
from purchasing.models import Answer, Offer, OrderLine, PurchaseOrder, Sending
from purchasing.selectors.decision_words import (
    Siblings,
    decision_told,
    line_told,
    siblings_of,
)
from purchasing.selectors.flags import (
    FAR,
    Flag,
    committed,
    flags_of,
    readable,
    value_of,
    with_lines,
)
from purchasing.selectors.mail import mail_folder
from purchasing.selectors.offers import on_sale
from purchasing.selectors.on_order import cases_to_come, open_cases
from purchasing.selectors.order_words import minimum_words, named, person, state_of

Status = PurchaseOrder.Status


@dataclass(frozen=True, slots=True)
class Other:
    """Another pack of the same item from the same supplier."""

    offer_id: int
    words: str


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line as the sheet shows it. ``answer``: what the supplier said; ``came``: of what was
    ordered; both empty where nothing is known."""

    pk: int
    item: str
    sku: str
    cases: int
    ours: str
    why_word: str
    pack: str
    price: str
    per: str
    value: str
    pencil: str
    flags: tuple[str, ...]
    others: tuple[Other, ...]
    answer: str
    came: str
    open_cases: int
    is_touched: bool

    @property
    def id_text(self) -> str:
        """For the names of inputs."""
        return str(self.pk)


@dataclass(frozen=True, slots=True)
class Allowed:
    """What this person may do with the order as it is now."""

    change: bool = False
    approve: bool = False
    undo: bool = False
    send: bool = False
    answer: bool = False
    cancel: bool = False
    limit: str = ""


@dataclass(frozen=True, slots=True)
class OrderPage:
    """Money is empty for those who may not see it."""

    order: PurchaseOrder
    name: str
    state: str
    delivery: str
    lasts_until: str
    deadline: str
    last_chance: str
    is_late: bool
    currency: str
    lines: tuple[LineRow, ...]
    total: str
    minimum: str
    decision: str
    flags: tuple[str, ...]
    allowed: Allowed
    offers: tuple[Other, ...]
    items: tuple[tuple[str, str], ...]
    history: tuple[str, ...]
    sees_cost: bool
    waits: bool
    to_come: str = ""  # cases, of an order that is out

    @property
    def is_draft(self) -> bool:
        return self.order.status == Status.DRAFT

    @property
    def is_skipped(self) -> bool:
        return self.order.skipped_at is not None

    @property
    def unanswered(self) -> bool:
        return self.allowed.answer and any(not line.answer for line in self.lines)

    @property
    def plural(self) -> int:
        """1 where one case is still to come, for the word behind it."""
        return 1 if self.to_come == "1" else 2

    @property
    def mail_folder(self) -> str:
        return mail_folder()

    @property
    def says(self) -> list[tuple[str, str]]:
        return [(value, str(label)) for value, label in Answer.Says.choices]

    @property
    def ways(self) -> list[tuple[str, str]]:
        return [(one.value, str(one.label)) for one in Sending.How if one != Sending.How.EMAIL]


def order_for(viewer: Viewer, number: str) -> PurchaseOrder:
    """The order with its lines, if this person may see it."""
    sendings = Sending.objects.select_related("by").order_by("pk")
    answers = Answer.objects.select_related("substitute").order_by("pk")
    rows = with_lines(PurchaseOrder.objects.filter(number=number)).prefetch_related(
        Prefetch("sendings", queryset=sendings), Prefetch("lines__answers", queryset=answers)
    )
    order = rows.select_related("adds_to").first()
    if order is None or not viewer.may(Act.SEE, order.location_id):
        raise NotThere
    return order


def item_names(number: str) -> dict[int, str]:
    """Of an order's items by line, in the order of the page."""
    lines = OrderLine.objects.filter(order__number=number).order_by("item__name", "pk")
    return dict(lines.values_list("pk", "item__name"))


def order_page(order: PurchaseOrder, viewer: Viewer, now: datetime) -> OrderPage:
    """``order`` as ``order_for`` gives it."""
    house = business()
    clock, sees = house.clock, viewer.sees_cost(order.location_id)
    is_draft = order.status == Status.DRAFT
    approved = committed([order]) if is_draft else {}
    flags = (
        flags_of(order, now=now, approved=approved, alert_pct=house.price_alert_pct)
        if is_draft
        else ()
    )
    flags = readable(flags, sees=sees)
    others = siblings_of(order) if is_draft else {}
    value, closes = value_of(order), order.last_order_by or order.order_by
    offers = list(on_sale(order.supplier_id)) if is_draft else []
    lines = [one for one in order.lines.all() if one.cases or one.touched or one.our_cases]
    on_it = {line.offer_id for line in lines if line.cases}
    next_delivery = order.next_delivery or order.delivery
    return OrderPage(
        order=order,
        name=named(order),
        state=state_of(order, clock),
        delivery=words.day_name(order.delivery),
        lasts_until=words.day_name(next_delivery) if order.next_delivery else "",
        deadline=_moment(order.order_by, clock, now) if is_draft else "",
        last_chance=_later(order, clock, now) if is_draft else "",
        is_late=is_draft and closes is not None and closes < now,
        currency=house.currency,
        lines=tuple(_row(line, order, flags, offers, others, sees=sees) for line in lines),
        total=words.money(value) if sees else "",
        minimum=minimum_words(order, value, approved) if sees and is_draft else "",
        decision=decision_told(order, sees=sees) if is_draft else "",
        flags=tuple(flag.words for flag in flags if flag.line_id is None),
        allowed=_allowed(order, viewer, value),
        offers=tuple(_other(offer) for offer in offers if offer.pk not in on_it),
        items=_items(viewer, order),
        history=_history(order, clock),
        sees_cost=sees,
        to_come=words.figure(cases_to_come(order.lines.all())) if order.is_coming else "",
        waits=any(not one.sent_at and not one.stopped_at for one in order.sendings.all()),
    )


def _items(viewer: Viewer, order: PurchaseOrder) -> tuple[tuple[str, str], ...]:
    """What could be offered in the place of a line, where an answer may be noted."""
    if order.status != Status.SENT or not viewer.may(Act.SEND, order.location_id):
        return ()
    bought = Item.objects.filter(retired_on=None).exclude(kind="menu")
    return tuple(bought.order_by("name").values_list("code", "name"))


def _allowed(order: PurchaseOrder, viewer: Viewer, value: Decimal) -> Allowed:
    place = order.location_id
    sends, is_out = viewer.may(Act.SEND, place), order.status == Status.SENT
    is_draft, is_approved = order.status == Status.DRAFT, order.status == Status.APPROVED
    limit = viewer.approve_up_to(place) if viewer.may(Act.APPROVE, place) else None
    return Allowed(
        change=is_draft and viewer.may(Act.DRAFT, place),
        approve=is_draft and viewer.may_approve(value, place) and value_is_there(order),
        undo=is_approved and viewer.may(Act.APPROVE, place),
        send=is_approved and sends,
        answer=(is_out or is_approved) and sends,
        cancel=(is_out or is_approved) and sends,
        limit=words.money(limit) if limit is not None and value > limit else "",
    )


def value_is_there(order: PurchaseOrder) -> bool:
    return any(line.cases for line in order.lines.all())


def _row(
    line: OrderLine,
    order: PurchaseOrder,
    flags: Iterable[Flag],
    offers: Iterable[Offer],
    siblings: Siblings,
    *,
    sees: bool,
) -> LineRow:
    unit = str(line.reasons.get("unit", line.item.unit))
    ends = order.next_delivery or order.delivery
    return LineRow(
        pk=line.pk,
        item=line.item.name,
        sku=line.offer.sku,
        cases=line.cases,
        ours=_ours(line),
        why_word=line.touched_why,
        pack=words.exactly(line.pack_qty, line.pack_unit),
        price=words.money(line.price) if sees else "",
        per=line.priced_per,
        value=words.money(line.value) if sees else "",
        pencil="; ".join(
            filter(
                None,
                (
                    _pencil(line, unit, order.delivery, ends),
                    *line_told(line, order, siblings, sees=sees),
                ),
            )
        ),
        flags=tuple(
            flag.words
            for flag in flags
            if flag.line_id == line.pk and flag.code != FAR  # ``ours`` says so
        ),
        others=tuple(
            _other(offer)
            for offer in offers
            if offer.item_id == line.item_id and offer.pk != line.offer_id
        ),
        answer=_answer(line),
        came=_came(line),
        open_cases=int(open_cases(line)),
        is_touched=line.touched,
    )


def _ours(line: OrderLine) -> str:
    """Beside a person's figure."""
    if not line.touched or line.our_cases == line.cases:
        return ""
    return _("we would order %(ours)d; you have %(cases)d") % {
        "ours": line.our_cases or 0,
        "cases": line.cases,
    }


def _pencil(line: OrderLine, unit: str, delivery: date, ends: date) -> str:
    if "basis_used" not in line.reasons:
        return _("added by hand") if line.touched else ""
    return words.why(words.Reasons(line.reasons), unit, delivery, ends)


def _answer(line: OrderLine) -> str:
    """What the supplier said last."""
    answers = list(line.answers.all())
    if not answers:
        return ""
    last = answers[-1]
    said = str(last.get_says_display())
    if last.says == Answer.Says.SHORT:
        said = _("short: %(cases)d of %(ordered)d come") % {
            "cases": last.cases or 0,
            "ordered": line.cases,
        }
    if last.substitute is not None:
        said = _("not coming; they offer %(item)s instead") % {"item": last.substitute.name}
    if last.new_date is not None:
        said = _("comes %(day)s") % {"day": words.day_name(last.new_date)}
    return f"{said} ({last.note})" if last.note else said


def _came(line: OrderLine) -> str:
    """Of what was ordered, in deliveries so far."""
    if not line.received_cases and not line.given_up_cases:
        return ""
    figures = {
        "came": words.figure(line.received_cases),
        "open": words.figure(open_cases(line)),
    }
    return _("%(came)s came, %(open)s still to come") % figures


def _other(offer: Offer) -> Other:
    pack = words.exactly(offer.pack_qty, offer.pack_unit)
    number = f" [{offer.sku}]" if offer.sku else ""
    return Other(offer.pk, f"{offer.item.name}{number}, {pack}")


def _moment(at: datetime | None, clock: BusinessClock, now: datetime) -> str:
    if at is None:
        return ""
    return words.moment(clock.local(int(now.timestamp())), clock.local(int(at.timestamp())))


def _later(order: PurchaseOrder, clock: BusinessClock, now: datetime) -> str:
    last = order.last_order_by
    if last is None or order.order_by is None or last <= order.order_by:
        return ""
    return _moment(last, clock, now)


def _history(order: PurchaseOrder, clock: BusinessClock) -> tuple[str, ...]:
    """What people did to it, oldest first."""
    events = Event.objects.filter(subject=f"order:{order.number}").select_related("by")
    return tuple(_told(event, clock) for event in events.order_by("at", "pk"))


def _told(event: Event, clock: BusinessClock) -> str:
    at = clock.local(int(event.at.timestamp()))
    who = person(event.by) or _("the kitchen's own clock")
    cases: Mapping[str, list[int]] = event.changes.get("lines", {})
    said = ", ".join(f"{item} {old} → {new}" for item, (old, new) in cases.items())
    verb = _VERBS.get(event.verb, event.verb.replace("_", " "))
    if event.changes.get("folder"):
        verb = _("wrote its letter as a file")
    return f"{at:%a %H:%M} {who} {verb}{f': {said}' if said else ''}"


_VERBS = {
    "change": gettext_lazy("changed it"),
    "add": gettext_lazy("added a line"),
    "approve": gettext_lazy("approved it"),
    "undo": gettext_lazy("took the approval back"),
    "send": gettext_lazy("asked to send it"),
    "sent": gettext_lazy("sent it"),
    "answer": gettext_lazy("noted the supplier's answer"),
    "give_up": gettext_lazy("gave up what was missing"),
    "cancel": gettext_lazy("cancelled it"),
    "skip": gettext_lazy("skipped the delivery"),
    "take_up": gettext_lazy("took the delivery up again"),
    "receive": gettext_lazy("took a delivery in"),
}
