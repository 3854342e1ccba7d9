"""The same request twice is one act."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import User

from inventory.models import Setting, Submission
from inventory.problems import Problem, Refused
from inventory.services.acts import KEPT_DAYS, Asked, forget_old, once, one_act
from tests import factories as make

pytestmark = pytest.mark.django_db


@one_act
def write_down(word: str) -> None:
    Setting.objects.create(key=word, value=word)


def writing(word: str) -> Callable[[], dict[str, str]]:
    def act() -> dict[str, str]:
        write_down(word)
        return {"wrote": word}

    return act


@pytest.fixture
def ines() -> User:
    return make.user()


def ask(by: User, key: str = "k1", **body: str) -> Asked:
    return Asked(key, "write:it", body, by)


def test_the_second_press_gets_the_first_answer_and_changes_nothing(ines: User) -> None:
    first = once(ask(ines), at=make.NOW, act=writing("one"))
    assert once(ask(ines), at=make.NOW, act=writing("two")) == first == {"wrote": "one"}
    assert not Setting.objects.filter(key="two").exists()


def test_another_key_is_another_act(ines: User) -> None:
    once(ask(ines), at=make.NOW, act=writing("one"))
    assert once(ask(ines, "k2"), at=make.NOW, act=writing("two")) == {"wrote": "two"}


def test_a_key_with_other_figures_or_by_somebody_else_is_refused(ines: User) -> None:
    once(ask(ines, cases="3"), at=make.NOW, act=writing("one"))
    for other in (ask(ines, cases="4"), ask(make.user(), cases="3")):
        with pytest.raises(Refused, match="sent before with other figures"):
            once(other, at=make.NOW, act=writing("two"))


def test_a_refused_act_stores_nothing_and_leaves_the_key_free(ines: User) -> None:
    def refuse() -> dict[str, str]:
        write_down("half")
        raise Refused(Problem("no", "Not so."))

    with pytest.raises(Refused, match="Not so"):
        once(ask(ines), at=make.NOW, act=refuse)
    assert not Setting.objects.filter(key="half").exists()
    assert once(ask(ines), at=make.NOW, act=writing("one")) == {"wrote": "one"}


@pytest.mark.parametrize("key", ["", "k" * 81])
def test_a_request_without_a_proper_key_is_refused(ines: User, key: str) -> None:
    with pytest.raises(Refused, match="key of 1 to 80"):
        once(ask(ines, key), at=make.NOW, act=writing("one"))


def test_answers_are_kept_for_thirty_days(ines: User) -> None:
    once(ask(ines), at=make.NOW, act=writing("one"))
    assert forget_old(at=make.NOW + timedelta(days=KEPT_DAYS)) == 0
    assert forget_old(at=make.NOW + timedelta(days=KEPT_DAYS, seconds=1)) == 1
    assert not Submission.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_an_act_within_another_transaction_is_a_mistake() -> None:
    from django.db import transaction

    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        write_down("one")
