"""A replay's answer as an owner reads it: a sentence, pictures, a table, and what it leaves out.

Rules that take only part of the lines cannot stand beside the others: they are compared on the
lines that they take, apart. What came really is left out where nothing came on record.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from inventory.models import Item, Location
from purchasing import words
from purchasing.selectors.replay_svg import Bar, Lines, cost_bars, share_bars, stock_lines

NAMED = 8  # lines named in a note before it is folded
RECORDED = "recorded"

Policy = Mapping[str, Any]
Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Row:
    """What one rule comes to: ``cells`` are names of columns with figures, ``avoidable`` first."""

    rule: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PartRow:
    """A rule that takes some of the lines, beside the usual rule on the same lines."""

    rule: str
    lines: str
    avoidable: str
    usual: str


@dataclass(frozen=True, slots=True)
class Note:
    """``more``: what is too long to stand in the sentence."""

    words: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """``told``: the answer in sentences. ``usual``: the rule beside which ``parts`` stand."""

    title: str
    told: tuple[str, ...]
    currency: str
    rows: tuple[Row, ...]
    parts: tuple[PartRow, ...]
    usual: str
    has_before: bool
    costs: tuple[Bar, ...]
    missing: tuple[Bar, ...]
    stock: Lines
    notes: tuple[Note, ...]

    @property
    def heads(self) -> list[str]:
        return [name for name, _figure in self.rows[0].cells] if self.rows else []


def rule_words() -> dict[str, str]:
    return {
        "pars": _("your pars as they are"),
        "fixed": _("each line up to its par"),
        "forecast": _("the forecast"),
        "greater": _("par or forecast, the larger"),
        "cost": _("least expected cost"),
        "mean": _("mean use and a quarter"),
        "outdating": _("mean use, less what will expire"),
        RECORDED: _("what really came"),
    }


def span(first: date, last: date) -> str:
    return _("%(first)s to %(last)s") % {
        "first": words.day_name(first),
        "last": f"{words.day_name(last)} {last.year}",
    }


def replay_answer(document: Mapping[str, Any]) -> Answer:
    """Two queries, for names."""
    says = rule_words()
    known = [one for one in document["policies"] if one["policy"] in says]
    policies = [one for one in known if not _nothing_came(one)]
    whole = [one for one in policies if len(one["lines"]) == document["lines"]]
    part = [one for one in policies if len(one["lines"]) < document["lines"]]
    first, last = (date.fromisoformat(document[key]) for key in ("from", "to"))
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    usual = _usual(whole)
    before = {name: Decimal(sum_) for name, sum_ in document.get("before", {}).items()}
    rows = tuple(_row(one, says[one["policy"]]) for one in whole)
    return Answer(
        title=span(first, last),
        told=tuple(_told(whole, says, before, document)),
        currency=document["currency"],
        rows=rows,
        parts=tuple(_part(one, says, usual) for one in part),
        usual=says[usual["policy"]] if usual else "",
        has_before=any(before.get(one["policy"]) for one in whole),
        costs=cost_bars(
            {says[one["policy"]]: _kinds(one, before) for one in whole},
            {row.rule: row.cells[0][1] for row in rows},
        ),
        missing=_missing(whole, says),
        stock=stock_lines(
            {says[one["policy"]]: document["nights"][one["policy"]] for one in whole},
            [f"{day.day} {day:%b}" for day in days],
        ),
        notes=tuple(_notes(document, policies, says, left_out=len(known) - len(policies))),
    )


def _nothing_came(policy: Policy) -> bool:
    """Nothing on record is no rule to compare with."""
    totals = policy["totals"]
    return bool(policy["policy"] == RECORDED and not Decimal(totals["spend"]))


def _usual(whole: Sequence[Policy]) -> Policy | None:
    """The pars as they are, else the dearest of the rules: what the others are held against."""
    for one in whole:
        if one["policy"] == "pars":
            return one
    return max(whole, key=lambda one: (_avoidable(one), one["policy"]), default=None)


def _avoidable(policy: Policy) -> Decimal:
    return Decimal(policy["totals"]["avoidable"])


def _kinds(policy: Policy, before: Mapping[str, Decimal]) -> dict[str, Decimal]:
    totals = policy["totals"]
    early = before.get(policy["policy"], Decimal(0))
    kinds = {kind: Decimal(totals[kind]) for kind in ("lost_margin", "waste", "holding", "fees")}
    return {**kinds, "before": early, "lost_margin": kinds["lost_margin"] - early}


def _missing(whole: Sequence[Policy], says: Mapping[str, str]) -> tuple[Bar, ...]:
    shares = {says[one["policy"]]: 1 - Decimal(one["totals"]["fill_rate"]) for one in whole}
    return share_bars(shares, {word: _in_1000(share) for word, share in shares.items()})


def _row(policy: Policy, rule: str) -> Row:
    totals = policy["totals"]

    def money(name: str) -> str:
        return words.money(Decimal(totals[name]))

    return Row(
        rule,
        (
            (_("avoidable"), money("avoidable")),
            (_("margin missed"), money("lost_margin")),
            (_("thrown away"), money("waste")),
            (_("money tied up"), money("holding")),
            (_("fees"), money("fees")),
            (_("spent"), money("spend")),
            (_("left in stock"), money("closing_value")),
            (_("orders"), f"{totals['orders']:,}"),
            (_("days run out"), f"{totals['stockout_days']:,}"),
            (_("fill rate"), _in_1000(Decimal(totals["fill_rate"]))),
        ),
    )


def _part(policy: Policy, says: Mapping[str, str], usual: Policy | None) -> PartRow:
    pairs = {_pair(line) for line in policy["lines"]}
    same = [line for line in (usual["lines"] if usual else ()) if _pair(line) in pairs]
    there = sum((Decimal(line["avoidable"]) for line in same), Decimal(0))
    return PartRow(
        rule=says[policy["policy"]],
        lines=f"{len(pairs):,}",
        avoidable=words.money(_avoidable(policy)),
        usual=words.money(there) if usual else "",
    )


def _pair(line: Mapping[str, str]) -> Pair:
    return line["location"], line["item"]


def _in_1000(share: Decimal) -> str:
    return _("%(n)s of 1,000") % {"n": f"{share * 1000:.0f}"}


def _told(
    whole: Sequence[Policy],
    says: Mapping[str, str],
    before: Mapping[str, Decimal],
    document: Mapping[str, Any],
) -> Iterator[str]:
    """Only rules that take every line can be compared."""
    now = _usual(whole)
    if len(whole) < 2 or now is None:
        return
    best = min(whole, key=lambda one: (_avoidable(one), one["policy"]))
    less = _avoidable(now) - _avoidable(best)
    said = {
        "best": says[best["policy"]],
        "least": words.money(_avoidable(best)),
        "now": says[now["policy"]],
        "cost": words.money(_avoidable(now)),
        "less": words.money(less),
    }
    if not less:
        yield _("Nothing would have cost less than %(now)s: %(cost)s.") % said
    else:
        yield (
            _("By %(best)s it would have cost %(least)s; by %(now)s %(cost)s, %(less)s more.")
            % said
        )
    early = min((before.get(one["policy"], Decimal(0)) for one in whole), default=Decimal(0))
    if (empty := _without_stock(whole)) and early > 0:
        yield _(
            "%(sum)s of each is not the rules' doing: on the first morning %(n)d of %(all)d lines"
            " had no stock on record, and nothing could be there before their first delivery."
        ) % {"sum": words.money(early), "n": empty, "all": document["lines"]}


def _without_stock(policies: Sequence[Policy]) -> int:
    lines = {
        _pair(line): Decimal(line["opening_value"]) for one in policies for line in one["lines"]
    }
    return sum(value == 0 for value in lines.values())


def _notes(
    document: Mapping[str, Any],
    policies: Sequence[Policy],
    says: Mapping[str, str],
    *,
    left_out: int,
) -> Iterator[Note]:
    yield Note(
        _(
            "Left out, under every rule alike: what suppliers send short, late or instead, weights"
            " other than the usual one of a case, and what is taken out before its use-by: staff"
            " meals, tastings, breakage."
        )
    )
    yield Note(_left_on_shelf())
    if left_out:
        said = _("Nothing came on record in these weeks, so “%(rule)s” is left out.")
        yield Note(said % {"rule": says[RECORDED]})
    names = _Names.read()
    for one in policies:
        if one["without_par"]:
            said = _("Left out by “%(rule)s”, which needs a par:")
            yield names.note(said % {"rule": says[one["policy"]]}, one["without_par"])
    unknown = {_pair(line): line for one in policies for line in one["without_margin"]}
    if unknown:
        said = _("What running out of these costs is not known, and counts as nothing:")
        yield names.note(said, list(unknown.values()))
    courses = {"n": f"{document['paths']:,}", "seed": document["seed"]}
    yield Note(_("%(n)s possible courses of the days ahead, seed %(seed)s.") % courses)


def _left_on_shelf() -> str:
    return _(
        "What is left in stock on the last night is neither charged nor credited: a rule that"
        " leaves more there has spent more for it."
    )


@dataclass(frozen=True, slots=True)
class _Names:
    items: Mapping[str, str]
    places: Mapping[str, str]

    @classmethod
    def read(cls) -> _Names:
        items = dict(Item.objects.values_list("code", "name"))
        return cls(items, dict(Location.objects.values_list("code", "name")))

    def note(self, said: str, lines: Sequence[Mapping[str, str]]) -> Note:
        """Few are named in the sentence, many below it; none is left out."""
        named = [self._named(line) for line in lines]
        if len(named) <= NAMED:
            return Note(f"{said} {'; '.join(named)}.")
        return Note(f"{said} {_('%(n)d lines') % {'n': len(named)}}.", tuple(named))

    def _named(self, line: Mapping[str, str]) -> str:
        place, item = _pair(line)
        return f"{self.items.get(item, item)}, {self.places.get(place, place)}"
