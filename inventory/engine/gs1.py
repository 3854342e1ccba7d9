"""Case labels: what a scan says, and what our own label says in GS1.

Element strings are split by biip; dates, the rules between elements and the traps of real
labels are ours. Sources: GS1 General Specifications, sections 3.2 (application identifiers),
7.9 (check digit) and 7.12 (century), and the GS1 Barcode Syntax Dictionary. A scan that cannot
be read raises ``Refused``; one that can be read but not trusted carries warnings.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from biip import ParseError
from biip.checksums import gs1_standard_check_digit
from biip.gs1_messages import GS1Message

from inventory.engine.units import convert
from inventory.problems import Problem, Refused

SEPARATOR = "\x1d"
# Hand scanners lose the separator in a form field; these are what people set them to instead.
SHOWN_SEPARATOR = "␝"
_STAND_INS = ("<GS>", "{GS}", SHOWN_SEPARATOR, "^]", "|", "~")
_SYMBOLOGY = re.compile(r"^\][A-Za-z][0-9A-Za-z]")
_GTIN_LENGTHS = (8, 12, 13, 14)
_WEIGHT_UNITS = {"310": "kg", "320": "lb"}
_DAY_00_ALLOWED = frozenset({"11", "13", "15", "16", "17"})
_VARIABLE_MEASURE = "9"
# A weight that a lost separator swallowed into the lot before it.
_SWALLOWED = re.compile(r"(?:31|32)0[0-5]\d{6}(?:\D|$)")
# Food further from today than this was misread (common practice, no source).
_YEARS_NEAR = 10
# Warnings of labels: a person looks at the case, and may pass them.
TRAPS = frozenset(
    {
        "bad_check_digit",
        "contents_without_count",
        "count_without_contents",
        "no_product",
        "sell_by_only",
        "separator_lost",
        "two_products",
        "use_by_before_made",
        "weight_missing",
        "weights_disagree",
        "year_far_off",
    }
)
# Table 7.11-1 of the General Specifications: AI text holds these 82 characters and no other.
_LOT_TEXT = re.compile(r"""[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]{1,20}\Z""")


@dataclass(frozen=True, slots=True)
class Weight:
    """A net weight as printed: ``qty`` > 0 in ``unit`` (kg or lb)."""

    qty: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Scan:
    """What one label says. ``gtin`` has 14 digits and is empty where its check digit is wrong;
    ``holds``: it names the contents of a pallet, not the thing itself. ``warnings``: read, but
    not to be trusted without a look at the case."""

    text: str
    gtin: str = ""
    holds: bool = False
    sscc: str = ""
    lot: str = ""
    serial: str = ""
    made: date | None = None
    packed: date | None = None
    best_before: date | None = None
    sell_by: date | None = None
    use_by: date | None = None
    expires_at: datetime | None = None
    count: int | None = None
    weights: tuple[Weight, ...] = ()
    source: str = ""
    warnings: tuple[Problem, ...] = ()

    @property
    def weight(self) -> Weight | None:
        return self.weights[0] if self.weights else None

    @property
    def last_day(self) -> date | None:
        """The earliest last day the label gives. A best-before is read as one, to be careful;
        a sell-by date is the shop's and never is."""
        expires = self.expires_at.date() if self.expires_at else None
        known = [day for day in (self.use_by, expires, self.best_before) if day]
        return min(known) if known else None


def parse_scan(text: str, *, today: date) -> Scan:
    """Read a scanned or typed label; ``today`` settles the century of two-digit years.

    Takes element strings with or without a symbology prefix, the bracketed form printed under
    a bar code, and a bare GTIN. Raises ``Refused`` with what is wrong.
    """
    plain = _normalised(text)
    if plain.isdigit() and len(plain) in _GTIN_LENGTHS:
        return _bare_gtin(text, plain)
    elements = _elements(plain)
    scan = Scan(text=text)
    warnings: list[Problem] = []
    for ai, value in elements:
        scan = _take_in(scan, ai, value, today, warnings)
    warnings += _between_elements(scan, {ai for ai, _ in elements}, today)
    return replace(scan, warnings=tuple(warnings))


def check_digit(body: str) -> int:
    """Of a GTIN, SSCC or GLN without it: from the right weigh 3, 1, 3, 1 …; what is missing
    to the next ten (General Specifications 7.9)."""
    return gs1_standard_check_digit(body)


def full_gtin(gtin: str) -> str:
    """Fourteen digits, zeros in front; empty where it is no GTIN."""
    digits = gtin.strip()
    if not digits.isdigit() or len(digits) not in _GTIN_LENGTHS:
        return ""
    return digits.zfill(14) if check_digit(digits[:-1]) == int(digits[-1]) else ""


def label_data(*, gtin: str, strip: str, use_by: date | None) -> str:
    """Our own label in bracketed form: GTIN, use-by if there is one, and the strip number as
    the batch. Read back by ``parse_scan`` before it is given out, since a drawing library only
    warns. Raises ``Refused`` where the GTIN or the strip number cannot be put on a label."""
    number = full_gtin(gtin)
    if not number:
        raise Refused(_no_gtin(gtin))
    if not _LOT_TEXT.match(strip):
        raise Refused(
            Problem("lot_not_printable", f"'{strip}' cannot stand on a GS1 label as a lot.", "lot")
        )
    until = f"(17){use_by:%y%m%d}" if use_by else ""
    data = f"(01){number}{until}(10){strip}"
    GS1Message.parse_hri(data)
    return data


def _normalised(text: str) -> str:
    plain = _SYMBOLOGY.sub("", text.strip())
    for word in _STAND_INS:
        plain = plain.replace(word, SEPARATOR)
    return plain.strip(SEPARATOR + " ")


def _bare_gtin(text: str, digits: str) -> Scan:
    number = full_gtin(digits)
    return Scan(text=text, gtin=number, warnings=() if number else (_bad_check_digit(digits),))


def _elements(plain: str) -> list[tuple[str, str]]:
    try:
        message = GS1Message.parse_hri(plain) if plain.startswith("(") else GS1Message.parse(plain)
    except (ParseError, ValueError) as error:
        raise Refused(_unreadable(str(error))) from error
    return [(found.ai.ai, found.value) for found in message.element_strings]


def _unreadable(why: str) -> Problem:
    return Problem(
        "label_unreadable",
        "This label cannot be read as GS1. Scan it again, or type lot, use-by and weight as "
        "they are printed.",
        "scan",
        {"why": why},
    )


def _take_in(scan: Scan, ai: str, value: str, today: date, warnings: list[Problem]) -> Scan:
    """``scan`` with one more element."""
    if ai[:3] in _WEIGHT_UNITS and len(ai) == 4:
        weight = Weight(Decimal(value).scaleb(-int(ai[3])), _WEIGHT_UNITS[ai[:3]])
        return replace(scan, weights=(*scan.weights, weight))
    match ai:
        case "00":
            return replace(scan, sscc=value)
        case "01" | "02":
            number = full_gtin(value)
            if not number:
                warnings.append(_bad_check_digit(value))
            return replace(scan, gtin=number, holds=ai == "02")
        case "10":
            return replace(scan, lot=value)
        case "21":
            return replace(scan, serial=value)
        case "251":
            return replace(scan, source=value)
        case "30" | "37":
            return replace(scan, count=int(value))
        case "7003":
            return replace(scan, expires_at=_moment(value, today))
        case "7006" | "7007":
            for start in range(0, len(value), 6):
                _day(ai, value[start : start + 6], today)
            return scan
        case _ if ai in _DATE_NAMES:
            named: dict[str, Any] = {_DATE_NAMES[ai]: _day(ai, value, today)}
            return replace(scan, **named)
    return scan


_DATE_NAMES = {"11": "made", "13": "packed", "15": "best_before", "16": "sell_by", "17": "use_by"}


def _day(ai: str, six: str, today: date) -> date:
    """``YYMMDD``. Day 00 is the last of the month, where that element allows it."""
    year, month, day = _year(int(six[:2]), today.year), int(six[2:4]), int(six[4:6])
    try:
        if day == 0 and ai in _DAY_00_ALLOWED:
            day = calendar.monthrange(year, month)[1]
        return date(year, month, day)
    except (ValueError, calendar.IllegalMonthError) as error:
        raise Refused(_no_such_day(six)) from error


def _moment(value: str, today: date) -> datetime:
    day = _day("7003", value[:6], today)
    hour, minute = int(value[6:8]), int(value[8:10] or 0)
    if hour > 23 or minute > 59:
        raise Refused(_no_such_day(value))
    # Printed without a zone: the hour of the place where the case is.
    return datetime(day.year, day.month, day.day, hour, minute)  # noqa: DTZ001


def _year(two_digits: int, this_year: int) -> int:
    """General Specifications 7.12: the century that brings the year nearest."""
    difference = two_digits - this_year % 100
    century = this_year - this_year % 100
    if difference >= 51:
        return century - 100 + two_digits
    if difference <= -50:
        return century + 100 + two_digits
    return century + two_digits


def _between_elements(scan: Scan, ais: set[str], today: date) -> Iterator[Problem]:
    yield from _lost_separator(scan)
    yield from _associations(scan, ais)
    yield from _odd_dates(scan, today)
    yield from _weights_disagree(scan.weights)


def _lost_separator(scan: Scan) -> Iterator[Problem]:
    if any(_SWALLOWED.search(text) for text in (scan.lot, scan.serial)):
        yield Problem(
            "separator_lost",
            f"The lot reads '{scan.lot or scan.serial}', which seems to hold a weight as well: "
            "the scanner lost the sign between them. Type lot and weight from the case.",
            "lot",
            {"lot": scan.lot},
        )
    elif scan.gtin.startswith(_VARIABLE_MEASURE) and not scan.weights:
        yield Problem(
            "weight_missing",
            "This case is sold by weight, and its label gives none. Weigh it, or type the "
            "weight from the case.",
            "weight",
            {"gtin": scan.gtin},
        )


def _associations(scan: Scan, ais: set[str]) -> Iterator[Problem]:
    if "37" in ais and "02" not in ais:
        yield _warn("count_without_contents", "A count of cases stands on it without saying of "
                    "what. Count the cases yourself.", "count")  # fmt: skip
    if "02" in ais and "37" not in ais:
        yield _warn("contents_without_count", "It names what is on the pallet, but not how many. "
                    "Count the cases.", "count")  # fmt: skip
    if {"01", "02"} <= ais:
        yield _warn("two_products", "It names two products. Scan the label of one case.", "gtin")
    if not ais & {"01", "02", "00"}:
        yield _warn("no_product", "It does not say what is in the case. Choose the line "
                    "yourself.", "gtin")  # fmt: skip


def _odd_dates(scan: Scan, today: date) -> Iterator[Problem]:
    made = scan.made or scan.packed
    last = scan.last_day
    if made and last and last < made:
        yield _warn(
            "use_by_before_made",
            f"The use-by {last} is earlier than the day it was made, {made}. Look at the case.",
            "use_by",
        )
    if scan.sell_by and last is None:
        yield _warn(
            "sell_by_only",
            f"{scan.sell_by} is a sell-by date, for shops, not a use-by. Type the use-by if the "
            "case has one.",
            "use_by",
        )
    dates = [day for day in (made, last, scan.sell_by) if day]
    far = [day for day in dates if abs(day.year - today.year) > _YEARS_NEAR]
    if far:
        yield _warn(
            "year_far_off",
            f"The label's two-digit year is read as {far[0].year}. Look at the case.",
            "use_by",
        )


def _weights_disagree(weights: Sequence[Weight]) -> Iterator[Problem]:
    """Each weight is right within half of its last digit; two that cannot both be are told."""
    for one, other in zip(weights, weights[1:], strict=False):
        apart = abs(convert(one.qty, one.unit, "g") - convert(other.qty, other.unit, "g"))
        slack = sum(convert(Decimal(1).scaleb(_last_place(w)), w.unit, "g") for w in (one, other))
        if apart > slack / 2:
            yield _warn(
                "weights_disagree",
                f"The label gives {one.qty} {one.unit} and {other.qty} {other.unit}, which are "
                "not the same. Weigh the case.",
                "weight",
            )


def _last_place(weight: Weight) -> int:
    exponent = weight.qty.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def _bad_check_digit(digits: str) -> Problem:
    return Problem(
        "bad_check_digit",
        f"The number {digits} on the label is not right (its last digit should be "
        f"{check_digit(digits[:-1])}). Scan it again, or choose the line yourself.",
        "gtin",
        {"gtin": digits},
    )


def _no_gtin(gtin: str) -> Problem:
    return Problem("no_gtin", f"'{gtin}' is not a GTIN.", "gtin", {"gtin": gtin})


def _no_such_day(text: str) -> Problem:
    return Problem(
        "no_such_day",
        f"The label's date {text} does not exist. Type the date as it is printed on the case.",
        "use_by",
        {"text": text},
    )


def _warn(code: str, message: str, field: str) -> Problem:
    return Problem(code, message, field)
