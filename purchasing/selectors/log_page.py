"""The log: who did what, when; and the week's overrides, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from inventory.engine.dates import BusinessClock
from inventory.models import Event, Movement
from inventory.problems import NotThere, Problem
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from inventory.selectors.seen import events
from purchasing import words
from purchasing.models import ReceiptLine

ROWS = 100
MOST_OVERRIDES = 100
WEEK_DAYS = 7
LONGEST_CHANGE = 160


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody filters by, as typed; ``before``: where the next page begins."""

    person: str = ""
    verb: str = ""
    subject: str = ""
    day: str = ""
    before: str = ""


@dataclass(frozen=True, slots=True)
class LogRow:
    """``kind`` and ``code`` of what it was done to, such as order and its number."""

    when: str
    who: str
    device: str
    verb: str
    kind: str
    code: str
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Override:
    when: str
    who: str
    what: str
    why: str


@dataclass(frozen=True, slots=True)
class LogPage:
    made_at: str
    asked: Asked
    rows: tuple[LogRow, ...]
    older: int | None
    people: tuple[tuple[str, str], ...]
    verbs: tuple[tuple[str, str], ...]
    overrides: tuple[Override, ...]
    problems: tuple[Problem, ...] = field(default=())


def log_page(asked: Asked, viewer: Viewer, now: datetime) -> LogPage:
    """Eight queries. Only for people who read the log of every place: an event knows none."""
    if not viewer.may_everywhere(Act.LOG):
        raise NotThere
    clock = business().clock
    rows, problems = _filtered(events(viewer), asked, clock)
    found = list(rows.order_by("-pk")[: ROWS + 1])
    local = clock.local(int(now.timestamp()))
    return LogPage(
        made_at=f"{words.day_name(local.date())}, {local:%H:%M}",
        asked=asked,
        rows=tuple(_row(event, clock) for event in found[:ROWS]),
        older=found[ROWS - 1].pk if len(found) > ROWS else None,
        people=tuple(_people()),
        verbs=tuple(_verbs()),
        overrides=tuple(_overrides(now, clock)),
        problems=tuple(problems),
    )


def _filtered(
    rows: QuerySet[Event], asked: Asked, clock: BusinessClock
) -> tuple[QuerySet[Event], list[Problem]]:
    problems: list[Problem] = []
    if asked.person:
        rows = rows.filter(by__username=asked.person)
    if asked.verb:
        rows = rows.filter(verb=asked.verb)
    if asked.subject.strip():
        rows = rows.filter(subject__icontains=asked.subject.strip())
    if asked.day.strip():
        try:
            rows = rows.filter(at__range=_day(date.fromisoformat(asked.day.strip()), clock))
        except (ValueError, OverflowError):
            told = _("Day: “%(day)s” is no day. Type it as YYYY-MM-DD.") % {"day": asked.day}
            problems.append(Problem("day", told, "day"))
    if asked.before.isdecimal() and len(asked.before) < len(str(2**63)):
        rows = rows.filter(pk__lt=int(asked.before))
    return rows, problems


def _day(day: date, clock: BusinessClock) -> tuple[datetime, datetime]:
    """First and last moment of a business date."""
    start = clock.instant(day, time.min)
    end = clock.instant(day + timedelta(days=1), time.min)
    first = datetime.fromtimestamp(start, UTC)
    return first, datetime.fromtimestamp(end, UTC) - timedelta(microseconds=1)


def _when(moment: datetime, clock: BusinessClock) -> str:
    local = clock.local(int(moment.timestamp()))
    return f"{words.day_name(local.date())} {local:%H:%M}"


def _row(event: Event, clock: BusinessClock) -> LogRow:
    kind, _colon, code = event.subject.partition(":")
    return LogRow(
        when=_when(event.at, clock),
        who=_name(event.by),
        device=event.device,
        verb=verb_words(event.verb),
        kind=kind,
        code=code,
        changes=tuple(_changes(event.changes)),
    )


def _name(user: User | None) -> str:
    return (user.get_full_name() or user.username) if user else _("the program")


def verb_words(verb: str) -> str:
    """In the past, as one tells it; a verb not known here reads as it is."""
    return {
        "add": _("added"),
        "add_offer": _("added an offer to"),
        "answer": _("noted the answer to"),
        "approve": _("approved"),
        "arrive": _("took in"),
        "bring_back": _("brought back"),
        "buy": _("bought"),
        "call_back": _("called back"),
        "cancel": _("cancelled"),
        "change": _("changed"),
        "change_offer": _("changed an offer of"),
        "change_part": _("changed what may be done by"),
        "change_supplier": _("changed"),
        "end_part": _("ended a part of"),
        "give_part": _("gave a part to"),
        "give_up": _("gave up what was missing of"),
        "hold": _("put on hold"),
        "invite": _("invited"),
        "join": _("let in"),
        "load": _("loaded"),
        "make_address": _("made a one-time address for"),
        "make_token": _("made a token for"),
        "photograph": _("photographed"),
        "receive": _("received"),
        "release": _("released"),
        "retire": _("retired"),
        "retire_offer": _("retired an offer of"),
        "retire_token": _("retired a token of"),
        "send": _("asked to send"),
        "sent": _("sent"),
        "set_number": _("made a personal number for"),
        "set_pars": _("set the pars of"),
        "set_password": _("set a password:"),
        "take_out": _("took out"),
        "take_up": _("shared"),
        "undo": _("took back the approval of"),
        "undo_arrival": _("took back the arrival of"),
        "undo_receipt": _("took back the delivery of"),
    }.get(verb, verb.replace("_", " "))


def _changes(changes: object) -> Iterator[str]:
    """``shelf life days: 9, now 8``."""
    if not isinstance(changes, Mapping):
        return
    for name, told in sorted(changes.items()):
        if name == "version":
            continue
        label = str(name).replace("_", " ")
        match told:
            case [was, now] if not was:
                text = f"{label}: {now}"
            case [was, now]:
                text = _("%(fact)s: %(was)s, now %(now)s") % {
                    "fact": label,
                    "was": was,
                    "now": now if now not in (None, "") else _("nothing"),
                }
            case list() | dict():
                text = f"{label}: {_flat(told)}"
            case _any:
                text = f"{label}: {told}"
        yield text if len(text) <= LONGEST_CHANGE else f"{text[:LONGEST_CHANGE]}…"


def _flat(told: object) -> str:
    if isinstance(told, Mapping):
        return "; ".join(f"{key} {_flat(value)}" for key, value in told.items())
    if isinstance(told, list):
        return ", ".join(_flat(one) for one in told)
    return str(told)


def _people() -> Iterator[tuple[str, str]]:
    for user in User.objects.order_by("first_name", "username"):
        yield user.username, _name(user)


def _verbs() -> Iterator[tuple[str, str]]:
    known = Event.objects.order_by().values_list("verb", flat=True).distinct()
    return iter(sorted(((verb, verb_words(verb)) for verb in known), key=lambda pair: pair[1]))


def _overrides(now: datetime, clock: BusinessClock) -> Iterator[Override]:
    """What a manager let pass in the last seven days against a caution, newest first."""
    since = now - timedelta(days=WEEK_DAYS)
    told = [*_allowed_uses(since), *_accepted_warm(since)]
    for moment, who, what, why in sorted(told, key=lambda one: one[0], reverse=True):
        yield Override(_when(moment, clock), _name(who), what, why)


_Told = tuple[datetime, User | None, str, str]


def _allowed_uses(since: datetime) -> Iterator[_Told]:
    moves = Movement.objects.filter(allowed_by__isnull=False, recorded_at__gte=since)
    rows = list(
        moves.select_related("allowed_by", "item", "lot", "location").order_by("-pk")[
            :MOST_OVERRIDES
        ]
    )
    measures = item_measures()
    for row in rows:
        told = {
            "qty": _amount(row, measures),
            "item": row.item.name,
            "strip": row.lot.strip,
            "place": row.location.name,
        }
        what = _("allowed %(qty)s of %(item)s, lot %(strip)s, at %(place)s") % told
        yield row.recorded_at, row.allowed_by, what, row.reason


def _amount(row: Movement, measures: Measures) -> str:
    return words.quantity(measures.in_own_unit(row.item.code, abs(row.qty)), row.item.unit)


def _accepted_warm(since: datetime) -> Iterator[_Told]:
    lines = ReceiptLine.objects.filter(override_by__isnull=False)
    rows = lines.filter(receipt__recorded_at__gte=since).select_related(
        "receipt__supplier", "item", "override_by"
    )
    for row in rows.order_by("-pk")[:MOST_OVERRIDES]:
        receipt = row.receipt
        source = receipt.supplier.name if receipt.supplier else receipt.bought_from
        what = _("accepted %(item)s from %(source)s against the caution") % {
            "item": row.item.name,
            "source": source,
        }
        yield receipt.recorded_at, row.override_by, what, row.override_reason
