"""The page of replays: ask and read; who may."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from inventory.models import Location
from purchasing.models import Replay
from tests import factories as make
from tests.purchasing.services.replay_kitchen import FIRST, LAST
from tests.purchasing.web.replay_page import DAYS, ask, shown, worked_out
from tests.purchasing.web.shelf import post, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_at_first_it_offers_the_last_four_weeks_and_every_rule(
    kitchen: None, owner: Client
) -> None:
    page = shown(owner)
    assert "No weeks have been replayed yet." in page
    assert 'value="2026-02-23"' in page
    assert f'value="{LAST}"' in page
    assert (page.count('name="policy"'), page.count(" checked")) == (8, 7)
    assert 'value="recorded">' in page  # nothing that came is on record


def test_what_is_asked_for_is_worked_out_by_the_tick_and_shown(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    page = ask(owner)
    assert "It is being worked out beside this page" in page
    assert "by ottilie" in page
    assert "replay these days" not in page  # one at a time
    assert worked_out() is True
    page = shown(owner)
    for words in ("your pars as they are", "each line up to its par", "mean use and a quarter"):
        assert words in page
    assert "Mon 9 Mar to Thu 12 Mar 2026" in page
    assert "it would have cost" in page
    assert "Left out by “each line up to its par”, which needs a par: Cups, Café" in page
    assert page.count("<polyline") == 2 * 2  # what takes some of the lines is no line beside them
    assert "on the first morning 3 of 8 lines had no stock on record" in page
    assert worked_out() is False


def test_asking_twice_is_asking_once_and_another_waits_its_turn(
    kitchen: None, owner: Client
) -> None:
    ask(owner, key="a")
    ask(owner, key="a")
    assert Replay.objects.count() == 1
    response = owner.post("/replay/ask/", {"key": "b", **DAYS, "policy": ["mean"]})
    assert response.status_code == 422
    assert "A replay is being worked out. Stop it, or wait until it is done." in text_of(response)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"first": "soon"}, "&#x27;soon&#x27; is not a day. Write it as 2026-03-09."),
        ({"policy": []}, "Tick at least one rule to replay by."),
        ({"first": "2026-03-13"}, "Give the earlier day first."),
        ({"first": "2025-12-01"}, "comes before the first usage on record"),
        ({"last": "2027-06-01"}, "at most 366 are replayed at once."),
        ({"last": "2027-06-01"}, "2027-06-01 is not over yet."),
        ({"policy": ["hunch"]}, "There is no policy &#x27;hunch&#x27;."),
    ],
)
def test_wrong_days_are_refused_and_what_was_typed_is_kept(
    changed: dict[str, Any], sentence: str, kitchen: None, owner: Client
) -> None:
    typed = {"key": "k", **DAYS, "policy": ["mean"], **changed}
    response = owner.post("/replay/ask/", typed)
    page = text_of(response)
    assert response.status_code == 422
    assert sentence in page
    assert f'value="{typed["last"]}"' in page
    assert page.count(" checked") == (1 if typed["policy"] == ["mean"] else 0)
    assert not Replay.objects.exists()


def test_everything_that_is_wrong_is_said_at_once(kitchen: None, owner: Client) -> None:
    typed = {"key": "k", "first": "2025-12-01", "last": "2027-06-01", "policy": []}
    page = text_of(owner.post("/replay/ask/", typed))
    assert "4 things to put right" in page
    for sentence in ("Tick at least one rule", "comes before the first usage", "at most 366",
                     "is not over yet"):  # fmt: skip
        assert sentence in page
    assert page.count('href="#first"') == 2
    assert 'id="first" name="first" type="date" required value="2025-12-01" aria-invalid' in page


# Whether anybody is at it.


def test_the_page_names_what_is_not_modelled(kitchen: None, owner: Client, settings: Any) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["pars", "fixed", "mean", "recorded"])
    worked_out()
    page = shown(owner)
    assert "what suppliers send short, late or instead" in page
    assert "is neither charged nor credited" in page
    assert "What running out of these costs is not known, and counts as nothing: Napkins" in page
    assert "Nothing came on record in these weeks, so “what really came” is left out." in page
    assert "what really came</th>" not in page


def test_a_rule_for_some_lines_stands_apart_beside_the_same_lines(
    kitchen: None, owner: Client, settings: Any
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["pars", "fixed"])
    worked_out()
    answer = Replay.objects.get().answer
    pars, fixed = answer["policies"]
    taken = {(line["location"], line["item"]) for line in fixed["lines"]}
    same = [one for one in pars["lines"] if (one["location"], one["item"]) in taken]
    there = sum(Decimal(line["avoidable"]) for line in same)
    page = shown(owner)
    assert "Rules that take only some of the lines, on those lines" in page
    assert f">{fixed['totals']['avoidable']}</td>" in page
    assert f">{there:,.2f}</td>" in page


def test_what_no_rule_could_help_is_drawn_apart(kitchen: None, owner: Client) -> None:
    ask(owner, policy=["mean", "outdating"])
    worked_out()
    early = Replay.objects.get().answer["before"]
    assert set(early) == {"mean", "outdating"}
    assert Decimal(early["mean"]) > 0
    page = shown(owner)
    assert "of each is not the rules&#x27; doing" in page
    assert 'class="part before"' in page


@pytest.mark.parametrize(
    ("role", "facts", "status", "may"),
    [
        ("owner", {"sees_cost": True}, 200, True),
        ("buyer", {"sees_cost": True}, 200, True),
        ("manager", {"sees_cost": False}, 200, False),
        ("staff", {}, 404, False),
        ("truck_lead", {}, 404, False),
    ],
)
def test_it_is_for_those_who_set_pars_everywhere_and_see_costs(
    role: str, facts: dict[str, Any], status: int, may: bool, kitchen: None
) -> None:
    client = signed_in(make.member(role, **facts))
    response = client.get("/replay/")
    assert response.status_code == status
    assert ("replay these days" in text_of(response)) is may
    typed = {"key": "k", **DAYS, "policy": ["mean"]}
    assert client.post("/replay/ask/", typed).status_code == (302 if may else 404)


def test_a_manager_of_one_place_is_told_whom_it_is_for(kitchen: None) -> None:
    place = Location.objects.get(code="CAFE")
    client = signed_in(make.member("manager", place, sees_cost=True))
    assert "compares the money of the whole business" in shown(client)
    assert post(client, "/replay/1/stop/").status_code == 404


def test_the_page_takes_as_many_queries_for_sixty_days_as_for_three(
    kitchen: None, owner: Client, settings: Any, count_queries: Callable[..., int]
) -> None:
    settings.REORDER_PATHS = 20
    ask(owner, policy=["mean"], last=str(FIRST + timedelta(days=2)))
    worked_out()
    few = count_queries(shown, owner)
    ask(owner, key="more", policy=["mean", "fixed"], first="2026-01-20")
    worked_out()
    assert "Tue 20 Jan to Thu 12 Mar 2026" in shown(owner)
    assert count_queries(shown, owner) == few
