"""The forms of an order's page as values: every wrong figure at once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.http import QueryDict
from django.utils.translation import gettext as _

from inventory.problems import Problem
from purchasing.services.answers import Said
from purchasing.services.order_lines import MOST_CASES, NewCases

CASES, WHY, SAYS = "cases-", "why-", "says-"


def typed_cases(form: QueryDict, names: Mapping[int, str]) -> tuple[list[NewCases], list[Problem]]:
    """``cases-<line>`` and ``why-<line>``, and what cannot be read; an emptied box is a problem,
    for it may mean none. ``names`` of the items by line, in the order of the page."""
    problems: list[Problem] = []
    found = []
    for pk in _in_order(_lines(form, CASES), names):
        cases = _cases(form.get(f"{CASES}{pk}", "").strip(), pk, problems, names.get(pk, ""))
        if cases is not None:
            found.append(NewCases(pk, cases, form.get(f"{WHY}{pk}", "").strip()))
    return found, problems


def typed_answers(form: QueryDict, names: Mapping[int, str]) -> tuple[list[Said], list[Problem]]:
    """``says-<line>`` with ``coming-``, ``substitute-``, ``day-`` and ``note-``, and what cannot
    be read; lines without an answer are left out."""
    problems: list[Problem] = []
    found = []
    for pk in _in_order(_lines(form, SAYS), names):
        says, name = form.get(f"{SAYS}{pk}", ""), names.get(pk, "")
        if not says:
            continue
        coming = form.get(f"coming-{pk}", "").strip()
        found.append(
            Said(
                line_id=pk,
                says=says,
                cases=_whole(coming, f"coming-{pk}", problems, name) if coming else None,
                substitute=form.get(f"substitute-{pk}", "").strip(),
                new_date=_day(form.get(f"day-{pk}", "").strip(), f"day-{pk}", problems, name),
                note=form.get(f"note-{pk}", "").strip(),
            )
        )
    return found, problems


def typed_whole(form: Mapping[str, str], name: str, problems: list[Problem]) -> int:
    """A whole figure that must be there; 0, and a problem, where there is none."""
    figure = form.get(name, "").strip()
    if not figure:
        message = _("Type how many cases, such as 3.")
        problems.append(Problem("no_cases", message, name))
        return 0
    return _whole(figure, name, problems) or 0


def chosen(form: Mapping[str, str], name: str, problems: list[Problem], message: str) -> int:
    """The number of what was chosen; 0, and a problem with ``message``, where nothing was."""
    value = form.get(name, "")
    if value.isascii() and value.isdigit() and len(value) < 16:
        return int(value)
    problems.append(Problem("nothing_chosen", message, name))
    return 0


def _lines(form: QueryDict, prefix: str) -> list[int]:
    keys = (name.removeprefix(prefix) for name in form if name.startswith(prefix))
    return sorted(int(key) for key in keys if key.isdigit())


def _in_order(lines: list[int], names: Mapping[int, str]) -> list[int]:
    places = {pk: place for place, pk in enumerate(names)}
    return sorted(lines, key=lambda pk: (places.get(pk, len(places)), pk))


def _cases(figure: str, pk: int, problems: list[Problem], name: str) -> int | None:
    if figure:
        return _whole(figure, f"{CASES}{pk}", problems, name)
    message = _("type the cases, 0 to leave it off.")
    problems.append(Problem("no_cases", f"{name}: {message}" if name else message, f"{CASES}{pk}"))
    return None


def _whole(figure: str, field: str, problems: list[Problem], name: str = "") -> int | None:
    """``name`` of the item, where the form has several."""
    is_whole = figure.isascii() and figure.isdigit()
    if is_whole and len(figure) < 10:
        return int(figure)
    said = {"figure": figure, "most": f"{MOST_CASES:,}"}
    if is_whole:
        code, message = "too_many", _("%(figure)s cases are too many; type %(most)s at most.")
    else:
        message = _("'%(figure)s' is not a count of cases; type a whole figure such as 3.")
        code = "not_a_count"
    told = message % said
    problems.append(Problem(code, f"{name}: {told}" if name else told, field))
    return None


def _day(text: str, field: str, problems: list[Problem], name: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = _("'%(text)s' is not a day; type it as 2026-03-04.") % {"text": text}
        problems.append(Problem("not_a_day", f"{name}: {message}", field))
        return None
