"""Two buyers at one order at once, on PostgreSQL and on a SQLite file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.concurrency.people import Person, at_once
from tests.databases import Database

Two = tuple[Person, Person]


@pytest.fixture
def two(database: Database) -> Iterator[Two]:
    people = Person(database), Person(database)
    for person in people:
        person.does("look")  # everything is imported and connected
    yield people
    for person in people:
        person.leave()


@pytest.fixture
def ines(two: Two) -> str:
    return str(two[0].does("buyer", "Ines"))


@pytest.fixture
def olu(two: Two) -> str:
    return str(two[0].does("buyer", "Olu"))


@pytest.fixture
def number(two: Two) -> str:
    return str(two[0].does("draft_order", 3))


def sound(two: Two, number: str) -> dict[str, object]:
    assert two[0].does("look")["broken"] == []
    found: dict[str, object] = two[0].does("order_now", number)
    return found


def test_of_two_who_change_a_draft_one_is_told_of_the_other(
    two: Two, number: str, ines: str, olu: str
) -> None:
    answers = at_once(
        two, ("change_order", number, ines, 1, 5), ("change_order", number, olu, 1, 7)
    )
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    (sentence,) = [answer["refused"][0] for answer in answers if answer["refused"]]
    assert "changed this order at" in sentence
    now = sound(two, number)
    assert now["version"] == 2
    assert now["cases"] in ([5, 5, 5], [7, 7, 7])


def test_an_order_is_approved_once(two: Two, number: str, ines: str, olu: str) -> None:
    answers = at_once(two, ("approve_order", number, ines, 1), ("approve_order", number, olu, 1))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    now = sound(two, number)
    assert (now["status"], now["version"], now["events"]) == ("approved", 2, 1)


def test_a_change_and_an_approval_do_not_mix(two: Two, number: str, ines: str, olu: str) -> None:
    """Nobody approves figures that they have not seen."""
    answers = at_once(two, ("change_order", number, ines, 1, 9), ("approve_order", number, olu, 1))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    now = sound(two, number)
    assert (now["status"], now["cases"]) in (("draft", [9, 9, 9]), ("approved", [2, 2, 2]))


def test_an_order_sent_by_two_leaves_once(two: Two, number: str, ines: str, olu: str) -> None:
    two[0].does("approve_order", number, ines, 1)
    at_once(two, ("send_order", number, ines), ("send_order", number, olu))
    letters = at_once(two, ("send_mail",), ("send_mail",))
    assert sorted(map(len, letters)) == [0, 1]
    now = sound(two, number)
    assert (now["status"], now["sendings"], now["sent"]) == ("sent", 1, 1)


def test_an_approval_is_taken_back_or_the_order_leaves_never_both(
    two: Two, number: str, ines: str, olu: str
) -> None:
    two[0].does("approve_order", number, ines, 1)
    two[0].does("send_order", number, ines)
    undone, letters = at_once(two, ("undo_order", number, olu), ("send_mail",))
    now = sound(two, number)
    if undone["done"]:
        assert (now["status"], now["sent"], letters) == ("draft", 0, [])
    else:
        assert (now["status"], now["sent"], letters) == ("sent", 1, [number])
