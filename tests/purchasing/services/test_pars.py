"""Pars of one item at one place, set as one form."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db.models import F

from inventory.models import Event, Item, Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Viewer
from inventory.selectors.item_facts import digest_of
from inventory.selectors.viewers import viewer_of
from purchasing.models import DueMoment, Par
from purchasing.selectors.par_facts import par_facts
from purchasing.services.pars import DAYS, TypedPars, set_pars
from tests import factories as make
from tests.factories import NOW

pytestmark = pytest.mark.django_db

Typed = dict[str, tuple[str, str, str, str]]  # by day: par, unit, basis, service level


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def leek() -> Item:
    return make.item(code="LEEK", name="Leeks", unit="kg")


@pytest.fixture
def viewer(place: Location) -> Viewer:
    return viewer_of(make.manager(place))


def save(viewer: Viewer, days: Typed, *, source: str = "", as_read: str = "") -> None:
    names = ("par", "unit", "basis", "service_level")
    rows = [dict(zip(names, days.get(day, ("",) * 4), strict=True)) for day in DAYS]
    place, item = Location.objects.get(code="MILL"), Item.objects.get(code="LEEK")
    read = as_read or digest_of(par_facts(place.pk, item.pk))
    typed = TypedPars(rows, source)
    set_pars("MILL", "LEEK", typed, as_read=read, viewer=viewer, by=None, at=NOW)


def refusal(viewer: Viewer, days: Typed, **more: str) -> tuple[Problem, ...]:
    with pytest.raises(Refused) as refused:
        save(viewer, days, **more)
    return refused.value.problems


FIXED = ("12", "", "fixed", "")


def test_each_weekday_has_its_row(place: Location, leek: Item, viewer: Viewer) -> None:
    save(viewer, {"": FIXED, "fri": ("20", "lb", "greater", "98")})
    every, friday = Par.objects.order_by(F("weekday").asc(nulls_first=True))
    assert (every.weekday, every.par, every.basis) == (None, Decimal(12), "fixed")
    assert (friday.weekday, friday.par, friday.unit) == (4, Decimal(20), "lb")
    assert friday.service_level == Decimal("0.98")
    assert Event.objects.get().subject == "par:MILL:LEEK"
    assert DueMoment.objects.filter(kind="change").count() == 1


def test_an_emptied_row_goes(place: Location, leek: Item, viewer: Viewer) -> None:
    save(viewer, {"": FIXED, "fri": FIXED})
    save(viewer, {"": FIXED})
    assert Par.objects.get().weekday is None
    assert Event.objects.first().changes == {"weekday 4": ["12 fixed", ""]}  # type: ignore[union-attr]


def test_the_same_again_notes_nothing(place: Location, leek: Item, viewer: Viewer) -> None:
    save(viewer, {"": FIXED})
    save(viewer, {"": FIXED})
    assert Event.objects.count() == 1


def test_all_problems_at_once_by_day(place: Location, leek: Item, viewer: Viewer) -> None:
    problems = refusal(
        viewer,
        {
            "": ("many", "", "fixed", ""),
            "mon": ("", "", "", "95"),
            "sun": ("3", "", "forecast", "100"),
        },
    )
    assert {problem.field: problem.message for problem in problems} == {
        "par-0": "Every day. Par: 'many' is not a number; type a figure such as 12.5.",
        "basis-1": "Monday. What decides is missing.",
        "service_level-7": "Sunday. Service level: type a share of the days in per cent, above 0 "
        "and below 100.",
    }


@pytest.mark.parametrize(
    ("row", "field", "words"),
    [
        (("", "", "fixed", ""), "par-0", "basis fixed needs a par"),
        (("-1", "", "fixed", ""), "par-0", "must be 0 or more"),
        (("1", "pan", "fixed", ""), "unit-0", "'pan' is not a unit of Leeks"),
        (("1", "each", "fixed", ""), "unit-0", "Fill in 'grams in one piece' of the item"),
        (("1", "", "wish", ""), "basis-0", "'wish' is not known"),
    ],
    ids=["no par", "negative", "unknown unit", "no weight", "unknown basis"],
)
def test_a_row_that_cannot_be(
    place: Location,
    leek: Item,
    viewer: Viewer,
    row: tuple[str, str, str, str],
    field: str,
    words: str,
) -> None:
    (problem,) = refusal(viewer, {"": row})
    assert problem.field == field
    assert words in problem.message
    assert not Par.objects.exists()


def test_goods_do_not_come_round_in_a_circle(place: Location, leek: Item, viewer: Viewer) -> None:
    make.location(code="CAFE", supplied_by=place)
    (problem,) = refusal(viewer, {"": FIXED}, source="CAFE")
    assert "MILL is supplied by CAFE is supplied by MILL" in problem.message


def test_a_form_opened_before_another_change_is_stale(
    place: Location, leek: Item, viewer: Viewer
) -> None:
    opened = digest_of(par_facts(place.pk, leek.pk))
    save(viewer, {"": FIXED})
    (problem,) = refusal(viewer, {"fri": FIXED}, as_read=opened)
    assert problem.code == "stale"
    assert Par.objects.get().weekday is None


def test_staff_read_pars_but_do_not_set_them(place: Location, leek: Item) -> None:
    person = make.user()
    person.memberships.create(role="staff", location=place)
    (problem,) = refusal(viewer_of(person), {"": FIXED})
    assert problem.message == "Pars of Mill Lane are set by its buyers and managers."


def test_another_places_pars_are_not_there(place: Location, leek: Item) -> None:
    with pytest.raises(NotThere):
        save(viewer_of(make.manager(make.location())), {"": FIXED})
