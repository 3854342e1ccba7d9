"""What people type about a lot, read with every problem at once."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation

from django.http import HttpRequest

from inventory.problems import Problem, Refused
from inventory.services.lot_acts import Amount

_LONGEST = 24
_MOST = Decimal(10) ** 9


def typed_amount(request: HttpRequest, strip: str) -> Amount:
    """``qty`` and ``unit`` of the lot ``strip`` at the place ``at``. Raises ``Refused``."""
    at_place, unit = request.POST.get("at", ""), request.POST.get("unit", "")
    return Amount(strip, at_place, typed_figure(request, "qty"), unit)


def typed_figure(request: HttpRequest, name: str) -> Decimal:
    """A comma as people write it in some countries is taken for the point."""
    text = request.POST.get(name, "").strip().replace(",", ".")
    try:
        value = Decimal(text) if 0 < len(text) <= _LONGEST else None
    except InvalidOperation:
        value = None
    if value is None or not value.is_finite() or abs(value) >= _MOST:
        said = f"'{request.POST.get(name, '').strip()}' is not a figure; " if text else ""
        raise Refused(Problem("no_figure", f"{said}type how much, such as 2.5.", name))
    return value


def typed_day(request: HttpRequest, name: str) -> date | None:
    text = request.POST.get(name, "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = f"'{text}' is not a date; a date is YYYY-MM-DD."
        raise Refused(Problem("no_date", message, name)) from None
