"""Made-up suppliers, items and offers, shared by both families of random kitchens."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from tests.oracle.cells import WEEKDAYS, Row, Sheets
from tests.oracle.dice import Dice, on, size_of
from tests.oracle.measures import Measure, measure_of

CUTOFFS = ("05:30", "10:00", "14:00", "14:00", "23:45", "02:30", "00:00")
ARRIVALS = ("04:30", "06:00", "08:00", "14:00", "18:30")


@dataclass(slots=True)
class Market:
    """Suppliers, items and offers as they are made up; shared by both families."""

    dice: Dice
    today: date
    sheets: Sheets = field(default_factory=dict)
    measures: dict[str, Measure] = field(default_factory=dict)
    packs: dict[str, float] = field(default_factory=dict)  # base units of a typical case

    def add(self, sheet: str, **cells: str) -> Row:
        self.sheets.setdefault(sheet, []).append(cells)
        return cells

    def settings(self, zone: str) -> None:
        self.add("settings", key="business_name", value="Oracle Kitchens")
        self.add("settings", key="time_zone", value=zone)
        self.add("settings", key="currency", value="EUR")
        if self.dice.chance(0.5):
            self.add("settings", key="default_service_level", value="0.9")

    def supplier(self, code: str) -> None:
        """Half of them deliver within a day or two, so that today's stock matters."""
        dice = self.dice
        brisk = dice.chance(0.5)
        row = self.add(
            "suppliers",
            code=code,
            name=f"Supplier {code}",
            order_days=dice.weekdays(4 if brisk else 1),
            cutoff=dice.pick(CUTOFFS),
            lead_days=str(dice.whole(0, 1 if brisk else 5)),
            delivery_days=dice.weekdays(4 if brisk else 1),
            arrives=dice.maybe(0.45, dice.pick(ARRIVALS)),
        )
        for ahead in sorted(dice.some(range(-1, 16), 0, 3)):
            self.add("supplier_closures", supplier=code, date=on(self.today, ahead))
        if dice.chance(0.04):
            self._closes_down(row)

    def _closes_down(self, supplier: Row) -> None:
        """No order day is left after the first week, so that no second delivery is found."""
        known = [row["date"] for row in self.sheets.get("supplier_closures", [])
                 if row["supplier"] == supplier["code"]]  # fmt: skip
        for ahead in range(7, 61):
            day = on(self.today, ahead)
            is_order_day = WEEKDAYS[date.fromisoformat(day).weekday()] in supplier["order_days"]
            if is_order_day and day not in known:
                self.add("supplier_closures", supplier=supplier["code"], date=day)

    def closures(self, place: str, most: int) -> None:
        for ahead in sorted(self.dice.some(range(0, 14), 0, most)):
            day = on(self.today, ahead)
            self.add("location_closures", location=place, date=day, reason="holiday")

    def item(self, code: str, kind: str, **cells: str) -> Measure:
        dice = self.dice
        unit = dice.pick(("kg", "kg", "g", "lb", "oz", "l", "qt", "gal", "cup", "each", "dozen"))
        row = self.add("items", code=code, name=f"Item {code}", kind=kind, unit=unit)
        if unit not in ("each", "dozen"):
            row["grams_per_ml"] = dice.maybe(0.25, f"{dice.between(0.4, 1.4):.3f}")
        if unit in ("kg", "lb", "g", "each"):
            row["grams_per_each"] = dice.maybe(0.25, str(dice.whole(5, 900)))
        row["shelf_life_days"] = dice.maybe(0.6, str(dice.pick((0, 1, 1, 2, 3, 4, 5, 7, 10))))
        row.update(cells)
        if dice.chance(0.15):
            plain = measure_of(row, [])
            of_unit = dice.unit(plain)
            qty = dice.amount(plain, size_of(plain, dice) / 3, of_unit)
            self.add("item_units", item=code, unit=f"pan-{code.lower()}", qty=qty, of_unit=of_unit)
        self.measures[code] = measure_of(row, self.sheets.get("item_units", []))
        self.packs[code] = size_of(self.measures[code], dice)
        return self.measures[code]

    def offers(self, item: str, suppliers: list[str]) -> None:
        dice, measure = self.dice, self.measures[item]
        sellers = dice.some(suppliers, 1, 3 if dice.chance(0.4) else 1)
        ranks = dice.pick((("", "2", "3"), ("1", "2", "3"), ("2", "3", "4"), ("1", "1", "1")))
        if len(set(ranks)) == 1:
            sellers = sellers[:1]
        for supplier, rank in zip(sellers, ranks, strict=False):
            self._offer(item, measure, supplier, rank)
        self._case_as_a_unit(item)

    def _offer(self, item: str, measure: Measure, supplier: str, rank: str) -> None:
        dice = self.dice
        unit = dice.unit(measure)
        row = self.add(
            "supplier_items",
            supplier=supplier,
            item=item,
            pack_qty=dice.amount(measure, self.packs[item] * dice.between(0.6, 1.5), unit),
            pack_unit=unit,
            price=f"{dice.between(4, 90):.2f}",
            rank=rank,
            minimum_cases=dice.maybe(0.25, str(dice.whole(1, 6))),
            case_multiple=dice.maybe(0.25, str(dice.whole(2, 4))),
            valid_from=self._valid_from(),
        )
        self._ways_of_selling(row, measure)
        if dice.chance(0.12):
            row["sku"] = f"{item}-A"
            dearer = f"{float(row['price']) * 1.5:.2f}"
            self.sheets["supplier_items"].append({**row, "sku": f"{item}-B", "price": dearer})

    def _ways_of_selling(self, row: Row, measure: Measure) -> None:
        dice, weight = self.dice, row["pack_unit"] in ("kg", "lb", "oz")
        if weight and dice.chance(0.2):
            nominal = f"{float(row['pack_qty']) * dice.between(0.9, 1.1):.2f}"
            row.update(catch_weight="yes", nominal_qty=nominal, priced_per=row["pack_unit"])
            row["price"] = f"{dice.between(2, 20):.2f}"
        elif weight and measure.base == "g" and dice.chance(0.2):
            row.update(priced_per=dice.pick(("kg", "lb")), price=f"{dice.between(2, 20):.2f}")
        elif row["pack_unit"] == "dozen" and dice.chance(0.5):
            dozens = dice.whole(1, 15)
            piece_price = f"{float(row['price']) / dozens / 10:.2f}"
            row.update(pack_qty=str(dozens), pieces_per_case=str(dozens * 12))
            row.update(piece_price=piece_price)

    def _valid_from(self) -> str:
        when = self.dice.between(0, 1)
        if when < 0.6:
            return ""
        ahead = self.dice.whole(1, 10) if when > 0.92 else -self.dice.whole(0, 90)
        return on(self.today, ahead)

    def _case_as_a_unit(self, item: str) -> None:
        offers = [row for row in self.sheets["supplier_items"] if row["item"] == item]
        if len(offers) == 1 and not offers[0].get("catch_weight") and self.dice.chance(0.3):
            word = {**offers[0], "unit": "case", "qty": offers[0]["pack_qty"]}
            word["of_unit"] = offers[0]["pack_unit"]
            words = [*self.sheets.get("item_units", []), word]
            row = next(row for row in self.sheets["items"] if row["code"] == item)
            self.measures[item] = measure_of(row, words)

    def cells(self, item: str, base_qty: float) -> Row:
        unit = self.dice.unit(self.measures[item])
        return {"qty": self.dice.amount(self.measures[item], base_qty, unit), "unit": unit}
