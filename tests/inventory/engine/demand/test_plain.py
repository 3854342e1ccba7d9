"""Plain forecasts, by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand.plain import (
    predicted,
    same_weekday_mean,
    seasonal_naive,
    weekday_counts,
)


def mondays(*figures: float) -> pd.DataFrame:
    days = pd.date_range("2026-01-05", periods=len(figures), freq="7D")
    return pd.DataFrame({"outlet": "VAN", "item": "SOUP", "date": days, "qty": figures})


def test_the_mean_of_the_last_four() -> None:
    known = mondays(99, 1, 2, 3, 6)
    assert same_weekday_mean(known, mondays(0))[0, -1] == 3


def test_last_week_again() -> None:
    assert seasonal_naive(mondays(4, 7), mondays(0))[0, [0, -1]] == pytest.approx([7, 7])


def test_half_a_year_of_counts_is_negative_binomial() -> None:
    answer = weekday_counts(mondays(4, 8, 4, 8), mondays(0))[0]
    assert answer[-1] == 6
    assert (np.diff(answer[:-1]) >= 0).all()


def test_origins_are_weeks_back_and_see_nothing_ahead() -> None:
    table = mondays(1, 2, 3, 50)
    rows = predicted(table, seasonal_naive, weeks=2)
    assert rows[["qty", "mean"]].to_numpy().tolist() == [[3, 2], [50, 3]]


def test_what_was_not_known_at_an_origin_is_not_predicted() -> None:
    table = mondays(1, 2)
    assert predicted(table, seasonal_naive, weeks=2)["qty"].tolist() == [2]
