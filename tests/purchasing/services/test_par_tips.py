"""Tips for pars: worked out from real usage, adopted by a press, never by itself."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Event
from inventory.problems import NotThere, Refused
from inventory.roles import Viewer
from inventory.selectors.item_facts import digest_of
from inventory.selectors.viewers import viewer_of
from purchasing.models import DueMoment, Finding, Par
from purchasing.selectors.par_facts import par_facts, typed_facts
from purchasing.selectors.par_tips import work_out_tips
from purchasing.services.findings import ask_finding, find_if_asked
from purchasing.services.par_tips import adopt_tip
from purchasing.services.par_undo import put_back
from tests import factories as make
from tests.purchasing.services.tip_kitchen import AT, DAY, kitchen

pytestmark = pytest.mark.django_db


@pytest.fixture
def viewer() -> Viewer:
    return viewer_of(make.manager(kitchen()[0]))


def found() -> Finding:
    ask_finding(Finding.Kind.PAR_TIPS, by=None, at=AT)
    find_if_asked(clock=lambda: AT)
    return Finding.objects.get(kind=Finding.Kind.PAR_TIPS)


def adopt(viewer: Viewer, worked_out: int, as_read: str = "") -> dict[str, list[str]]:
    row = Par.objects.first()
    assert row is not None
    read = as_read or digest_of(par_facts(row.location_id, row.item_id))
    return adopt_tip(
        "MILL", "LEEK", worked_out=worked_out, as_read=read, viewer=viewer, by=None, at=AT
    )


def test_a_tip_carries_from_each_delivery_to_the_next(viewer: Viewer) -> None:
    (row,) = work_out_tips(DAY)["rows"]
    assert row["unit"] == "kg"
    pars = {tip["weekday"]: tip["par"] for tip in row["tips"]}
    assert pars == {1: "12", 4: "16"}  # 3 and 4 days of 4 kg
    assert [tip["ran_out"] for tip in row["tips"]] == [0, 0]


def test_what_the_pars_as_set_would_have_thrown_away_stands_beside_it() -> None:
    kitchen(life=3, par="40")
    (row,) = work_out_tips(DAY)["rows"]
    gone, kept = (
        sum(Decimal(one["thrown_away"]) for one in row[name]) for name in ("as_set", "tips")
    )
    assert gone > kept
    assert sum(Decimal(one["lost"]) for one in row["as_set"]) == gone * Decimal("1.2")


def test_only_where_a_par_decides() -> None:
    kitchen()
    Par.objects.update(basis=Par.Basis.FORECAST)
    assert work_out_tips(DAY)["rows"] == []


def test_nothing_changes_until_somebody_presses(viewer: Viewer) -> None:
    found()
    assert [row.par for row in Par.objects.all()] == [Decimal(40)]


def test_adopting_sets_the_weekdays_and_keeps_what_decides(viewer: Viewer) -> None:
    Par.objects.update(service_level=Decimal("0.9"))
    adopt(viewer, found().pk)
    rows = {row.weekday: row for row in Par.objects.all()}
    assert {day: row.par for day, row in rows.items()} == {None: 40, 1: 12, 4: 16}
    assert {row.basis for row in rows.values()} == {Par.Basis.FIXED}
    assert {row.service_level for row in rows.values()} == {Decimal("0.9")}
    assert Event.objects.filter(subject="par:MILL:LEEK").exists()
    assert DueMoment.objects.exists()


def test_adopting_twice_changes_nothing_more(viewer: Viewer) -> None:
    number = found().pk
    assert adopt(viewer, number)
    assert adopt(viewer, number) == {}


def test_a_tip_worked_out_again_is_looked_at_first(viewer: Viewer) -> None:
    found()
    with pytest.raises(Refused, match="worked out again since you opened this page"):
        adopt(viewer, 0)


def test_pars_changed_meanwhile_are_looked_at_first(viewer: Viewer) -> None:
    with pytest.raises(Refused, match="changed the pars of Leeks"):
        adopt(viewer, found().pk, as_read="another")


def test_staff_do_not_adopt_and_strangers_find_nothing(viewer: Viewer) -> None:
    number = found().pk
    staff = viewer_of(make.member("staff"))
    with pytest.raises(Refused, match="set by its buyers and managers"):
        adopt(staff, number)
    with pytest.raises(NotThere):
        adopt(viewer_of(make.manager(make.location())), number)


# Putting back.


def back(viewer: Viewer, as_read: str = "") -> dict[str, list[str]]:
    row = Par.objects.first()
    assert row is not None
    read = as_read or digest_of(par_facts(row.location_id, row.item_id))
    return put_back("MILL", "LEEK", as_read=read, viewer=viewer, by=None, at=AT)


def facts() -> dict[str, str]:
    row = Par.objects.first()
    assert row is not None
    return par_facts(row.location_id, row.item_id)


def test_what_was_adopted_can_be_put_back_and_adopted_again(viewer: Viewer) -> None:
    Par.objects.update(service_level=Decimal("0.925"), unit="kg")
    was = facts()
    number = found().pk
    adopt(viewer, number)
    tipped = facts()
    assert tipped != was
    back(viewer)
    assert facts() == was
    back(viewer)  # the last change is taken back, which is the taking back
    assert facts() == tipped


def test_pars_that_changed_by_another_way_are_not_put_back(viewer: Viewer) -> None:
    adopt(viewer, found().pk)
    Par.objects.filter(weekday=1).update(par=13)
    with pytest.raises(Refused, match="not as their last change in the log left them"):
        back(viewer)
    assert Par.objects.get(weekday=1).par == 13


def test_of_two_who_put_back_one_is_told(viewer: Viewer) -> None:
    adopt(viewer, found().pk)
    read = digest_of(facts())
    back(viewer, read)
    with pytest.raises(Refused, match="Somebody changed the pars of Leeks"):
        back(viewer, read)


def test_pars_that_nobody_changed_here_are_not_put_back(viewer: Viewer) -> None:
    with pytest.raises(Refused, match="nothing is put back"):
        back(viewer)


def test_who_may_not_set_pars_may_not_put_them_back(viewer: Viewer) -> None:
    adopt(viewer, found().pk)
    with pytest.raises(Refused, match="set by its buyers and managers"):
        back(viewer_of(make.member("staff")))
    with pytest.raises(NotThere):
        back(viewer_of(make.manager(make.location())))


@pytest.mark.parametrize(
    "said",
    ["40 kg fixed", "40 fixed", "forecast", "12.5 hotel pan greater 0.9 COM", "0 each fixed COM",
     "kg cost 0.95", "fixed 12"],
)  # fmt: skip
def test_the_words_of_a_row_are_read_as_they_were_typed(said: str) -> None:
    typed = typed_facts(said)
    assert typed is not None
    level = typed["service_level"] and f"{Decimal(typed['service_level']) / 100:f}"
    again = [typed["par"], typed["unit"], typed["basis"], level, typed["supplied_by"]]
    assert " ".join(word for word in again if word) == said


def test_words_that_are_no_row_are_not_read() -> None:
    assert typed_facts("as the crow flies") is None
