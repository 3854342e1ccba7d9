"""Our forecaster beside others on tables of real demand.

    python -m tests.benchmarks.accuracy [--data FOLDER] [--weeks 8] [--earlier 0] [SET ...]

``--earlier N`` ends every table N weeks sooner. The libraries need the extra ``compare``; without
it their lines are left out. Measures: mean pinball loss over the quantiles 0.5 0.7 0.8 0.9 0.95
with its jackknife error over origins, WAPE and bias of the mean, coverage of the 0.9 quantile.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import pandas as pd

from inventory.engine.demand.backtest import LEVELS, backtest, checked, scored
from inventory.engine.demand.plain import KEYS, predicted
from inventory.engine.demand.scores import Scores, score
from tests.benchmarks.rivals import RIVALS, Rival

DATA = Path(__file__).parents[2].parent / "shared" / "data"
SETS = ("restaurant_portions", "bakery_stores", "canteen_covers", "cafe_menu")


def read(path: Path, earlier: int) -> pd.DataFrame:
    table = checked(pd.read_csv(path, dtype={"date": str, "event": str}))
    end = table["date"].max() - pd.Timedelta(days=7 * earlier)
    return pd.DataFrame(table[table["date"] <= end])


def rival_scores(table: pd.DataFrame, rival: Rival, weeks: int) -> Scores:
    rows = predicted(table, rival, weeks=weeks)
    quantiles = rows[[f"at{number}" for number in range(len(LEVELS))]].to_numpy()
    actual, mean = rows["qty"].to_numpy(), rows["mean"].to_numpy()
    return score(actual, mean, quantiles, LEVELS, rows["origin"].to_numpy())


def line(name: str, found: Scores, seconds: float) -> str:
    figures = (found.pinball, found.error, found.wape, found.bias, found.coverage)
    cells = "".join("       -" if value is None else f"{value:9.4f}" for value in figures)
    return f"  {name:<28}{found.days:>6}{cells}{seconds:8.0f}s"


def compare(name: str, table: pd.DataFrame, weeks: int) -> None:
    series = len(table[KEYS].drop_duplicates())
    print(f"{name}: {series} series to {table['date'].max().date()}")
    print(f"  {'':<28}{'days':>6}{'pinball':>9}{'error':>9}{'WAPE':>9}{'bias':>9}{'cover':>9}")
    began = time.perf_counter()
    ours = scored(backtest(table, weeks=weeks), table)["all"]
    print(line("ours", ours, time.perf_counter() - began), flush=True)
    for word, rival in RIVALS.items():
        began = time.perf_counter()
        try:
            found = rival_scores(table, rival, weeks)
        except ImportError:
            continue
        print(line(word, found, time.perf_counter() - began), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", nargs="*", default=SETS)
    parser.add_argument("--data", type=Path, default=DATA)
    parser.add_argument("--weeks", type=int, default=8)
    parser.add_argument("--earlier", type=int, default=0)
    chosen = parser.parse_args()
    for name in chosen.sets:
        table = read(chosen.data / f"{name}.csv.gz", chosen.earlier)
        compare(name, table, chosen.weeks)


if __name__ == "__main__":
    main()
