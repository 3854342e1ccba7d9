from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from inventory.engine.demand.covers import PRIOR_EXTRA, Covers, learn_covers
from inventory.engine.demand.sessions import Sessions
from tests.inventory.engine.demand.scenes import T, stop

TUESDAY = T + timedelta(days=1)


def sessions(guests: list[float], **columns: object) -> Sessions:
    """Services of VAN1 at the Quay on Tuesdays at lunch, a week apart, last first."""
    count = len(guests)
    words = {
        "location": "VAN1", "site": "Quay", "weekday": "1", "daypart": "lunch", "event": "",
    }  # fmt: skip
    made = {
        name: np.array(columns.get(name, [word] * count), dtype=object)
        for name, word in words.items()
    }
    return Sessions(
        **made,
        age=7.0 * np.arange(1, count + 1, dtype=np.float64),
        guests=np.array(guests),
        sold_out=np.array(columns.get("sold_out", [False] * count)),
        typed=np.array(columns.get("typed", [np.nan] * count)),
    )


def mean(covers: Covers, **changes: object) -> float:
    found = covers.mean(replace(stop(TUESDAY), **changes))  # type: ignore[arg-type]
    assert found is not None
    return found


def test_without_services_there_is_no_mean_but_what_is_typed() -> None:
    covers = learn_covers(sessions([]))
    assert covers.mean(stop(TUESDAY)) is None
    assert covers.mean(stop(TUESDAY, covers=80.0)) == 80.0
    assert covers.extra == PRIOR_EXTRA


def test_the_level_follows_recent_services() -> None:
    assert mean(learn_covers(sessions([90.0] * 8 + [30.0] * 8))) > 65.0


def test_a_busy_site_is_pulled_towards_the_others_while_little_is_known() -> None:
    once = learn_covers(sessions([120.0, *[60.0] * 9], site=["Fair", *["Quay"] * 9]))
    often = learn_covers(sessions([120.0, 60.0] * 10, site=["Fair", "Quay"] * 10))
    assert 66.0 < mean(once, site="Fair") < mean(often, site="Fair") < 120.0
    assert mean(often, site="Quay") == pytest.approx(60.0, rel=0.2)


def test_a_new_site_is_like_any_other() -> None:
    covers = learn_covers(sessions([120.0, 60.0] * 10, site=["Fair", "Quay"] * 10))
    assert 70.0 < mean(covers, site="Park") < 105.0


@pytest.mark.parametrize(
    ("kind", "other", "change"),
    [
        ("event", "festival", {"event": "festival"}),
        ("location", "VAN2", {"location": "VAN2"}),
        ("weekday", "5", {"day": TUESDAY + timedelta(days=4)}),
    ],
)
def test_what_is_particular_to_a_stop_is_learnt(
    kind: str, other: str, change: dict[str, object]
) -> None:
    usual = {"event": "", "location": "VAN1", "weekday": "1"}[kind]
    covers = learn_covers(sessions([100.0, 50.0] * 12, **{kind: [other, usual] * 12}))
    assert mean(covers, **change) > 1.3 * mean(covers)


def test_the_guaranteed_number_is_the_least_that_is_planned() -> None:
    covers = learn_covers(sessions([50.0] * 8))
    assert mean(covers, expected_covers=40.0, guaranteed_covers=70.0) == 70.0


def test_typed_covers_are_corrected_by_how_typing_turned_out() -> None:
    covers = learn_covers(sessions([50.0] * 20, typed=[100.0] * 20))
    assert mean(covers, expected_covers=100.0) == pytest.approx(60.0)


def test_sold_out_services_count_with_the_guests_that_probably_came() -> None:
    guests = [60.0, 45.0, 60.0, 52.0, 60.0, 60.0, 48.0, 60.0]
    out = [value == 60.0 for value in guests]
    plain, lifted = learn_covers(sessions(guests)), learn_covers(sessions(guests, sold_out=out))
    assert mean(lifted) > mean(plain)


def test_uneven_turnouts_give_a_wider_spread_than_even_ones() -> None:
    uneven = learn_covers(sessions([20.0, 100.0] * 15))
    even = learn_covers(sessions([60.0, 60.0] * 15))
    assert uneven.extra > 0.15 > even.extra
    assert even.variance(60.0) >= 60.0
