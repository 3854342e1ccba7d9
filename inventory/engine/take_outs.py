"""Why something is taken out without being sold (common practice, no source)."""

from __future__ import annotations

from enum import StrEnum


class Why(StrEnum):
    """Thrown away: always allowed. Eaten or given away: only of a lot that may be used."""

    PAST_USE_BY = "past use-by"
    SPOILED = "spoiled"
    DROPPED = "dropped or spilled"
    COOKED_WRONG = "burnt or made wrong"
    LEFT_OVER = "left over, may not be kept"
    TOO_MUCH = "more than could be used"
    HELD = "recalled or held"
    STAFF_MEAL = "staff meal"
    TASTING = "tasting"
    GUEST = "on the house"
    DONATION = "donation"

    @property
    def is_waste(self) -> bool:
        return self not in _EATEN


_EATEN = frozenset({Why.STAFF_MEAL, Why.TASTING, Why.GUEST, Why.DONATION})
