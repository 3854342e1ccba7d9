"""Replays asked for on a page: kept in a table, worked out by the tick, stopped by a press."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet

from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.turns import one_at_a_time
from purchasing.models import Replay
from purchasing.selectors.replay_document import missed_early, night_values
from purchasing.selectors.replay_inputs import check_days
from purchasing.services.replay import Asked, check_policies, replay_days

if TYPE_CHECKING:
    from django.contrib.auth.models import User

LONGEST_DAYS = 366
FAILED = "the program failed at them; the worker's log says how."
KEPT = 10  # replays that ended; older ones are forgotten
SECONDS_BETWEEN = 10  # how often the table hears how far it is, and other work is looked for

Clock = Callable[[], datetime]


class _GivenUp(Exception):
    """Somebody stopped it, or the lease ran out and another worker has it."""


class HandedBack(Exception):
    """The worker is asked to end, or failed at something else between two days."""


@one_act
def ask_replay(asked: Asked, *, by: User | None, at: datetime) -> Replay:
    """The next tick works it out. Raises ``Refused`` for days or policies that cannot be
    replayed, and while another replay is waiting or being worked out."""
    one_at_a_time("replay")
    if problems := replay_problems(asked, at):
        raise Refused(problems)
    made = Replay.objects.create(
        first=asked.first,
        last=asked.last,
        policies=list(asked.policies),
        seed=asked.seed,
        asked_at=at,
        asked_by=by,
    )
    note("asked", f"replay:{made.pk}", by=by, at=at)
    return made


def replay_problems(asked: Asked, at: datetime) -> list[Problem]:
    """Everything that stands against it now, at once."""
    problems = [
        *_refused(lambda: check_policies(asked.policies)),
        *_refused(lambda: check_days(asked.first, asked.last)),
    ]
    if (days := (asked.last - asked.first).days + 1) > LONGEST_DAYS:
        message = f"{days} days are asked for; at most {LONGEST_DAYS} are replayed at once."
        problems.append(Problem("too_many_days", message, "first"))
    if asked.last >= (today := business().day_of(at)):
        message = f"{asked.last} is not over yet. End with {today - timedelta(days=1)} or before."
        problems.append(Problem("not_over", message, "last"))
    if waiting().exists():
        message = "A replay is being worked out. Stop it, or wait until it is done."
        problems.append(Problem("replay_waiting", message))
    return problems


def _refused(check: Callable[[], object]) -> Iterator[Problem]:
    """The command says ``from`` where the form says ``first``."""
    try:
        check()
    except Refused as refused:
        for one in refused.problems:
            yield replace(one, field="first") if one.field == "from" else one


@one_act
def stop_replay(pk: int, *, by: User | None, at: datetime) -> None:
    """One that nobody works on ends at once, another after the day it is at."""
    if waiting().filter(pk=pk, stop_asked_at__isnull=True).update(stop_asked_at=at):
        note("stopped", f"replay:{pk}", by=by, at=at)
    _free(at).filter(pk=pk).update(ended_at=at)


def waiting() -> QuerySet[Replay]:
    """Asked for and not ended."""
    return Replay.objects.filter(ended_at__isnull=True)


def _free(at: datetime) -> QuerySet[Replay]:
    """Those that nobody works on; a lost worker's lease runs out."""
    return waiting().filter(Q(claimed_until__isnull=True) | Q(claimed_until__lt=at))


def replay_if_asked(
    *,
    clock: Clock,
    meanwhile: Callable[[], object],
    is_ending: Callable[[], bool] = lambda: False,
) -> bool:
    """Work out the replay that waits, if one does. It takes minutes, so ``meanwhile`` is called
    between days: whatever else is due must not wait for it. ``is_ending``: the worker is asked
    to end, and hands the replay back after the day it is at."""
    at = clock()
    _free(at).filter(stop_asked_at__isnull=False).update(ended_at=at)
    claim, until = str(uuid.uuid4()), at + timedelta(seconds=settings.CLAIM_SECONDS)
    begun = {"claimed_by": claim, "claimed_until": until, "begun_at": at, "reached": None}
    if not _free(at).update(**begun):
        return False
    mine = waiting().get(claimed_by=claim)
    asked = Asked(mine.first, mine.last, tuple(mine.policies), None, mine.seed)
    between = _Between(claim, clock, meanwhile, is_ending, at)
    try:
        done = replay_days(asked, between.day_done)
    except Refused as refused:
        _end(claim, clock(), problem=" ".join(one.message for one in refused.problems)[:500])
    except _GivenUp:
        waiting().filter(claimed_by=claim, stop_asked_at__isnull=False).update(ended_at=clock())
    except HandedBack as back:
        _hand_back(claim, clock())
        if back.__cause__ is not None:
            raise
    except Exception:
        _end(claim, clock(), problem=FAILED)  # and not again and again
        raise
    except BaseException:
        _hand_back(claim, clock())
        raise
    else:
        more = {"nights": night_values(done.done), "before": missed_early(done.done)}
        _end(claim, clock(), answer={**done.document, **more})
    return True


def _hand_back(claim: str, at: datetime) -> None:
    """To the next worker, which begins with the first day."""
    mine = waiting().filter(claimed_by=claim)
    mine.filter(stop_asked_at__isnull=False).update(ended_at=at)
    mine.update(claimed_by="", claimed_until=None, begun_at=None, reached=None)


class _Between:
    """What is done between days: how far it is, whether to go on, and what else is due."""

    def __init__(
        self,
        claim: str,
        clock: Clock,
        meanwhile: Callable[[], object],
        is_ending: Callable[[], bool],
        at: datetime,
    ) -> None:
        self._claim, self._clock, self._meanwhile = claim, clock, meanwhile
        self._is_ending, self._looked = is_ending, at

    def day_done(self, day: date) -> None:
        if self._is_ending():
            raise HandedBack
        at = self._clock()
        if at - self._looked < timedelta(seconds=SECONDS_BETWEEN):
            return
        self._looked = at
        until = at + timedelta(seconds=settings.CLAIM_SECONDS)
        going = waiting().filter(claimed_by=self._claim, stop_asked_at__isnull=True)
        if not going.update(reached=day, claimed_until=until):
            raise _GivenUp
        try:
            self._meanwhile()
        except Exception as failure:
            raise HandedBack from failure


@transaction.atomic(durable=True)
def _end(claim: str, at: datetime, **what: object) -> None:
    """Nothing is written where another worker has it by now."""
    waiting().filter(claimed_by=claim).update(ended_at=at, **what)
    kept = Replay.objects.order_by("-pk").values_list("pk", flat=True)[:KEPT]
    Replay.objects.filter(ended_at__isnull=False).exclude(pk__in=list(kept)).delete()
