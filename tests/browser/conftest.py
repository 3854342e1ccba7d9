"""Chromium for the browser tests: the one that ``CHROMIUM`` names, or the machine's own."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from tests import servers

MACHINES_OWN = "/usr/bin/chromium"


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    program = os.environ.get("CHROMIUM") or MACHINES_OWN
    found = program if Path(program).exists() else servers.CannotStart(f"{program} is not there")
    path = servers.or_skip("Chromium (its path in CHROMIUM)", found)
    # the sandbox needs rights that a container has not
    return {"executable_path": path, "args": ["--no-sandbox"]}
