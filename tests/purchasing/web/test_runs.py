"""Not ordered: what a run left out, why, and ordering it anyway."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Location
from purchasing.models import Offer, OrderLine, Price, ReorderRun, RunLine
from tests import factories as make
from tests.purchasing.web.test_orders import press, read, sign_in

pytestmark = pytest.mark.django_db
ENOUGH = {
    "basis_used": "forecast",
    "target": "52",
    "raw_need": "0",
    "use_in_window": "4",
    "use_in_window_p90": "6",
    "stockout_chance_without": "0.1",
    "unit": "kg",
}


@pytest.fixture
def run() -> ReorderRun:
    return a_run()


def a_run() -> ReorderRun:
    now = timezone.now()
    count = ReorderRun.objects.count()
    return ReorderRun.objects.create(
        as_of=now, seed=count, paths=1, inputs_digest="", worked_out_at=now
    )


def left_out(run: ReorderRun, place: Location | None = None, **reasons: Any) -> Offer:
    everyday = list(range(7))
    supplier = make.supplier(order_days=everyday, delivery_days=everyday)
    offer = make.offer(supplier=supplier)
    Price.objects.create(offer=offer, price=4)
    RunLine.objects.create(
        run=run,
        location=place or make.location(),
        item=offer.item,
        supplier=supplier,
        sku=offer.sku,
        reasons={**ENOUGH, **reasons},
    )
    return offer


def row_of(offer: Offer) -> RunLine:
    return RunLine.objects.get(item=offer.item)


def anyway(client: Client, offer: Offer, cases: str) -> Any:
    row = row_of(offer)
    typed = {"offer": offer.pk, "place": row.location_id, "row": row.pk, f"cases-{row.pk}": cases}
    return press(client, f"/orders/runs/{row.run_id}/order/", **typed)


WHY = [
    ({}, "use 4 kg, on nine days of ten at most 6 kg; 52 kg there"),
    ({}, "1 chance in 10"),
    ({"basis_used": "fixed"}, "par 52 kg, 52 kg there: enough"),
    ({"use_in_window": "0"}, "no use is expected; 52 kg there"),
    ({"reason": "no_delivery"}, "no delivery within 60 days"),
    ({"reason": "could_be_bought"}, "it is made in the house; it could be bought"),
]


@pytest.mark.parametrize(("reasons", "words"), WHY, ids=[row[1] for row in WHY])
def test_what_was_left_out_says_why(
    client: Client, run: ReorderRun, reasons: dict[str, Any], words: str
) -> None:
    left_out(run, **reasons)
    sign_in(client)
    assert words in read(client, f"/orders/runs/{run.pk}/")


def test_it_is_ordered_anyway(client: Client, run: ReorderRun) -> None:
    offer = left_out(run)
    sign_in(client)
    answer = anyway(client, offer, "3")
    line = OrderLine.objects.get()
    assert (line.cases, line.touched_why, line.order.status) == (3, "ordered anyway", "draft")
    assert answer.url == f"/orders/{line.order.number}/"
    assert "is on the draft" in read(client, answer.url)


def test_a_wrong_figure_is_kept_at_its_row(client: Client, run: ReorderRun) -> None:
    offer = left_out(run)
    sign_in(client)
    answer = anyway(client, offer, "some")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="some"' in page and f'aria-describedby="problem-cases-{row_of(offer).pk}"' in page


def test_what_no_delivery_brings_cannot_be_ordered(client: Client, run: ReorderRun) -> None:
    left_out(run, reason="no_delivery")
    sign_in(client)
    assert "order it anyway" not in read(client, f"/orders/runs/{run.pk}/")


def test_an_older_run_points_to_the_newest(client: Client, run: ReorderRun) -> None:
    newer = a_run()
    sign_in(client)
    assert f"/orders/runs/{newer.pk}/" in read(client, f"/orders/runs/{run.pk}/")
    assert client.get("/orders/runs/999/").status_code == 404


def test_other_places_are_left_out(client: Client, run: ReorderRun) -> None:
    here = make.location()
    mine, other = left_out(run, here), left_out(run)
    sign_in(client, place=here)
    page = read(client, f"/orders/runs/{run.pk}/")
    assert mine.item.name in page and other.item.name not in page
    assert anyway(client, other, "1").status_code == 404


def test_queries_do_not_grow(
    client: Client, run: ReorderRun, count_queries: Callable[..., int]
) -> None:
    sign_in(client)
    place = make.location()
    counts = []
    for more in (3, 57):
        for _ in range(more):
            left_out(run, place)
        counts.append(count_queries(client.get, f"/orders/runs/{run.pk}/"))
    assert counts[0] == counts[1]
