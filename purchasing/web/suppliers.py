"""Order guides: the list, one supplier, and changing what stands in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import NotThere, Problem
from inventory.roles import Act, Viewer
from inventory.web.posting import post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Offer
from purchasing.selectors.guide_facts import OFFER_COLUMNS, PRICE_COLUMNS, SUPPLIER_COLUMNS
from purchasing.selectors.guide_page import guide_page, guides
from purchasing.services import suppliers as service


@require_safe
@page(Act.SUPPLIERS)
def suppliers(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return render(request, "purchasing/suppliers.html", context(page=guides(viewer, now())))


@require_safe
@page(Act.SUPPLIERS)
def supplier(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    """``?offer=`` opens the form of one offer, ``?edit=1`` that of the supplier."""
    return _shown(request, viewer, code)


@require_POST
@page(Act.SUPPLIERS)
def supplier_change(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    facts = {name: request.POST.get(name, "").strip() for name in SUPPLIER_COLUMNS}
    for days in ("order_days", "delivery_days"):
        facts[days] = ";".join(request.POST.getlist(days))
    as_read = request.POST.get("as_read", "")

    def act(by: User, at: datetime) -> object:
        return service.change_supplier(code, facts, as_read=as_read, viewer=viewer, by=by, at=at)

    return _done(request, viewer, code, "change", act, _("Saved; drafts are worked out again."))


@require_POST
@page(Act.SUPPLIERS)
def offer_change(request: HttpRequest, viewer: Viewer, code: str, offer: int) -> HttpResponse:
    _theirs(code, offer)
    facts, as_read = _offer_form(request, str(offer)), request.POST.get("as_read", "")

    def act(by: User, at: datetime) -> object:
        return service.change_offer(offer, facts, as_read=as_read, viewer=viewer, by=by, at=at)

    said = _("Saved; drafts are worked out again.")
    return _done(request, viewer, code, f"offer-{offer}", act, said)


@require_POST
@page(Act.SUPPLIERS)
def offer_add(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    facts = _offer_form(request, "new")
    facts |= {name: request.POST.get(f"{name}-new", "").strip() for name in ("item", "sku")}

    def act(by: User, at: datetime) -> object:
        return service.add_offer(code, facts, viewer=viewer, by=by, at=at)

    return _done(request, viewer, code, "offer-new", act, _("Added to the order guide."))


@require_POST
@page(Act.SUPPLIERS)
def offer_retire(request: HttpRequest, viewer: Viewer, code: str, offer: int) -> HttpResponse:
    _theirs(code, offer)

    def act(by: User, at: datetime) -> object:
        return service.retire_offer(offer, viewer=viewer, by=by, at=at)

    return _done(request, viewer, code, f"retire-{offer}", act, _("Taken off the order guide."))


@require_POST
@page(Act.SUPPLIERS)
def closure_add(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    day = request.POST.get("date", "").strip()

    def act(by: User, at: datetime) -> object:
        return service.add_closure(code, day, viewer=viewer, by=by, at=at)

    return _done(request, viewer, code, "close", act, _("Noted as closed."))


@require_POST
@page(Act.SUPPLIERS)
def closure_remove(request: HttpRequest, viewer: Viewer, code: str, day: str) -> HttpResponse:
    try:
        closed = date.fromisoformat(day)
    except ValueError:
        raise NotThere from None

    def act(by: User, at: datetime) -> object:
        return service.remove_closure(code, closed, viewer=viewer, by=by, at=at)

    return _done(request, viewer, code, f"open-{day}", act, _("Noted as open."))


def _done(
    request: HttpRequest,
    viewer: Viewer,
    code: str,
    what: str,
    act: Callable[[User, datetime], object],
    said: str,
) -> HttpResponse:
    def once() -> Mapping[str, Any]:
        act(user_of(request), now())
        return {}

    posted = post_once(request, f"supplier:{code}:{what}", once)
    if not posted.is_done:
        return _shown(request, viewer, code, posted.problems, posted.status)
    say(request, said)
    return HttpResponseRedirect(reverse("supplier", args=[code]))


def _shown(
    request: HttpRequest,
    viewer: Viewer,
    code: str,
    problems: Sequence[Problem] = (),
    status: int = 200,
) -> HttpResponse:
    typed = request.POST.dict()
    for days in ("order_days", "delivery_days"):
        typed[days] = ";".join(request.POST.getlist(days))
    facts = context(
        page=guide_page(viewer, code, now()),
        problems=problems,
        typed=typed if request.method == "POST" else {},
        open_offer=request.GET.get("offer") or request.POST.get("of", ""),
        editing="edit" in request.GET or request.POST.get("of") == "supplier",
    )
    return render(request, "purchasing/supplier.html", facts, status=status)


def _offer_form(request: HttpRequest, of: str) -> dict[str, str]:
    columns = (*OFFER_COLUMNS, *PRICE_COLUMNS)
    return {name: request.POST.get(f"{name}-{of}", "").strip() for name in columns}


def _theirs(code: str, offer: int) -> None:
    if not Offer.objects.filter(pk=offer, supplier__code=code).exists():
        raise NotThere
