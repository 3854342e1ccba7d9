"""The inputs of a run: in a fixed number of queries, and read without holding anybody up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.db import connection

from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.reorder import Plan, plan_orders
from purchasing.models import PurchaseOrder
from purchasing.selectors.reorder_inputs import reorder_inputs
from purchasing.services import reorder
from purchasing.services.reorder import draw_up_orders
from tests.purchasing.exchange.books import clear
from tests.purchasing.selectors.many_items import load_items

AS_OF = datetime(2026, 3, 2, 9, tzinfo=UTC)
CountQueries = Callable[..., int]


@pytest.mark.django_db
def test_inputs_of_2000_items_take_as_many_queries_as_those_of_20(
    count_queries: CountQueries,
) -> None:
    load_items(20)
    few = count_queries(reorder_inputs, AS_OF)
    clear()
    load_items(2000)
    assert count_queries(reorder_inputs, AS_OF) == few


@pytest.mark.django_db
def test_a_run_over_2000_items_makes_as_many_queries_as_one_over_20(
    count_queries: CountQueries,
) -> None:
    """But for bulk writes, which go in as many statements as the database's limits ask."""
    load_items(20)
    few = count_queries(draw_up_orders, as_of=AS_OF, dry_run=True)
    clear()
    load_items(2000)
    assert count_queries(draw_up_orders, as_of=AS_OF, dry_run=True) == few


@pytest.mark.django_db
def test_nothing_is_read_in_a_transaction_that_could_hold_up_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    load_items(3)
    depth = len(connection.savepoint_ids)
    seen: list[int] = []

    def plan(inputs: ReorderInputs, *, as_of: int, seed: int) -> Plan:
        seen.append(len(connection.savepoint_ids))
        return plan_orders(inputs, as_of=as_of, seed=seed)

    monkeypatch.setattr(reorder, "plan_orders", plan)
    draw_up_orders(as_of=AS_OF)
    assert seen == [depth]
    assert PurchaseOrder.objects.exists()
