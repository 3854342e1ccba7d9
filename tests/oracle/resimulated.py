"""A replay rebuilt from its tables and the workbook alone, written from ``replay`` of the rules
without a line of the engine: every quantity of the daily table, every figure of the document.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from tests.oracle.cells import Row, Sheets, day, needed, number, text, yes
from tests.oracle.measures import Measure, measure_of

Pair = tuple[str, str]
Amount = dict[str, Any]
NEVER = date.max
ZERO = Fraction(0)


def rounded(value: Fraction, places: int) -> str:
    """Half up, from the exact value."""
    whole = (abs(value) * 10**places * 2 + 1) // 2
    number = Decimal(-whole if value < 0 else whole).scaleb(-places)
    return f"{number.copy_abs() if whole == 0 else number:f}"


def nine_places(value: Fraction) -> Fraction:
    exact = Decimal(value.numerator * 10**9 * 2 // value.denominator)
    return Fraction(int((exact + 1) // 2), 10**9)


@dataclass(frozen=True, slots=True)
class Facts:
    """The workbook, as far as a replay needs it."""

    sheets: Sheets
    items: dict[str, Row]
    measures: dict[str, Measure]
    settings: dict[str, str]
    supplied_by: dict[str, str]

    @classmethod
    def of(cls, sheets: Sheets) -> Facts:
        units = sheets.get("item_units", [])
        return cls(
            sheets,
            {row["code"]: row for row in sheets["items"]},
            {row["code"]: measure_of(row, units) for row in sheets["items"]},
            {row["key"]: row["value"] for row in sheets["settings"]},
            {row["code"]: text(row, "supplied_by") for row in sheets["locations"]},
        )

    def base(self, item: str, qty: Fraction, unit: str = "") -> Fraction:
        return self.measures[item].to_base(qty, unit or text(self.items[item], "unit"))

    def bought_at(self, place: str) -> str:
        while self.supplied_by[place]:
            place = self.supplied_by[place]
        return place

    def taken(self, place: str, item: str, qty: Fraction) -> dict[Pair, Fraction]:
        """What is bought, and where, for ``qty`` base units used at a place."""
        recipe = next((r for r in self.sheets["recipes"] if r["item"] == item), None)
        if recipe is None:
            return {(self.bought_at(place), item): qty}
        makes = self.base(item, needed(recipe, "makes_qty"), recipe["makes_unit"])
        place = text(recipe, "made_at") or place
        found: dict[Pair, Fraction] = defaultdict(Fraction)
        for line in self.sheets["recipe_lines"]:
            if line["recipe"] != item:
                continue
            share = (number(line, "yield_pct") or Fraction(100)) / 100
            drawn = self.base(line["item"], needed(line, "qty"), line["unit"]) / share
            for pair, each in self.taken(place, line["item"], qty * drawn / makes).items():
                found[pair] += each
        return found

    def uses(self, on: date) -> list[tuple[str, str, Fraction]]:
        """Place, item and base units of everything sold or used on a day."""
        found = []
        for row in (*self.sheets.get("sales", []), *self.sheets.get("usage", [])):
            if row["date"] == on.isoformat():
                qty = self.base(row["item"], needed(row, "qty"), row.get("unit", ""))
                found.append((row["location"], row["item"], qty))
        return found

    def case(self, row: Row) -> Fraction:
        """Base units of a case; the nominal weight where cases vary."""
        qty = number(row, "nominal_qty") if yes(row, "catch_weight") else None
        return self.base(row["item"], qty or needed(row, "pack_qty"), row["pack_unit"])

    def case_price(self, row: Row) -> Fraction:
        per = text(row, "priced_per") or "case"
        if per == "case":
            return needed(row, "price")
        return needed(row, "price") * self.case(row) / self.base(row["item"], Fraction(1), per)

    def unit_cost(self, item: str, on: date) -> Fraction | None:
        """First rank in force, one case."""
        offers: dict[tuple[str, str], Row] = {}
        for row in self.sheets["supplier_items"]:
            if row["item"] == item and (day(row, "valid_from") or date.min) <= on:
                key = row["supplier"], text(row, "sku")
                if key not in offers or _start(row) >= _start(offers[key]):
                    offers[key] = row
        costs = [
            (number(row, "rank") or 1, self.case_price(row) / self.case(row))
            for row in offers.values()
        ]
        return min(costs)[1] if costs else None

    def price(self, item: str) -> Fraction | None:
        sold = number(self.items[item], "sale_price")
        return None if sold is None else sold / self.base(item, Fraction(1))

    def shortage_cost(self, pair: Pair, on: date) -> Fraction | None:
        place, item = pair
        cost, price = self.unit_cost(item, on), self.price(item)
        if price is not None:
            return None if cost is None else price - cost
        if yes(self.items[item], "can_be_left_off"):
            return cost
        return self._by_dishes(pair, on)

    def _by_dishes(self, pair: Pair, on: date) -> Fraction | None:
        used: list[tuple[str, str, Fraction]] = []
        for place, sold, qty in self.uses(on):
            through = self.taken(place, sold, qty).get(pair, ZERO)
            if through:
                used.append((place, sold, through))
        total = sum((qty for _, _, qty in used), ZERO)
        parts = []
        for place, sold, qty in used:
            price = self.price(sold)
            plate = self.taken(place, sold, Fraction(1))
            costs = [(self.unit_cost(item, on), each) for (_, item), each in plate.items()]
            if price is None or any(cost is None for cost, _ in costs):
                continue
            margin = price - sum(((cost or ZERO) * each for cost, each in costs), ZERO)
            parts.append(qty / total * margin / plate[pair])
        return sum(parts, ZERO) * Fraction(self.settings["leave_share"]) if parts else None


def _start(row: Row) -> date:
    return day(row, "valid_from") or date.min


@dataclass(slots=True)
class Lot:
    qty: Fraction
    use_by: date
    received: date
    cost: Fraction


@dataclass(slots=True)
class Line:
    """One policy's line, lived through day by day."""

    facts: Facts
    pair: Pair
    lots: list[Lot]
    arrivals: dict[date, list[tuple[Fraction, Fraction]]]
    money: dict[str, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    counts: dict[str, Fraction] = field(default_factory=lambda: defaultdict(Fraction))

    @property
    def held(self) -> Fraction:
        return sum((lot.qty for lot in self.lots), ZERO)

    @property
    def value(self) -> Fraction:
        return sum((lot.qty * lot.cost for lot in self.lots), ZERO)

    def live(self, on: date, usage: Fraction) -> dict[str, Fraction]:
        start = self.held
        arrived = self._arrive(on)
        expired = self._expire(on)
        met = self._draw(usage)
        lost = usage - met
        rate = Fraction(self.facts.settings["holding_rate_per_year"])
        self.money["holding"] += self.value * rate / 365
        self.money["lost_margin"] += lost * (self.facts.shortage_cost(self.pair, on) or ZERO)
        weight = self.facts.unit_cost(self.pair[1], on) or ZERO
        self.money["met"] += met * weight
        self.money["asked"] += usage * weight
        for name, qty in (("usage", usage), ("met", met), ("lost", lost), ("expired", expired)):
            self.counts[name] += qty
        self.counts["stockout_days"] += lost > Fraction(1, 10**6)
        self.counts["line_days"] += 1
        return {
            "on_hand_start": start,
            "arrived": arrived,
            "usage": usage,
            "met": met,
            "lost": lost,
            "expired": expired,
            "on_hand_end": self.held,
        }

    def _arrive(self, on: date) -> Fraction:
        life = number(self.facts.items[self.pair[1]], "shelf_life_days")
        use_by = NEVER if life is None else on + timedelta(days=int(life))
        for qty, cost in self.arrivals.get(on, ()):
            self.lots.append(Lot(qty, use_by, on, cost))
            self.money["spend"] += qty * cost
        self.lots.sort(key=lambda lot: (lot.use_by, lot.received))
        return sum((qty for qty, _ in self.arrivals.get(on, ())), ZERO)

    def _expire(self, on: date) -> Fraction:
        gone = [lot for lot in self.lots if lot.use_by < on]
        self.lots = [lot for lot in self.lots if lot.use_by >= on]
        self.money["waste"] += sum((lot.qty * lot.cost for lot in gone), ZERO)
        return sum((lot.qty for lot in gone), ZERO)

    def _draw(self, usage: Fraction) -> Fraction:
        left = usage
        for lot in self.lots:
            taken = min(left, lot.qty)
            lot.qty, left = lot.qty - taken, left - taken
            self.money["used"] += taken * lot.cost
        self.lots = [lot for lot in self.lots if lot.qty]
        return usage - left


def opening(facts: Facts, pair: Pair, first: date) -> list[Lot]:
    found = []
    for row in facts.sheets.get("stock", []):
        use_by = day(row, "use_by") or _from_life(facts, row)
        if (row["location"], row["item"]) != pair or yes(row, "hold") or use_by < first:
            continue
        qty = facts.base(row["item"], needed(row, "qty"), row["unit"])
        cost = number(row, "unit_cost")
        usual = facts.unit_cost(row["item"], first) or ZERO
        received = day(row, "received") or date.min
        found.append(Lot(nine_places(qty), use_by, received, usual if cost is None else cost))
    return found


def _from_life(facts: Facts, row: Row) -> date:
    received, life = day(row, "received"), number(facts.items[row["item"]], "shelf_life_days")
    return NEVER if received is None or life is None else received + timedelta(days=int(life))


def arrivals(facts: Facts, pair: Pair, first: date, orders: list[Row]) -> dict[date, Any]:
    """Quantity and unit cost by day: open orders first, then what the policy placed."""
    found: dict[date, list[tuple[Fraction, Fraction]]] = defaultdict(list)
    for row in facts.sheets.get("open_orders", []):
        due = date.fromisoformat(row["due"])
        if (row["location"], row["item"]) == pair and due >= first:
            offer = next(
                one
                for one in facts.sheets["supplier_items"]
                if (one["supplier"], one["item"], text(one, "sku"))
                == (row["supplier"], row["item"], text(row, "sku"))
            )
            cases = number(row, "confirmed_cases")
            qty = (needed(row, "cases") if cases is None else cases) * nine_places(
                facts.case(offer)
            )
            found[due].append((qty, facts.case_price(offer) / nine_places(facts.case(offer))))
    for row in orders:
        if (row["location"], row["item"]) == pair:
            qty, cases = Fraction(row["qty"]), Fraction(row["cases"])
            cost = Fraction(row["case_price"]) * cases / qty
            found[date.fromisoformat(row["delivery"])].append((qty, cost))
    return found
