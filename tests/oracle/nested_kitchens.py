"""Random kitchens from stops to purchases: trucks, dishes, nested recipes, batches."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from tests.oracle.cells import Row, Sheets
from tests.oracle.dice import Dice, on
from tests.oracle.flat_kitchens import as_of_time, open_orders, pars, stock
from tests.oracle.market import Market
from tests.oracle.measures import Measure

HOURS = (("06:00", "16:00"), ("05:00", "14:30"), ("07:00", "19:00"), ("04:00", "22:00"), ("", ""))
LOAD_TIMES = ("", "05:30", "07:00", "07:00", "09:00", "17:00", "19:30")
HANDS_OFF = ("", "", "", "0.5", "2", "4", "12", "16", "24", "36", "60")
LEVELS = 4


@dataclass(frozen=True, slots=True)
class NestedSize:
    raws: int = 24
    preps: int = 10
    dishes: int = 6
    trucks: int = 3
    suppliers: int = 5
    days: int = 14


def nested_kitchen(seed: int, size: NestedSize) -> tuple[Sheets, str]:
    """The sheets of a kitchen and the moment of its run."""
    dice = Dice(f"nested {seed}")
    zone, today = dice.zone_and_day()
    return NestedKitchen(Market(dice, today), size).build(zone)


@dataclass(slots=True)
class NestedKitchen:
    market: Market
    size: NestedSize
    raws: list[str] = field(default_factory=list)
    preps: list[list[str]] = field(default_factory=lambda: [[] for _ in range(LEVELS)])
    dishes: list[str] = field(default_factory=list)
    trucks: list[str] = field(default_factory=list)

    @property
    def dice(self) -> Dice:
        return self.market.dice

    @property
    def today(self) -> date:
        return self.market.today

    def build(self, zone: str) -> tuple[Sheets, str]:
        self.market.settings(zone)
        self._places()
        suppliers = [f"S{number + 1}" for number in range(self.size.suppliers)]
        for code in suppliers:
            self.market.supplier(code)
        self._raws(suppliers)
        for number in range(self.size.preps):
            self._prep(f"P{number + 1:02}", number * LEVELS // self.size.preps)
            if self.dice.chance(0.1):  # could be bought, is made
                self.market.offers(f"P{number + 1:02}", suppliers)
        for number in range(self.size.dishes):
            self._dish(f"D{number + 1:02}")
        for truck in self.trucks:
            self._days_of(truck)
        self._own_bookings()
        self._stock()
        return self.market.sheets, f"{self.today}T{as_of_time(self.dice)}"

    # places and items

    def _places(self) -> None:
        dice = self.dice
        opens, closes = dice.pick(HOURS)
        row = self.market.add("locations", code="COM", name="Commissary", kind="commissary")
        row.update(opens=opens, closes=closes, load_time=dice.maybe(0.3, "06:30"))
        row["receives"] = dice.maybe(0.3, dice.weekdays(3))
        self.market.closures("COM", 3)
        for number in range(self.size.trucks):
            code = f"T{number + 1}"
            truck = self.market.add("locations", code=code, name=f"Truck {code}", kind="truck")
            truck.update(supplied_by="COM", load_time=dice.pick(LOAD_TIMES))
            self.trucks.append(code)

    def _raws(self, suppliers: list[str]) -> None:
        dice = self.dice
        for number in range(self.size.raws):
            code, kind = f"R{number + 1:03}", dice.pick(("ingredient", "ingredient", "packaging"))
            cells = self._habits(0.12)
            cells["shelf_life_days"] = dice.maybe(0.45, str(dice.whole(0, 8)))
            self.market.item(code, kind, **cells)
            self.market.offers(code, suppliers)
            pars(self.market, "COM", code)
            self.raws.append(code)

    def _habits(self, frozen: float) -> Row:
        """What happens to what comes back, and how it is stored."""
        dice = self.dice
        cells: Row = {"on_return": dice.pick(("", "", "keep", "keep", "keep_if_cold", "discard"))}
        cells.update(tcs=dice.maybe(0.15, "yes"), ready_to_eat=dice.maybe(0.15, "yes"))
        if dice.chance(frozen):
            cells.update(storage="frozen", thaw_hours=dice.pick(("6", "12", "24", "36")))
        return cells

    def _prep(self, code: str, level: int) -> None:
        """Level 0 is made of bought items only, each further level of the one below too."""
        dice = self.dice
        cells = self._habits(0.06)
        cells["shelf_life_days"] = dice.maybe(0.85, str(dice.whole(0, 6)))
        measure = self.market.item(code, "prep", **cells)
        self.market.packs[code] = 12.0 if measure.base == "each" else dice.between(2000, 8000)
        below = [prep for preps in self.preps[:level] for prep in preps]
        parts = dice.some(below, 0, 1) + dice.some(self.preps[level - 1] if level else [], 1, 2)
        raws = dice.some(self.raws, 1 if level == 0 else 0, 3)
        self._recipe(code, list(dict.fromkeys(parts + raws)), dice.between(0.15, 0.6))
        self._batches(self.market.sheets["recipes"][-1], code)
        self.preps[level].append(code)

    def _recipe(self, item: str, parts: list[str], share: float) -> None:
        """``share``: how much of a typical case of each part goes into a typical batch."""
        dice, market = self.dice, self.market
        makes = market.cells(item, market.packs[item])
        market.add("recipes", item=item, makes_qty=makes["qty"], makes_unit=makes["unit"])
        for part in parts:
            line = market.cells(part, market.packs[part] * share * dice.between(0.5, 1.5))
            yield_pct = dice.pick(("", "", "100", "85", "60", "42.5", "110"))
            market.add("recipe_lines", recipe=item, item=part, yield_pct=yield_pct, **line)

    def _batches(self, recipe: Row, code: str) -> None:
        dice, measure = self.dice, self.market.measures[code]
        unit = dice.unit(measure)
        typical = self.market.packs[code] * dice.between(0.5, 2)
        largest = dice.amount(measure, typical, unit)
        smallest = dice.amount(measure, typical * dice.between(0.2, 0.9), unit)
        if float(smallest) > float(largest):
            smallest = largest
        choices = (("", ""), ("", largest), (smallest, ""), (smallest, largest), (largest, largest))
        low, high = dice.pick(choices)
        recipe.update(batch_min_qty=low, batch_max_qty=high)
        recipe.update(batch_unit=unit if low or high else "")
        recipe["batch_minutes"] = str(dice.pick((10, 15, 20, 30, 45, 60, 90, 180)))
        recipe["lead_hours"] = dice.pick(HANDS_OFF)
        recipe["made_at"] = dice.maybe(0.2, "COM")

    def _dish(self, code: str) -> None:
        dice, market = self.dice, self.market
        market.add("items", code=code, name=f"Dish {code}", kind="menu", unit="each")
        market.measures[code] = Measure("each")
        market.packs[code] = 1.0
        preps = [prep for level in reversed(self.preps) for prep in level]
        parts = dice.some(preps[: max(3, len(preps) // 2)], 1, 2) + dice.some(preps, 0, 1)
        self._recipe(code, list(dict.fromkeys(parts + dice.some(self.raws, 1, 3))), 0.06)
        portions = dice.pick(("1", "1", "10"))
        market.sheets["recipes"][-1].update(makes_qty=portions, makes_unit="each")
        self.dishes.append(code)

    # days

    def _days_of(self, truck: str) -> None:
        for ahead in range(-1, self.size.days):
            day = on(self.today, ahead)
            if self.dice.chance(0.5):
                self._stops(truck, day)
            if self.dice.chance(0.45):
                self._bookings(truck, day)

    def _stops(self, truck: str, day: str) -> None:
        dice = self.dice
        opens, closes = dice.pick((("10:30", "14:00"), ("11:00", "15:00"), ("12:30", "16:00")))
        services = [(opens, closes, "Market")]
        if dice.chance(0.15):
            services.append(("17:30", "21:00", "Harbour"))
        for opens, closes, site in services:
            row = self.market.add("stops", location=truck, date=day, opens=opens, closes=closes)
            row.update(site=site, cancelled=dice.maybe(0.15, "yes"))

    def _bookings(self, place: str, day: str) -> None:
        dice = self.dice
        for dish in dice.some(self.dishes, 1, 2):
            self._booking(place, day, dish, {"qty": str(dice.whole(10, 120)), "unit": "each"})
        if dice.chance(0.25):
            loose = dice.pick([*self.raws, *(prep for level in self.preps for prep in level)])
            amount = self.market.packs[loose] * dice.between(0.05, 0.8)
            self._booking(place, day, loose, self.market.cells(loose, amount))

    def _booking(self, place: str, day: str, item: str, amount: Row) -> None:
        status = self.dice.pick(("", "confirmed", "confirmed", "confirmed", "enquiry"))
        self.market.add("bookings", location=place, date=day, item=item, status=status, **amount)

    def _own_bookings(self) -> None:
        for ahead in range(self.size.days):
            if self.dice.chance(0.3) and self._is_open(on(self.today, ahead)):
                self._bookings("COM", on(self.today, ahead))

    def _is_open(self, day: str) -> bool:
        closures = self.market.sheets.get("location_closures", [])
        return not any(row["location"] == "COM" and row["date"] == day for row in closures)

    def _on_dishes(self) -> set[str]:
        lines = self.market.sheets["recipe_lines"]
        return {row["item"] for row in lines if row["recipe"] in self.dishes}

    def _stock(self) -> None:
        dice, market = self.dice, self.market
        for item in self.raws:
            stock(market, "COM", item, dice.pick((0, 1, 1, 2)), market.packs[item] * 1.5)
        for item in [prep for level in self.preps for prep in level]:
            stock(market, "COM", item, dice.pick((0, 1, 2, 3)), market.packs[item] * 2)
        for item in sorted(self._on_dishes()):
            for truck in self.trucks:
                stock(market, truck, item, dice.pick((0, 1, 2)), market.packs[item])
        for item in self.raws:
            if dice.chance(0.35):
                open_orders(market, "COM", item)
