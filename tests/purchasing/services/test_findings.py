"""What is worked out about the past: asked for, done once, kept, done again a week later."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from purchasing.models import Finding
from purchasing.services import findings
from purchasing.services.findings import KEPT, ask_finding, find_if_asked
from tests.purchasing.services.tip_kitchen import AT, kitchen

pytestmark = pytest.mark.django_db
TIPS, FORECASTS = Finding.Kind.PAR_TIPS, Finding.Kind.FORECASTS


def tick(at: datetime = AT) -> list[str]:
    return find_if_asked(clock=lambda: at)


def ask(kind: str = TIPS, at: datetime = AT) -> None:
    ask_finding(kind, by=None, at=at)


def test_nothing_is_worked_out_before_somebody_asks() -> None:
    assert tick() == []
    assert not Finding.objects.exists()


def test_asking_twice_is_asking_once() -> None:
    kitchen()
    ask()
    ask()
    assert Finding.objects.count() == 1
    assert tick() == [TIPS]
    assert tick() == []


def test_a_question_without_an_answer_is_closed_with_a_sentence() -> None:
    ask(FORECASTS)
    tick()
    found = Finding.objects.get()
    assert found.answer is None
    assert found.problem.startswith("The forecasts are judged by 8 weeks")


def test_a_week_later_it_is_worked_out_again_by_itself() -> None:
    kitchen()
    ask()
    tick()
    assert tick(AT + timedelta(days=6)) == []
    assert tick(AT + timedelta(days=7)) == [TIPS]


def test_another_worker_does_not_begin_what_one_is_at_until_its_lease_ends() -> None:
    kitchen()
    ask()
    Finding.objects.update(claimed_by="other", claimed_until=AT + timedelta(minutes=5))
    assert tick() == []
    assert tick(AT + timedelta(minutes=6)) == [TIPS]


def test_everything_that_waits_is_worked_out_in_one_go() -> None:
    kitchen()
    ask(TIPS)
    ask(FORECASTS)
    assert sorted(tick()) == sorted([TIPS, FORECASTS])
    assert not Finding.objects.filter(done_at=None).exists()


def test_a_failure_is_said_and_not_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(day: object) -> dict[str, object]:
        raise ZeroDivisionError

    monkeypatch.setattr(findings, "_WORK", {TIPS: fail})
    ask()
    with pytest.raises(ZeroDivisionError):
        tick()
    assert Finding.objects.get().problem.startswith("The program failed at it")
    assert tick() == []


def test_old_answers_are_forgotten() -> None:
    for week in range(KEPT + 3):
        ask(FORECASTS, AT + timedelta(days=week))
        tick(AT + timedelta(days=week))
    assert Finding.objects.count() == KEPT
