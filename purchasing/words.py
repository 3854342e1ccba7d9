"""Figures, deadlines and reasons as people say them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

NOTHING = Decimal("0.0005")
# A chance of running out below this is not worth a word (own choice).
WORTH_SAYING = Decimal("0.05")


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why a line is as it is: the keys of rules.md, quantities in the item's unit."""

    said: Mapping[str, Any]

    def amount(self, key: str) -> Decimal:
        value = self.said.get(key)
        return Decimal(0) if value in (None, "") else Decimal(str(value))

    def word(self, key: str) -> str:
        return str(self.said.get(key) or "")

    def days(self, key: str) -> list[date]:
        return [date.fromisoformat(str(day)) for day in self.said.get(key) or ()]

    @property
    def there_at_delivery(self) -> Decimal:
        """What is left when the delivery comes: target = have + raw need, by definition."""
        return self.amount("target") - self.amount("raw_need")


def figure(value: Decimal) -> str:
    """As exact as one would say it: 0.35, 4.2, 41, 1,305."""
    size = value.copy_abs()
    if size < NOTHING:
        return "0"
    text = f"{value:,.{2 if size < 1 else 1 if size < 10 else 0}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def quantity(value: Decimal, unit: str) -> str:
    """Pieces are whole."""
    return f"{value:,.0f}" if unit == "each" else f"{figure(value)} {unit}"


def exactly(value: Decimal, unit: str) -> str:
    """A pack as it is written on the order: nothing rounded, no empty decimals."""
    text = f"{value:,f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text if unit == "each" else f"{text} {unit}"


def money(value: Decimal) -> str:
    return f"{value:,.2f}"


def day_name(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def in_time(now: datetime, then: datetime) -> str:
    """``in 3 h 40``, ``in 2 days 5 h``, ``50 min ago``."""
    minutes = round((then - now).total_seconds() / 60)
    if minutes < 0:
        return f"{_span(-minutes)} ago"
    return f"in {_span(minutes)}"


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    if hours < 24:
        return f"{hours} h {rest:02}"
    days, hours = divmod(hours, 24)
    return f"{days} day{'s' if days > 1 else ''} {hours} h"


def moment(now: datetime, then: datetime) -> str:
    """The hour, the day where it is another one, and how long until then."""
    day = "" if then.date() == now.date() else f"{day_name(then.date())} "
    return f"{day}{then:%H:%M}, {in_time(now, then)}"


def days_left(days: int) -> str:
    if days > 1:
        return f"{days} days left"
    words = {1: "until tomorrow", 0: "today only", -1: "ended yesterday"}
    return words.get(days, f"ended {-days} days ago")


def ordinal(count: int) -> str:
    ending = {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count}{'th' if 10 <= count % 100 <= 20 else ending}"


def chance(share: Decimal) -> str:
    """In tenths, as one would bet."""
    tenths = int((share * 10).to_integral_value())
    ends = {0: "hardly a chance", 10: "all but certain"}
    return ends.get(tenths, f"{tenths} chance{'s' if tenths > 1 else ''} in 10")


def decision(word: str, minimum: Decimal | None, next_delivery: date) -> str:
    """What was decided about the supplier's minimum."""
    least = f"the minimum of {money(minimum)}" if minimum else "a minimum"
    return {
        "none_needed": "there is no minimum",
        "met": f"{least} is met",
        "topped_up": f"topped up to {least}",
        "wait": f"short of {least}; it can wait for the delivery of {day_name(next_delivery)}",
        "fee_paid": f"short of {least}; paying the fee costs least",
        "cannot_meet_minimum": f"short of {least}, and the supplier refuses less: ring them",
    }.get(word, word.replace("_", " "))


def why(reasons: Reasons, unit: str, delivery: date, next_delivery: date) -> str:
    """The reason of one line, short enough for a margin."""
    said = [_main_reason(reasons, unit, delivery, next_delivery)]
    return "; ".join([*said, *_warnings(reasons, unit)])


def _main_reason(reasons: Reasons, unit: str, delivery: date, next_delivery: date) -> str:
    there = quantity(max(reasons.there_at_delivery, Decimal(0)), unit)
    if reasons.word("basis_used") == "fixed":
        par = quantity(reasons.amount("target"), unit)
        return f"par {par}, {there} there on {delivery:%a}"
    use = quantity(reasons.amount("use_in_window"), unit)
    most = quantity(reasons.amount("use_in_window_p90"), unit)
    bare = most.removesuffix(f" {unit}")
    at_most = f"; at most {bare} on nine days of ten" if most != use else ""
    last = next_delivery - timedelta(days=1)
    until = "that day" if last <= delivery else f"to {last:%a}"
    return f"use {use} {until}, have {there}{at_most}"


def _warnings(reasons: Reasons, unit: str) -> Iterator[str]:
    for key, words in _EXTRA:
        if reasons.amount(key) > NOTHING:
            yield words.format(quantity(reasons.amount(key), unit))
    early = reasons.amount("stockout_chance_before_delivery")
    if early >= WORTH_SAYING and not reasons.word("runs_out_on"):
        yield f"may run out before it comes ({chance(early)})"
    if reasons.said.get("next_delivery_assumed"):
        yield "no later delivery is known; four weeks are assumed"
    if uncovered := reasons.days("cannot_cover"):
        yield f"does not keep for {listed(uncovered)}"
    if runs_out := reasons.word("runs_out_on"):
        yield f"runs out on {date.fromisoformat(runs_out):%a} even so"


_EXTRA = (
    ("minimum_top_up", "{} of it to reach the minimum"),
    ("price_break_extra", "{} of it for the better price"),
    ("late", "{} is late and counted on"),
)


def listed(days: Sequence[date]) -> str:
    """Mon, Tue and Fri."""
    names = [f"{day:%a}" for day in days]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
