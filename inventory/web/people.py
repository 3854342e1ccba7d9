"""People: who may do what, where, up to how much; invitations and shared devices."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.problems import Problem
from inventory.roles import Act, Viewer
from inventory.selectors.people import people_page, person_for, person_page
from inventory.services import devices, people, tokens
from inventory.services.people import TypedPart, TypedPerson
from inventory.web.devices import digest_of
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of

NUMBER_DIGITS = 6
# What is shown on the next page and never again.
SHOWN_ONCE = "shown_once"


@require_safe
@page(Act.PEOPLE)
def people_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return _people(request, viewer)


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.PEOPLE)
def invite(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    typed = request.POST.dict()
    if request.method == "POST":

        def act() -> Mapping[str, Any]:
            names = ("username", "first_name", "last_name", "email")
            person = TypedPerson(**{name: typed.get(name, "") for name in names})
            who = user_of(request)
            user = people.invite(person, _part(typed), viewer=viewer, by=who, at=now())
            return {"username": user.username}

        posted = post_once(request, "invite", act)
        if posted.is_done:
            user = person_for(posted.answer["username"], viewer)
            _show_once(request, "address", _welcome_address(request, user))
            return redirect("person", user.username)
    else:
        posted = Posted()
    facts = context(page=people_page(viewer), typed=typed, problems=posted.problems)
    return render(request, "inventory/invite.html", facts, status=posted.status)


@require_safe
@page(Act.PEOPLE)
def person(request: HttpRequest, viewer: Viewer, username: str) -> HttpResponse:
    return _person(request, viewer, username)


@require_POST
@page(Act.PEOPLE)
def part_give(request: HttpRequest, viewer: Viewer, username: str) -> HttpResponse:
    typed = request.POST.dict()

    def act() -> Mapping[str, Any]:
        who = user_of(request)
        people.give_part(username, _part(typed), viewer=viewer, by=who, at=now())
        return {}

    done = _("The part is given.")
    return _done_to(request, viewer, username, f"give_part:{username}", act, done)


@require_POST
@page(Act.PEOPLE)
def part_change(request: HttpRequest, viewer: Viewer, username: str, part: int) -> HttpResponse:
    limit = request.POST.get(f"limit-{part}", "")
    sees_cost = bool(request.POST.get(f"sees_cost-{part}"))

    def act() -> Mapping[str, Any]:
        who = user_of(request)
        people.change_part(part, limit=limit, sees_cost=sees_cost, viewer=viewer, by=who, at=now())
        return {}

    done = _("The limit is changed.")
    return _done_to(request, viewer, username, f"change_part:{part}", act, done, part)


@require_POST
@page(Act.PEOPLE)
def part_end(request: HttpRequest, viewer: Viewer, username: str, part: int) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        is_last = people.end_part(part, viewer=viewer, by=user_of(request), at=now())
        return {"is_last": is_last}

    posted = post_once(request, f"end_part:{part}", act)
    if not posted.is_done:
        return _person(request, viewer, username, posted)
    if posted.answer["is_last"]:
        told = {"name": username}
        say(request, _("%(name)s has no part any more and cannot sign in.") % told)
        return redirect("people")
    say(request, _("The part has ended."))
    return redirect("person", username)


@require_POST
@page(Act.PEOPLE)
def person_address(request: HttpRequest, viewer: Viewer, username: str) -> HttpResponse:
    """A fresh one-time address at which the person sets another password."""

    def act() -> Mapping[str, Any]:
        people.note_address(username, viewer=viewer, by=user_of(request), at=now())
        _show_once(request, "address", _welcome_address(request, person_for(username, viewer)))
        return {}

    return _done_to(request, viewer, username, f"make_address:{username}", act, "")


@require_POST
@page(Act.PEOPLE)
def person_number(request: HttpRequest, viewer: Viewer, username: str) -> HttpResponse:
    """A new personal number for the shared devices."""

    def act() -> Mapping[str, Any]:
        number = _new_number()
        devices.set_number(username, number, viewer=viewer, by=user_of(request), at=now())
        _show_once(request, "number", number)
        return {}

    return _done_to(request, viewer, username, f"set_number:{username}", act, "")


@require_POST
@page(Act.PEOPLE)
def device_add(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    typed = request.POST.dict()
    name, place = typed.get("device_name", ""), typed.get("device_place", "")

    def act() -> Mapping[str, Any]:
        token = secrets.token_urlsafe(32)
        who = user_of(request)
        digest = digest_of(token)
        devices.add_device(name, place, digest=digest, viewer=viewer, by=who, at=now())
        address = request.build_absolute_uri(reverse("enrol", args=[token]))
        _show_once(request, "device", address)
        return {}

    posted = post_once(request, "add_device", act)
    return redirect("people") if posted.is_done else _people(request, viewer, posted)


@require_POST
@page(Act.PEOPLE)
def device_retire(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    name = request.POST.get("device", "")

    def act() -> Mapping[str, Any]:
        devices.retire_device(name, viewer=viewer, by=user_of(request), at=now())
        return {}

    posted = post_once(request, f"retire_device:{name}"[:80], act)
    if not posted.is_done:
        return _people(request, viewer, posted)
    say(request, _("%(device)s is retired: it knows nobody any more.") % {"device": name})
    return redirect("people")


@require_POST
@page(Act.TOKENS)
def token_make(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """A token for a program; it is shown on the next page and never again."""
    typed = request.POST.dict()
    person, name = typed.get("token_person", ""), typed.get("token_name", "")

    def act() -> Mapping[str, Any]:
        who = user_of(request)
        token = tokens.give_token(person, name, viewer=viewer, by=who, at=now())
        _show_once(request, "token", token)
        return {}

    posted = post_once(request, "make_token", act)
    if posted.is_done:
        return redirect("people")
    named = (_of_token(one) for one in posted.problems)
    return _people(request, viewer, Posted(problems=tuple(named)))


@require_POST
@page(Act.TOKENS)
def token_end(request: HttpRequest, viewer: Viewer, token: int) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        ended = tokens.end_token(token, viewer=viewer, by=user_of(request), at=now())
        return {"name": ended.name}

    posted = post_once(request, f"end_token:{token}", act)
    if not posted.is_done:
        return _people(request, viewer, posted)
    say(request, _("The token “%(name)s” has ended: it opens nothing any more.") % posted.answer)
    return redirect("people")


def _done_to(
    request: HttpRequest,
    viewer: Viewer,
    username: str,
    what: str,
    act: Callable[[], Mapping[str, Any]],
    done: str,
    part: int | None = None,
) -> HttpResponse:
    """``part``: the membership whose inputs problems are about."""
    posted = post_once(request, what[:80], act)
    if not posted.is_done:
        if part is not None:
            posted = Posted(problems=tuple(_of_part(one, part) for one in posted.problems))
        return _person(request, viewer, username, posted)
    if done:
        say(request, done)
    return redirect("person", username)


def _of_part(problem: Problem, part: int) -> Problem:
    return replace(problem, field=f"{problem.field}-{part}") if problem.field else problem


def _of_token(problem: Problem) -> Problem:
    return replace(problem, field=f"token_{problem.field}") if problem.field else problem


def _part(typed: Mapping[str, str]) -> TypedPart:
    return TypedPart(
        role=typed.get("role", ""),
        place=typed.get("place", ""),
        limit=typed.get("limit", ""),
        sees_cost=bool(typed.get("sees_cost")),
    )


def _people(request: HttpRequest, viewer: Viewer, posted: Posted | None = None) -> HttpResponse:
    facts = context(
        page=people_page(viewer),
        typed=request.POST.dict(),
        problems=posted.problems if posted else (),
        once=request.session.pop(SHOWN_ONCE, None),
    )
    return render(request, "inventory/people.html", facts, status=posted.status if posted else 200)


def _person(
    request: HttpRequest, viewer: Viewer, username: str, posted: Posted | None = None
) -> HttpResponse:
    one, everybody = person_page(username, viewer)
    facts = context(
        page=one,
        everybody=everybody,
        typed=request.POST.dict(),
        problems=posted.problems if posted else (),
        once=request.session.pop(SHOWN_ONCE, None),
    )
    return render(request, "inventory/person.html", facts, status=posted.status if posted else 200)


def _show_once(request: HttpRequest, kind: str, value: str) -> None:
    """Not in the answer that is kept for a second press: it is nobody's to read again."""
    request.session[SHOWN_ONCE] = {"kind": kind, "value": value}


def _welcome_address(request: HttpRequest, user: User) -> str:
    who = urlsafe_base64_encode(force_bytes(user.pk))
    token = default_token_generator.make_token(user)
    return request.build_absolute_uri(reverse("welcome", args=[who, token]))


def _new_number() -> str:
    """Digits that are not all the same and not a run such as 123456."""
    while True:
        number = "".join(secrets.choice("0123456789") for _place in range(NUMBER_DIGITS))
        steps = {int(b) - int(a) for a, b in zip(number, number[1:], strict=False)}
        if len(steps) > 1:
            return number
