"""One order: the sheet, what follows, the acts, each refusal with what was typed."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from lxml import etree
from pypdf import PdfReader

from purchasing.models import OrderLine, Price, PurchaseOrder, Sending
from tests import factories as make
from tests.purchasing.web.test_orders import draft, press, read, sign_in

pytestmark = pytest.mark.django_db
REASONS = {
    "basis_used": "forecast",
    "target": "52.5",
    "raw_need": "40.5",
    "use_in_window": "41.2",
    "use_in_window_p90": "52.4",
    "unit": "kg",
}


def page_of(client: Client, order: PurchaseOrder, query: str = "") -> str:
    return read(client, f"/orders/{order.number}/{query}")


def act(client: Client, order: PurchaseOrder, where: str, **typed: Any) -> Any:
    return press(client, f"/orders/{order.number}/{where}/", **typed)


def lines(order: PurchaseOrder) -> list[OrderLine]:
    return list(order.lines.order_by("pk"))


def inputs(page: str) -> dict[str, str]:
    return dict(re.findall(r'name="([\w-]+)" value="([^"]*)"', page))


def approved(**facts: Any) -> PurchaseOrder:
    return draft(2, 3, status="approved", **facts)


def test_the_sheet_says_everything(client: Client) -> None:
    supplier = make.supplier(name="Harbour Dairy", email="o@dairy.example", account="A-7")
    order = draft(2, supplier=supplier)
    OrderLine.objects.filter(order=order).update(reasons=REASONS)
    sign_in(client)
    page = page_of(client, order)
    for word in ("Harbour Dairy", "o@dairy.example", "account A-7", order.location.name, "24.00"):
        assert word in page
    assert "use 41 kg" in page and "at most 52 on nine days of ten" in page


def test_no_such_order(client: Client) -> None:
    sign_in(client)
    assert client.get("/orders/NO-SUCH-1/").status_code == 404
    assert press(client, "/orders/NO-SUCH-1/approve/").status_code == 404


def test_changed_cases_are_saved_with_the_word_why(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client)
    typed = {f"cases-{line.pk}": "5", f"why-{line.pk}": "event", "version": "1"}
    assert act(client, order, "lines", **typed).status_code == 302
    page = page_of(client, order)
    assert "we would order 2; you have 5" in page and 'value="event"' in page
    assert "changed it: " in page


def test_everything_wrong_is_said_at_once_and_what_was_typed_is_kept(client: Client) -> None:
    order = draft(2, 3)
    one, two = lines(order)
    sign_in(client)
    typed = {f"cases-{one.pk}": "two", f"cases-{two.pk}": "-1"}
    answer = act(client, order, "lines", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count("is not a count of cases") == 2
    assert 'value="two"' in page and 'value="-1"' in page
    assert 'aria-invalid="true"' in page


def test_an_emptied_box_is_asked_about(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client)
    for where in ("lines", "approve", "try"):
        answer = act(client, order, where, **{f"cases-{line.pk}": " ", "version": "1"})
        page = answer.content.decode()
        assert answer.status_code == 422
        assert f"{line.item.name}: type the cases, 0 to leave it off." in page
        assert 'aria-invalid="true"' in page
    order.refresh_from_db()
    assert order.status == "draft"


def test_far_too_many_cases_are_called_too_many(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client)
    answer = act(client, order, "lines", **{f"cases-{line.pk}": "99999999999", "version": "1"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"{line.item.name}: 99999999999 cases are too many; type 9,999 at most." in page
    assert inputs(page)[f"cases-{line.pk}"] == "99999999999"


def test_a_stale_form_is_told_who_was_quicker_and_keeps_what_was_typed(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client)
    act(client, order, "lines", **{f"cases-{line.pk}": "5", "version": "1"})
    sign_in(client)
    answer = act(client, order, "lines", **{f"cases-{line.pk}": "4", "version": "1"})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "changed this order at" in page and "2 to 5 cases" in page
    assert inputs(page)[f"cases-{line.pk}"] == "4"
    assert inputs(page)["version"] == "2"  # pressed again it stands


def test_approving_takes_the_cases_as_typed(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client)
    act(client, order, "approve", **{f"cases-{line.pk}": "4", "version": "1"})
    order.refresh_from_db()
    line.refresh_from_db()
    assert (order.status, line.cases, line.our_cases) == ("approved", 4, 2)


def test_the_pass_approves_without_the_cases(client: Client) -> None:
    order = draft(2)
    sign_in(client)
    assert act(client, order, "approve", version="1").status_code == 302
    order.refresh_from_db()
    assert order.status == "approved"


def test_a_limit_is_for_the_cases_as_typed(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sign_in(client, approve_up_to=Decimal(24))
    answer = act(client, order, "approve", **{f"cases-{line.pk}": "4", "version": "1"})
    assert answer.status_code == 422
    assert "comes to 48.00; you may approve up to 24.00" in answer.content.decode()
    line.refresh_from_db()
    assert line.cases == 2


def test_above_the_limit_the_page_says_so(client: Client) -> None:
    order = draft(9)
    sign_in(client, approve_up_to=Decimal(50))
    page = page_of(client, order)
    assert "you may approve up to 50.00" in page
    assert "/approve/" not in page


def test_a_line_is_added(client: Client) -> None:
    order = draft(2)
    offer = make.offer(supplier=order.supplier, sku="77")
    Price.objects.create(offer=offer, price=5)
    sign_in(client)
    assert "[77]" in page_of(client, order)
    act(client, order, "add", offer=offer.pk, **{"add-cases": "3", "add-why": "hunch"})
    assert order.lines.get(offer=offer).cases == 3


def test_adding_nothing_opens_the_form_again(client: Client) -> None:
    order = draft(2)
    sign_in(client)
    answer = act(client, order, "add", **{"add-cases": "3"})
    assert answer.status_code == 422
    assert "<details open>" in answer.content.decode()


def test_another_pack_takes_the_place(client: Client) -> None:
    order = draft(2)
    (line,) = lines(order)
    sack = make.offer(supplier=order.supplier, item=line.item, sku="SACK", pack_qty=Decimal(25))
    Price.objects.create(offer=sack, price=20)
    sign_in(client)
    assert "another pack" in page_of(client, order)
    act(client, order, f"lines/{line.pk}/offer", offer=sack.pk)
    assert [one.cases for one in lines(order)] == [0, 1]


def test_a_delivery_is_skipped_and_taken_up(client: Client) -> None:
    order = draft(2)
    sign_in(client)
    assert act(client, order, "skip", **{"skip-why": "closed"}).url == "/orders/"
    assert "order for this delivery after all" in page_of(client, order)
    act(client, order, "take-up")
    order.refresh_from_db()
    assert order.skipped_at is None


def test_an_approval_is_taken_back(client: Client) -> None:
    order = approved()
    sign_in(client)
    assert "take the approval back" in page_of(client, order)
    act(client, order, "undo")
    order.refresh_from_db()
    assert order.status == "draft"


def test_sending_puts_a_letter_in_the_outbox(client: Client) -> None:
    order = approved()
    sign_in(client)
    act(client, order, "send", to="new@growers.example")
    act(client, order, "send", to="new@growers.example")
    sending = Sending.objects.get()
    assert (sending.to, sending.sent_at) == ("new@growers.example", None)
    page = page_of(client, order)
    assert "on its way by e-mail to new@growers.example" in page
    assert "send by e-mail" not in page


def test_a_wrong_address_is_kept(client: Client) -> None:
    order = approved()
    sign_in(client)
    answer = act(client, order, "send", to="nowhere")
    assert answer.status_code == 422
    assert 'value="nowhere"' in answer.content.decode()


def test_what_left_by_phone_is_marked(client: Client) -> None:
    order = approved()
    sign_in(client)
    act(client, order, "sent", how="phone", whom="Jo")
    assert re.search(r"sent \w+ \d\d:\d\d by phone to Jo", page_of(client, order))


def test_answers_are_noted_line_by_line(client: Client) -> None:
    order = draft(4, 3, status="sent")
    one, two = lines(order)
    sign_in(client)
    typed = {f"says-{one.pk}": "short", f"coming-{one.pk}": "1", f"note-{one.pk}": "Jo"}
    answer = act(client, order, "answer", **typed)
    assert answer.url == f"/orders/{order.number}/?means=1"
    page = page_of(client, order)
    assert "short: 1 of 4 come (Jo)" in page
    act(client, order, "confirm")
    assert [line.confirmed_cases for line in lines(order)] == [1, 3]


def test_a_wrong_answer_keeps_the_form_open(client: Client) -> None:
    order = draft(4, status="sent")
    (one,) = lines(order)
    sign_in(client)
    typed = {f"says-{one.pk}": "new_date", f"day-{one.pk}": "soon"}
    answer = act(client, order, "answer", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "is not a day; type it as" in page and "<details open>" in page


def test_what_came_so_far_is_told(client: Client) -> None:
    order = draft(4, status="sent")
    OrderLine.objects.filter(order=order).update(received_cases=1)
    sign_in(client)
    page = page_of(client, order)
    assert "1 came, 3 still to come" in page
    assert f"/deliveries/{order.number}/" in page


def test_a_line_comes_from_somebody_else_instead(client: Client) -> None:
    everyday = list(range(7))
    order = draft(2)
    (line,) = lines(order)
    other = make.supplier(name="Fast Greens", order_days=everyday, delivery_days=everyday)
    offer = make.offer(supplier=other, item=line.item)
    Price.objects.create(offer=offer, price=15)
    sign_in(client)
    page = page_of(client, order, f"?line={line.pk}")
    assert "from Fast Greens, comes" in page and "15.00 a case, 1.50 per kg" in page
    answer = act(client, order, "elsewhere", offer=offer.pk, cases="2")
    assert answer.status_code == 302
    theirs = PurchaseOrder.objects.drafts().get(supplier=other)
    assert theirs.lines.get().touched_why == f"instead of {order.number}"
    assert f"It is on the draft {theirs.number} now" in page_of(client, order)


def test_what_is_not_waited_for_is_given_up(client: Client) -> None:
    order = draft(4, status="sent")
    (one,) = lines(order)
    sign_in(client)
    assert "stop waiting for 4 cases" in page_of(client, order)
    act(client, order, f"lines/{one.pk}/give-up")
    order.refresh_from_db()
    assert order.status == "cancelled"


def test_an_order_is_cancelled(client: Client) -> None:
    order = approved()
    sign_in(client)
    act(client, order, "cancel", **{"cancel-why": "double"})
    assert "cancelled" in page_of(client, order)


def test_staff_see_the_sheet_and_nothing_to_press(client: Client) -> None:
    order = draft(2)
    sign_in(client, "staff", sees_cost=False)
    page = page_of(client, order)
    assert 'method="post" action="/orders' not in page
    assert "24.00" not in page
    assert act(client, order, "approve").status_code == 404


@pytest.mark.parametrize("status", ["draft", "sent"])
def test_queries_do_not_grow(
    client: Client, count_queries: Callable[..., int], status: str
) -> None:
    few, many = draft(*[1] * 3, status=status), draft(*[1] * 60, status=status)
    sign_in(client)
    page_of(client, few)
    counts = [count_queries(client.get, f"/orders/{order.number}/") for order in (few, many)]
    assert counts[0] == counts[1]


def test_the_papers_of_an_order(client: Client) -> None:
    order = approved(supplier=make.supplier(name="Öz Growers", phone="555-1"))
    sign_in(client)
    where = f"/orders/{order.number}"
    pdf = client.get(f"{where}/order.pdf")
    assert "Öz Growers" in PdfReader(io.BytesIO(pdf.content)).pages[0].extract_text()
    xml = client.get(f"{where}/order.xml")
    assert etree.fromstring(xml.content).tag.endswith("Order")
    csv = client.get(f"{where}/order.csv")
    assert csv["Content-Disposition"] == f'attachment; filename="{order.number}.csv"'
    assert csv.content.decode("utf-8-sig").count("\n") == 3
    assert client.get(f"{where}/order.exe").status_code == 404


def test_the_phone_script_can_be_read_out(client: Client) -> None:
    order = approved(supplier=make.supplier(name="Öz Growers", phone="555-1", account="A-7"))
    sign_in(client)
    page = read(client, f"/orders/{order.number}/phone/")
    assert "Ring Öz Growers" in page and "Our account is A-7." in page
    assert "That is 2 lines. Is all of it coming?" in page
