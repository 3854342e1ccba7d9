"""Old runs go; a run behind an approved order stays, so that it can be read again."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from purchasing.models import ReorderRun
from purchasing.services.tidying import RUNS_KEPT_DAYS, tidy
from tests import factories as make

pytestmark = pytest.mark.django_db


def run(at: datetime) -> ReorderRun:
    return ReorderRun.objects.create(
        as_of=at, seed=1, paths=10, inputs_digest="d", worked_out_at=at
    )


def test_runs_that_led_nowhere_are_kept_for_ninety_days() -> None:
    old = run(make.NOW - timedelta(days=RUNS_KEPT_DAYS, seconds=1))
    young = run(make.NOW - timedelta(days=RUNS_KEPT_DAYS))
    tidy(at=make.NOW)
    assert list(ReorderRun.objects.all()) == [young]
    assert old.pk != young.pk


def test_a_run_behind_an_approved_order_is_kept() -> None:
    old = run(make.NOW - timedelta(days=400))
    make.order(run=old, status="received", approved_at=make.NOW - timedelta(days=400))
    tidy(at=make.NOW)
    assert ReorderRun.objects.get() == old


def test_an_old_draft_does_not_keep_its_run() -> None:
    make.order(run=run(make.NOW - timedelta(days=400)), status="draft")
    tidy(at=make.NOW)
    assert not ReorderRun.objects.exists()
