"""The page that says how good the forecasts were, beside what anybody could do by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.utils.translation import gettext as _

from inventory.models import Location
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.seen import narrowed
from purchasing import words
from purchasing.models import Finding
from purchasing.selectors.forecast_record import OURS
from purchasing.selectors.replay_svg import Bar, Lines, share_bars, stock_lines
from purchasing.selectors.work_words import finding_waits, newest

LEVEL = 90  # of 100 days on which "nine days of ten, at most" should be enough
MIDDLING = Decimal("0.005")  # of a ratio: below this nobody is called better


@dataclass(frozen=True, slots=True)
class MethodRow:
    """``off``: of 100 sold, how many a day's forecast is off by; ``lean``: all together too high
    or too low; ``enough``: of 100 days; ``dear``: cost of being wrong, ours = 100."""

    name: str
    off: str
    lean: str
    enough: str
    dear: str


@dataclass(frozen=True, slots=True)
class PlaceRow:
    name: str
    days: str
    off: str
    lean: str
    enough: str


@dataclass(frozen=True, slots=True)
class Record:
    """``told``: the answer in sentences. ``rows`` on all days, ``whole`` on days that were not
    sold out; empty where no day was."""

    about: str
    told: tuple[str, ...]
    rows: tuple[MethodRow, ...]
    whole: tuple[MethodRow, ...]
    sold_out: str
    off: tuple[Bar, ...]
    weeks: Lines


@dataclass(frozen=True, slots=True)
class ForecastsPage:
    """``record``: of the whole house, for those who set pars everywhere. ``why_not``: there is
    no answer, and this is why; ``waiting``: asked for and not done yet, in words."""

    made_at: str
    record: Record | None
    places: tuple[PlaceRow, ...]
    why_not: str
    waiting: str


def method_words(method: str) -> str:
    return {
        OURS: _("our forecast"),
        "same_weekday_mean": _("the last four such days"),
        "last_week": _("the same day last week"),
        "half_a_year": _("half a year of that weekday"),
        "exponential_smoothing": _("exponential smoothing, by a library"),
    }[method]


def forecasts_page(viewer: Viewer, now: datetime) -> ForecastsPage:
    """Three queries."""
    done, waiting = newest(Finding.Kind.FORECASTS)
    answer: Mapping[str, Any] = (done.answer or {}) if done else {}
    places = narrowed(Location.objects.all(), viewer, "pk", Act.PARS)
    names = dict(places.values_list("code", "name"))
    everywhere = viewer.may_everywhere(Act.PARS)
    made_at = ""
    if done and done.done_at:
        local = business().clock.local(int(done.done_at.timestamp()))
        made_at = f"{words.day_name(local.date())}, {local:%H:%M}"
    return ForecastsPage(
        made_at=made_at,
        record=_record(answer) if answer and everywhere else None,
        places=tuple(
            _place(row, names) for row in answer.get("places", ()) if row["place"] in names
        ),
        why_not=done.problem if done else "",
        waiting=finding_waits(waiting, now),
    )


def _record(answer: Mapping[str, Any]) -> Record:
    everything, whole = answer["all"], answer["not_sold_out"]
    off = {method_words(word): Decimal(str(row["wape"])) for word, row in everything.items()}
    figures = {word: _in_hundred(share) for word, share in off.items()}
    some = int(answer["sold_out_days"])
    return Record(
        about=_about(answer),
        told=(_off_told(everything), _sum_told(everything[OURS])),
        rows=_rows(everything),
        whole=_rows(whole) if some else (),
        sold_out=str(some),
        off=share_bars(off, figures),
        weeks=_weeks(answer["weeks"]),
    )


def _about(answer: Mapping[str, Any]) -> str:
    first, last = (words.day_name(date.fromisoformat(answer[name])) for name in ("first", "last"))
    said = _(
        "Sales from %(first)s to %(last)s: %(days)s figures, each the portions of one thing sold "
        "at one place on one day, of %(series)s things and places. Each week is forecast from what "
        "was known before it began."
    )
    days = f"{int(answer['all'][OURS]['days']):,}"
    return said % {"first": first, "last": last, "days": days, "series": answer["series"]}


def _off_told(scores: Mapping[str, Mapping[str, Any]]) -> str:
    """Who was nearest, ourselves or not."""
    off = {word: Decimal(str(row["wape"])) for word, row in scores.items()}
    best = min((word for word in off if word != OURS), key=lambda word: (off[word], word))
    told = {
        "ours": _in_hundred(off[OURS]),
        "other": _in_hundred(off[best]),
        "name": method_words(best),
    }
    if off[OURS] < off[best] - MIDDLING:
        said = _("Of 100 sold our forecast was off by %(ours)s; next came %(name)s: %(other)s.")
    elif off[OURS] > off[best] + MIDDLING:
        said = _("Of 100 sold our forecast was off by %(ours)s; %(name)s was nearer: %(other)s.")
    else:
        said = _("Of 100 sold our forecast was off by %(ours)s; %(name)s did as well: %(other)s.")
    return said % told


def _sum_told(ours: Mapping[str, Any]) -> str:
    said = _(
        "All together it was %(lean)s. “On nine days of ten, at most” was enough on %(enough)s of "
        "100 days; it should be %(level)s."
    )
    told = {"lean": _lean(ours["bias"]), "enough": _in_hundred(ours["coverage"]), "level": LEVEL}
    return said % told


def _rows(scores: Mapping[str, Mapping[str, Any]]) -> tuple[MethodRow, ...]:
    ours = Decimal(str(scores[OURS]["pinball"] or 0))
    return tuple(
        MethodRow(
            name=method_words(word),
            off=_in_hundred(row["wape"]),
            lean=_lean(row["bias"]),
            enough=_in_hundred(row["coverage"]),
            dear=_whole(Decimal(str(row["pinball"] or 0)) / ours * 100) if ours else "",
        )
        for word, row in scores.items()
    )


def _place(row: Mapping[str, Any], names: Mapping[str, str]) -> PlaceRow:
    return PlaceRow(
        name=names[row["place"]],
        days=f"{int(row['days']):,}",
        off=_in_hundred(row["wape"]),
        lean=_lean(row["bias"]),
        enough=_in_hundred(row["coverage"]),
    )


def _in_hundred(share: object) -> str:
    """A share of 0 to 1, or None where there is none."""
    return "" if share is None else _whole(Decimal(str(share)) * 100)


def _whole(figure: Decimal) -> str:
    return str(figure.quantize(Decimal(1), ROUND_HALF_UP))


def _lean(bias: object) -> str:
    if bias is None:
        return ""
    share = (Decimal(str(bias)) * 100).quantize(Decimal("0.1"), ROUND_HALF_UP)
    if not share:
        return _("just right")
    said = _("%(share)s %% too high") if share > 0 else _("%(share)s %% too low")
    return said % {"share": abs(share)}


def _weeks(weeks: Sequence[Mapping[str, Any]]) -> Lines:
    """Sold and expected each week; of the others only the one by hand that is usual."""
    named = {"sold": _("sold"), OURS: method_words(OURS), "last_week": method_words("last_week")}
    values = {name: [str(week[word]) for week in weeks] for word, name in named.items()}
    days = [words.day_name(date.fromisoformat(week["first"])) for week in weeks]
    return stock_lines(values, days)
