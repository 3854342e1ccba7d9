"""The forecaster must beat every other on the last eight weeks of each set of real demand."""

from __future__ import annotations

import pytest

from inventory.engine.demand.backtest import backtest, scored
from tests.benchmarks.accuracy import DATA, SETS, read, rival_scores
from tests.benchmarks.rivals import RIVALS

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not DATA.exists(), reason="no folder of real demand beside the project"),
]
WEEKS = 8


@pytest.mark.parametrize("name", SETS)
def test_ours_is_ahead_and_covers_what_it_says(name: str) -> None:
    table = read(DATA / f"{name}.csv.gz", earlier=0)
    ours = scored(backtest(table, weeks=WEEKS), table)["all"]
    assert ours.pinball is not None
    assert ours.wape is not None
    assert ours.coverage is not None
    assert 0.88 <= ours.coverage <= 0.92
    for word, rival in RIVALS.items():
        try:
            theirs = rival_scores(table, rival, WEEKS)
        except ImportError:  # the extra `compare` is not installed here
            continue
        assert theirs.pinball is not None
        assert theirs.wape is not None
        assert ours.pinball < theirs.pinball, word
        assert ours.wape < theirs.wape, word
