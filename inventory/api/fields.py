"""Fields of documents: exact figures as strings, moments with a zone, words that say something.

What comes in is taken as it is or refused: no number for a string, no guess at a zone.
"""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from drf_spectacular.drainage import set_override
from rest_framework import serializers

from inventory.roles import Viewer

PLACES = 9
DIGITS = 19


class Figure(serializers.DecimalField):
    """A decimal string of at most nine places: base units, money, or a unit's cost."""

    default_error_messages = {
        "not_a_string": "Send figures as strings of digits, such as '12.5'; numbers lose digits.",
        "not_a_figure": "This is no figure that can be taken here; send one such as '12.5'.",
    }

    def __init__(
        self,
        *,
        above_zero: bool = False,
        signed: bool = False,
        digits: int = DIGITS - PLACES,
        places: int = PLACES,
        **options: Any,
    ) -> None:
        """``digits`` before the point; what is read may have a sign and all of them."""
        super().__init__(
            max_digits=digits + places, decimal_places=places, normalize_output=True, **options
        )
        sign = "-?" if signed or options.get("read_only") else ""
        some = r"(?=.*[1-9])" if above_zero else ""
        pattern = rf"^{some}{sign}[0-9]{{1,{digits}}}(\.[0-9]{{1,{places}}})?$"
        self._shape = re.compile(pattern)
        set_override(self, "field", {"type": "string", "pattern": pattern})

    def to_internal_value(self, data: Any) -> Decimal:
        if not isinstance(data, str):
            self.fail("not_a_string")
        if not self._shape.fullmatch(data):
            self.fail("not_a_figure")
        return super().to_internal_value(data)


class Amount(Figure):
    """How much somebody types, in a unit beside it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(above_zero=True, digits=6, places=6, **options)


class Cost(Figure):
    """Money that only some see: null for the others, as the row's ``sees_cost`` says."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"read_only": True, "allow_null": True, **options})

    def get_attribute(self, instance: Any) -> Any:
        parent = self.parent
        assert isinstance(parent, Row)
        return super().get_attribute(instance) if parent.sees_cost(instance) else None


# One line of text in any script: no control characters, no blanks at its ends.
_LINE = r"[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?"


class Words(serializers.CharField):
    """One line that says something."""

    default_error_messages = {
        "not_a_string": "Send text.",
        "not_a_line": "Send one line of text, without blanks at its ends.",
        "not_a_code": "This is no code; send it as it was read.",
    }

    def __init__(self, longest: int, *, code: str = "", **options: Any) -> None:
        super().__init__(max_length=longest, trim_whitespace=False, **options)
        blank = bool(options.get("allow_blank"))
        pattern = code or (rf"^({_LINE})?$" if blank else rf"^{_LINE}$")
        self._shape, self._wrong = re.compile(pattern), "not_a_code" if code else "not_a_line"
        shape: dict[str, Any] = {"type": "string", "maxLength": longest, "pattern": pattern}
        set_override(self, "field", shape if blank else {**shape, "minLength": 1})

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("not_a_string")
        text = super().to_internal_value(data)
        if not self._shape.fullmatch(text):
            self.fail(self._wrong)
        return text


class Whole(serializers.IntegerField):
    """A whole number, not a string of one."""

    def __init__(self, *, most: int = 99_999, least: int = 0, **options: Any) -> None:
        super().__init__(min_value=least, max_value=most, **options)

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return super().to_internal_value(data)


class Flag(serializers.BooleanField):
    """true or false, and nothing that looks like it."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data


class Day(serializers.DateField):
    """YYYY-MM-DD."""

    def __init__(self, **options: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d"], **options)


class Hour(serializers.TimeField):
    """HH:MM on the wall clock of the business."""

    def __init__(self, **options: Any) -> None:
        super().__init__(format="%H:%M", input_formats=["%H:%M"], **options)
        pattern = "^([01][0-9]|2[0-3]):[0-5][0-9]$"
        set_override(self, "field", {"type": "string", "pattern": pattern})


class Moment(serializers.DateTimeField):
    """ISO 8601 with its zone: a moment without one could be any of many."""

    default_error_messages = {
        "no_zone": "Say the zone too, such as 2026-03-04T07:20:00Z or …T07:20:00-05:00."
    }

    def enforce_timezone(self, value: datetime) -> datetime:
        if timezone.is_naive(value):
            self.fail("no_zone")
        return super().enforce_timezone(value)


class Row(serializers.Serializer[Any]):
    """One row that is read."""

    @property
    def viewer(self) -> Viewer:
        viewer: Viewer = self.context["request"].auth
        return viewer

    def sees_cost(self, instance: Any) -> bool:
        """Whether the viewer sees what this row costs; at some place, unless a row knows."""
        return self.viewer.sees_cost()


class Nothing(serializers.Serializer[Any]):
    """An act that needs no more than its address."""
