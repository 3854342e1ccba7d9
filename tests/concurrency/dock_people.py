"""What two docks do at the same time, added to the acts of ``people``."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from tests.concurrency.people import ACTS, Json, main


def delivery(lines: int) -> Json:
    """A sent order of 5 cases of some items, and somebody who may receive; its number."""
    from inventory.models import Membership
    from tests import factories as make
    from tests.purchasing.services.dock_scenes import dry, ordered

    make.member(Membership.Role.STAFF)
    return ordered(*[dry() for _ in range(lines)]).number


def take_all(number: str) -> Json:
    """Take everything in as ordered; whether it was taken, and the first refusal."""
    from inventory.problems import Refused
    from purchasing.services.receiving import receive

    order, hand = _seen(number)
    try:
        receive(number, order, happened_at=hand.at, hand=hand)
    except Refused as refusal:
        return {"done": 0, "code": refusal.problems[0].code}
    return {"done": 1, "code": ""}


def take_under_key(number: str, key: str) -> Json:
    """The same request, as a phone that did not hear the answer sends it again."""
    from inventory.services.acts import Asked, once
    from purchasing.services.receiving import receive

    order, hand = _seen(number)
    asked = Asked(key, f"receive:{number}", {"all": "as ordered"}, hand.by)
    answer = once(
        asked,
        at=hand.at,
        act=lambda: {"receipt": receive(number, order, happened_at=hand.at, hand=hand).pk},
    )
    return answer["receipt"]


def receipts() -> Json:
    from purchasing.models import Receipt

    return Receipt.objects.count()


def _seen(number: str) -> tuple[Any, Any]:
    from django.contrib.auth.models import User

    from purchasing.models import PurchaseOrder
    from tests.purchasing.services.dock_scenes import delivery_of, hand

    order = PurchaseOrder.objects.get(number=number)
    if number not in _LOOKED_AT:
        _LOOKED_AT[number] = delivery_of(order)
    return _LOOKED_AT[number], hand(User.objects.get(), datetime.now(UTC))


# What the page showed when it was opened.
_LOOKED_AT: dict[str, Any] = {}


def look_at_delivery(number: str) -> Json:
    return len(_seen(number)[0].lines)


if __name__ == "__main__":
    for act in (delivery, take_all, take_under_key, receipts, look_at_delivery):
        ACTS[act.__name__] = act
    main()
