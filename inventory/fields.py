"""Exact quantities and money: ``Decimal`` in Python, integers of 10^-9 in the database.

Django's ``DecimalField`` is a binary float on SQLite, so sums drift and checks misfire. The
fields here store ``BIGINT`` on SQLite and PostgreSQL alike and refuse floats and figures
with more than nine decimal places. Limit: +/- 9.2 * 10^9.

In SQL use only comparison and ``Sum``; for arithmetic wrap the figure with ``exact``: a bare
``Decimal`` beside ``F`` is refused by SQLite and silently rounded away by PostgreSQL.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Context, Decimal
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from django import forms
from django.core import exceptions
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Value
from django.db.models.expressions import Combinable, register_combinable_fields

PLACES = 9
ONE = Decimal(1).scaleb(-PLACES)
LIMIT = Decimal(2**63 - 1).scaleb(-PLACES)
_CONTEXT = Context(prec=60)

_Set = TypeVar("_Set", contravariant=True)
_Get = TypeVar("_Get", covariant=True)

if TYPE_CHECKING:
    _Base = models.Field
else:  # Django's field takes no type arguments at run time

    class _Base(models.Field, Generic[_Set, _Get]):
        pass


def quantised(value: Decimal) -> Decimal:
    """``value`` rounded half up to nine places: the one rounding on the way in."""
    return value.quantize(ONE, rounding=ROUND_HALF_UP, context=_CONTEXT)


class ExactField(_Base[_Set, _Get]):
    """A decimal with nine places in a 64-bit integer column."""

    description = "Exact decimal"

    if TYPE_CHECKING:
        _pyi_private_set_type: Decimal | int | str | Combinable
        _pyi_private_get_type: Decimal

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def db_check(self, connection: BaseDatabaseWrapper) -> str | None:
        if connection.vendor != "sqlite" or self.column is None:
            return None
        # SQLite columns take anything: make them say no.
        return f"typeof({connection.ops.quote_name(self.column)}) in ('integer', 'null')"

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or isinstance(value, Decimal):
            return value
        if isinstance(value, float):
            raise TypeError(f"{self.name}: a float is not exact; give a Decimal, not {value!r}")
        try:
            return Decimal(value)
        except (ArithmeticError, ValueError, TypeError) as error:
            raise exceptions.ValidationError(f"'{value}' is not a number") from error

    def get_prep_value(self, value: Any) -> int | None:
        number = self.to_python(super().get_prep_value(value))
        return None if number is None else self._scaled(number)

    def _scaled(self, number: Decimal) -> int:
        if not number.is_finite() or abs(number) > LIMIT:
            raise ValueError(f"{self.name}: {number} is outside +/- {LIMIT}")
        scaled = number.scaleb(PLACES, context=_CONTEXT)
        whole = int(scaled)
        if whole != scaled:
            raise ValueError(f"{self.name}: {number} has more than {PLACES} decimal places")
        return whole

    def from_db_value(
        self, value: Any, expression: Any, connection: BaseDatabaseWrapper
    ) -> Decimal | None:
        if value is None:
            return None
        return Decimal(round(value)).scaleb(-PLACES, context=_CONTEXT)

    def value_to_string(self, obj: models.Model) -> str:
        return str(self.value_from_object(obj))

    def formfield(self, **kwargs: Any) -> Any:
        return super().formfield(
            **{"form_class": forms.DecimalField, "decimal_places": PLACES, **kwargs}
        )


class Quantity(ExactField[_Set, _Get]):
    """A quantity; in base units (g, ml, each) unless the model names a unit beside it."""


class Money(ExactField[_Set, _Get]):
    """An amount in the currency of the business."""


class UnitCost(ExactField[_Set, _Get]):
    """Currency per base unit."""


for _kind in (Quantity, Money, UnitCost):
    for _sign in (Combinable.ADD, Combinable.SUB):
        register_combinable_fields(_kind, _sign, _kind, _kind)


def exact(value: Decimal, field: type[ExactField[Any, Any]] = Quantity) -> Value:
    """``value`` as a typed SQL parameter, for conditional updates such as on hand."""
    return Value(value, output_field=field())
