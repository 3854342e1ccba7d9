"""The top of every page: the day as a ruler, with the next three deadlines on it in words."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from inventory.selectors.business import business
from inventory.web.viewing import now, viewer_for
from purchasing import words
from purchasing.models import PurchaseOrder
from purchasing.selectors.deadlines import order_moments, working_day

MOST = 3
# Hours that carry their figure on the ruler.
WORDED = 3


@dataclass(frozen=True, slots=True)
class Tick:
    x: str
    length: int
    word: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """Places along the line in per cent, as texts; ``now`` None: the day is over."""

    ticks: tuple[Tick, ...]
    marks: tuple[str, ...]
    now: str | None
    words: str


@dataclass(frozen=True, slots=True)
class Deadline:
    what: str
    when: str
    address: str


@dataclass(frozen=True, slots=True)
class Frame:
    business: str
    today: str
    name: str
    device: str
    ruler: Ruler
    deadlines: tuple[Deadline, ...]


def frame(request: HttpRequest) -> dict[str, Any]:
    """A context processor; nothing is read unless the template shows it."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"frame": None}
    return {"frame": SimpleLazyObject(lambda: _frame(request))}


def _frame(request: HttpRequest) -> Frame:
    viewer, moment, house = viewer_for(request), now(), business()
    clock = house.clock
    local = clock.local(int(moment.timestamp()))
    orders = order_moments(viewer, moment, MOST)
    cutoffs = [clock.local(int(order.order_by.timestamp())) for order in orders if order.order_by]
    twice = Counter(order.supplier_id for order in orders)
    deadlines = tuple(
        Deadline(
            what=_what(order, twice[order.supplier_id] > 1),
            when=_when(local, cutoff),
            address=reverse("order", args=[order.number]),
        )
        for order, cutoff in zip(orders, cutoffs, strict=True)
    )
    first, last = working_day(local.date())
    return Frame(
        business=house.business_name or _("The kitchen"),
        today=f"{words.day_name(local.date())}, {local:%H:%M}",
        name=viewer.name,
        device=viewer.device,
        ruler=ruler(local, first, last, cutoffs),
        deadlines=deadlines,
    )


def _what(order: PurchaseOrder, several: bool) -> str:
    """With the place where one supplier brings to several."""
    said = {"supplier": order.supplier.name, "place": order.location.name}
    return (
        _("order from %(supplier)s for %(place)s") if several else _("order from %(supplier)s")
    ) % said


def _when(local: datetime, then: datetime) -> str:
    """Short, since it stands on every page: how long today, or which day and hour."""
    if then.date() == local.date():
        return words.moment(local, then)
    return f"{then:%a %H:%M}"


def ruler(local: datetime, first: time, last: time, moments: list[datetime]) -> Ruler:
    """The working day of ``local`` from ``first`` to ``last``; what lies outside is left off."""
    start, end = first.hour, min(24, last.hour + (1 if last.minute else 0))
    hours = range(start, max(end, start + 1) + 1)

    midnight = datetime.combine(local.date(), time())

    def along(moment: datetime) -> float:
        hour = (moment - midnight).total_seconds() / 3600
        return (hour - hours[0]) / (hours[-1] - hours[0])

    def place(share: float) -> str:
        return f"{2 + 96 * share:.2f}"

    ticks = tuple(
        Tick(
            x=place((hour - hours[0]) / (hours[-1] - hours[0])),
            length=17 if hour % WORDED == 0 else 15,
            word=f"{hour % 24}" if hour % WORDED == 0 else "",
        )
        for hour in hours
    )
    marks = tuple(place(share) for share in map(along, moments) if 0 <= share <= 1)
    here = along(local)
    told = _("The day from %(first)d to %(last)d; now %(now)s; orders due %(due)s.") % {
        "first": hours[0],
        "last": hours[-1],
        "now": f"{local:%H:%M}",
        "due": ", ".join(f"{moment:%H:%M}" for moment in moments) or _("none"),
    }
    return Ruler(ticks, marks, place(here) if 0 <= here <= 1 else None, told)
