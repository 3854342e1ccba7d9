"""A replay from the data to its answer. Nothing is stored, nothing is locked."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from inventory.problems import Problem, Refused
from inventory.selectors.snapshot import one_snapshot
from purchasing.engine.policies import POLICIES, Policy
from purchasing.engine.replay import PolicyReplay, replay
from purchasing.engine.replay_inputs import ReplayInputs
from purchasing.selectors.replay_document import (
    DAILY,
    ORDERS,
    Document,
    daily_rows,
    order_rows,
    replay_document,
)
from purchasing.selectors.replay_inputs import replay_inputs
from purchasing.services.reorder import DEFAULT_SEED, Scope, check_scope


@dataclass(frozen=True, slots=True)
class Asked:
    """The days, both included. No policy named: all that have something to say."""

    first: date
    last: date
    policies: tuple[str, ...] = ()
    location: str | None = None
    seed: int = DEFAULT_SEED


@dataclass(frozen=True, slots=True)
class Replayed:
    document: Document
    done: tuple[PolicyReplay, ...]

    def write_daily(self, folder: Path) -> None:
        """``daily.csv`` and ``orders.csv``; the folder is made if missing."""
        folder.mkdir(parents=True, exist_ok=True)
        _write(folder / "daily.csv", DAILY, daily_rows(self.done))
        _write(folder / "orders.csv", ORDERS, order_rows(self.done))


def replay_days(asked: Asked, told: Callable[[date], None] = lambda day: None) -> Replayed:
    """Raises ``Refused`` for days, policies or places that cannot be replayed. ``told`` hears
    of each day done."""
    check_policies(asked.policies)
    check_scope(Scope(asked.location))
    with one_snapshot():
        gathered = replay_inputs(asked.first, asked.last)
    given = gathered.given
    policies = _policies(asked.policies, given)
    done = replay(given, policies, seed=asked.seed, location=asked.location, told=told)
    document = replay_document(
        given,
        done,
        seed=asked.seed,
        currency=gathered.house.currency,
        lines=sum(asked.location in (None, line.location) for line in given.lines),
        measures=gathered.measures,
    )
    return Replayed(document, done)


def check_policies(names: Iterable[str]) -> None:
    """Raises ``Refused`` with every name that is none."""
    known = ", ".join(POLICIES)
    problems = [
        Problem("unknown_policy", f"There is no policy '{name}'. Use some of: {known}.", "policy")
        for name in names
        if name not in POLICIES
    ]
    if problems:
        raise Refused(problems)


def _policies(names: Sequence[str], given: ReplayInputs) -> list[Policy]:
    """In the order asked for, each once. Unasked, what was recorded is left out where nothing
    was."""
    if names:
        return [POLICIES[name] for name in dict.fromkeys(names)]
    return [one for one in POLICIES.values() if given.recorded or not one.recorded]


def _write(path: Path, header: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
