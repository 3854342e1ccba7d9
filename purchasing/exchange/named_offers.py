"""Which stored offer a row names."""

from __future__ import annotations

from inventory.exchange.grammar import Row
from purchasing.models import Offer


class NamedOffers:
    """Numbers of all offers by supplier, item and SKU, read once."""

    def __init__(self) -> None:
        self._by_pair: dict[tuple[str, str], dict[str, int]] = {}
        rows = Offer.objects.values_list("supplier__code", "item__code", "sku", "pk")
        for supplier, item, sku, number in rows.order_by("pk").iterator():
            self._by_pair.setdefault((supplier, item), {})[sku] = number

    def named(self, row: Row) -> int:
        """The offer that a checked row names; without a SKU the only one there is."""
        offers = self._by_pair[row["supplier"], row["item"]]
        sku = row["sku"] or ""
        return offers[sku] if sku in offers else next(iter(offers.values()))
