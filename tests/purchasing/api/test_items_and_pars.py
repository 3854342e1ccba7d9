"""Items and pars through the API, under the rules of the workbook; what is missing; traces."""

from __future__ import annotations

import pytest

from inventory.models import Item, Location
from purchasing.models import Par, UseByLook
from tests import factories as make
from tests.asking import Asker, asker

pytestmark = pytest.mark.django_db

LEEKS = {
    "name": "Leeks",
    "kind": "ingredient",
    "unit": "kg",
    "storage": "chilled",
    "shelf_life_days": 9,
    "tcs": False,
    "grams_per_each": "210.5",
    "allergens": [{"allergen": "celery", "says": "may"}],
    "units": [{"word": "tray", "qty": "2.5", "of_unit": "kg"}],
}


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def buyer() -> Asker:
    return asker("buyer")


def test_an_item_is_added_and_changed_on_the_version_that_was_read(buyer: Asker) -> None:
    added = buyer.post("add-item/", {**LEEKS, "code": "LEEK"})
    assert (added.status, added.body["name"]) == (201, "Leeks")
    assert added.body["units"] == [{"word": "tray", "qty": "2.5", "of_unit": "kg"}]
    tag = added.headers["ETag"].strip('"')
    assert buyer.get("items/LEEK/").headers["ETag"] == f'"{tag}"'
    changed = buyer.post("items/LEEK/change/", {**LEEKS, "name": "Big leeks"}, version=tag)
    assert (changed.status, changed.body["name"]) == (200, "Big leeks")
    stale = buyer.post("items/LEEK/change/", LEEKS, version=tag)
    assert (stale.status, stale.codes) == (409, ["stale"])
    assert "Leeks -> Big leeks" in stale.messages


def test_what_is_wrong_with_an_item_is_told_at_its_input(buyer: Asker) -> None:
    wrong = {**LEEKS, "code": "LEEK", "units": [{"word": "tray", "qty": "2", "of_unit": "cup"}]}
    answer = buyer.post("add-item/", wrong)
    assert answer.status == 422
    assert answer.body["problems"][0]["field"].startswith("units.0.")
    make.item(code="ONION")
    taken = buyer.post("add-item/", {**LEEKS, "code": "ONION"})
    assert taken.codes == ["code_taken"]


def test_items_are_changed_by_people_of_every_place(here: Location) -> None:
    local = asker("buyer", here).post("add-item/", {**LEEKS, "code": "LEEK"})
    assert (local.status, local.codes) == (403, ["not_allowed"])
    assert not Item.objects.exists()


def test_what_nobody_stated_is_not_stated(buyer: Asker) -> None:
    buyer.post("add-item/", {**LEEKS, "code": "LEEK"})
    card = buyer.get("items/LEEK/allergens/").body["allergens"]
    words = {one["word"] for one in card}
    assert "free" not in words
    assert "not_stated" in words


def test_pars_of_every_weekday_are_set_in_one_act(here: Location, buyer: Asker) -> None:
    leeks = make.item(code="LEEK")
    Par.objects.create(location=here, item=leeks, basis="fixed", par=3, unit="kg")
    before = buyer.get("pars/COM/LEEK/")
    tag = before.headers["ETag"].strip('"')
    rows = [
        {"weekday": None, "basis": "forecast", "service_level": "0.95"},
        {"weekday": 5, "par": "12.5", "unit": "kg", "basis": "greater"},
    ]
    after = buyer.post("pars/COM/LEEK/set/", {"rows": rows}, version=tag)
    assert after.status == 200, after.body
    told = [(row["weekday"], row["par"], row["service_level"]) for row in after.body["rows"]]
    assert sorted(told, key=str) == [(5, "12.5", None), (None, None, "0.95")]
    assert buyer.post("pars/COM/LEEK/set/", {"rows": rows}, version=tag).status == 409


def test_a_wrong_par_is_told_at_its_row(here: Location, buyer: Asker) -> None:
    make.item(code="LEEK")
    tag = buyer.get("pars/COM/LEEK/").headers["ETag"].strip('"')
    rows = [{"weekday": None, "basis": "forecast"}, {"weekday": 5, "basis": "fixed"}]
    answer = buyer.post("pars/COM/LEEK/set/", {"rows": rows}, version=tag)
    assert (answer.status, answer.body["problems"][0]["field"]) == (422, "rows.1.par")
    twice = buyer.post("pars/COM/LEEK/set/", {"rows": rows[:1] * 2}, version=tag)
    assert twice.codes == ["weekday_twice"]


def test_pars_of_another_place_are_not_there(here: Location) -> None:
    make.item(code="LEEK")
    assert asker("buyer", make.location()).get("pars/COM/LEEK/").status == 404


def test_a_trace_is_told_whole(here: Location) -> None:
    lot = make.lot(5000, at=here, supplier_lot="A7")
    body = asker("staff", here).get(f"lots/{lot.strip}/trace/").body
    assert (body["lot"], body["supplier_lot"]) == (lot.strip, "A7")
    assert asker("staff", make.location()).get(f"lots/{lot.strip}/trace/").status == 404


def test_what_is_missing_is_told_in_sentences(buyer: Asker) -> None:
    make.item(name="Leeks", tcs=True)
    kinds = buyer.get("not-ready/").body["kinds"]
    assert any("Leeks" in gap["sentence"] for kind in kinds for gap in kind["gaps"])


def test_the_board_is_worked_out_again_when_asked(buyer: Asker) -> None:
    for _ in range(2):
        assert buyer.post("use-by/look/").status == 202
    assert UseByLook.objects.count() == 1
