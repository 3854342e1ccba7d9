"""Figures and days as people type them, with what is wrong about each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation

from django.http import HttpRequest

from inventory.engine.pictures import MOST_BYTES
from inventory.fields import LIMIT, PLACES
from inventory.problems import Problem
from purchasing.services.photos import MOST_PHOTOS


def pictures_of(request: HttpRequest, name: str) -> list[bytes]:
    """Files of a form; of one that is too big only so much that this is seen."""
    files = request.FILES.getlist(name)[: MOST_PHOTOS + 1]
    return [file.read(MOST_BYTES + 1) for file in files]


class Typed:
    """Reads values of one form and gathers what cannot be read, to be told all at once, each
    with the words for its input: ``names`` says those of an input's name."""

    def __init__(self, values: Mapping[str, str], names: Callable[[str], str]) -> None:
        self._values, self._names = values, names
        self.problems: list[Problem] = []

    def wrong(self, code: str, message: str, name: str) -> None:
        self.problems.append(Problem(code, f"{self._names(name)}: {message}", name))

    def text(self, name: str) -> str:
        return (self._values.get(name) or "").strip()

    def is_ticked(self, name: str) -> bool:
        return bool(self.text(name))

    def number(self, name: str) -> Decimal | None:
        """None where nothing was typed, or nothing that is a number."""
        text = self.text(name)
        return self.figure(text, name) if text else None

    def numbers(self, name: str) -> tuple[Decimal, ...]:
        """Several figures with spaces, semicolons or line ends between them."""
        parts = self.text(name).replace(";", " ").split()
        return tuple(one for part in parts if (one := self.figure(part, name)) is not None)

    def figure(self, text: str, name: str) -> Decimal | None:
        """A comma stands for the point, unless there is one."""
        plain = text.replace(",", "" if "." in text else ".").replace("\u00a0", "")
        try:
            number = Decimal(plain)
        except InvalidOperation:
            number = Decimal("NaN")
        exponent = number.as_tuple().exponent
        if not isinstance(exponent, int) or exponent < -PLACES or abs(number) > LIMIT:
            self.wrong("not_a_number", f"'{text}' is not a figure.", name)
            return None
        return number

    def day(self, name: str) -> date | None:
        text = self.text(name)
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.wrong("not_a_day", f"'{text}' is not a day. Type it as 2026-03-04.", name)
            return None

    def moment(self, name: str, otherwise: datetime) -> datetime:
        """An instant that a device wrote down; the server's where there is none."""
        text = self.text(name)
        if not text:
            return otherwise
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            self.problems.append(Problem("not_a_moment", f"'{text}' is not a moment.", name))
            return otherwise
        return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
