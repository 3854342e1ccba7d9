"""Nothing is used, sent or sold from a lot on hold or past use-by without a manager's word."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Protocol

from inventory.models import Hold, Location, Lot, Membership, Movement
from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.services.wording import of_lot, why_held

if TYPE_CHECKING:
    from django.contrib.auth.models import User

USES = frozenset({Movement.Kind.USAGE, Movement.Kind.BATCH_INPUT, Movement.Kind.SENT})
_MAY_ALLOW = (Membership.Role.MANAGER, Membership.Role.OWNER)


@dataclass(frozen=True, slots=True)
class Permit:
    """A manager's word, with the reason, that a lot may be used all the same."""

    by: User
    reason: str


class Draw(Protocol):
    """What is about to leave a lot."""

    @property
    def kind(self) -> Movement.Kind: ...
    @property
    def lot(self) -> Lot: ...
    @property
    def location(self) -> Location: ...
    @property
    def qty(self) -> Decimal: ...
    @property
    def happened_at(self) -> datetime | None: ...
    @property
    def waste(self) -> bool: ...
    @property
    def reverses(self) -> Movement | None: ...


class Holds:
    """Holds of some lots, read once, asked for any place and moment."""

    def __init__(self, lot_ids: Iterable[int]) -> None:
        self._of_lot: dict[int, list[Hold]] = defaultdict(list)
        for hold in Hold.objects.filter(lot_id__in=set(lot_ids)).order_by("pk"):
            self._of_lot[hold.lot_id].append(hold)

    def on(self, lot_id: int, location_id: int, at: datetime) -> Hold | None:
        """A hold open at ``at``, there or everywhere."""
        for hold in self._of_lot[lot_id]:
            here = hold.location_id is None or hold.location_id == location_id
            opened = hold.opened_at is None or hold.opened_at <= at
            if here and opened and (hold.closed_at is None or hold.closed_at > at):
                return hold
        return None


def needed_permit(draws: Sequence[Draw], permit: Permit | None) -> Permit | None:
    """The permit if one was needed. Raises ``Refused`` where it was needed and not given."""
    using = [draw for draw in draws if _is_use(draw)]
    problems = list(_not_usable(using))
    if not problems:
        return None
    if permit is not None:
        problems = list(_may_not_allow(permit, {draw.location for draw in using}))
    if problems:
        raise Refused(problems)
    return permit


def _is_use(draw: Draw) -> bool:
    uses = draw.kind in USES or (draw.kind == Movement.Kind.TAKE_OUT and not draw.waste)
    return uses and draw.qty < 0 and draw.reverses is None


def _not_usable(using: list[Draw]) -> Iterator[Problem]:
    if not using:
        return
    house = business()
    holds = Holds(draw.lot.pk for draw in using)
    for draw in using:
        if draw.happened_at is None:
            continue
        if hold := holds.on(draw.lot.pk, draw.location.pk, draw.happened_at):
            yield _on_hold(draw.lot, hold)
        day = house.day_of(draw.happened_at)
        if draw.lot.use_by is not None and draw.lot.use_by < day:
            yield _past_use_by(draw.lot, draw.lot.use_by)


def _on_hold(lot: Lot, hold: Hold) -> Problem:
    return Problem(
        "on_hold",
        f"{of_lot(lot)} is on hold ({why_held(hold)}). Take another lot, or have a "
        "manager allow it and say why.",
        "lot",
        {"lot": lot.strip, "reason": hold.reason},
    )


def _past_use_by(lot: Lot, use_by: date) -> Problem:
    return Problem(
        "past_use_by",
        f"{of_lot(lot)} is past its use-by of {use_by}. Take it out as waste, or have a manager "
        "allow it and say why.",
        "lot",
        {"lot": lot.strip, "use_by": str(use_by)},
    )


def _may_not_allow(permit: Permit, locations: set[Location]) -> Iterator[Problem]:
    if not permit.reason.strip():
        yield Problem("no_reason", "Say why these lots may be used.", "reason")
    places = set(
        Membership.objects.filter(user=permit.by, role__in=_MAY_ALLOW).values_list(
            "location_id", flat=True
        )
    )
    for location in sorted(locations, key=lambda one: one.code):
        if None not in places and location.pk not in places:
            yield Problem(
                "not_a_manager",
                f"{permit.by} is not a manager of {location}; a manager there must allow it.",
                "permit",
            )
