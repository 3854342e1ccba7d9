"""Forecasters of libraries: offered where installed, and then as good as what they stand for."""

from __future__ import annotations

from importlib.util import find_spec

import numpy as np
import pandas as pd
import pytest

from inventory.engine.demand import library
from inventory.engine.demand.backtest import LEVELS


def test_none_is_offered_where_none_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "find_spec", lambda name: None)
    assert library.library_methods() == {}
    monkeypatch.setattr(library, "find_spec", lambda name: object())
    assert list(library.library_methods()) == ["exponential_smoothing"]


@pytest.mark.skipif(find_spec("statsforecast") is None, reason="wants the extra compare")
def test_a_week_that_never_changes_is_forecast_as_it_is() -> None:
    past = pd.date_range("2026-01-05", periods=112)
    known = pd.DataFrame(
        {"outlet": "VAN", "item": "SOUP", "date": past, "qty": [20.0 + d.weekday() for d in past]}
    )
    ahead = pd.date_range(past[-1] + pd.Timedelta(days=1), periods=7)
    days = pd.DataFrame({"outlet": "VAN", "item": "SOUP", "date": ahead})
    found = library.exponential_smoothing(known, days)
    assert found.shape == (7, len(LEVELS) + 1)
    assert found[:, -1] == pytest.approx([20.0 + d.weekday() for d in ahead], abs=0.5)
    assert (np.diff(found[:, :-1], axis=1) >= -1e-9).all()
