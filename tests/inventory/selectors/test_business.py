"""Settings of the business, and what holds where none is said."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from inventory.models import Setting
from inventory.selectors.business import business
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_defaults() -> None:
    house = business()
    assert (house.time_zone, house.currency, house.week_starts) == ("UTC", "USD", "mon")
    assert house.default_service_level == Decimal("0.95")  # rules.md, R1
    assert house.leave_share == Decimal("0.5")  # rules.md, R10
    assert house.holding_rate_per_year == 0
    assert house.allergen_list == "us9"


def test_what_is_said_goes_before_the_default() -> None:
    Setting.objects.create(key="default_service_level", value="0.8")
    Setting.objects.create(key="currency", value="")
    house = business()
    assert house.default_service_level == Decimal("0.8")
    assert house.currency == "USD", "a blank says nothing"


def test_a_moment_falls_on_a_day_of_the_business() -> None:
    moment = datetime(2026, 3, 2, 3, 30, tzinfo=UTC)
    assert business().day_of(moment) == date(2026, 3, 2)
    make.time_zone("America/New_York")
    assert business().day_of(moment) == date(2026, 3, 1)


def test_one_query(count_queries: Callable[..., int]) -> None:
    assert count_queries(business) == 1
