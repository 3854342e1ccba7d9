"""A receipt: where its lots go, its photographs, and taking it back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import NotThere, Problem
from inventory.roles import Act, Viewer
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.receipt_page import photo_of, receipt_page
from purchasing.services.order_hand import Hand
from purchasing.services.photos import add_photos
from purchasing.services.receiving_undo import undo_receipt
from purchasing.web.typed import pictures_of


@require_safe
@page(Act.RECEIVE)
def receipt(request: HttpRequest, viewer: Viewer, pk: int) -> HttpResponse:
    return _shown(request, viewer, pk)


@require_POST
@page(Act.RECEIVE)
def receipt_undo(request: HttpRequest, viewer: Viewer, pk: int) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        hand = Hand(viewer, user_of(request), now())
        undone = undo_receipt(pk, why=request.POST.get("why", ""), hand=hand)
        return {"order": undone.order.number if undone.order else ""}

    posted = post_once(request, f"undo_receipt:{pk}", act)
    if not posted.is_done:
        return _shown(request, viewer, pk, posted)
    say(request, _("The receipt is undone; its lots are empty and the order is open again."))
    if posted.answer["order"]:
        return redirect("delivery", posted.answer["order"])
    return redirect("receipt", pk)


@require_POST
@page(Act.RECEIVE)
def receipt_photos(request: HttpRequest, viewer: Viewer, pk: int) -> HttpResponse:
    pictures = pictures_of(request, "photo")

    def act() -> Mapping[str, Any]:
        kept = add_photos(pk, pictures, hand=Hand(viewer, user_of(request), now()))
        return {"kept": len(kept)}

    posted = post_once(request, f"photograph:{pk}", act)
    if not posted.is_done:
        return _shown(request, viewer, pk, posted)
    say(request, _("The photograph is kept with the receipt."))
    return redirect("receipt", pk)


@require_safe
@page(Act.RECEIVE)
def photo(request: HttpRequest, viewer: Viewer, pk: int) -> HttpResponse:
    """Always as a picture, whatever was sent."""
    found = photo_of(pk, viewer)
    try:
        with found.picture.open("rb") as file:
            answer = HttpResponse(file.read(), content_type="image/jpeg")
    except FileNotFoundError as error:
        raise NotThere from error
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Cache-Control"] = "private, max-age=3600"
    return answer


def _shown(
    request: HttpRequest, viewer: Viewer, pk: int, posted: Posted | None = None
) -> HttpResponse:
    problems: tuple[Problem, ...] = posted.problems if posted else ()
    facts = context(
        page=receipt_page(pk, viewer, now()), problems=problems, typed=request.POST.dict()
    )
    status = posted.status if posted else 200
    return render(request, "purchasing/receipt.html", facts, status=status)
