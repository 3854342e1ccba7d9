"""The business: its name, zone, currency and defaults, as the settings sheet says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.engine.dates import BusinessClock
from inventory.models import Setting

DEFAULTS = {
    "business_name": "",
    "time_zone": "UTC",
    "currency": "USD",
    "default_service_level": "0.95",
    "holding_rate_per_year": "0",
    "week_starts": "mon",
    "price_alert_pct": "5",
    "allergen_list": "us9",
    "leave_share": "0.5",
}


@dataclass(frozen=True, slots=True)
class Business:
    business_name: str
    time_zone: str
    currency: str
    default_service_level: Decimal
    holding_rate_per_year: Decimal
    week_starts: str
    price_alert_pct: Decimal
    allergen_list: str
    leave_share: Decimal

    @property
    def clock(self) -> BusinessClock:
        return BusinessClock(self.time_zone)

    def day_of(self, moment: datetime) -> date:
        """The business date on which ``moment`` (with a zone) falls."""
        return self.clock.day_of(int(moment.timestamp()))


def business() -> Business:
    """One query; what the settings sheet does not say has its default."""
    said = {key: value for key, value in Setting.objects.values_list("key", "value") if value}
    words = {**DEFAULTS, **said}
    return Business(
        business_name=words["business_name"],
        time_zone=words["time_zone"],
        currency=words["currency"],
        default_service_level=Decimal(words["default_service_level"]),
        holding_rate_per_year=Decimal(words["holding_rate_per_year"]),
        week_starts=words["week_starts"],
        price_alert_pct=Decimal(words["price_alert_pct"]),
        allergen_list=words["allergen_list"],
        leave_share=Decimal(words["leave_share"]),
    )
