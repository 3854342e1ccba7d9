"""Deliveries: the list, one delivery at the dock, and labels read into its form."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.engine.gs1 import TRAPS
from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.web.posting import Posted, all_at_once, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Receipt
from purchasing.selectors.deliveries import deliveries
from purchasing.selectors.delivery_page import DeliveryPage, delivery_page
from purchasing.services.order_hand import Hand
from purchasing.services.receiving import receive
from purchasing.web.dock_form import OTHER, by_group, read_delivery, without_what_follows
from purchasing.web.dock_labels import LabelRead, read_label, with_label
from purchasing.web.line_values import with_values
from purchasing.web.typed import pictures_of


@require_safe
@page()
def deliveries_page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    asked = request.GET.get("label", "").strip()
    shown = deliveries(viewer, now(), asked)
    may = [row for row in shown.rows if row.may_receive]
    if asked and len(may) == 1 and not shown.problems:
        return redirect(f"{reverse('delivery', args=[may[0].number])}#line-{may[0].found[0]}")
    facts = context(page=shown, problems=shown.problems)
    return render(request, "purchasing/deliveries.html", facts)


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.RECEIVE)
def delivery(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    if request.method != "POST":
        return _shown(request, delivery_page(number, viewer, now()))
    posted = _received(request, viewer, number)
    if posted.is_done:
        lots = int(posted.answer["lots"])
        kept = ngettext("%(n)d new lot", "%(n)d new lots", lots) % {"n": lots}
        say(request, _("The delivery is in: %(lots)s.") % {"lots": kept})
        return redirect("receipt", posted.answer["receipt"])
    facts = delivery_page(number, viewer, now())
    return _shown(request, facts, posted.problems, request.POST.dict(), posted.status)


def _received(request: HttpRequest, viewer: Viewer, number: str) -> Posted:
    pictures = pictures_of(request, "photo")

    def act() -> Mapping[str, Any]:
        at = now()
        facts = delivery_page(number, viewer, at)
        today = business().day_of(at)
        told, happened_at, unread = read_delivery(request.POST.dict(), facts, today, at, pictures)
        hand = Hand(viewer, user_of(request), at)

        def take_in() -> Receipt:
            try:
                return receive(number, told, happened_at=happened_at, hand=hand)
            except Refused as refused:
                raise Refused(without_what_follows(refused.problems, unread)) from refused

        receipt = all_at_once(unread, take_in)
        return {"receipt": receipt.pk, "lots": receipt.lines.filter(lot__isnull=False).count()}

    return post_once(request, f"receive:{number}", act)


@require_POST
@page(Act.RECEIVE)
def delivery_read(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """A label is read into the form; nothing is stored. JSON where a script asks."""
    facts = delivery_page(number, viewer, now())
    read = read_label(
        request.POST.get("scan", ""),
        next(iter(pictures_of(request, "label_photo")), b""),
        request.POST.get("scan_for", ""),
        facts,
        business().day_of(now()),
    )
    if "application/json" in request.headers.get("Accept", ""):
        return JsonResponse(_as_json(read), status=200 if read.line else 422)
    typed = with_label(request.POST.dict(), read)
    status = 200 if read.line else 422
    return _shown(request, facts, read.problems, typed, status, label=read.sentence)


def _as_json(read: LabelRead) -> dict[str, Any]:
    return {
        "line": read.line.pk if read.line else None,
        "says": read.sentence,
        "texts": list(read.texts),
        "fill": read.fill,
        "weight": read.weight,
        "problems": [{"code": one.code, "message": one.message} for one in read.problems],
    }


def _shown(
    request: HttpRequest,
    facts: DeliveryPage,
    problems: tuple[Problem, ...] = (),
    typed: Mapping[str, str] | None = None,
    status: int = 200,
    **more: object,
) -> HttpResponse:
    values = typed or {}
    told = context(
        page=facts,
        groups=with_values(facts, values),
        problems=by_group(problems, facts),
        typed=values,
        is_fresh=not values,
        wants_seen=any(one.code in _SEEN for one in problems) or "seen" in values,
        user_id=user_of(request).pk,
        reasons=_reasons(),
        **more,
    )
    return render(request, "purchasing/delivery.html", told, status=status)


# Cautions that a person may look at and pass.
_SEEN = TRAPS | {"weight_unlikely"}


def _reasons() -> list[tuple[str, str]]:
    """Why a case goes back: as stored, and as shown."""
    return [
        ("crushed", _("crushed")),
        ("too warm", _("too warm")),
        ("thawed", _("thawed")),
        ("past its date", _("past its date")),
        ("wrong goods", _("wrong goods")),
        ("dirty or pests", _("dirty or pests")),
        (OTHER, _("other")),
    ]
