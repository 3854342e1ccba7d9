"""Two docks at one order, on PostgreSQL and on a SQLite file: it comes in once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.concurrency.people import Person, at_once
from tests.databases import Database

Two = tuple[Person, Person]


@pytest.fixture
def two(database: Database) -> Iterator[Two]:
    people = (Person(database, "dock_people"), Person(database, "dock_people"))
    for person in people:
        person.does("look")
    yield people
    for person in people:
        person.leave()


def both_look(two: Two, lines: int) -> str:
    number = str(two[0].does("delivery", lines))
    for dock in two:
        assert dock.does("look_at_delivery", number) == lines
    return number


def test_of_two_docks_one_takes_it_in_and_the_other_is_told(two: Two) -> None:
    number = both_look(two, 4)
    answers = at_once(two, ("take_all", number), ("take_all", number))
    assert sorted((answer["done"], answer["code"]) for answer in answers) == [(0, "stale"), (1, "")]
    seen = two[0].does("look")
    assert (two[0].does("receipts"), seen["lots"], seen["broken"]) == (1, 4, [])


def test_a_double_press_makes_one_receipt(two: Two) -> None:
    number = both_look(two, 3)
    press = ("take_under_key", number, "key-1")
    first, second = at_once(two, press, press)
    assert first == second
    assert two[0].does("receipts") == 1
    assert two[0].does("look")["broken"] == []
