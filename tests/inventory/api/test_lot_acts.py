"""What is done to lots through the API: once, by whoever may, with sentences that help."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Event, Hold, Location, Lot, OnHand, StorageArea, Transfer
from tests import factories as make
from tests.asking import STRANGER, Asker, asker

pytestmark = pytest.mark.django_db

SPOILED = {"location": "COM", "qty": "1.5", "unit": "kg", "why": "spoiled"}
HOLD = {"location": "COM", "reason": "recall", "note": "call of 9:40"}


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def lot(here: Location) -> Lot:
    return make.lot(5000, at=here, of=make.item(code="LEEK", may_freeze=True))


@pytest.fixture
def staff(here: Location) -> Asker:
    return asker("staff", here)


def left(lot: Lot) -> int:
    return int(OnHand.objects.get(lot=lot, location__code="COM").qty)


def test_waste_is_taken_out_in_the_unit_it_was_typed_in(staff: Asker, lot: Lot) -> None:
    answer = staff.post(f"lots/{lot.strip}/take-out/", SPOILED)
    assert (answer.status, answer.body["on_hand"]) == (200, [{"location": "COM", "qty": "3500"}])
    movement = lot.movements.get(kind="take_out")
    assert (movement.typed_qty, movement.typed_unit) == (Decimal("1.5"), "kg")
    assert movement.by == staff.user


def test_the_same_request_again_is_one_act(staff: Asker, lot: Lot) -> None:
    first = staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key="k1")
    again = staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key="k1")
    assert (again.status, again.body) == (first.status, first.body)
    assert left(lot) == 3500


@pytest.mark.parametrize("change", [{"qty": "2"}, {"why": "staff meal"}])
def test_a_key_with_another_body_is_refused(change: dict[str, str], staff: Asker, lot: Lot) -> None:
    staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key="k1")
    answer = staff.post(f"lots/{lot.strip}/take-out/", {**SPOILED, **change}, key="k1")
    assert (answer.status, answer.codes) == (422, ["key_used"])
    assert left(lot) == 3500


def test_so_is_a_key_for_another_lot(staff: Asker, here: Location, lot: Lot) -> None:
    other = make.lot(5000, at=here, of=lot.item)
    staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key="k1")
    assert staff.post(f"lots/{other.strip}/take-out/", SPOILED, key="k1").codes == ["key_used"]


def test_a_refused_act_leaves_its_key_free(staff: Asker, lot: Lot) -> None:
    too_much = {**SPOILED, "qty": "6"}
    refused = staff.post(f"lots/{lot.strip}/take-out/", too_much, key="k1")
    assert refused.status == 422
    assert staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key="k1").status == 200


def test_without_a_key_nothing_is_done(staff: Asker, lot: Lot) -> None:
    answer = staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key=None)
    assert (answer.status, answer.codes) == (428, ["key_missing"])
    assert "Send Idempotency-Key" in answer.messages
    assert left(lot) == 5000


@pytest.mark.parametrize("key", ["k" * 81, "two words"])
def test_a_key_is_plain_and_short(key: str, staff: Asker, lot: Lot) -> None:
    assert staff.post(f"lots/{lot.strip}/take-out/", SPOILED, key=key).status == 400


def test_every_wrong_input_is_told_at_once(staff: Asker, lot: Lot) -> None:
    wrong = {"location": "COM", "qty": 1.5, "unit": " ", "why": "hungry"}
    answer = staff.post(f"lots/{lot.strip}/take-out/", wrong)
    fields = {problem["field"]: problem["code"] for problem in answer.body["problems"]}
    assert (answer.status, set(fields)) == (400, {"qty", "unit", "why"})
    assert "numbers lose digits" in answer.messages


@pytest.mark.parametrize("qty", ["", "-1", "0", "1e3", "NaN", "1,5", "1234567", "1.0000001"])
def test_what_is_no_amount_is_refused(qty: str, staff: Asker, lot: Lot) -> None:
    answer = staff.post(f"lots/{lot.strip}/take-out/", {**SPOILED, "qty": qty})
    assert (answer.status, answer.body["problems"][0]["field"]) == (400, "qty")


@pytest.mark.parametrize("body", [[], "x", None, 3, {}])
def test_what_is_no_form_is_refused(body: object, staff: Asker, lot: Lot) -> None:
    assert staff.post(f"lots/{lot.strip}/take-out/", body).status == 400


def test_a_unit_without_a_way_there_is_refused_with_what_would_help(staff: Asker, lot: Lot) -> None:
    answer = staff.post(f"lots/{lot.strip}/take-out/", {**SPOILED, "unit": "cup"})
    assert (answer.status, answer.codes) == (422, ["no_conversion"])
    assert "grams_per_ml" in answer.messages


def test_strangers_and_people_of_other_places_find_nothing(lot: Lot) -> None:
    path = f"lots/{lot.strip}/take-out/"
    assert STRANGER.post(path, SPOILED).status == 401
    elsewhere = asker("staff", make.location()).post(path, SPOILED)
    nowhere = asker("staff").post("lots/ZZZZZ/take-out/", SPOILED)
    assert elsewhere.status == nowhere.status == 404
    assert elsewhere.body == nowhere.body


def test_who_sees_it_and_may_not_is_told_who_may(here: Location, lot: Lot) -> None:
    answer = asker("buyer", here).post(f"lots/{lot.strip}/take-out/", SPOILED)
    assert (answer.status, answer.codes) == (403, ["not_allowed"])
    assert "Ask a manager" in answer.messages


def test_a_part_that_is_frozen_gets_a_strip_of_its_own(staff: Asker, lot: Lot) -> None:
    body = {"location": "COM", "qty": "2", "unit": "kg", "change": "freeze"}
    answer = staff.post(f"lots/{lot.strip}/change/", body)
    assert (answer.status, answer.body["state"], answer.body["parent"]) == (
        201,
        "frozen",
        lot.strip,
    )
    assert answer.body["on_hand"] == [{"location": "COM", "qty": "2000"}]


def test_nobody_lengthens_a_use_by(staff: Asker, here: Location) -> None:
    lot = make.lot(5000, at=here, use_by=make.TODAY)
    body = {"location": "COM", "qty": "2", "unit": "kg", "change": "portion"}
    answer = staff.post(f"lots/{lot.strip}/change/", {**body, "use_by": "2026-03-09"})
    assert (answer.status, answer.body["problems"][0]["field"]) == (422, "use_by")


def test_a_lot_is_held_and_released(here: Location, staff: Asker, lot: Lot) -> None:
    held = staff.post(f"lots/{lot.strip}/hold/", HOLD)
    assert (held.status, held.body["holds"][0]["reason"]) == (200, "recall")
    assert staff.post(f"lots/{lot.strip}/hold/", HOLD).body == {"holds": []}
    release = {"location": "COM", "why": "supplier says it is another lot"}
    assert staff.post(f"lots/{lot.strip}/release/", release).status == 403
    manager = asker("manager", here)
    released = manager.post(f"lots/{lot.strip}/release/", release)
    assert (released.status, bool(released.body["closed_at"])) == (200, True)
    assert manager.post(f"lots/{lot.strip}/release/", release).codes == ["not_on_hold"]


def test_everywhere_is_for_people_of_every_place(here: Location, staff: Asker, lot: Lot) -> None:
    everywhere = {**HOLD, "location": None}
    assert staff.post(f"lots/{lot.strip}/hold/", everywhere).status == 403
    assert asker("manager").post(f"lots/{lot.strip}/hold/", everywhere).status == 200
    assert Hold.objects.get().location is None


def test_all_of_a_storage_area_is_held(here: Location, staff: Asker) -> None:
    area = StorageArea.objects.create(location=here, code="WALKIN", name="Walk-in", kind="chilled")
    lots = [make.lot(5, at=here, area=area) for _ in range(2)]
    body = {"reason": "temperature"}
    answer = staff.post("locations/COM/areas/WALKIN/hold/", body)
    assert [row["lot"] for row in answer.body["holds"]] == [lot.strip for lot in lots]
    assert staff.post("locations/COM/areas/CELLAR/hold/", body).status == 404


def test_goods_are_sent_and_arrive(here: Location, lot: Lot, staff: Asker) -> None:
    truck = make.location(code="TRUCK", kind="truck")
    body = {"location": "COM", "qty": "2", "unit": "kg", "to": "TRUCK"}
    sent = staff.post(f"lots/{lot.strip}/move/", body)
    assert (sent.status, sent.body["target"], sent.body["lines"][0]["sent"]) == (
        201,
        "TRUCK",
        "2000",
    )
    path = f"transfers/{sent.body['number']}/arrive/"
    some = {"arrived": [{"lot": lot.strip, "qty": "1900"}]}
    assert staff.post(path, some).status == 403
    arrived = asker("truck_lead", truck).post(path, some)
    (line,) = arrived.body["lines"]
    assert (arrived.status, line["arrived"], line["missing"]) == (200, "1900", "100")
    assert Transfer.objects.get().arrived_at is not None


def test_more_than_was_sent_cannot_arrive(here: Location, lot: Lot) -> None:
    make.location(code="TRUCK", kind="truck")
    boss = asker("manager")
    body = {"location": "COM", "qty": "2", "unit": "kg", "to": "TRUCK"}
    number = boss.post(f"lots/{lot.strip}/move/", body).body["number"]
    more = {"arrived": [{"lot": lot.strip, "qty": "2001"}]}
    answer = boss.post(f"transfers/{number}/arrive/", more)
    assert (answer.status, answer.codes) == (422, ["more_than_sent"])
    assert boss.post(f"transfers/{number}/arrive/", {"arrived": None}).status == 200


def test_every_act_is_in_the_log(staff: Asker, lot: Lot) -> None:
    staff.post(f"lots/{lot.strip}/take-out/", SPOILED)
    staff.post(f"lots/{lot.strip}/hold/", HOLD)
    verbs = Event.objects.filter(subject=f"lot:{lot.strip}").order_by("pk")
    assert list(verbs.values_list("verb", "by")) == [
        ("take_out", staff.user.pk if staff.user else None),
        ("hold", staff.user.pk if staff.user else None),
    ]
