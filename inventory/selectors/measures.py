"""Units of every item, read once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from inventory.engine.units import ItemMeasures, as_decimal
from inventory.models import Item, ItemUnit

CaseSize = tuple[Decimal, str]


class Measures:
    """Conversion factors of every item, each worked out once."""

    def __init__(self, items: Mapping[str, ItemMeasures]) -> None:
        self._items = items
        self._factors: dict[tuple[str, str], Fraction] = {}

    def of(self, item: str) -> ItemMeasures:
        return self._items[item]

    def own_unit(self, item: str) -> str:
        return self._items[item].unit

    def base_unit(self, item: str) -> str:
        return self._items[item].base

    def base_per(self, item: str, unit: str) -> Fraction:
        """Base units in one ``unit``. Raises ``Refused`` where there is no conversion."""
        key = item, unit
        if key not in self._factors:
            self._factors[key] = self._items[item].per(unit)
        return self._factors[key]

    def base_per_own(self, item: str) -> Fraction:
        return self.base_per(item, self.own_unit(item))

    def base_quantity(self, item: str, qty: Decimal, unit: str) -> Fraction:
        return Fraction(qty) * self.base_per(item, unit)

    def in_base(self, item: str, qty: Decimal, unit: str) -> Decimal:
        """For the ledger: rounded once to nine places."""
        return as_decimal(self.base_quantity(item, qty, unit))

    def in_own_unit(self, item: str, base_qty: Decimal) -> Decimal:
        return as_decimal(Fraction(base_qty) / self.base_per_own(item))


def item_measures(case_sizes: Mapping[str, CaseSize] | None = None) -> Measures:
    """Units of every item in two queries; ``case_sizes``: what a case of an item holds."""
    own: dict[int, dict[str, tuple[Fraction, str]]] = defaultdict(dict)
    for row in ItemUnit.objects.order_by("item_id", "word"):
        own[row.item_id][row.word] = Fraction(row.qty), row.of_unit
    sizes = case_sizes or {}
    return Measures(
        {row.code: _measures(row, own[row.pk], sizes.get(row.code)) for row in Item.objects.all()}
    )


def sale_prices(measures: Measures) -> dict[str, Fraction]:
    """Money per base unit of everything that has a price, in one query."""
    rows = Item.objects.filter(sale_price__isnull=False).order_by("code")
    return {
        item: Fraction(price) / measures.base_per_own(item)
        for item, price in rows.values_list("code", "sale_price")
        if price is not None
    }


def _measures(
    row: Item, own: dict[str, tuple[Fraction, str]], case_size: CaseSize | None
) -> ItemMeasures:
    if case_size is not None:
        qty, unit = case_size
        own = {"case": (Fraction(qty), unit), **own}
    return ItemMeasures(
        name=row.name,
        unit=row.unit,
        grams_per_ml=None if row.grams_per_ml is None else Fraction(row.grams_per_ml),
        grams_per_each=None if row.grams_per_each is None else Fraction(row.grams_per_each),
        own=own,
    )
