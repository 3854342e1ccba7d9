from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand.backtest import LEVEL_WORDS, backtest, checked, origins, scored
from inventory.problems import Refused
from tests.inventory.engine.demand.tables import START, demand

ITEMS = {"BUN": 30.0, "PIE": 3.0, "SOUP": 80.0}


@pytest.fixture(scope="module")
def rows() -> pd.DataFrame:
    return demand(ITEMS, days=150)


def test_origins_are_whole_weeks_before_the_last_date(rows: pd.DataFrame) -> None:
    end = rows["date"].max().date()
    found = origins(rows, 3)
    assert [(end - origin).days for origin in found] == [21, 14, 7]


def test_every_item_is_predicted_on_every_opening_day(rows: pd.DataFrame) -> None:
    shut = rows[rows["date"] != rows["date"].max()]
    test = backtest(shut, weeks=2)
    assert len(test.days) == 2 * 7 * len(ITEMS)
    last = backtest(rows[rows["date"] != rows["date"].max() - pd.Timedelta(days=2)], weeks=1)
    assert len(last.days) == 6 * len(ITEMS)


def test_predictions_are_long_sorted_and_do_not_fall(rows: pd.DataFrame) -> None:
    test = backtest(rows, weeks=1)
    long = test.predictions()
    assert list(long.columns) == ["outlet", "item", "origin", "date", "quantile", "value"]
    assert set(long["quantile"]) == {*LEVEL_WORDS, "mean"}
    assert (long["value"] >= 0).all()
    assert (np.diff(test.days[list(LEVEL_WORDS)].to_numpy(), axis=1) >= 0).all()


def test_scrambling_the_future_leaves_every_earlier_forecast_unchanged(rows: pd.DataFrame) -> None:
    """All quantities after an origin are replaced by noise; calendar and events stay."""
    origin = origins(rows, 3)[1]
    future = rows["date"] > pd.Timestamp(origin)
    noise = np.random.default_rng(9).poisson(500.0, len(rows)).astype(float)
    scrambled = rows.assign(qty=rows["qty"].where(~future, noise))
    one, other = (backtest(table, weeks=3).days for table in (rows, scrambled))
    seen = one["origin"] <= origin.isoformat()
    pd.testing.assert_frame_equal(one[seen], other[seen])
    assert not one[~seen].equals(other[~seen])


def test_row_order_changes_nothing(rows: pd.DataFrame) -> None:
    text = rows.assign(date=rows["date"].dt.strftime("%Y-%m-%d"))
    shuffled = checked(text.sample(frac=1.0, random_state=3))
    pd.testing.assert_frame_equal(backtest(rows, weeks=1).days, backtest(shuffled, weeks=1).days)


def test_an_item_that_starts_after_an_origin_is_not_predicted_there(rows: pd.DataFrame) -> None:
    fresh = rows["item"].eq("PIE") & (rows["date"] <= pd.Timestamp(origins(rows, 2)[0]))
    days = backtest(rows[~fresh], weeks=2).days
    assert set(days.loc[days["origin"] == days["origin"].min(), "item"]) == {"BUN", "SOUP"}


def test_scores_beat_the_same_weekday_mean_of_four_weeks(rows: pd.DataFrame) -> None:
    found = scored(backtest(rows, weeks=8), rows)["all"]
    pivot = rows.pivot_table(index="date", columns="item", values="qty")
    lags = [pivot.shift(7 * week) for week in range(1, 5)]
    simple = ((lags[0] + lags[1] + lags[2] + lags[3]) / 4).iloc[-56:]
    error = (pivot.iloc[-56:] - simple).abs().to_numpy().sum() / pivot.iloc[-56:].to_numpy().sum()
    assert found.wape is not None
    assert found.wape < error


def test_sold_out_days_are_scored_apart(rows: pd.DataFrame) -> None:
    marked = rows.assign(sold_out=rows["qty"] > rows["qty"].quantile(0.9))
    found = scored(backtest(marked, weeks=1), marked)
    assert found["not_sold_out"].days < found["all"].days


def test_a_table_with_mistakes_is_refused_with_every_line() -> None:
    bad = pd.DataFrame(
        {"outlet": "A", "item": "X", "date": ["2026-01-01", "01.02.26"], "qty": ["-1", "2"]}
    )
    with pytest.raises(Refused) as refused:
        checked(bad)
    assert [problem.message for problem in refused.value.problems] == [
        "Line 3: the date is not YYYY-MM-DD.",
        "Line 2: qty is not a number of 0 or more.",
    ]


def test_a_missing_column_is_named() -> None:
    with pytest.raises(Refused, match="no column item, qty"):
        checked(pd.DataFrame({"outlet": ["A"], "date": ["2026-01-01"]}))


def test_no_week_at_all_is_refused(rows: pd.DataFrame) -> None:
    with pytest.raises(Refused):
        backtest(rows, weeks=0)


def test_more_weeks_than_history_predict_what_can_be() -> None:
    short = demand({"BUN": 5.0}, days=10)
    assert set(backtest(short, weeks=4).days["origin"]) == {"2025-09-03"}
    assert date.fromordinal(START.toordinal()) == date(2025, 9, 1)


def test_a_column_of_events_without_any_is_accepted(rows: pd.DataFrame) -> None:
    bare = rows.assign(date=rows["date"].dt.strftime("%Y-%m-%d"), event=np.nan)
    pd.testing.assert_frame_equal(
        backtest(checked(bare), weeks=1).days, backtest(rows, weeks=1).days
    )
