"""The page of replays: the last answer in figures and pictures, and what is being worked out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.models import Sale, Usage
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from purchasing import words
from purchasing.models import Receipt, Replay
from purchasing.selectors.replay_answer import RECORDED, Answer, replay_answer, rule_words, span
from purchasing.selectors.work_words import SILENT, nobody_began, worker_is_gone

USUAL_DAYS = 28
FEWEST_DAYS = 3  # done, before it is said how long the others take (own choice)


@dataclass(frozen=True, slots=True)
class Rule:
    """A policy as people say it. ``picked``: ticked on the form."""

    name: str
    words: str
    picked: bool = True


@dataclass(frozen=True, slots=True)
class Working:
    """What is waiting or being worked out. ``done``, ``days``: how far it is; ``told``: the
    same in words, and whether anybody is at it."""

    number: int
    title: str
    asked: str
    told: str
    done: int
    days: int
    is_stopping: bool


@dataclass(frozen=True, slots=True)
class ReplayPage:
    """``may``: sees costs and sets pars everywhere; what is compared is the whole business."""

    may: bool
    first: str = ""
    last: str = ""
    rules: tuple[Rule, ...] = ()
    working: Working | None = None
    answer: Answer | None = None
    ended: str = ""  # how the latest one ended, where it has no answer


def may_replay(viewer: Viewer) -> bool:
    return viewer.places(Act.PARS) is None and viewer.sees_cost()


def replay_page(viewer: Viewer, now: datetime, picked: Collection[str] | None = None) -> ReplayPage:
    """Eight queries at most, however long the replay was. ``picked``: rules ticked; None: all."""
    if not may_replay(viewer):
        return ReplayPage(may=False)
    house = business()
    first, last = _usual_days(house.day_of(now))
    latest = Replay.objects.select_related("asked_by").defer("answer").order_by("-pk").first()
    answered = Replay.objects.filter(answer__isnull=False).order_by("-pk").first()
    is_answered = bool(latest and answered and latest.pk == answered.pk)
    return ReplayPage(
        may=True,
        first=first.isoformat(),
        last=last.isoformat(),
        rules=tuple(
            Rule(name, says, _is_picked(name, picked)) for name, says in rule_words().items()
        ),
        working=_working(latest, house, now) if latest and latest.ended_at is None else None,
        answer=replay_answer(answered.answer) if answered else None,
        ended=_how_it_ended(latest, house) if latest and not is_answered else "",
    )


def _is_picked(name: str, picked: Collection[str] | None) -> bool:
    """At first every rule; what really came only where something did, on record."""
    if picked is not None:
        return name in picked
    return name != RECORDED or Receipt.objects.exists()


def _usual_days(today: date) -> tuple[date, date]:
    """The last four weeks of which sales or usage are on record."""
    lasts = [model.objects.aggregate(day=Max("date"))["day"] for model in (Usage, Sale)]
    known = [day for day in lasts if day is not None]
    last = min(max(known, default=today), today - timedelta(days=1))
    return last - timedelta(days=USUAL_DAYS - 1), last


def _working(replay: Replay, house: Business, now: datetime) -> Working:
    by = replay.asked_by.get_short_name() or replay.asked_by.username if replay.asked_by else ""
    said = {"at": _hour(replay.asked_at, house), "by": by}
    return Working(
        number=replay.pk,
        title=span(replay.first, replay.last),
        asked=_("asked %(at)s by %(by)s") % said if by else _("asked %(at)s") % said,
        told=_how_far(replay, house, now),
        done=_done(replay),
        days=_days(replay),
        is_stopping=replay.stop_asked_at is not None and not _is_silent(replay, now),
    )


def _done(replay: Replay) -> int:
    return (replay.reached - replay.first).days + 1 if replay.reached else 0


def _days(replay: Replay) -> int:
    return (replay.last - replay.first).days + 1


def _how_far(replay: Replay, house: Business, now: datetime) -> str:
    """A worker is heard of between days; one that was ended leaves its claim behind."""
    if replay.claimed_until is None:
        return nobody_began(now - replay.asked_at)
    heard = replay.claimed_until - timedelta(seconds=settings.CLAIM_SECONDS)
    said = {"done": _done(replay), "days": _days(replay), "heard": _hour(heard, house)}
    if replay.claimed_until < now:
        return worker_is_gone()
    if replay.stop_asked_at is not None and now - heard <= SILENT:
        return _("It stops after the day it is at.")
    if now - heard > SILENT:
        said["until"] = _hour(replay.claimed_until, house)
        said_so = _(
            "Nothing has been heard of its worker since %(heard)s, at day %(done)d of %(days)d. If"
            " it is gone, the next one begins again after %(until)s."
        )
        return said_so % said
    if not replay.reached:
        return _("The past is being read; the first day takes longest.")
    told = _("day %(done)d of %(days)d is done") % said
    return f"{told}, {left}" if (left := _time_left(replay, heard)) else told


def _is_silent(replay: Replay, now: datetime) -> bool:
    """Then it may be stopped again: nobody may be there to hear it."""
    if replay.claimed_until is None:
        return True
    return now - replay.claimed_until + timedelta(seconds=settings.CLAIM_SECONDS) > SILENT


def _time_left(replay: Replay, heard: datetime) -> str:
    """As fast as so far; too early for a word at first."""
    done = _done(replay)
    if replay.begun_at is None or done < FEWEST_DAYS:
        return ""
    left = (heard - replay.begun_at) / done * (_days(replay) - done)
    minutes = max(1, round(left.total_seconds() / 60))
    return ngettext("about one minute more", "about %(minutes)d minutes more", minutes) % {
        "minutes": minutes
    }


def _how_it_ended(replay: Replay, house: Business) -> str:
    if replay.ended_at is None:
        return ""
    said = {"days": span(replay.first, replay.last), "at": _hour(replay.ended_at, house)}
    if replay.problem:
        return _("%(days)s could not be replayed: ") % said + replay.problem
    return _("The replay of %(days)s was stopped %(at)s.") % said


def _hour(moment: datetime, house: Business) -> str:
    local = house.clock.local(int(moment.timestamp()))
    return f"{words.day_name(local.date())} {local:%H:%M}"
