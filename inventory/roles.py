"""Who may do what, where, and up to how much. Pure; the tables are in ``models/people.py``.

The roles' acts are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Act(StrEnum):
    """What somebody may do; pages, services and the API ask for one of these."""

    SEE = "see"  # whatever a place's people read
    DRAFT = "draft"  # change drafts: cases, lines, skip a delivery
    APPROVE = "approve"
    SEND = "send"  # send an approved order, note the supplier's answer
    RECEIVE = "receive"  # take in a delivery, buy at the counter
    ALLOW = "allow"  # a manager's word against a caution
    CHANGE_LOT = "change_lot"  # open, thaw, freeze, portion, print a label
    MOVE = "move"  # load, return, hand over
    TAKE_OUT = "take_out"
    HOLD = "hold"
    RELEASE = "release"
    ITEMS = "items"
    SUPPLIERS = "suppliers"  # order guides: offers, prices, calendars
    PARS = "pars"
    WORKBOOK = "workbook"
    PEOPLE = "people"
    LOG = "log"
    TOKENS = "tokens"  # by which programs ask in a person's name


_FLOOR = {Act.SEE, Act.RECEIVE, Act.CHANGE_LOT, Act.MOVE, Act.TAKE_OUT, Act.HOLD}
_BUYING = {Act.DRAFT, Act.APPROVE, Act.SEND, Act.SUPPLIERS, Act.PARS, Act.ITEMS}

ACTS_OF: dict[str, frozenset[Act]] = {
    "buyer": frozenset({Act.SEE, Act.RECEIVE, Act.HOLD} | _BUYING),
    "staff": frozenset(_FLOOR),
    "prep_lead": frozenset(_FLOOR),
    "truck_lead": frozenset({Act.SEE, Act.MOVE, Act.TAKE_OUT, Act.HOLD}),
    "manager": frozenset(set(Act) - {Act.TOKENS}),
    "owner": frozenset(Act),
}


@dataclass(frozen=True, slots=True)
class Grant:
    """One membership. ``location_id`` None: everywhere; ``approve_up_to`` None: no limit."""

    role: str
    location_id: int | None = None
    approve_up_to: Decimal | None = None
    sees_cost: bool = False

    def covers(self, act: Act, location_id: int | None) -> bool:
        """``location_id`` None asks for the act at any place at all."""
        there = None in (self.location_id, location_id) or self.location_id == location_id
        return there and act in ACTS_OF[self.role]


@dataclass(frozen=True, slots=True)
class Viewer:
    """A signed-in person, perhaps at a shared device that serves one place only."""

    user_id: int
    name: str
    grants: tuple[Grant, ...] = ()
    device: str = ""
    device_location_id: int | None = None

    def may(self, act: Act, location_id: int | None = None) -> bool:
        """``location_id`` None: at some place at least."""
        if self._is_elsewhere(location_id):
            return False
        asked = location_id if self.device_location_id is None else self.device_location_id
        return any(grant.covers(act, asked) for grant in self.grants)

    def may_everywhere(self, act: Act) -> bool:
        return self.places(act) is None

    def places(self, act: Act = Act.SEE) -> frozenset[int] | None:
        """Ids of the locations at which the act is allowed; None: every location."""
        able = [grant.location_id for grant in self.grants if act in ACTS_OF[grant.role]]
        narrowed = self.device_location_id
        if narrowed is not None:
            return frozenset({narrowed} if {None, narrowed} & set(able) else ())
        if None in able:
            return None
        return frozenset(place for place in able if place is not None)

    def may_approve(self, value: Decimal, location_id: int) -> bool:
        """Whether the widest limit this person has there covers ``value``."""
        if self._is_elsewhere(location_id):
            return False
        return any(
            grant.approve_up_to is None or value <= grant.approve_up_to
            for grant in self.grants
            if grant.covers(Act.APPROVE, location_id)
        )

    def approve_up_to(self, location_id: int) -> Decimal | None:
        """The widest limit at a place; None: no limit. Meaningless without ``Act.APPROVE``."""
        limits = [g.approve_up_to for g in self.grants if g.covers(Act.APPROVE, location_id)]
        return None if None in limits else max(_known(limits), default=Decimal(0))

    def sees_cost(self, location_id: int | None = None) -> bool:
        if self._is_elsewhere(location_id):
            return False
        return any(grant.sees_cost and grant.covers(Act.SEE, location_id) for grant in self.grants)

    def _is_elsewhere(self, location_id: int | None) -> bool:
        own = self.device_location_id
        return own is not None and location_id is not None and own != location_id


def _known(limits: Iterable[Decimal | None]) -> list[Decimal]:
    return [limit for limit in limits if limit is not None]
