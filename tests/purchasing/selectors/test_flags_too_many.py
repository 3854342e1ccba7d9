"""A person's figure that cannot be used while it keeps is a flag, with how much is lost."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.flags import Flag, flags_of, with_lines
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db


def chicken(cases: int, *, life: int | None = 4, **facts: Any) -> PurchaseOrder:
    """Cases of 40 lb, of which we would order 2; at most 86 lb are used until the next delivery,
    which comes two days later, and 6 lb are there."""
    reasons = {
        "unit": "lb",
        "target": "86",
        "raw_need": "80",
        "rounding": "0",
        "use_in_window_p90": "86",
        "basis_used": "forecast",
    }
    order = make.order(status="draft", next_delivery=TODAY + timedelta(days=2))
    item = make.item(name="Chicken thighs", unit="lb", shelf_life_days=life)
    line = {
        "cases": cases,
        "our_cases": 2,
        "touched": True,
        "pack_qty": Decimal(40),
        "pack_unit": "lb",
        "pack_base": Decimal("18143.6948"),
        "reasons": reasons,
    }
    make.order_line(order, offer=make.offer(item=item), **{**line, **facts})
    return order


def told(order: PurchaseOrder) -> list[str]:
    """The words of the flags about waste."""
    (found,) = with_lines(PurchaseOrder.objects.filter(pk=order.pk))
    flags: tuple[Flag, ...] = flags_of(found, now=NOW, approved={}, alert_pct=Decimal(5))
    return [flag.words for flag in flags if flag.code == "too_many"]


def test_certain_waste_is_said_with_how_much_how_likely_and_until_when() -> None:
    """Five days of use at 43 lb are 215 lb, 6 lb of it there: 1,391 lb are left of 1,600 lb."""
    assert TODAY.isoformat() == "2026-03-04"
    assert told(chicken(40)) == [
        "Chicken thighs: 1,391 lb or more of 1,600 lb will go to waste (9 chances in 10); it keeps "
        "to Sun 8 Mar"
    ]


def test_what_may_still_be_used_is_no_flag() -> None:
    """Five cases are 200 lb; of six, at 240 lb, less than a case is left."""
    assert told(chicken(5)) == []
    assert told(chicken(6)) == []
    assert told(chicken(7)) != []


def test_only_a_figure_of_a_person_above_ours_of_what_expires() -> None:
    assert told(chicken(40, touched=False)) == []
    assert told(chicken(40, our_cases=40)) == []
    assert told(chicken(40, life=None)) == []
    assert told(chicken(40, reasons={"unit": "lb"})) == []


def test_a_pack_in_another_unit_is_measured_by_what_we_would_order() -> None:
    order = chicken(40, pack_qty=Decimal("18.1"), pack_unit="kg")
    assert told(order) == told(chicken(40))


def test_a_longer_life_uses_more_of_it() -> None:
    assert told(chicken(40, life=60)) == []
    assert OrderLine.objects.get().cases == 40
