"""A scanned, typed or photographed label, and what it fills in of a delivery's form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.translation import gettext as _

from inventory.engine.gs1 import SEPARATOR, SHOWN_SEPARATOR, Scan, parse_scan
from inventory.engine.label_reader import codes_in
from inventory.problems import Problem, Refused
from purchasing.selectors.delivery_page import DeliveryPage, DockLine
from purchasing.web.dock_form import in_unit_of


@dataclass(frozen=True, slots=True)
class LabelRead:
    """``line`` None: it could not be matched, and ``problems`` says why. ``fill``: inputs of the
    line by short name. ``weight``: one case's weight in the line's unit, or empty."""

    line: DockLine | None = None
    texts: tuple[str, ...] = ()
    fill: Mapping[str, str] = field(default_factory=dict)
    weight: str = ""
    sentence: str = ""
    problems: tuple[Problem, ...] = ()


def read_label(
    text: str, picture: bytes, chosen: str, page: DeliveryPage, today: date
) -> LabelRead:
    """``chosen``: the line the person means, empty: the one whose product the label names."""
    try:
        texts = [text.strip()] if text.strip() else _in_picture(picture)
        scans = [parse_scan(one, today=today) for one in texts]
    except Refused as refused:
        return LabelRead(problems=refused.problems)
    line = _line(chosen, scans, page)
    if line is None:
        return LabelRead(problems=(*_warnings(scans), _no_line()))
    return _filled(line, tuple(texts), scans)


def _in_picture(picture: bytes) -> list[str]:
    if not picture:
        raise Refused(Problem("no_label", _("Scan a label, or type it, first."), "scan"))
    codes = codes_in(picture)
    if not codes:
        raise Refused(
            Problem(
                "no_code_seen",
                _("No code is seen on this photograph. Go nearer, or type lot and date."),
                "scan",
            )
        )
    return codes


def _line(chosen: str, scans: Sequence[Scan], page: DeliveryPage) -> DockLine | None:
    if chosen:
        return next((line for line in page.lines if str(line.pk) == chosen), None)
    gtins = {scan.gtin for scan in scans if scan.gtin}
    return next((line for line in page.lines if line.gtin and line.gtin in gtins), None)


def _no_line() -> Problem:
    say = _("No line of this delivery has this label's product number. Choose the line, then read.")
    return Problem("no_line", say, "scan_for")


def _filled(line: DockLine, texts: tuple[str, ...], scans: Sequence[Scan]) -> LabelRead:
    lot = next((scan.lot for scan in scans if scan.lot), "")
    last = min((scan.last_day for scan in scans if scan.last_day), default=None)
    weights = [in_unit_of(scan, line.unit) for scan in scans] if line.is_weighed else []
    weight = next((f"{one:f}" for one in weights if one), "")
    fill = {"lot": lot, "printed": last.isoformat() if last else ""}
    parts = [
        _("lot %(lot)s") % {"lot": lot} if lot else "",
        _("last day %(day)s") % {"day": last} if last else "",
        f"{weight} {line.unit}" if weight else "",
    ]
    said = ", ".join(part for part in parts if part) or _("nothing but the product")
    return LabelRead(
        line,
        tuple(text.replace(SEPARATOR, SHOWN_SEPARATOR) for text in texts),
        {name: value for name, value in fill.items() if value},
        weight,
        f"{line.item}: {said}",
        _warnings(scans),
    )


def _warnings(scans: Sequence[Scan]) -> tuple[Problem, ...]:
    return tuple(Problem(one.code, one.message, "scan") for scan in scans for one in scan.warnings)


def with_label(typed: Mapping[str, str], read: LabelRead) -> dict[str, str]:
    """The form's values with the label in them; a lot code typed before stays."""
    values = {**typed}
    if read.line is None:
        return values
    names = read.line.field
    for name, value in read.fill.items():
        if name != "lot" or not values.get(names["lot"]):
            values[names[name]] = value
    if read.weight:
        before = values.get(names["weights"], "")
        values[names["weights"]] = f"{before} {read.weight}".strip()
    before = values.get(names["read"], "")
    values[names["read"]] = "\n".join(filter(None, (before, *read.texts)))
    return values | {"scan": "", "scan_for": ""}
