"""Par rows by place and item: the row of the delivery's weekday, else the one for every day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from purchasing.engine.inputs import ParRule
from purchasing.engine.lines import ParTerms

Pair = tuple[str, str]  # place, item


@dataclass(frozen=True, slots=True)
class ParBook:
    """At most one row for a weekday and one for every day (weekday None) of each pair."""

    rows: dict[Pair, dict[int | None, ParRule]]
    default_service_level: float

    @classmethod
    def of(cls, pars: Iterable[ParRule], default_service_level: float) -> ParBook:
        rows: dict[Pair, dict[int | None, ParRule]] = defaultdict(dict)
        for rule in pars:
            rows[rule.location, rule.item][rule.weekday] = rule
        return cls(dict(rows), default_service_level)

    @property
    def pairs(self) -> set[Pair]:
        return set(self.rows)

    def terms(self, pair: Pair, delivery: date) -> ParTerms:
        """What holds for a delivery of that day; without a row, forecast at the default service
        level (R1, R8)."""
        rows = self.rows.get(pair, {})
        rule = rows.get(delivery.weekday()) or rows.get(None)
        if rule is None:
            return ParTerms(service_level=self.default_service_level)
        level = self.default_service_level if rule.service_level is None else rule.service_level
        return ParTerms(rule.basis, rule.par, level)

    @property
    def service_levels(self) -> dict[Pair, float]:
        """The level of a place's own loads: of the row for every day, else of the first weekday
        that has one."""
        found = {pair: _level(rows) for pair, rows in self.rows.items()}
        return {pair: level for pair, level in found.items() if level is not None}

    @property
    def supplied_by(self) -> dict[Pair, str]:
        """The supplying place that any row of a pair names; it wins over the place's own (R1)."""
        return {
            pair: rule.supplied_by
            for pair, rows in self.rows.items()
            for rule in rows.values()
            if rule.supplied_by
        }


def _level(rows: dict[int | None, ParRule]) -> float | None:
    every_day_first = sorted(rows.items(), key=lambda row: -1 if row[0] is None else row[0])
    levels = (rule.service_level for _, rule in every_day_first)
    return next((level for level in levels if level is not None), None)
