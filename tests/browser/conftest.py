"""Chromium for the browser tests: the one that ``CHROMIUM`` names, or the machine's own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page
from pytest_django.live_server_helper import LiveServer

from inventory.models import Membership
from tests import factories as make
from tests import servers

MACHINES_OWN = "/usr/bin/chromium"
PHONE, DESK = 390, 1280
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    program = os.environ.get("CHROMIUM") or MACHINES_OWN
    found = program if Path(program).exists() else servers.CannotStart(f"{program} is not there")
    path = servers.or_skip("Chromium (its path in CHROMIUM)", found)
    # the sandbox needs rights that a container has not
    return {"executable_path": path, "args": list(ARGUMENTS)}


def sign_in(context: BrowserContext, live_server: LiveServer, user: User) -> None:
    """As if the person had signed in: their session is in the browser."""
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": cookie.value, "url": live_server.url}]
    )


@pytest.fixture
def browse(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Page]]:
    """``browse(user, width=390, script=True)`` is a page of a signed-in person at a width;
    ``user`` None: nobody. Pages have the site's address as their base."""
    opened: list[BrowserContext] = []

    def page_of(user: User | None, width: int = DESK, script: bool = True, **more: Any) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": 844 if width == PHONE else 800},
            java_script_enabled=script,
            base_url=live_server.url,
            **more,
        )
        opened.append(context)
        if user is not None:
            sign_in(context, live_server, user)
        return context.new_page()

    yield page_of
    for context in opened:
        context.close()


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def width(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture
def wen(live_server: LiveServer) -> User:
    return make.member(Membership.Role.STAFF)
