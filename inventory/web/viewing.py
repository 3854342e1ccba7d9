"""Who is looking: every page asks here, and a page that is not for somebody is not there."""

from __future__ import annotations

import functools
from collections.abc import Callable
from datetime import datetime
from typing import Any, Concatenate, ParamSpec

from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils import timezone

from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.viewers import viewer_of
from inventory.web.devices import device_of, stay_signed_in

P = ParamSpec("P")
View = Callable[..., HttpResponse]


def user_of(request: HttpRequest) -> User:
    user = request.user
    if not isinstance(user, User):
        raise NotThere
    return user


def viewer_for(request: HttpRequest) -> Viewer:
    """Read once a request."""
    known: Viewer | None = getattr(request, "forepar_viewer", None)
    if known is None:
        known = viewer_of(user_of(request), device_of(request))
        request.forepar_viewer = known  # type: ignore[attr-defined]
    return known


def now() -> datetime:
    """The only clock of the pages."""
    return timezone.now()


def page(
    act: Act = Act.SEE,
) -> Callable[[Callable[Concatenate[HttpRequest, Viewer, P], HttpResponse]], View]:
    """A page for people who may ``act`` at some place; the place itself is asked about by its
    selector or service. Others get the same "not there" as for a wrong address."""

    def wrap(view: Callable[Concatenate[HttpRequest, Viewer, P], HttpResponse]) -> View:
        @functools.wraps(view)
        def asked(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path(), resolve_url(settings.LOGIN_URL))
            viewer = viewer_for(request)
            if not viewer.may(act):
                raise NotThere
            stay_signed_in(request)
            return view(request, viewer, *args, **kwargs)

        asked.act = act  # type: ignore[attr-defined]
        return asked

    return wrap


def context(**facts: Any) -> dict[str, Any]:
    """What a template is given: ``page`` and, after a refusal, ``problems`` and ``typed``."""
    return {"problems": (), "typed": {}, **facts}
