"""Bought at the counter: the lines of a shop receipt, as lots."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inventory.models import Location
from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.web.posting import all_at_once, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Receipt
from purchasing.selectors.bought_page import ROWS, SHORT, bought_page
from purchasing.selectors.delivery_page import item_named
from purchasing.services.bought import Bought, bought_field, buy
from purchasing.services.order_hand import Hand
from purchasing.web.typed import Typed


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.RECEIVE)
def bought(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    if request.method != "POST":
        return _shown(request, viewer, {})
    values = request.POST.dict()

    def act() -> Mapping[str, Any]:
        at = now()
        place, lines, happened_at, unread = _read(values, viewer, at)
        hand = Hand(viewer, user_of(request), at)
        shop, document = values.get("shop", ""), values.get("document", "")

        def take_in() -> Receipt:
            return buy(shop, lines, place, happened_at=happened_at, hand=hand, document=document)

        told = all_at_once(unread, take_in)
        return {"receipt": told.pk}

    posted = post_once(request, "buy", act)
    if not posted.is_done:
        return _shown(request, viewer, values, posted.problems, posted.status)
    say(request, _("What was bought is in."))
    return redirect("receipt", posted.answer["receipt"])


def _read(
    values: Mapping[str, str], viewer: Viewer, at: datetime
) -> tuple[Location, list[Bought], datetime, list[Problem]]:
    """Everything that cannot be read stands in the list at the end. Where no place is chosen,
    the first of the viewer's stands for it. Raises ``Refused`` where there is none."""
    typed = Typed(values, _names(values))
    places = {place.code: place for place in bought_page(viewer).places}
    place = places.get(typed.text("place"))
    if place is None:
        typed.problems.append(Problem("no_place", _("Choose where the goods are."), "place"))
    rows = range(1, 1 + max(ROWS, len([name for name in values if name.endswith("-item")])))
    lines = [line for row in rows if (line := _line(row, typed))]
    happened_at = typed.moment("happened_at", at)
    place = place or next(iter(places.values()), None)
    if place is None:
        raise Refused(typed.problems)
    return place, lines, happened_at, typed.problems


def _names(values: Mapping[str, str]) -> Callable[[str], str]:
    """What an input is called: the item of its row, or the row."""

    def name_of(field: str) -> str:
        row, _bar, name = field.partition("-")
        labels = {"qty": _("how much"), "price": _("price"), "use_by": _("use-by")}
        item = values.get(f"{row}-item", "").strip() if name in labels else ""
        where = item or _("Row %(row)s") % {"row": row.removeprefix("b")}
        return f"{where}, {labels[name]}" if name in labels else where

    return name_of


def _line(row: int, typed: Typed) -> Bought | None:
    """None: the row is empty, or wrong in a way that is told."""
    named, at_fault = typed.text(bought_field(row, "item")), bought_field(row, "item")
    rest = ("qty", "price", "use_by", "lot")
    if not named:
        if any(typed.text(bought_field(row, name)) for name in rest):
            typed.wrong("no_item", _("type the item."), at_fault)
        return None
    item = item_named(named)
    if item is None:
        say = _("there is no item '%(named)s'. Choose one of the list.") % {"named": named}
        typed.wrong("unknown_item", say, at_fault)
        return None
    return Bought(
        row=row,
        item=item,
        qty=typed.number(bought_field(row, "qty")) or Decimal(0),
        unit=typed.text(bought_field(row, "unit")) or item.unit,
        price=typed.number(bought_field(row, "price")),
        use_by=typed.day(bought_field(row, "use_by")),
        supplier_lot=typed.text(bought_field(row, "lot")),
    )


def _shown(
    request: HttpRequest,
    viewer: Viewer,
    values: Mapping[str, str],
    problems: tuple[Problem, ...] = (),
    status: int = 200,
) -> HttpResponse:
    facts = context(
        page=bought_page(viewer),
        rows=_rows(values),
        is_long=any(values.get(bought_field(row, "item")) for row in range(SHORT + 1, ROWS + 1)),
        problems=problems,
        typed=values,
        user_id=user_of(request).pk,
    )
    return render(request, "purchasing/bought.html", facts, status=status)


def _rows(values: Mapping[str, str]) -> list[dict[str, Any]]:
    names = ("item", "qty", "unit", "price", "use_by", "lot")
    return [
        {
            "row": row,
            "names": {name: bought_field(row, name) for name in names},
            "said": {name: values.get(bought_field(row, name), "") for name in names},
        }
        for row in range(1, ROWS + 1)
    ]
