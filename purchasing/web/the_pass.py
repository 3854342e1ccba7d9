"""The pass, and the plain list of all pages."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from inventory.roles import Act, Viewer
from inventory.web.viewing import context, now, page
from purchasing.selectors.the_pass import the_pass


@require_safe
@page()
def the_pass_page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return render(request, "purchasing/the_pass.html", context(page=the_pass(viewer, now())))


@dataclass(frozen=True, slots=True)
class Listed:
    """A page of the list: the name of its address, what it is for, who may."""

    name: str
    title: object
    purpose: object
    act: Act = Act.SEE


LISTED = (
    Listed("the_pass", _("the pass"), _("what must be done before the next load-out")),
    Listed("orders", _("orders due"), _("drafts by cutoff, and what waits to be sent"), Act.SEND),
    Listed("deliveries", _("deliveries"), _("what comes today, what is late")),
    Listed("labels", _("labels"), _("strips for lots, on tape")),
    Listed("bought", _("bought at the counter"), _("a shop receipt becomes lots"), Act.RECEIVE),
    Listed("use_by", _("use-by board"), _("lots by money at risk and what would help")),
    Listed("holds", _("holds"), _("what is blocked, why, who must answer")),
    Listed("take_out", _("take out"), _("waste, staff meal, tasting, donation"), Act.TAKE_OUT),
    Listed("items", _("items"), _("units, lives, allergens, where it is and where it is used")),
    Listed("suppliers", _("order guides"), _("offers, calendars and prices"), Act.SUPPLIERS),
    Listed("pars_list", _("pars"), _("how much each place wants, by weekday"), Act.PARS),
    Listed("forecasts", _("forecasts"), _("how good they have been"), Act.PARS),
    Listed("replay", _("replay"), _("the same weeks under other rules"), Act.PARS),
    Listed("not_ready", _("not ready"), _("data that blocks a promise"), Act.ITEMS),
    Listed("workbook", _("workbook"), _("all data in and out"), Act.WORKBOOK),
    Listed("people", _("people"), _("who may do what, where, up to how much"), Act.PEOPLE),
    Listed("log", _("log"), _("who did what, when"), Act.LOG),
    Listed("look", _("parts of a page"), _("what every page is made of")),
)


@require_safe
@page()
def all_pages(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    mine = [(reverse(one.name), one) for one in LISTED if viewer.may(one.act)]
    return render(request, "purchasing/all_pages.html", context(page=mine))
