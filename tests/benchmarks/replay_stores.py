"""What policies would have cost avoidably on tables of real demand, replayed day by day.

    python -m tests.benchmarks.replay_stores [--data FOLDER] [--weeks 8] [--seed 1] [SET ...]

The last weeks of each table; goods that keep 1 day and 3 days after they came. Prices are made
up, demand is real: a unit costs 1.00 and sells for 2.50 (4.00 where margins are high), a case
holds about a sixth of a day's sales, suppliers come every day to what is ordered by 14:00 the
day before. Pars are what a person might set: a delivery's mean use of the eight weeks before,
and a quarter more. Waste costs what was paid, holding 20 % a year.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

from inventory.engine.kitchen import Item
from purchasing.engine.inputs import Offer, ParRule
from purchasing.engine.policies import EXTRA, MEAN_DAYS, POLICIES
from purchasing.engine.replay import PolicyReplay, replay
from purchasing.engine.replay_figures import line_figures, totals
from purchasing.engine.replay_inputs import Lot, Pair, ReplayInputs, billionths
from tests.benchmarks.accuracy import DATA, read
from tests.purchasing.engine.line_scenes import march, offer
from tests.purchasing.engine.replay_scenes import given

SETS = ("bakery_stores", "restaurant_portions")
NAMES = ("fixed", "greater", "forecast", "cost", "mean", "outdating")
LIVES = (1, 3)
PRICES = (2.5, 4.0)
CASES_A_DAY = 6

Use = dict[Pair, dict[date, float]]


def use_of(path: Path) -> Use:
    table = read(path, 0)
    found: Use = defaultdict(dict)
    keys = zip(table["outlet"], table["item"], table["date"], table["qty"], strict=True)
    for outlet, item, day, qty in keys:
        found[str(outlet), str(item)][day.date()] = float(qty)
    return dict(found)


def means_before(by_day: dict[date, float], first: date) -> list[float]:
    """Mean use by weekday, Monday first."""
    days = [first - timedelta(days=n + 1) for n in range(MEAN_DAYS)]
    return [
        sum(by_day.get(day, 0.0) for day in days if day.weekday() == weekday) / (MEAN_DAYS // 7)
        for weekday in range(7)
    ]


def scene(use: Use, weeks: int, life: int, price: float, paths: int) -> ReplayInputs:
    last = max(day for by_day in use.values() for day in by_day)
    first = last - timedelta(days=7 * weeks - 1)
    means = {pair: means_before(by_day, first) for pair, by_day in use.items()}
    items = sorted({item for _, item in use})
    start = march(1)
    return given(
        use,
        [Item(item, "resale", "each", shelf_life_days=life) for item in items],
        [_offer(item, means) for item in items],
        days=((first - start).days + 1, (last - start).days + 1),
        pars=[
            ParRule(*pair, weekday, EXTRA * mean, "fixed")
            for pair, week in means.items()
            for weekday, mean in enumerate(week)
        ],
        opening={
            pair: (lot_for(EXTRA * week[first.weekday()], first),) for pair, week in means.items()
        },
        margin=price - 1.0,
        paths=paths,
        sale_price=price,
    )


def lot_for(qty: float, day: date) -> Lot:
    return Lot(billionths(Fraction(round(qty))), day, day, "AAAAA", Fraction(1))


def _offer(item: str, means: dict[Pair, list[float]]) -> Offer:
    own = [sum(week) / 7 for (_, code), week in means.items() if code == item]
    case = max(1, round(sum(own) / len(own) / CASES_A_DAY))
    return offer(case, f"{case}.00", item=item)


def compare(name: str, use: Use, asked: ReplayInputs, title: str, seed: int) -> None:
    began = time.perf_counter()
    done = replay(asked, [POLICIES[policy] for policy in NAMES], seed=seed)
    seconds = time.perf_counter() - began
    print(f"{name}, {asked.first} to {asked.last}, {len(use)} lines, {title}, seed {seed}")
    print(f"  {'':<12}{'avoidable':>12}{'missed':>12}{'waste':>12}{'filled':>9}")
    for one in done:
        print(_row(one, asked))
    print(f"  {seconds:.0f} s", flush=True)


def _row(done: PolicyReplay, asked: ReplayInputs) -> str:
    found = totals(done, line_figures(done, asked))
    money = found.money
    cells = "".join(f"{float(x):12.2f}" for x in (money.avoidable, money.lost_margin, money.waste))
    return f"  {done.policy.name:<12}{cells}{float(found.fill_rate):9.4f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", nargs="*", default=SETS)
    parser.add_argument("--data", type=Path, default=DATA)
    parser.add_argument("--weeks", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--paths", type=int, default=1000)
    chosen = parser.parse_args()
    for name in chosen.sets:
        use = use_of(chosen.data / f"{name}.csv.gz")
        for life in LIVES:
            for price in PRICES:
                asked = scene(use, chosen.weeks, life, price, chosen.paths)
                title = f"life {life}, sold at {price:.2f}, {chosen.paths} paths"
                compare(name, use, asked, title, chosen.seed)


if __name__ == "__main__":
    main()
