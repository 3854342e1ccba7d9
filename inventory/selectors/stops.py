"""Stops and bookings from a day on."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from inventory.engine import kitchen as engine
from inventory.models import Booking, Stop
from inventory.selectors.measures import Measures


def stop_key(row: Stop) -> str:
    """Stable name of a stop, whatever its row number."""
    opens = f"{row.opens:%H:%M}" if row.opens else ""
    return f"{row.location.code}/{row.date}/{opens}/{row.site}"


def stops_from(day: date) -> tuple[engine.Stop, ...]:
    """Stops on or after ``day``, cancelled ones marked, in one query."""
    rows = Stop.objects.filter(date__gte=day).select_related("location")
    ordered = rows.order_by("date", "location__code", "opens", "site")
    return tuple(_stop(row) for row in ordered)


def _stop(row: Stop) -> engine.Stop:
    return engine.Stop(
        key=stop_key(row),
        location=row.location.code,
        day=row.date,
        opens=row.opens,
        closes=row.closes,
        site=row.site,
        event=row.event,
        expected_covers=_covers(row.expected_covers),
        guaranteed_covers=_covers(row.guaranteed_covers),
        cancelled=row.cancelled,
    )


def _covers(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def bookings_from(day: date, measures: Measures) -> tuple[engine.Booking, ...]:
    """Confirmed bookings on or after ``day``, in base units, in one query."""
    rows = Booking.objects.filter(date__gte=day, status=Booking.Status.CONFIRMED)
    ordered = rows.select_related("location", "item").order_by(
        "date", "location__code", "item__code", "customer"
    )
    return tuple(
        engine.Booking(
            row.location.code,
            row.date,
            row.item.code,
            float(measures.base_quantity(row.item.code, row.qty, row.unit)),
        )
        for row in ordered
    )
