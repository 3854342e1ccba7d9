"""Suppliers, offers and pars as the engine sees them."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from decimal import Decimal
from fractions import Fraction

from inventory.engine.units import as_decimal
from inventory.selectors.measures import Measures
from purchasing.engine import inputs as engine
from purchasing.models import Offer, Par, Price, PriceBreak, Supplier, SupplierClosure


def case_sizes() -> dict[str, tuple[Decimal, str]]:
    """What one case of an item holds, as quantity and unit: the first choice's pack."""
    rows = Offer.objects.filter(retired_on__isnull=True).order_by(
        "-rank", "-supplier__code", "-sku"
    )
    return {
        item: (nominal if catch_weight and nominal is not None else pack, unit)
        for item, pack, unit, catch_weight, nominal in rows.values_list(
            "item__code", "pack_qty", "pack_unit", "catch_weight", "nominal_qty"
        )
    }


def suppliers() -> dict[str, engine.Supplier]:
    """Every supplier that is not retired, by code, in two queries."""
    closed: dict[int, set[date]] = defaultdict(set)
    for supplier_id, day in SupplierClosure.objects.values_list("supplier_id", "date"):
        closed[supplier_id].add(day)
    rows = Supplier.objects.filter(retired_on__isnull=True).order_by("code")
    return {row.code: _supplier(row, frozenset(closed[row.pk])) for row in rows}


def _supplier(row: Supplier, closed_on: frozenset[date]) -> engine.Supplier:
    return engine.Supplier(
        code=row.code,
        order_days=frozenset(row.order_days),
        cutoff=row.cutoff,
        lead_days=row.lead_days,
        delivery_days=frozenset(row.delivery_days),
        arrives=row.arrives,
        closed_on=closed_on,
        minimum_order=row.minimum_order,
        fee_below_minimum=row.below_minimum == Supplier.BelowMinimum.FEE,
        delivery_fee=row.delivery_fee or Decimal(0),
    )


def offers(measures: Measures) -> tuple[engine.Offer, ...]:
    """Every offer that is not retired, with its prices and price breaks, in three queries."""
    prices: dict[int, list[tuple[date, Decimal]]] = defaultdict(list)
    for offer_id, start, price in Price.objects.values_list("offer_id", "starts_on", "price"):
        prices[offer_id].append((start or date.min, price))
    breaks: dict[int, list[tuple[int, Decimal]]] = defaultdict(list)
    for offer_id, least, price in PriceBreak.objects.values_list("offer_id", "from_cases", "price"):
        breaks[offer_id].append((least, price))
    rows = Offer.objects.filter(retired_on__isnull=True, supplier__retired_on__isnull=True)
    ordered = rows.select_related("supplier", "item").order_by(
        "item__code", "rank", "supplier__code", "sku"
    )
    return tuple(
        _offer(row, measures, tuple(sorted(prices[row.pk])), tuple(sorted(breaks[row.pk])))
        for row in ordered
    )


def _offer(
    row: Offer,
    measures: Measures,
    prices: tuple[tuple[date, Decimal], ...],
    breaks: tuple[tuple[int, Decimal], ...],
) -> engine.Offer:
    return engine.Offer(
        supplier=row.supplier.code,
        item=row.item.code,
        sku=row.sku,
        pack_qty=row.pack_qty,
        pack_unit=row.pack_unit,
        pack_base=float(case_base(row, measures)),
        priced_per=row.priced_per,
        priced_units=priced_units(row, measures),
        prices=prices,
        minimum_cases=row.minimum_cases,
        case_multiple=row.case_multiple,
        rank=row.rank,
        catch_weight=row.catch_weight,
        breaks=breaks,
    )


def case_base(row: Offer, measures: Measures) -> Fraction:
    """Base units in a case: the nominal weight where cases vary."""
    nominal = row.nominal_qty if row.catch_weight else None
    return measures.base_quantity(row.item.code, nominal or row.pack_qty, row.pack_unit)


def priced_units(row: Offer, measures: Measures) -> Decimal:
    """How many priced units a case holds."""
    if row.priced_per == "case":
        return Decimal(1)
    return as_decimal(case_base(row, measures) / measures.base_per(row.item.code, row.priced_per))


def pars(measures: Measures) -> tuple[engine.ParRule, ...]:
    """Every par row, in base units, in one query."""
    rows = Par.objects.select_related("location", "item", "supplied_by").order_by(
        "location__code", "item__code", "weekday"
    )
    return tuple(_par(row, measures) for row in rows)


def _par(row: Par, measures: Measures) -> engine.ParRule:
    quantity: Fraction | None = None
    if row.par is not None:
        unit = row.unit or row.item.unit
        quantity = measures.base_quantity(row.item.code, row.par, unit)
    return engine.ParRule(
        location=row.location.code,
        item=row.item.code,
        weekday=row.weekday,
        par=None if quantity is None else float(quantity),
        basis=row.basis,
        service_level=None if row.service_level is None else float(row.service_level),
        supplied_by=row.supplied_by.code if row.supplied_by else None,
    )
