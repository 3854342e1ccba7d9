"""Two people at the ledger at once, on PostgreSQL and on a SQLite file."""

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


def one_lot(two: Two, qty: int) -> str:
    (strip,) = two[0].does("stock", 1, qty)
    return str(strip)


def test_of_two_who_draw_the_last_kilogram_one_is_refused(two: Two) -> None:
    strip = one_lot(two, 1000)
    answers = at_once(two, ("use", strip, 1000, 1), ("use", strip, 1000, 1))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    (sentence,) = [answer["refused"][0] for answer in answers if answer["refused"]]
    assert "0 g are there, not 1000 g" in sentence
    seen = two[0].does("look")
    assert seen["on_hand"] == {strip: 0}
    assert seen["broken"] == []


def test_three_thousand_draws_by_two_add_up(two: Two) -> None:
    strip = one_lot(two, 3000)
    draws = ("use", strip, 1, 1500)
    assert [answer["done"] for answer in at_once(two, draws, draws)] == [1500, 1500]
    seen = two[0].does("look")
    assert seen["on_hand"] == {strip: 0}
    assert seen["movements"] == 3001
    assert seen["broken"] == []


def test_two_who_ask_for_more_than_there_is_get_exactly_that(two: Two) -> None:
    strip = one_lot(two, 200)
    draws = ("use", strip, 3, 50)
    answers = at_once(two, draws, draws)
    assert sum(answer["done"] for answer in answers) == 66
    assert two[0].does("look")["on_hand"] == {strip: 2}


def test_reported_use_is_drawn_once_and_what_is_over_is_unexplained(two: Two) -> None:
    two[0].does("stock", 3, 50)
    reports = ("report", 1, 100)
    assert [answer["done"] for answer in at_once(two, reports, reports)] == [100, 100]
    seen = two[0].does("look")
    assert set(seen["on_hand"].values()) == {0}
    assert len(seen["unexplained"]) == 50
    assert seen["broken"] == []


def test_posts_in_opposite_order_do_not_wait_for_each_other(two: Two) -> None:
    two[0].does("stock", 12, 100)
    answers = at_once(two, ("send", "forwards", 60), ("send", "backwards", 60))
    assert [answer["done"] for answer in answers] == [60, 60]
    assert two[0].does("look")["broken"] == []


def test_a_movement_is_reversed_once(two: Two) -> None:
    two[0].does("use", one_lot(two, 10), 1, 1)
    answers = at_once(two, ("reverse", 2), ("reverse", 2))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    assert any("was reversed already" in sentence for one in answers for sentence in one["refused"])
    seen = two[0].does("look")
    assert (seen["movements"], seen["broken"]) == (3, [])


def test_a_lot_is_held_once(two: Two) -> None:
    strip = one_lot(two, 10)
    assert sorted(at_once(two, ("hold", strip), ("hold", strip))) == [0, 1]
    seen = two[0].does("look")
    assert (seen["holds"], seen["events"]) == (1, 1)


def test_a_hold_ends_once(two: Two) -> None:
    strip = one_lot(two, 10)
    two[0].does("hold", strip)
    answers = at_once(two, ("release", strip), ("release", strip))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    assert any("was released already" in said for one in answers for said in one["refused"])


def test_nothing_is_drawn_after_a_hold_that_comes_in_between(two: Two) -> None:
    strip = one_lot(two, 10_000)
    answers = at_once(two, ("use", strip, 1, 400), ("hold", strip))
    seen = two[0].does("look")
    assert seen["broken"] == []
    assert seen["movements"] == 1 + answers[0]["done"]
    assert answers[0]["done"] + answers[0]["times_refused"] == 400
    assert two[0].does("use", strip, 1, 1)["done"] == 0


def test_parts_split_off_while_the_lot_is_held_are_held(two: Two) -> None:
    strip = one_lot(two, 1000)
    answers = at_once(two, ("split", strip, 40), ("hold", strip))
    seen = two[0].does("look")
    assert seen["lots"] == seen["strips"] == seen["holds"] == 1 + answers[0]["done"]
    assert answers[0]["done"] + answers[0]["times_refused"] == 40
    assert seen["broken"] == []


def test_strip_numbers_given_at_once_are_all_different(two: Two) -> None:
    strip = one_lot(two, 1000)
    splits = ("split", strip, 60)
    at_once(two, splits, splits)
    seen = two[0].does("look")
    assert seen["lots"] == seen["strips"] == 121
    assert seen["broken"] == []


def test_a_load_arrives_once(two: Two) -> None:
    number = two[0].does("load_for_truck", one_lot(two, 10))
    answers = at_once(two, ("arrive", number), ("arrive", number))
    assert sorted(answer["done"] for answer in answers) == [0, 1]
    assert two[0].does("look")["broken"] == []


@pytest.mark.parametrize("rows", [5, 2500])
def test_opening_balances_loaded_by_two_at_once_are_loaded_once(two: Two, rows: int) -> None:
    two[0].does("stock", 0, 0)
    loads = ("open_balances", rows)
    assert sorted(at_once(two, loads, loads)) == [0, rows]
    seen = two[0].does("look")
    assert seen["lots"] == seen["movements"] == rows
    assert seen["broken"] == []
