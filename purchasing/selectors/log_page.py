"""The log: who did what, when; and the week's overrides, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
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
from purchasing.selectors.log_verbs import verb_words
from purchasing.selectors.log_words import Teller

ROWS = 100
MOST_OVERRIDES = 100
WEEK_DAYS = 7


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
    """``kind`` and ``code`` of what it was done to, such as order and its number; ``thing``:
    the same in words."""

    when: str
    who: str
    device: str
    verb: str
    kind: str
    code: str
    thing: str
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
    """A fixed number of queries. Only for people who read the log of every place: an event
    knows none."""
    if not viewer.may_everywhere(Act.LOG):
        raise NotThere
    house, measures = business(), item_measures()
    clock = house.clock
    rows, problems = _filtered(events(viewer), asked, clock)
    found = list(rows.order_by("-pk")[: ROWS + 1])
    teller = Teller(found[:ROWS], measures, house.currency)
    teller = Teller(found[:ROWS], measures, house.currency)
    local = clock.local(int(now.timestamp()))
    return LogPage(
        made_at=f"{words.day_name(local.date())}, {local:%H:%M}",
        asked=asked,
        rows=tuple(_row(event, clock, teller) for event in found[:ROWS]),
        older=found[ROWS - 1].pk if len(found) > ROWS else None,
        people=tuple(_people()),
        verbs=tuple(_verbs()),
        overrides=tuple(_overrides(now, clock, measures)),
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


def _row(event: Event, clock: BusinessClock, teller: Teller) -> LogRow:
    kind, _colon, code = event.subject.partition(":")
    return LogRow(
        when=_when(event.at, clock),
        who=_name(event.by),
        device=event.device,
        verb=teller.verb(event),
        kind=kind,
        code=code,
        thing=teller.thing(event),
        changes=tuple(teller.changes(event)),
    )


def _name(user: User | None) -> str:
    return (user.get_full_name() or user.username) if user else _("the program")


def _people() -> Iterator[tuple[str, str]]:
    for user in User.objects.order_by("first_name", "username"):
        yield user.username, _name(user)


def _verbs() -> Iterator[tuple[str, str]]:
    known = Event.objects.order_by().values_list("verb", flat=True).distinct()
    return iter(sorted(((verb, verb_words(verb)) for verb in known), key=lambda pair: pair[1]))


def _overrides(now: datetime, clock: BusinessClock, measures: Measures) -> Iterator[Override]:
    """What a manager let pass in the last seven days against a caution, newest first."""
    since = now - timedelta(days=WEEK_DAYS)
    told = [*_allowed_uses(since, measures), *_accepted_warm(since)]
    for moment, who, what, why in sorted(told, key=lambda one: one[0], reverse=True):
        yield Override(_when(moment, clock), _name(who), what, why)


_Told = tuple[datetime, User | None, str, str]


def _allowed_uses(since: datetime, measures: Measures) -> Iterator[_Told]:
    moves = Movement.objects.filter(allowed_by__isnull=False, recorded_at__gte=since)
    rows = list(
        moves.select_related("allowed_by", "item", "lot", "location").order_by("-pk")[
            :MOST_OVERRIDES
        ]
    )
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
