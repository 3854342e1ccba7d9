"""Order rules from the literature for perishable stock (inventory-theory.md, section 5.2).

Plain Python on whole numbers, apart from the engine. ``stock``: on hand by days left, the first
expires tonight; ``coming``: on its way, the first comes tomorrow; an order placed now comes
after those, ``lead`` = len(coming) + 1 days from now, and keeps as many days as ``stock`` has
places. Unless said, orders are whole cases that are enough.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, count


def whole_demands(mean: float) -> Iterator[int]:
    """Whole numbers with that mean, the difference carried: 2.5 gives 3 2 3 2 ..."""
    done = 0
    for day in count(1):
        upto = math.floor(day * mean + 0.5)
        yield upto - done
        done = upto


def expected_outdating(
    stock: Sequence[int],
    coming: Sequence[int],
    mean: float,
    days: int,
    *,
    newest_first: bool = False,
) -> int:
    """Units that expire in the next ``days`` at whole expected demand, deliveries included."""
    on_hand, expired = list(stock), 0
    arrivals = [*coming, *[0] * days]
    for day, demand in zip(range(days), whole_demands(mean), strict=False):
        on_hand = after_demand(on_hand, demand, newest_first=newest_first)
        expired += on_hand[0]
        on_hand = [*on_hand[1:], arrivals[day]]
    return expired


def after_demand(on_hand: Sequence[int], demand: int, *, newest_first: bool = False) -> list[int]:
    """What is left of each age, oldest first unless said."""
    order = on_hand[::-1] if newest_first else on_hand
    before = [0, *accumulate(order)][: len(order)]
    left = [
        have - min(have, max(0, demand - used)) for have, used in zip(order, before, strict=True)
    ]
    return left[::-1] if newest_first else left


def in_cases(need: float, case: int) -> int:
    return max(0, math.ceil(need / case - 1e-9)) * case


def by_outdating(
    stock: Sequence[int],
    coming: Sequence[int],
    *,
    mean: float,
    safety: float,
    case: int = 1,
    newest_first: bool = False,
) -> int:
    """EWA: order up to expected demand over lead and review with safety, what is expected to
    expire before not counted (Broekmeulen and van Donselaar, *Computers & Operations Research*
    36 (2009) 3013); review every day."""
    lead = len(coming) + 1
    expired = expected_outdating(stock, coming, mean, lead, newest_first=newest_first)
    position = sum(stock) + sum(coming) - expired
    return in_cases(safety + mean * (lead + 1) - position, case)


def waste_conscious(position: int, expiring_next: int, *, par: int, mean: float) -> int:
    """Hendrix et al., *Computational and Mathematical Methods* 1 (2019) e1027, equation 10."""
    if position >= par:
        return 0
    return math.ceil(par - position + max(0.0, expiring_next - mean))


def low_stock_par(position: int, waste: float, *, low_par: int, par: int, below: int) -> float:
    """BSP-low-EW (Haijema and Minner; De Moor et al. 2022, page 7). ``par`` S2, ``low_par`` S1
    taken ``below`` b with slope alpha, so that both meet at b."""
    if position < below:
        alpha = 1 - (par - low_par) / below
        return low_par - alpha * position + waste
    return max(0.0, par - position + waste)


def by_age(stock: int, old: int, *, par: int, threshold: float) -> int:
    """Old-inventory ratio (Duan and Liao 2013): up to the par, and the old units as well where
    their share is above the threshold."""
    missing = max(0, par - stock)
    return missing + (old if stock and old / stock > threshold else 0)
