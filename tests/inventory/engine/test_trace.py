"""Every gram of a lot is somewhere; what is behind a lot has it ahead."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.trace import (
    Account,
    Fate,
    Link,
    Moved,
    account,
    account_at_place,
    back,
    forward,
)

ZERO = Decimal(0)


def moved(fate: Fate, qty: int | str, place: str = "COM", lot: str = "KALUM") -> Moved:
    return Moved(lot, place, fate, Decimal(qty))


def test_an_account_says_where_each_gram_is() -> None:
    found = account(
        [
            moved(Fate.CAME, 1000),
            moved(Fate.USED_IN, -300),
            moved(Fate.SPLIT, -100),
            moved(Fate.SENT, -250),
            moved(Fate.ARRIVED, 180, "T1"),
            moved(Fate.SOLD, -120, "T1"),
            moved(Fate.TAKEN_OUT, -30),
            moved(Fate.COUNTED, -5),
        ],
        missing=Decimal(20),
    )
    assert found == Account(
        came=Decimal(1000),
        on_hand=Decimal(375),
        used_in=Decimal(300),
        parts=Decimal(100),
        on_its_way=Decimal(50),
        sold=Decimal(120),
        taken_out=Decimal(30),
        not_explained=Decimal(25),
    )
    assert found.adds_up


def test_at_a_place_what_arrived_came_and_what_left_was_sent() -> None:
    moves = [moved(Fate.CAME, 100), moved(Fate.SENT, -60), moved(Fate.TAKEN_OUT, -10)]
    there = account_at_place(moves)
    assert [int(q) for q in (there.came, there.on_its_way, there.on_hand)] == [100, 60, 30]
    aboard = account_at_place([moved(Fate.ARRIVED, 60, "T1"), moved(Fate.SOLD, -45, "T1")])
    assert [int(q) for q in (aboard.came, aboard.sold, aboard.on_hand)] == [60, 45, 15]
    assert there.adds_up and aboard.adds_up


def test_a_count_that_found_more_is_explained_by_nothing_either() -> None:
    found = account([moved(Fate.CAME, 100), moved(Fate.COUNTED, 7)])
    assert [int(found.on_hand), int(found.not_explained)] == [107, -7]
    assert found.adds_up


def test_a_lot_with_its_parts_is_one_account() -> None:
    moves = [
        moved(Fate.CAME, 100),
        moved(Fate.SPLIT, -40),
        moved(Fate.SPLIT, 40, lot="BATUM"),
        moved(Fate.SOLD, -25, lot="BATUM"),
    ]
    whole = account(moves)
    assert [int(q) for q in (whole.came, whole.parts, whole.on_hand)] == [100, 0, 75]
    part = account(moves[2:])
    assert [int(part.came), int(part.on_hand)] == [40, 15]


quantities = st.decimals("0.001", "5000", places=3)
some_moves = st.lists(
    st.builds(
        Moved,
        st.sampled_from(["A", "B"]),
        st.sampled_from(["COM", "T1", "T2"]),
        st.sampled_from(list(Fate)),
        quantities | quantities.map(lambda qty: -qty),
    )
)


@given(some_moves, quantities)
def test_every_gram_is_accounted_for_whatever_moved(moves: list[Moved], missing: Decimal) -> None:
    assert account(moves, missing=missing).adds_up
    for lot in "AB":
        assert account([move for move in moves if move.lot == lot]).adds_up
    for place in ("COM", "T1", "T2"):
        assert account_at_place([move for move in moves if move.place == place]).adds_up


@given(some_moves, quantities)
def test_a_shelf_or_a_slip_that_differs_is_noticed(moves: list[Moved], gram: Decimal) -> None:
    whole = account(moves)
    agreed = account(moves, on_hand=whole.on_hand, on_its_way=whole.on_its_way)
    assert agreed == whole
    assert not account(moves, on_hand=whole.on_hand + gram).adds_up
    assert not account(moves, on_its_way=whole.on_its_way - gram).adds_up
    assert not account_at_place(moves, on_hand=whole.on_hand - gram).adds_up


@given(some_moves)
def test_the_places_together_hold_what_the_lot_holds(moves: list[Moved]) -> None:
    places = ("COM", "T1", "T2")
    there = [account_at_place([m for m in moves if m.place == place]) for place in places]
    whole = account(moves)
    assert sum((one.on_hand for one in there), ZERO) == whole.on_hand
    assert sum((one.sold for one in there), ZERO) == whole.sold


def link(source: str, target: str, qty: int = 1) -> Link:
    return Link(source, target, Decimal(qty), batch=f"batch of {target}")


#     HERBS ─┐
#   TOMATO1 ─┼─ RELISH ─┬─ WRAPS
#   TOMATO2 ─┘   BREAD ─┘
KITCHEN = [
    link("HERBS", "RELISH"),
    link("TOMATO1", "RELISH", 10),
    link("TOMATO2", "RELISH", 5),
    link("RELISH", "WRAPS", 8),
    link("BREAD", "WRAPS", 4),
]


def test_back_to_everything_that_went_in() -> None:
    steps = back("WRAPS", KITCHEN)
    assert [(step.level, step.link.source) for step in steps] == [
        (1, "RELISH"),
        (2, "HERBS"),
        (2, "TOMATO1"),
        (2, "TOMATO2"),
        (1, "BREAD"),
    ]


def test_forward_to_everything_that_came_of_it() -> None:
    steps = forward("TOMATO1", KITCHEN)
    assert [(step.level, step.link.target) for step in steps] == [(1, "RELISH"), (2, "WRAPS")]
    assert [step.link.qty for step in steps] == [10, 8]


def test_what_is_reached_twice_is_followed_once() -> None:
    links = [link("A", "B"), link("A", "C"), link("B", "D"), link("C", "D"), link("D", "E")]
    assert [step.link.target for step in forward("A", links)].count("E") == 1
    assert [step.link.target for step in forward("A", links)].count("D") == 2


def test_nothing_behind_and_nothing_ahead() -> None:
    assert back("A", []) == forward("A", []) == []


LOTS = [f"L{number}" for number in range(9)]


@st.composite
def kitchens(draw: st.DrawFn) -> list[Link]:
    """Later lots are made of earlier ones."""
    pairs = st.tuples(st.integers(0, 8), st.integers(0, 8)).filter(lambda p: p[0] < p[1])
    return [link(LOTS[low], LOTS[high]) for low, high in draw(st.sets(pairs))]


@given(kitchens(), st.sampled_from(LOTS), st.sampled_from(LOTS))
def test_what_is_behind_a_lot_has_it_ahead(links: list[Link], one: str, other: str) -> None:
    behind = {step.link.source for step in back(one, links)}
    ahead = {step.link.target for step in forward(other, links)}
    assert (other in behind) == (one in ahead)


def test_a_long_chain_is_walked_to_its_end() -> None:
    names = [f"L{number}" for number in range(5000)]
    links = [link(low, high) for low, high in pairwise(names)]
    assert len(forward("L0", links)) == len(back("L4999", links)) == 4999
