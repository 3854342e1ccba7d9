"""The page of replays: the last answer in figures and pictures, and what is being worked out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Max
from django.utils.translation import gettext as _

from inventory.models import Sale, Usage
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from purchasing import words
from purchasing.models import Replay
from purchasing.selectors.replay_svg import Bars, Lines, cost_bars, share_bars, stock_lines

USUAL_DAYS = 28
NAMED = 8  # lines named in a note


@dataclass(frozen=True, slots=True)
class Rule:
    """A policy as people say it. ``picked``: ticked on the form."""

    name: str
    words: str
    picked: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """What one rule comes to, in words and figures; ``lines`` where some are left out."""

    rule: str
    avoidable: str
    missed: str
    waste: str
    holding: str
    fees: str
    spent: str
    orders: str
    ran_out: str
    filled: str
    lines: str


@dataclass(frozen=True, slots=True)
class Answer:
    """``told``: the answer in a sentence."""

    title: str
    told: str
    currency: str
    rows: tuple[Row, ...]
    costs: Bars
    missing: Bars
    stock: Lines
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Working:
    """What is waiting or being worked out. ``done``, ``days``: how far it is."""

    number: int
    title: str
    asked: str
    done: int
    days: int
    is_stopping: bool


@dataclass(frozen=True, slots=True)
class ReplayPage:
    """``may``: sees costs and sets pars everywhere; what is compared is the whole business."""

    may: bool
    first: str = ""
    last: str = ""
    rules: tuple[Rule, ...] = ()
    working: Working | None = None
    answer: Answer | None = None
    ended: str = ""  # how the latest one ended, where it has no answer


def may_replay(viewer: Viewer) -> bool:
    return viewer.places(Act.PARS) is None and viewer.sees_cost()


def replay_page(viewer: Viewer, now: datetime, picked: Collection[str] | None = None) -> ReplayPage:
    """Five queries, however long the replay was. ``picked``: rules ticked; None: all."""
    if not may_replay(viewer):
        return ReplayPage(may=False)
    house = business()
    first, last = _usual_days(house.day_of(now))
    latest = Replay.objects.select_related("asked_by").defer("answer").order_by("-pk").first()
    answered = Replay.objects.filter(answer__isnull=False).order_by("-pk").first()
    is_answered = bool(latest and answered and latest.pk == answered.pk)
    return ReplayPage(
        may=True,
        first=first.isoformat(),
        last=last.isoformat(),
        rules=tuple(
            Rule(name, says, picked is None or name in picked)
            for name, says in rule_words().items()
        ),
        working=_working(latest, house) if latest and latest.ended_at is None else None,
        answer=_answer(answered.answer) if answered else None,
        ended=_how_it_ended(latest, house) if latest and not is_answered else "",
    )


def rule_words() -> dict[str, str]:
    return {
        "pars": _("your pars as they are"),
        "fixed": _("each line up to its par"),
        "forecast": _("the forecast"),
        "greater": _("par or forecast, the larger"),
        "cost": _("least expected cost"),
        "mean": _("mean use and a quarter"),
        "outdating": _("mean use, less what will expire"),
        "recorded": _("what really came"),
    }


def _usual_days(today: date) -> tuple[date, date]:
    """The last four weeks of which sales or usage are on record."""
    lasts = [model.objects.aggregate(day=Max("date"))["day"] for model in (Usage, Sale)]
    known = [day for day in lasts if day is not None]
    last = min(max(known, default=today), today - timedelta(days=1))
    return last - timedelta(days=USUAL_DAYS - 1), last


def _working(replay: Replay, house: Business) -> Working:
    by = replay.asked_by.get_short_name() or replay.asked_by.username if replay.asked_by else ""
    said = {"at": _hour(replay.asked_at, house), "by": by}
    return Working(
        number=replay.pk,
        title=_span(replay.first, replay.last),
        asked=_("asked %(at)s by %(by)s") % said if by else _("asked %(at)s") % said,
        done=(replay.reached - replay.first).days + 1 if replay.reached else 0,
        days=(replay.last - replay.first).days + 1,
        is_stopping=replay.stop_asked_at is not None,
    )


def _how_it_ended(replay: Replay, house: Business) -> str:
    if replay.ended_at is None:
        return ""
    said = {"days": _span(replay.first, replay.last), "at": _hour(replay.ended_at, house)}
    if replay.problem:
        return _("%(days)s could not be replayed: ") % said + replay.problem
    return _("The replay of %(days)s was stopped %(at)s.") % said


def _hour(moment: datetime, house: Business) -> str:
    local = house.clock.local(int(moment.timestamp()))
    return f"{words.day_name(local.date())} {local:%H:%M}"


def _span(first: date, last: date) -> str:
    return _("%(first)s to %(last)s") % {
        "first": words.day_name(first),
        "last": f"{words.day_name(last)} {last.year}",
    }


def _answer(document: Mapping[str, Any]) -> Answer:
    says = rule_words()
    policies = [one for one in document["policies"] if one["policy"] in says]
    rows = tuple(_row(one, says[one["policy"]], document["lines"]) for one in policies)
    totals = {says[one["policy"]]: one["totals"] for one in policies}
    missing = {word: 1 - Decimal(of["fill_rate"]) for word, of in totals.items()}
    first, last = (date.fromisoformat(document[key]) for key in ("from", "to"))
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    nights = document["nights"]
    return Answer(
        title=_span(first, last),
        told=_told(policies, says, document["lines"]),
        currency=document["currency"],
        rows=rows,
        costs=cost_bars(totals, {row.rule: row.avoidable for row in rows}),
        missing=share_bars(missing, {word: _in_1000(share) for word, share in missing.items()}),
        stock=stock_lines(
            {says[one["policy"]]: nights[one["policy"]] for one in policies},
            [f"{day.day} {day:%b}" for day in days],
        ),
        notes=tuple(_notes(document, policies, says)),
    )


def _row(policy: Mapping[str, Any], rule: str, lines: int) -> Row:
    totals = policy["totals"]
    money = {
        key: words.money(Decimal(totals[name]))
        for key, name in (
            ("avoidable", "avoidable"),
            ("missed", "lost_margin"),
            ("waste", "waste"),
            ("holding", "holding"),
            ("fees", "fees"),
            ("spent", "spend"),
        )
    }
    taken = len(policy["lines"])
    return Row(
        rule=rule,
        orders=f"{totals['orders']:,}",
        ran_out=f"{totals['stockout_days']:,}",
        filled=_in_1000(Decimal(totals["fill_rate"])),
        lines="" if taken == lines else _("%(n)d of %(all)d lines") % {"n": taken, "all": lines},
        **money,
    )


def _in_1000(share: Decimal) -> str:
    return _("%(n)s of 1,000") % {"n": f"{share * 1000:.0f}"}


def _told(policies: Sequence[Mapping[str, Any]], says: Mapping[str, str], lines: int) -> str:
    """Only rules that take every line can be compared."""
    whole = [one for one in policies if len(one["lines"]) == lines]
    if len(whole) < 2:
        return ""
    cost = {one["policy"]: Decimal(one["totals"]["avoidable"]) for one in whole}
    best = min(cost, key=lambda name: (cost[name], name))
    now = "pars" if "pars" in cost else max(cost, key=lambda name: (cost[name], name))
    said = {
        "best": says[best],
        "least": words.money(cost[best]),
        "now": says[now],
        "cost": words.money(cost[now]),
    }
    if best == now:
        return _("Nothing would have cost less than %(now)s: %(cost)s.") % said
    said["less"] = words.money(cost[now] - cost[best])
    return _("By %(best)s it would have cost %(least)s; by %(now)s %(cost)s, %(less)s more.") % said


def _notes(
    document: Mapping[str, Any], policies: Sequence[Mapping[str, Any]], says: Mapping[str, str]
) -> list[str]:
    notes = list[str]()
    if empty := _without_stock(policies):
        notes.append(
            _(
                "On the first morning %(n)d of %(all)d lines had no stock: until their first"
                " delivery they run out under every rule alike."
            )
            % {"n": empty, "all": document["lines"]}
        )
    notes += [
        _("Left out by %(rule)s, which needs a par: %(lines)s.")
        % {"rule": says[one["policy"]], "lines": _named(one["without_par"])}
        for one in policies
        if one["without_par"]
    ]
    unknown = [line for one in policies for line in one["without_margin"]]
    if unknown:
        known = list({(line["location"], line["item"]): line for line in unknown}.values())
        said = {"lines": _named(known)}
        notes.append(
            _("What running out costs is not known, and counts as nothing, of: %(lines)s.") % said
        )
    courses = {"n": f"{document['paths']:,}", "seed": document["seed"]}
    return [*notes, _("%(n)s possible courses of the days ahead, seed %(seed)s.") % courses]


def _without_stock(policies: Sequence[Mapping[str, Any]]) -> int:
    lines = {
        (one["location"], one["item"]): Decimal(one["opening_value"])
        for policy in policies
        for one in policy["lines"]
    }
    return sum(value == 0 for value in lines.values())


def _named(lines: Sequence[Mapping[str, str]]) -> str:
    named = [f"{one['item']} ({one['location']})" for one in lines[:NAMED]]
    if more := len(lines) - NAMED:
        named += [_("and %(n)d more") % {"n": more}] if more > 0 else []
    return ", ".join(named)
