"""Signing in and out: by name and password, by number at a shared device, or, in the demo
only, by pressing a name."""

from __future__ import annotations

import secrets
from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.contrib.auth.models import User
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from inventory.models import Device
from inventory.problems import NotThere, Problem
from inventory.services.devices import take_up
from inventory.web.devices import device_of, digest_of, remember
from inventory.web.viewing import now

ONE_PRESS_BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    device = device_of(request)
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        user = _recognised(request, device)
        if getattr(request, "axes_locked_out", False):
            return kept_out(request, {})
        if user is not None:
            login(request, user)
            return _onward(request)
        problems = (_not_recognised(device),)
    facts = {
        "problems": problems,
        "username": request.POST.get("username", ""),
        "next": _next_of(request),
        "device": device,
        "people": _people_at(device) if device else (),
        "demo_people": _demo_people(),
    }
    return render(request, "inventory/sign_in.html", facts, status=422 if problems else 200)


@require_POST
def sign_in_as(request: HttpRequest, username: str) -> HttpResponse:
    """The demo's one press."""
    if not demo_is_open():
        raise NotThere
    user = User.objects.filter(username=username, is_active=True, memberships__isnull=False).first()
    if user is None:
        raise NotThere
    login(request, user, backend=ONE_PRESS_BACKEND)
    return _onward(request)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign_in")


@require_http_methods(["GET", "HEAD", "POST"])
def enrol(request: HttpRequest, token: str) -> HttpResponse:
    """The address that a manager opens on a tablet that several people share: it works once."""
    device = Device.objects.filter(token_digest=digest_of(token), retired_on=None).first()
    if device is None:
        raise NotThere
    if request.method != "POST":
        return render(request, "inventory/enrol.html", {"device": device})
    own = secrets.token_urlsafe(32)
    take_up(digest_of(token), fresh=digest_of(own), at=now())
    logout(request)
    response = redirect("sign_in")
    remember(response, own, secure=request.is_secure())
    return response


def kept_out(request: HttpRequest, credentials: Any, *args: Any, **kwargs: Any) -> HttpResponse:
    """Too many wrong tries from one name and address."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    problem = Problem(
        "kept_out",
        _("Too many wrong tries. Try again in %(minutes)d minutes, or ask a manager.")
        % {"minutes": minutes},
    )
    facts = {"problems": (problem,), "locked": True, "demo_people": ()}
    return render(request, "inventory/sign_in.html", facts, status=429)


def demo_is_open() -> bool:
    return bool(settings.DEMO and settings.DEBUG)


def _recognised(request: HttpRequest, device: Device | None) -> User | None:
    word = "number" if device else "password"
    secret = {word: request.POST.get(word, "")}
    found = authenticate(request, username=request.POST.get("username", ""), **secret)
    return found if isinstance(found, User) else None


def _not_recognised(device: Device | None) -> Problem:
    if device:
        return Problem("not_recognised", _("That number is not yours. Try again."), "number")
    return Problem(
        "not_recognised",
        _("Name and password do not belong together. Try again, or ask a manager."),
        "password",
    )


def _people_at(device: Device) -> list[User]:
    """Who may act where the device stands."""
    people = User.objects.filter(is_active=True, personal_number__isnull=False)
    if device.location_id is not None:
        there = Q(memberships__location=None) | Q(memberships__location=device.location_id)
        people = people.filter(there)
    return list(people.filter(memberships__isnull=False).distinct().order_by("first_name"))


def _demo_people() -> list[User]:
    if not demo_is_open():
        return []
    people = User.objects.filter(is_active=True, memberships__isnull=False).distinct()
    return list(people.prefetch_related("memberships__location").order_by("pk"))


def _next_of(request: HttpRequest) -> str:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    hosts = {request.get_host()}
    safe = url_has_allowed_host_and_scheme(asked, hosts, require_https=request.is_secure())
    return asked if safe else ""


def _onward(request: HttpRequest) -> HttpResponseRedirect:
    return HttpResponseRedirect(_next_of(request) or "/")
