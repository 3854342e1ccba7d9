"""Which later orders an order is weighed with, and what lies between them (R10). T = 2 March,
D1 = 3 March, an order every day that comes the day after."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from purchasing.engine.ahead import Ahead, days_in_view, orders_in_view
from purchasing.engine.lines import LaterOrder, Line
from tests.purchasing.engine.line_scenes import at, daily, draws, line, march, offer

EVERY_DAY = tuple(LaterOrder(march(2 + n), march(3 + n)) for n in range(1, 60))
USE = daily({2 + n: [n, 2.0 * n] for n in range(60)}, 2)
EVEN = np.full(2, 0.5)


def asked(life: int | None, **more: object) -> Line:
    known = {"later": EVERY_DAY, "basis": "cost", "shortage_cost": 1.0, **more}
    between = known.pop("between", (3, 4))
    return line(USE, between=between, life=life, sold=offer(5), **known)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("life", "last"),
    [
        pytest.param(1, 3 + 7, id="a week at least"),
        pytest.param(3, 3 + 7, id="two lives are less than a week"),
        pytest.param(6, 3 + 12, id="two lives"),
        pytest.param(300, 3 + 15, id="fourteen orders and the end at most"),
    ],
)
def test_how_far_the_view_goes(life: int, last: int) -> None:
    assert orders_in_view(asked(life))[-1].delivery == march(last)


def test_the_view_ends_where_usage_is_no_longer_known() -> None:
    assert orders_in_view(asked(5, known_until=march(8)))[-1].delivery == march(8)


@pytest.mark.parametrize(
    "alone",
    [
        pytest.param(asked(None), id="undated"),
        pytest.param(asked(0), id="gone before the next comes"),
        pytest.param(asked(3, later=()), id="nothing known of later ones"),
        pytest.param(asked(3, later=EVERY_DAY[:1]), id="one later order only ends the window"),
        pytest.param(asked(3, known_until=march(4)), id="usage known to D2 only"),
    ],
)
def test_an_order_that_stands_alone(alone: Line) -> None:
    assert orders_in_view(alone) == ()


def test_days_in_view_are_two_lives_and_a_week_at_least() -> None:
    assert [days_in_view(life).days for life in (0, 3, 4, 10)] == [7, 7, 8, 20]


def test_every_draw_in_view_stands_between_two_decisions_once() -> None:
    ahead = Ahead.of([asked(2)], EVEN)
    assert len(ahead.spans) == len(ahead.refills) == 7
    per_span = [span.qty[0].sum(axis=0).tolist() for span in ahead.spans]
    # Day 2 is decided on first and draws nothing; the last span runs to the eve of 10 March.
    assert per_span == [[0, 0], [1, 2], [2, 4], [3, 6], [4, 8], [5, 10], [6 + 7, 12 + 14]]


def test_a_refill_knows_what_it_must_carry_and_what_is_used_until_it_comes() -> None:
    second = Ahead.of([asked(2)], EVEN).refills[1]  # decided on the 3rd, there on the 4th
    assert (second.meanwhile[0], second.carried[0], second.spread[0]) == (1.5, 3.0, 1.5)


def test_lots_pass_or_last_by_their_use_by() -> None:
    one = asked(2, stock=[(4, 2), (4, 3), (4, 4)])
    first, second = Ahead.of([one], EVEN).refills[:2]
    assert np.flatnonzero(first.passing[0]).tolist() == [0]  # gone on the eve of D1
    assert np.flatnonzero(second.passing[0]).tolist() == [1]
    assert np.flatnonzero(second.lasting[0]).tolist() == [2, 3, 4]


def test_a_refill_knows_what_is_used_in_time_of_the_lots_that_pass() -> None:
    """Ordered on the 2nd for the 4th. Two lots that go on one day stand together."""
    one = asked(3, stock=[(4, 2), (1, 3), (2, 3), (4, 4)], between=(4, 5))
    first = Ahead.of([one], EVEN).refills[0]
    assert np.flatnonzero(first.passing[0]).tolist() == [0, 1, 2]
    assert first.in_time[0, :3].tolist() == [0, np.inf, 1.5]  # nothing on the 2nd, 1 or 2 then
    assert first.in_time_give[0, :3].tolist() == pytest.approx([0, 0, 0.5 * 3**0.5])
    assert first.meanwhile_give[0] == pytest.approx(0.5 * 3**0.5)


def test_an_hour_of_arrival_parts_the_draws_of_the_last_day() -> None:
    used = draws([(day, "07:00", day, 1) for day in range(2, 40)], 2)
    later = tuple(replace(one, hour=at(one.delivery.day, "08:00")) for one in EVERY_DAY[:12])
    timed = replace(asked(2, arrives="08:00", later=later), draws=used)
    untimed = replace(asked(2), draws=used)
    counts = [
        sum(span.qty.shape[1] for span in Ahead.of([each], EVEN).spans) for each in (timed, untimed)
    ]
    assert counts == [9, 8]  # from the 2nd to the 10th at 07:00, or to its eve


def test_few_paths_are_a_part_of_all() -> None:
    use = daily({2 + n: np.arange(1000.0) for n in range(30)}, 1000)
    ahead = Ahead.of([replace(asked(2), draws=use)], np.full(1000, 0.001))
    few = ahead.on_few_paths()
    assert few.weights.tolist() == pytest.approx([1 / 250] * 250)
    assert few.spans[1].qty[0, 0].tolist() == list(range(0, 1000, 4))


def test_a_part_of_the_lines_is_as_if_alone() -> None:
    one = asked(2)
    part = Ahead.of([asked(5, stock=[(3, 4)]), one], EVEN).part(np.array([1]))
    alone = Ahead.of([one], EVEN)
    assert part.lines[0] is one
    lots = alone.stock.shape[1]
    assert part.stock[:, :lots].tolist() == alone.stock.tolist()
    assert part.refills[0].spread.tolist() == alone.refills[0].spread.tolist()
