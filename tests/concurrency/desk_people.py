"""What two people at the desk do at the same time, added to the acts of ``people``."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from tests.concurrency.people import ACTS, Json, main

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def two_managers() -> Json:
    """Two people who manage everything, and nobody else; user and membership of each."""
    from tests import factories as make

    users = [make.manager() for _ in range(2)]
    return [[user.pk, user.memberships.get().pk] for user in users]


def end_part_of(user: int, part: int) -> Json:
    """``user`` ends somebody's membership."""
    from django.contrib.auth.models import User

    from inventory.selectors.viewers import viewer_of
    from inventory.services.people import end_part

    by = User.objects.get(pk=user)
    return _tried(lambda: end_part(part, viewer=viewer_of(by), by=by, at=datetime.now(UTC)))


def managers() -> Json:
    from inventory.models import Membership

    return Membership.objects.filter(role="manager", user__is_active=True).count()


def item_form() -> Json:
    """An item and what its form was filled with."""
    from inventory.selectors.item_facts import digest_of, item_facts
    from tests import factories as make

    return digest_of(item_facts(make.item(code="LEEK", name="Leeks", unit="kg")))


def change_the_item(as_read: str, days: str) -> Json:
    from inventory.selectors.viewers import viewer_of
    from purchasing.services.items import TypedItem, change_item

    facts = {"name": "Leeks", "kind": "ingredient", "unit": "kg", "shelf_life_days": days}
    who = _somebody()
    return _tried(
        lambda: change_item(
            "LEEK",
            TypedItem(facts, ()),
            as_read=as_read,
            viewer=viewer_of(who),
            by=who,
            at=datetime.now(UTC),
        )
    )


def set_the_par(par: str) -> Json:
    """On a form that was opened before there was any par."""
    from inventory.selectors.item_facts import digest_of

    return _set(par, digest_of({}))


def _set(par: str, as_read: str) -> Json:
    from inventory.models import Item, Location
    from inventory.selectors.viewers import viewer_of
    from purchasing.services.pars import DAYS, TypedPars, set_pars

    names = ("par", "unit", "basis", "service_level")
    rows = [dict.fromkeys(names, "") for _ in DAYS]
    rows[0] |= {"par": par, "basis": "fixed"}
    place, item, who = Location.objects.get(), Item.objects.get(), _somebody()
    return _tried(
        lambda: set_pars(
            place.code,
            item.code,
            TypedPars(rows),
            as_read=as_read,
            viewer=viewer_of(who),
            by=who,
            at=datetime.now(UTC),
        )
    )


def a_par_that_was_changed() -> Json:
    """From 5 to 6; what its form was filled with after that."""
    from inventory.selectors.item_facts import digest_of
    from purchasing.selectors.par_facts import par_facts

    place, item = place_and_item()
    set_the_par("5")
    _set("6", digest_of(par_facts(place, item)))
    return digest_of(par_facts(place, item))


def put_the_par_back(as_read: str) -> Json:
    from inventory.models import Item, Location
    from inventory.selectors.viewers import viewer_of
    from purchasing.services.par_undo import put_back

    who, at = _somebody(), datetime.now(UTC)
    place, item = Location.objects.get().code, Item.objects.get().code
    return _tried(
        lambda: put_back(place, item, as_read=as_read, viewer=viewer_of(who), by=who, at=at)
    )


def the_par() -> Json:
    from purchasing.models import Par

    return int(Par.objects.get().par or 0)


def a_day_that_was_sold() -> Json:
    from datetime import date

    from inventory.models import Usage
    from tests import factories as make

    day = date(2026, 3, 2)
    place, item = make.location(), make.item()
    Usage.objects.create(location=place, item=item, date=day, qty=4, unit="kg")
    return day.isoformat()


def ask_for_a_replay(day: str) -> Json:
    from datetime import date

    from purchasing.services.replay import Asked
    from purchasing.services.replays import ask_replay

    asked = Asked(date.fromisoformat(day), date.fromisoformat(day), ("mean",))
    return _tried(lambda: ask_replay(asked, by=_somebody(), at=datetime.now(UTC)))


def replays() -> Json:
    from purchasing.models import Replay

    return Replay.objects.count()


def place_and_item() -> Json:
    from tests import factories as make

    return [make.location().pk, make.item().pk]


def _somebody() -> User:
    """A manager of this process alone: the names of factories are counted in each."""
    from django.contrib.auth.models import User

    from tests import factories as make

    name = f"process{os.getpid()}"
    if known := User.objects.filter(username=name).first():
        return known
    user = make.user(username=name)
    user.memberships.create(role="manager")
    return user


def _tried(act: Callable[[], object]) -> Json:
    """Empty when done, else the code of the first refusal."""
    from inventory.problems import NotThere, Refused

    try:
        act()
    except NotThere:
        return "not_there"
    except Refused as refused:
        return refused.problems[0].code
    return ""


if __name__ == "__main__":
    for one in (
        two_managers,
        end_part_of,
        managers,
        item_form,
        change_the_item,
        place_and_item,
        set_the_par,
        a_par_that_was_changed,
        put_the_par_back,
        the_par,
        a_day_that_was_sold,
        ask_for_a_replay,
        replays,
    ):
        ACTS[one.__name__] = one
    main()
