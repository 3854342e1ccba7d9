"""Random kitchens one level deep: bookings of bought items at the places that buy them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

from tests.oracle.cells import WEEKDAYS, Row, Sheets
from tests.oracle.dice import Dice, on
from tests.oracle.market import CUTOFFS, Market

HOURS = (("06:00", "16:00"), ("05:00", "14:30"), ("08:00", "22:00"), ("", ""), ("", ""))
LONGEST_LIFE_LEFT = 12


@dataclass(frozen=True, slots=True)
class FlatSize:
    items: int = 160
    suppliers: int = 8
    places: int = 2
    days: int = 24


def flat_kitchen(seed: int, size: FlatSize) -> tuple[Sheets, str]:
    """The sheets of a kitchen and the moment of its run."""
    dice = Dice(f"flat {seed}")
    zone, today = dice.zone_and_day()
    return FlatKitchen(Market(dice, today), size).build(zone)


@dataclass(slots=True)
class FlatKitchen:
    market: Market
    size: FlatSize
    places: list[str] = field(default_factory=list)

    @property
    def dice(self) -> Dice:
        return self.market.dice

    @property
    def today(self) -> date:
        return self.market.today

    def build(self, zone: str) -> tuple[Sheets, str]:
        self.market.settings(zone)
        for number in range(self.size.places):
            self._place(number)
        suppliers = [f"S{number + 1}" for number in range(self.size.suppliers)]
        for code in suppliers:
            self.market.supplier(code)
        for number in range(self.size.items):
            self._item(f"I{number + 1:03}", suppliers)
        return self.market.sheets, f"{self.today}T{as_of_time(self.dice)}"

    def _place(self, number: int) -> None:
        code = "COM" if number == 0 else f"KIT{number}"
        opens, closes = self.dice.pick(HOURS)
        self.market.add(
            "locations",
            code=code,
            name=f"Place {code}",
            kind="commissary" if number == 0 else "kitchen",
            receives=self.dice.maybe(0.4, self.dice.weekdays(2)),
            opens=opens,
            closes=closes,
        )
        self.market.closures(code, 3)
        self.places.append(code)

    def _item(self, code: str, suppliers: list[str]) -> None:
        self.market.item(code, self.dice.pick(("ingredient", "ingredient", "packaging", "resale")))
        self.market.offers(code, suppliers)
        for place in self.places:
            if self.dice.chance(0.85 if place == "COM" else 0.35):
                self._pair(place, code)

    def _pair(self, place: str, item: str) -> None:
        pars(self.market, place, item)
        daily = self.market.packs[item] * self.dice.between(0.05, 1.2)
        if self.dice.chance(0.8):
            self._bookings(place, item, daily)
        usual = daily * self.dice.pick((2, 4, 8, 14))
        stock(self.market, place, item, self.dice.pick((0, 1, 1, 2, 3)), usual)
        if self.dice.chance(0.35):
            open_orders(self.market, place, item)

    def _bookings(self, place: str, item: str, daily: float) -> None:
        share = self.dice.pick((0.25, 0.6, 1.0))
        for ahead in range(-1, self.size.days):
            if self.dice.chance(share) and self._is_open(place, on(self.today, ahead)):
                self._booking(place, item, ahead, daily, "one")
                if self.dice.chance(0.05):
                    self._booking(place, item, ahead, daily, "another")

    def _is_open(self, place: str, day: str) -> bool:
        closures = self.market.sheets.get("location_closures", [])
        return not any(row["location"] == place and row["date"] == day for row in closures)

    def _booking(self, place: str, item: str, ahead: int, daily: float, customer: str) -> None:
        self.market.add(
            "bookings",
            location=place,
            date=on(self.today, ahead),
            item=item,
            status=self.dice.pick(("", "confirmed", "confirmed", "confirmed", "enquiry")),
            customer=customer,
            **self.market.cells(item, daily * self.dice.between(0.4, 1.6)),
        )


def as_of_time(dice: Dice) -> str:
    """Often exactly a cutoff, or the minute after one."""
    if dice.chance(0.4):
        return dice.pick([cutoff for cutoff in CUTOFFS if cutoff != "02:30"])
    if dice.chance(0.2):
        return dice.pick(("05:31", "10:01", "14:01"))
    return dice.pick(("04:12", "06:00", "07:07", "09:20", "12:00", "15:45"))


def pars(market: Market, place: str, item: str) -> None:
    dice = market.dice
    basis = dice.pick(("", "fixed", "fixed", "forecast", "forecast", "greater"))
    if not basis:
        return
    _par(market, place, item, "", basis)
    if dice.chance(0.3):
        for weekday in dice.some(WEEKDAYS, 1, 4):
            other = dice.pick(("fixed", "forecast", "greater")) if dice.chance(0.2) else basis
            _par(market, place, item, weekday, other)


def _par(market: Market, place: str, item: str, weekday: str, basis: str) -> None:
    dice = market.dice
    row: Row = {"location": place, "item": item, "weekday": weekday, "basis": basis}
    if basis != "forecast" or dice.chance(0.3):
        par = market.cells(item, market.packs[item] * dice.between(0.2, 7))
        row.update(par="0" if dice.chance(0.05) else par["qty"], unit=par["unit"])
    row["service_level"] = dice.maybe(0.3, dice.pick(("0.8", "0.95", "0.99")))
    market.add("pars", **row)


def stock(market: Market, place: str, item: str, lots: int, usual: float) -> None:
    """Lots in the house: some past their use-by, some on hold, a few not received yet."""
    dice = market.dice
    for number in range(lots):
        received = -dice.whole(0, 9) if dice.chance(0.95) else dice.whole(1, 3)
        last = dice.whole(max(received, -2), LONGEST_LIFE_LEFT)
        market.add(
            "stock",
            location=place,
            item=item,
            lot=dice.maybe(0.8, f"L{place}{item}{number}"),
            received=on(market.today, received) if received > 0 or dice.chance(0.8) else "",
            use_by=dice.maybe(0.6, on(market.today, last)),
            hold=dice.maybe(0.08, "yes"),
            **market.cells(item, usual * dice.between(0.05, 1.0)),
        )


def open_orders(market: Market, place: str, item: str) -> None:
    """Lines of orders on their way; one order is one supplier, place and due date."""
    dice = market.dice
    offers = [row for row in market.sheets["supplier_items"] if row["item"] == item]
    for ahead in sorted(dice.some(range(-3, 11), 1, 2)):
        offer, due = dice.pick(offers), market.today + timedelta(days=ahead)
        po = f"PO-{offer['supplier']}-{place}-{due:%m%d}"
        cases = dice.whole(1, 5)
        market.add(
            "open_orders",
            supplier=offer["supplier"],
            po=po,
            location=place,
            item=item,
            cases=str(cases),
            due=due.isoformat(),
            sku=offer.get("sku", ""),
            confirmed_cases=dice.maybe(0.25, str(dice.whole(0, cases))),
            status="approved" if ahead % 3 == 0 else "" if ahead % 3 == 1 else "sent",
        )
