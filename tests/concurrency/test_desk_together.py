"""Two people at the desk at the same moment, on PostgreSQL and on a SQLite file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.concurrency.people import Person, at_once
from tests.databases import Database

Two = tuple[Person, Person]


@pytest.fixture
def two(database: Database) -> Iterator[Two]:
    people = (Person(database, "desk_people"), Person(database, "desk_people"))
    for person in people:
        person.does("managers")
    yield people
    for person in people:
        person.leave()


def test_two_managers_who_end_each_other_leave_one(two: Two) -> None:
    (one, part_of_one), (other, part_of_other) = two[0].does("two_managers")
    answers = at_once(two, ("end_part_of", one, part_of_other), ("end_part_of", other, part_of_one))
    done, refused = sorted(answers)
    # the second is the last one, or has found out that the own part is gone
    assert (done, refused in ("last_manager", "not_there")) == ("", True)
    assert two[0].does("managers") == 1


def test_of_two_who_opened_the_same_item_one_is_told(two: Two) -> None:
    as_read = two[0].does("item_form")
    answers = at_once(two, ("change_the_item", as_read, "5"), ("change_the_item", as_read, "6"))
    assert sorted(answers) == ["", "stale"]


def test_of_two_who_set_the_same_par_one_is_told(two: Two) -> None:
    two[0].does("place_and_item")
    answers = at_once(two, ("set_the_par", "5"), ("set_the_par", "6"))
    assert sorted(answers) == ["", "stale"]


def test_of_two_who_put_the_same_par_back_one_is_told(two: Two) -> None:
    as_read = two[0].does("a_par_that_was_changed")
    answers = at_once(two, ("put_the_par_back", as_read), ("put_the_par_back", as_read))
    assert sorted(answers) == ["", "stale"]
    assert two[0].does("the_par") == 5


def test_of_two_who_ask_for_a_replay_one_is_told(two: Two) -> None:
    day = two[0].does("a_day_that_was_sold")
    answers = at_once(two, ("ask_for_a_replay", day), ("ask_for_a_replay", day))
    assert sorted(answers) == ["", "replay_waiting"]
    assert two[0].does("replays") == 1
