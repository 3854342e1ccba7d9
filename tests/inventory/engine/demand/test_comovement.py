from __future__ import annotations

import numpy as np
import pytest

from inventory.engine.demand.comovement import Shares, shares
from inventory.engine.demand.spread import Errors, Spread, fit_spread

SERIES, WEEKS, LEADS = 8, 60, 7
OUTLET = np.repeat([0, 1], SERIES // 2)


def errors(day: float, place_day: float, place_level: float, level: float) -> Errors:
    """Errors of 8 series in two places whose shares of variance are as given."""
    rng = np.random.default_rng(6)
    shape = (WEEKS, SERIES, LEADS)
    own = 1.0 - day - place_day - place_level - level
    z = (
        np.sqrt(own) * rng.normal(size=shape)
        + np.sqrt(day) * rng.normal(size=(WEEKS, 1, LEADS))
        + np.sqrt(place_day) * rng.normal(size=(WEEKS, 2, LEADS))[:, OUTLET]
        + np.sqrt(place_level) * rng.normal(size=(WEEKS, 2, 1))[:, OUTLET]
        + np.sqrt(level) * rng.normal(size=(WEEKS, SERIES, 1))
    )
    week, row, lead = (place.ravel() for place in np.indices(shape))
    return Errors(
        y=100.0 + 10.0 * z.ravel(),
        mean=np.full(z.size, 100.0),
        row=row,
        lead=lead,
        weekday=lead,
        event=np.zeros(z.size, dtype=np.int64),
        weeks=week + 1.0,
    )


def found(*parts: float) -> Shares:
    past = errors(*parts)
    return shares(past, fit_spread(past, SERIES, LEADS), OUTLET)


@pytest.mark.parametrize(
    "parts",
    [(0.0, 0.0, 0.0, 0.0), (0.3, 0.0, 0.0, 0.0), (0.0, 0.4, 0.0, 0.0), (0.1, 0.2, 0.15, 0.2)],
    ids=["apart", "all places on a day", "one place on a day", "some of each"],
)
def test_shares_of_generated_errors_are_found(parts: tuple[float, float, float, float]) -> None:
    answer = found(*parts)
    named = (answer.day, answer.place_day, answer.place_level, answer.level)
    assert named == pytest.approx(parts, abs=0.09)


def test_shares_leave_something_to_each_day() -> None:
    assert 0.04 < found(0.0, 0.99, 0.0, 0.0).own < 0.2


def test_no_past_errors_give_the_prior() -> None:
    nothing = errors(0.0, 0.0, 0.0, 0.0)
    empty = Errors(*(getattr(nothing, name)[:0] for name in Errors.__slots__))
    spread: Spread = fit_spread(empty, SERIES, LEADS)
    assert shares(empty, spread, OUTLET) == Shares()
