"""Workbooks that people bring through the page: looked at first, then loaded."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from purchasing.exchange.workbook import LoadReport, load_workbook, preview_workbook
from purchasing.services.due import ask_for_fresh_drafts

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def look_at(path: Path, *, viewer: Viewer, at: datetime) -> LoadReport:
    """What loading would change. Raises ``Refused`` with every problem of the file."""
    demand_everywhere(viewer)
    return preview_workbook(path, at=at)


def load(path: Path, *, viewer: Viewer, by: User | None, at: datetime) -> LoadReport:
    """Like the command; drafts are worked out again. The same file twice changes nothing, so
    it needs no key."""
    demand_everywhere(viewer)
    report = load_workbook(path, by=by, at=at)
    if report.changed:
        ask_for_fresh_drafts(at=at, why="a workbook was loaded")
    return report


def demand_everywhere(viewer: Viewer) -> None:
    """A workbook holds the data of every place."""
    if not viewer.may_everywhere(Act.WORKBOOK):
        raise NotThere
