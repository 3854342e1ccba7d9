"""What the supplier says of an order, and what follows."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Inbound
from inventory.problems import NotThere, Refused
from purchasing.models import Answer, DueMoment, OrderLine, PurchaseOrder
from purchasing.selectors.invariants import check_all
from purchasing.services.answers import Said, confirm_all, note_answers
from purchasing.services.orders import approve
from purchasing.services.sending import mark_as_sent
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.services.order_scenes import buyer, draft, fresh, hand, line

pytestmark = pytest.mark.django_db
FRIDAY = date(2026, 3, 6)


@pytest.fixture
def order() -> PurchaseOrder:
    made = draft(4, 3)
    approve(made.number, hand=hand(buyer()))
    mark_as_sent(made.number, "phone", hand=hand(buyer()))
    DueMoment.objects.all().delete()
    return made


def answer(order: PurchaseOrder, says: str, nth: int = 0, **facts: object) -> None:
    said = Said(line(order, nth).pk, says, **facts)  # type: ignore[arg-type]
    note_answers(order.number, [said], hand=hand(buyer()))


def coming() -> dict[str, int]:
    """Cases of 10 kg on their way, by item."""
    assert [str(finding) for finding in check_all() if finding.rows] == []
    return {row.item.name: int(row.qty / 10000) for row in Inbound.objects.select_related("item")}


ANSWERS = [
    ("confirmed", None, 4),
    ("short", 1, 1),
    ("short", 0, 0),
    ("not_coming", None, 0),
]


@pytest.mark.parametrize(("says", "cases", "come"), ANSWERS)
def test_what_comes_is_what_the_supplier_says(
    order: PurchaseOrder, says: str, cases: int | None, come: int
) -> None:
    answer(order, says, cases=cases, note="Jo, 10:40")
    one = line(order)
    assert one.confirmed_cases == come
    assert coming().get(one.item.name, 0) == come
    row = Answer.objects.get()
    assert (row.says, row.cases, row.at, row.note) == (says, come, NOW, "Jo, 10:40")


def test_the_drafts_rest_on_the_answer(order: PurchaseOrder) -> None:
    answer(order, "not_coming")
    assert DueMoment.objects.filter(kind="change").count() == 1
    assert fresh(order).version == 4


def test_another_day_is_the_lines_own(order: PurchaseOrder) -> None:
    answer(order, "new_date", new_date=FRIDAY)
    one = line(order)
    assert (one.confirmed_cases, one.comes_on) == (4, FRIDAY)
    dues = {row.item.name: row.due for row in Inbound.objects.select_related("item")}
    assert dues == {one.item.name: FRIDAY, line(order, 1).item.name: order.delivery}
    assert len(coming()) == 2


def test_a_later_answer_takes_the_place_of_the_first(order: PurchaseOrder) -> None:
    answer(order, "new_date", new_date=FRIDAY)
    answer(order, "short", cases=2)
    assert (line(order).confirmed_cases, line(order).comes_on) == (2, None)
    assert Answer.objects.count() == 2


def test_a_substitute_is_noted_and_the_item_itself_does_not_come(order: PurchaseOrder) -> None:
    other = make.item(code="KALE")
    answer(order, "substitute", substitute="KALE")
    assert Answer.objects.get().substitute == other
    assert line(order).item.name not in coming()


def test_all_lines_are_confirmed_with_one_press(order: PurchaseOrder) -> None:
    answer(order, "short", cases=1)
    confirm_all(order.number, hand=hand(buyer()))
    assert [one.confirmed_cases for one in order.lines.order_by("pk")] == [1, 3]


WRONG = [
    ({"says": "perhaps"}, "choose one of the answers", "says"),
    ({"says": "short"}, "how many cases come", "coming"),
    ({"says": "short", "cases": 9}, "4 cases were ordered; 9 cannot come", "coming"),
    ({"says": "substitute", "substitute": "NONE"}, "what do they offer instead", "substitute"),
    ({"says": "new_date"}, "on which day does it come", "day"),
    ({"says": "new_date", "new_date": date(2026, 3, 5)}, "the day it was ordered for", "day"),
]


@pytest.mark.parametrize(("facts", "words", "field"), WRONG, ids=[row[1] for row in WRONG])
def test_a_wrong_answer_is_refused(
    order: PurchaseOrder, facts: dict[str, object], words: str, field: str
) -> None:
    with pytest.raises(Refused, match=words) as refused:
        answer(order, **facts)  # type: ignore[arg-type]
    assert refused.value.problems[0].field == f"{field}-{line(order).pk}"
    assert not Answer.objects.exists()


def test_less_than_came_in_already_cannot_come(order: PurchaseOrder) -> None:
    OrderLine.objects.filter(order=order).update(received_cases=2)
    with pytest.raises(Refused, match="2 cases have come in already"):
        answer(order, "short", cases=1)


def test_a_line_of_another_order_is_not_there(order: PurchaseOrder) -> None:
    said = [Said(line(draft(1)).pk, "confirmed")]
    with pytest.raises(NotThere):
        note_answers(order.number, said, hand=hand(buyer()))


def test_a_draft_has_no_answer() -> None:
    with pytest.raises(Refused, match="still a draft"):
        confirm_all(draft(1).number, hand=hand(buyer()))
