"""The use-by board: what it says, one press for each help, and presses that come too late."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Hold, Item, Location, Lot, Movement, Recipe, Transfer
from inventory.services.take_outs import Known, take_out
from purchasing.models import UseByLook
from tests import factories as make
from tests.purchasing.web.board import board, buttons, need, press, there
from tests.purchasing.web.shelf import look, post, shelf_lot, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Client:
    return signed_in(make.member("manager", sees_cost=True))


def test_a_strip_says_all_that_is_asked_of_it(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    text = board(manager)
    for said in (
        f">{lot.strip}</a>",
        "Leeks",
        "5 kg, Mill Lane",
        "until tomorrow",
        '<span class="figure">20.00</span>',
        "5 kg will not be used in time: all but certain",
        "saves 20.00",
    ):
        assert said in text
    assert "Local code and the licensed person in charge decide" in text


def test_most_money_at_risk_stands_first(place: Location, manager: Client) -> None:
    small, large = shelf_lot(place, qty=1000), shelf_lot(place, qty=9000)
    look()
    text = board(manager)
    assert text.index(large.strip) < text.index(small.strip)


def test_before_the_first_look_the_soonest_stand_there(place: Location, manager: Client) -> None:
    later, sooner = shelf_lot(place, days=3), shelf_lot(place, days=1)
    text = board(manager)
    assert "has not been worked out yet" in text
    assert text.index(sooner.strip) < text.index(later.strip)


def test_an_empty_house_is_said_so(manager: Client) -> None:
    look()
    assert "Nothing is at risk: every lot in sight will be used in time." in board(manager)


def test_what_came_after_the_look_is_shown_apart(place: Location, manager: Client) -> None:
    look()
    fresh = shelf_lot(place)
    text = board(manager)
    assert text.index("Came since") < text.index(fresh.strip)


def test_what_will_be_used_is_counted_and_shown_on_asking(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks, qty=100)
    need(place, leeks, 5)
    look()
    assert lot.strip not in board(manager)
    assert "1 more lot expires by" in board(manager)
    assert lot.strip in board(manager, "?all")


def test_past_use_by_is_said_first_and_leaves_only_the_bin(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks, days=-1)
    look()
    text = board(manager)
    assert "<strong>past its use-by</strong>" in text
    assert list(buttons(text)) == ["throw 5 kg away", "hold"]
    assert f"5 kg of {lot.strip} is taken out: past use-by." in press(
        manager, lot, buttons(text)["throw 5 kg away"]
    )
    assert there(lot, place) == 0


def test_a_hold_is_said_at_once_even_where_the_look_is_older(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    Hold.objects.create(lot=lot, reason="recall", note="glass", opened_at=timezone.now())
    text = board(manager)
    assert "<strong>on hold: recall, glass</strong>" in text
    assert list(buttons(text)) == ["throw 5 kg away"]
    assert "answer the hold" in text


def test_freezing_in_one_press(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    said = press(manager, lot, buttons(board(manager))["freeze 5 kg"])
    part = Lot.objects.get(parent=lot)
    assert f"5 kg of {lot.strip} is frozen as {part.strip}; print its label." in said
    assert (part.state, there(part, place)) == ("frozen", 5000)


def test_moving_it_in_one_press_and_taking_it_in_there(
    place: Location, leeks: Item, manager: Client
) -> None:
    corner = make.location(code="CORNER", name="Corner", kind="kitchen")
    lot = shelf_lot(place, of=leeks)
    need(corner, leeks, 2)
    look()
    said = press(manager, lot, buttons(board(manager))["send 2 kg to Corner"])
    transfer = Transfer.objects.get()
    assert f"2 kg of {lot.strip} is on its way to Corner as {transfer.number}." in said
    assert "On its way here" in said
    done = manager.post(f"/loads/{transfer.number}/take-in/", {"key": "in"}, follow=True)
    assert f"{transfer.number} is at Corner." in text_of(done)
    assert there(lot, corner) == 2000


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ("staff meal, 5 kg", "staff meal"),
        ("donate 5 kg", "donation"),
        ("throw 5 kg away", "more than could be used"),
    ],
)
def test_taking_it_out_in_one_press(
    words: str, reason: str, place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    press(manager, lot, buttons(board(manager))[words])
    assert Movement.objects.get(kind="take_out").reason == reason


def test_what_is_made_of_it_is_named(place: Location, leeks: Item, manager: Client) -> None:
    soup = make.item(name="Leek soup", kind="prep", code="SOUP")
    recipe = Recipe.objects.create(item=soup, makes_qty=1, makes_unit="kg")
    recipe.lines.create(item=leeks, position=0, qty=1, unit="kg")
    shelf_lot(place, of=leeks)
    look()
    assert '<a href="/items/SOUP/">Leek soup</a>' in board(manager)


def test_a_press_that_comes_too_late_is_answered_with_a_sentence(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    value = buttons(board(manager))["throw 5 kg away"]
    press(manager, lot, value)
    address = f"/use-by/{lot.strip}/help/"
    late = manager.post(address, {"key": "other", "at": "COM", "help": value, "there": "5"})
    assert late.status_code == 409
    assert "is no longer at Mill Lane: somebody was quicker. There is none left anywhere." in (
        text_of(late)
    )
    assert Movement.objects.filter(kind="take_out").count() == 1


def test_the_same_press_twice_is_one_act(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    need(place, leeks, 4)
    look()
    for _ in range(2):
        assert "is taken out" in press(manager, lot, "staff_meal|1|")
    assert there(lot, place) == 4000


def test_what_is_unsafe_is_named_above_the_rest(place: Location, manager: Client) -> None:
    """The dearest lot at risk comes first on the board; one past its use-by is named before."""
    dear, gone = shelf_lot(place, qty=9000), shelf_lot(place, qty=10, days=-1)
    look()
    text = board(manager)
    above, below = text.split('class="strips"', 1)
    assert "Not to be used:" in above
    assert f'href="#{gone.strip}-{place.code}"' in above
    assert dear.strip not in above
    assert below.index(dear.strip) < below.index(gone.strip)


def test_other_ways_stand_under_the_best_and_say_which(place: Location, manager: Client) -> None:
    shelf_lot(place, of=make.item(may_freeze=True))
    look()
    before, folded = board(manager).split('<details class="other-ways"', 1)
    assert list(buttons(before)) == ["freeze 5 kg"]
    said = folded.split("</summary>")[0]
    assert "staff meal, 5 kg; donate 5 kg; throw 5 kg away; hold it" in said


@pytest.mark.parametrize("value", ["staff_meal|1|", "donate|1|", "freeze|1|"])
def test_what_was_taken_from_offers_nothing_until_it_is_worked_out_again(
    value: str, place: Location, leeks: Item, manager: Client
) -> None:
    lot, other = shelf_lot(place, of=leeks), shelf_lot(place)
    need(place, leeks, 4)
    look()
    press(manager, lot, value)
    assert UseByLook.objects.filter(done_at=None).count() == 1
    text = board(manager)
    row = text[text.index(f'id="{lot.strip}-COM"') :].partition("</li>")[0]
    assert list(buttons(row)) == ["hold"]
    assert "being worked out again" in row and "will not be used" not in row
    assert "staff meal, 5 kg" in buttons(text[text.index(f'id="{other.strip}-COM"') :])
    look()
    assert lot.strip not in board(manager)  # what is left will be used


def test_taken_from_by_another_way_it_says_to_ask(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    need(place, leeks, 4)
    look()
    press(manager, lot, "donate|1|")
    UseByLook.objects.filter(done_at=None).delete()
    assert "some was taken since; work it out again" in board(manager)


def test_past_its_use_by_the_bin_stays_after_a_press(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks, days=-1)
    look()
    known = Known(lot, place, Decimal(1000), timezone.now())
    take_out(known, reason="past use-by", waste=True, by=None, at=timezone.now())
    assert list(buttons(board(manager))) == ["throw 4 kg away", "hold"]


@pytest.mark.parametrize("value", ["", "sell|1|", "freeze|x|", "freeze|NaN|", "freeze"])
def test_a_button_that_is_none_is_refused(
    value: str, place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    response = manager.post(f"/use-by/{lot.strip}/help/", {"key": "k", "at": "COM", "help": value})
    assert response.status_code == 422
    assert there(lot, place) == 5000


def test_asking_for_fresh_figures(place: Location, manager: Client) -> None:
    look()
    said = text_of(manager.post("/use-by/look/", {"key": "k"}, follow=True))
    assert "look again in a minute" in said
    assert UseByLook.objects.filter(done_at=None).count() == 1


def test_money_is_for_who_sees_cost(place: Location, leeks: Item) -> None:
    shelf_lot(place, of=leeks)
    look()
    text = board(signed_in(make.member("staff", place)))
    assert "saves" not in text and "20.00" not in text and "at risk, USD" not in text


def test_everybody_sees_their_own_places_only(place: Location, leeks: Item) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    elsewhere = signed_in(make.member("staff", make.location()))
    assert lot.strip not in board(elsewhere)
    response = elsewhere.post(
        f"/use-by/{lot.strip}/help/", {"key": "k", "at": "COM", "help": "hold"}
    )
    assert response.status_code == 404


def test_a_buyer_is_offered_what_a_buyer_may(place: Location, leeks: Item) -> None:
    shelf_lot(place, of=leeks)
    look()
    assert list(buttons(board(signed_in(make.member("buyer"))))) == ["hold"]


def test_a_long_board_goes_on(place: Location, leeks: Item, manager: Client) -> None:
    lots = [shelf_lot(place, of=leeks, qty=1000 + number) for number in range(45)]
    look()
    first = board(manager)
    assert lots[0].strip not in first and lots[44].strip in first
    (onward,) = re.findall(r'href="\?from=(\d+)"', first)
    assert lots[0].strip in board(manager, f"?from={onward}")
    assert lots[44].strip in board(manager, "?from=what")


def test_queries_do_not_grow_with_lots(
    place: Location, leeks: Item, manager: Client, count_queries: Callable[..., int]
) -> None:
    def lots(count: int) -> None:
        for _ in range(count):
            shelf_lot(place, of=make.item(may_freeze=True))
        UseByLook.objects.all().delete()
        look()

    lots(3)
    few = count_queries(board, manager)
    lots(57)
    assert count_queries(board, manager) == few


def test_posts_are_not_read_by_looking(manager: Client) -> None:
    assert manager.get("/use-by/look/").status_code == 405
    assert post(manager, "/use-by/").status_code == 405
