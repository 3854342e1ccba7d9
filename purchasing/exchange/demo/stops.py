"""Where the trucks were and will be: an ordinary week, what disturbs it, what is booked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from purchasing.exchange.demo.dishes import MARKET
from purchasing.exchange.demo.table import Row, table, yes

PAST_DAYS = 120
COMING_DAYS = 21
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

_WEEK = table(
    f"""
    day | location | opens | closes | site | covers | site_fee | site_fee_pct | crew_hours
    mon | PLEAT | 11:00 | 14:00 | Cooper Yard | 74 | 40.00 | | 10
    mon | HEARTH | 11:00 | 14:00 | Station Steps | 62 | 55.00 | | 10
    tue | PLEAT | 11:00 | 14:00 | Foundry Green | 68 | | | 10
    tue | LADLE | 11:00 | 14:00 | Cooper Yard | 70 | 40.00 | | 10
    tue | BASKET | 11:30 | 14:30 | Infirmary Gate | 64 | | 5 | 10
    wed | LADLE | 11:00 | 14:00 | College Row | 72 | | | 10
    wed | HEARTH | 11:00 | 14:00 | Cooper Yard | 76 | 40.00 | | 10
    wed | GRIDDLE | 10:30 | 14:00 | Foundry Green | 55 | | | 11
    thu | PLEAT | 11:30 | 14:30 | Infirmary Gate | 70 | | 5 | 10
    thu | LADLE | 11:00 | 14:00 | Station Steps | 66 | 55.00 | | 10
    thu | BASKET | 11:00 | 14:00 | Cooper Yard | 78 | 40.00 | | 10
    thu | GRIDDLE | 11:00 | 14:00 | College Row | 58 | | | 10
    fri | PLEAT | 11:00 | 14:00 | Cooper Yard | 84 | 40.00 | | 10
    fri | HEARTH | 11:00 | 14:00 | Foundry Green | 72 | | | 10
    fri | BASKET | 11:00 | 14:00 | College Row | 70 | | | 10
    fri | PLEAT | 17:30 | 21:00 | Canal Basin | 96 | | 10 | 12
    fri | GRIDDLE | 17:00 | 21:00 | Canal Basin | 82 | | 10 | 13
    sat | PLEAT | 10:00 | 15:00 | {MARKET} | 135 | | 12 | 21
    sat | HEARTH | 10:00 | 15:00 | {MARKET} | 118 | | 12 | 21
    sat | LADLE | 11:00 | 16:00 | Weir Bridge | 92 | 60.00 | | 16
    sat | GRIDDLE | 10:00 | 14:00 | Library Lawn | 88 | 30.00 | | 14
    sat | BASKET | 12:00 | 17:00 | Athletic Ground | 150 | 120.00 | | 21
    sun | GRIDDLE | 09:30 | 13:30 | Library Lawn | 86 | 30.00 | | 14
    sun | LADLE | 11:00 | 15:00 | Weir Bridge | 72 | 60.00 | | 14
    """
)

HOME_MATCH, NIGHT_MARKET, FAIR = "home match", "night market", "river fair"
EVENT_FACTOR = {"": 1.0, HOME_MATCH: 1.0, NIGHT_MARKET: 1.55, FAIR: 1.9}


@dataclass(frozen=True, slots=True)
class Service:
    """One stop. ``covers`` is what an ordinary one brings, ``typed`` what somebody said."""

    day: date
    plan: Row
    covers: float
    event: str = ""
    typed: str = ""
    guaranteed: str = ""
    cancelled: bool = False

    @property
    def location(self) -> str:
        return self.plan["location"]

    @property
    def site(self) -> str:
        return self.plan["site"]


def services(today: date) -> list[Service]:
    """Stops of the past 120 days and the next three weeks."""
    first, end = today - timedelta(days=PAST_DAYS), today + timedelta(days=COMING_DAYS)
    days = (first + timedelta(days=n) for n in range((end - first).days))
    fairs = fair_days(today)
    found = [service for day in days for service in _of_day(day, fairs)]
    dropped = _called_off(found, today), _called_off(found, today - timedelta(days=40))
    return [replace(one, cancelled=one in dropped) for one in found]


def fair_days(today: date) -> tuple[date, date]:
    """Saturdays of the river fair: one behind, one ahead."""
    ahead = _next(today + timedelta(days=7), "sat")
    return ahead - timedelta(days=70), ahead


def _called_off(found: list[Service], after: date) -> Service:
    """A stop for which college or infirmary closes its gate, from two days ahead on."""
    gated = {"College Row", "Infirmary Gate"}
    return next(one for one in found if one.day >= after + timedelta(days=2) and one.site in gated)


def _next(day: date, weekday: str) -> date:
    return day + timedelta(days=(WEEKDAYS.index(weekday) - day.weekday()) % 7)


def _of_day(day: date, fairs: tuple[date, date]) -> Iterator[Service]:
    for plan in _WEEK:
        if plan["day"] != WEEKDAYS[day.weekday()]:
            continue
        event = _event(day, plan["site"], fairs)
        if plan["site"] == "Athletic Ground" and event != HOME_MATCH:
            continue
        covers = float(plan["covers"])
        yield Service(day, plan, covers, event, *_said(covers, event))


def _event(day: date, site: str, fairs: tuple[date, date]) -> str:
    if site == "Athletic Ground" and (day.toordinal() // 7) % 2 == 0:
        return HOME_MATCH
    if site == "Canal Basin" and day.day <= 7:
        return NIGHT_MARKET
    if site == MARKET and day in fairs:
        return FAIR
    return ""


def _said(covers: float, event: str) -> tuple[str, str]:
    """Covers are typed for events only; a fair guarantees a part of them."""
    if not event:
        return "", ""
    expected = round(covers * EVENT_FACTOR[event], -1)
    return f"{expected:.0f}", f"{expected / 2:.0f}" if event == FAIR else ""


def stop_rows(found: list[Service]) -> list[Row]:
    return [
        {
            "location": one.location,
            "date": str(one.day),
            "opens": one.plan["opens"],
            "closes": one.plan["closes"],
            "site": one.site,
            "event": one.event,
            "expected_covers": one.typed,
            "guaranteed_covers": one.guaranteed,
            "cancelled": yes(one.cancelled),
            "site_fee": one.plan["site_fee"],
            "site_fee_pct": one.plan["site_fee_pct"],
            "crew_hours": one.plan["crew_hours"],
        }
        for one in found
    ]


_BOOKED = table(
    """
    location | day | ahead | item | qty | status | customer | price
    HEARTH | thu | 2 | FLATBREAD-BEEF | 45 | confirmed | Varley and Holm, surveyors | 10.00
    HEARTH | thu | 2 | FLATBREAD-SPINACH | 40 | confirmed | Varley and Holm, surveyors | 9.50
    HEARTH | thu | 2 | FLATBREAD-POTATO | 25 | confirmed | Varley and Holm, surveyors | 9.00
    HEARTH | thu | 2 | SALAD-SLAW | 60 | confirmed | Varley and Holm, surveyors | 5.00
    MILL | fri | 1 | PORK-DUMPLING | 240 | confirmed | Tallowmere bowls club | 0.95
    MILL | fri | 1 | DIP-SAUCE | 3 | confirmed | Tallowmere bowls club | 14.00
    PLEAT | sun | 8 | DUMPLINGS-PORK | 90 | enquiry | Oda and Piet, wedding | 10.50
    PLEAT | sun | 8 | DUMPLINGS-MUSHROOM | 60 | enquiry | Oda and Piet, wedding | 10.00
    """
)
_BOOKED_UNIT = {"DIP-SAUCE": "qt"}
_DEPOSIT = 0.3


def booking_rows(today: date) -> list[Row]:
    """A caterer's lunch on a day on which its truck has no stop, a tray to be fetched from
    the commissary, and a wedding that has only been asked about."""
    return [_booking(row, today) for row in _BOOKED]


def _booking(row: Row, today: date) -> Row:
    day = _next(today + timedelta(days=int(row["ahead"])), row["day"])
    due = float(row["qty"]) * float(row["price"]) * _DEPOSIT
    confirmed = row["status"] == "confirmed"
    return {
        "location": row["location"],
        "date": str(day),
        "item": row["item"],
        "qty": row["qty"],
        "unit": _BOOKED_UNIT.get(row["item"], "each"),
        "status": row["status"],
        "customer": row["customer"],
        "final_by": str(day - timedelta(days=2)),
        "price": row["price"],
        "deposit": f"{due:.2f}" if confirmed else "",
    }
