"""Business time: moments are whole UTC seconds, days are business dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

Moment = int
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Clock:
    zone: ZoneInfo

    def at(self, day: date, hour: time) -> Moment:
        """A time in a spring gap is the next minute that exists; a doubled one the first."""
        wall = datetime.combine(day, hour)
        while not self._exists(wall):
            wall += timedelta(minutes=1)
        return int(wall.replace(tzinfo=self.zone, fold=0).timestamp())

    def midnight_after(self, day: date) -> Moment:
        return self.at(day + DAY, time(0))

    def day_of(self, moment: Moment) -> date:
        return self._local(moment).date()

    def text(self, moment: Moment) -> str:
        return self._local(moment).strftime("%Y-%m-%dT%H:%M")

    def read(self, written: str) -> Moment:
        wall = datetime.fromisoformat(written)
        return self.at(wall.date(), wall.time())

    def _local(self, moment: Moment) -> datetime:
        return datetime.fromtimestamp(moment, UTC).astimezone(self.zone)

    def _exists(self, wall: datetime) -> bool:
        there = wall.replace(tzinfo=self.zone, fold=0).astimezone(UTC)
        return there.astimezone(self.zone).replace(tzinfo=None) == wall
