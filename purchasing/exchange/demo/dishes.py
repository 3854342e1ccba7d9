"""What is sold: dishes, what goes on each plate and into its packaging, and who sells what."""

from __future__ import annotations

from datetime import date, timedelta

from purchasing.exchange.demo.cards import cards
from purchasing.exchange.demo.places import COUNTER
from purchasing.exchange.demo.table import Row, table

DISHES = table(
    """
    code | name | price
    DUMPLINGS-PORK | Pork and cabbage dumplings, ten | 9.00
    DUMPLINGS-CHICKEN | Chicken and celery dumplings, ten | 9.00
    DUMPLINGS-MUSHROOM | Mushroom and tofu dumplings, ten | 9.00
    DUMPLING-SOUP | Dumplings in broth with spinach | 10.50
    NOODLES-PORK | Braised pork noodle soup | 12.50
    NOODLES-CHICKEN | Chicken noodle soup | 11.50
    NOODLES-SHRIMP | Shrimp and thick noodle soup | 13.50
    NOODLES-SESAME | Cold sesame noodles | 8.50
    SOUP-LENTIL | Red lentil soup with flatbread | 6.50
    FLATBREAD-BEEF | Flatbread stuffed with spiced beef | 9.50
    FLATBREAD-SPINACH | Flatbread stuffed with spinach and cheese | 8.50
    FLATBREAD-POTATO | Flatbread stuffed with potato and onion | 7.00
    CAKE-SCALLION | Griddled green onion cakes, two | 5.50
    CAKE-CABBAGE | Cabbage griddle cake with bacon | 8.00
    CAKE-CORN | Corn griddle cakes with yogurt | 7.50
    CAKE-HONEY | Honey griddle cakes with mango | 7.50
    RICE-PORK | Braised pork on rice with a soy egg | 11.50
    RICE-CHICKEN | Ginger chicken on rice | 10.50
    RICE-MUSHROOM | Mushrooms and tofu on rice | 9.50
    SALAD-CUCUMBER | Smashed cucumber salad | 4.50
    SALAD-SLAW | Sesame cabbage slaw | 4.00
    """
)

DISH_CARDS = cards(
    """
    DUMPLINGS-PORK makes 1 each
    PORK-DUMPLING 10 each
    DIP-SAUCE 1.5 floz
    SESAME-SEED 1 g
    BOX-DUMPLING 1 each
    CUP-SAUCE 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    DUMPLINGS-CHICKEN makes 1 each
    CHICKEN-DUMPLING 10 each
    DIP-SAUCE 1.5 floz
    SESAME-SEED 1 g
    BOX-DUMPLING 1 each
    CUP-SAUCE 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    DUMPLINGS-MUSHROOM makes 1 each
    MUSHROOM-DUMPLING 10 each
    DIP-SAUCE 1.5 floz
    SESAME-SEED 1 g
    BOX-DUMPLING 1 each
    CUP-SAUCE 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    DUMPLING-SOUP makes 1 each
    PORK-DUMPLING 7 each
    CHICKEN-BROTH 14 floz
    SPINACH 1.5 oz
    SCALLION 0.25 oz 83
    BOWL-32 1 each
    LID-32 1 each
    SPOON 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    NOODLES-PORK makes 1 each
    BRAISED-PORK 4.5 oz
    NOODLE 6 oz
    CHICKEN-BROTH 14 floz
    SOY-EGG 1 each
    SPINACH 1 oz
    SCALLION 0.25 oz 83
    BOWL-32 1 each
    LID-32 1 each
    SPOON 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    NOODLES-CHICKEN makes 1 each
    PULLED-CHICKEN 4.5 oz
    NOODLE 6 oz
    CHICKEN-BROTH 16 floz
    SPROUT 1.5 oz
    SCALLION 0.25 oz 83
    BOWL-32 1 each
    LID-32 1 each
    SPOON 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    NOODLES-SHRIMP makes 1 each
    SHRIMP 4.5 oz
    UDON 1 brick
    CHICKEN-BROTH 14 floz
    SPINACH 1 oz
    SPROUT 1 oz
    CHILI-OIL 0.25 floz
    BOWL-32 1 each
    LID-32 1 each
    SPOON 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    NOODLES-SESAME makes 1 each
    NOODLE 7 oz
    SESAME-SAUCE 3.5 floz
    CUCUMBER 2 oz
    EDAMAME 1 oz
    SESAME-SEED 2 g
    BOWL-24 1 each
    LID-24 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    SOUP-LENTIL makes 1 each
    LENTIL-SOUP 16 floz
    PLAIN-FLATBREAD 2 each
    LEMON 0.25 each
    PARSLEY 0.1 oz 95
    BOWL-24 1 each
    LID-24 1 each
    SPOON 1 each
    NAPKIN 2 each

    FLATBREAD-BEEF makes 1 each
    BEEF-FLATBREAD 1 each
    YOGURT-SAUCE 2 floz
    PICKLE 1.5 oz
    PARSLEY 0.1 oz 95
    SLEEVE 1 each
    CUP-SAUCE 1 each
    NAPKIN 3 each

    FLATBREAD-SPINACH makes 1 each
    SPINACH-FLATBREAD 1 each
    YOGURT-SAUCE 2 floz
    PICKLE 1.5 oz
    SLEEVE 1 each
    CUP-SAUCE 1 each
    NAPKIN 3 each

    FLATBREAD-POTATO makes 1 each
    POTATO-FLATBREAD 1 each
    CHILI-OIL 0.5 floz
    PICKLE 1.5 oz
    SLEEVE 1 each
    CUP-SAUCE 1 each
    NAPKIN 3 each

    CAKE-SCALLION makes 1 each
    SCALLION-CAKE 2 each
    DIP-SAUCE 1.5 floz
    SOY-OIL 0.5 oz
    TRAY 1 each
    CUP-SAUCE 1 each
    NAPKIN 2 each

    CAKE-CABBAGE makes 1 each
    CABBAGE-BATTER 11 oz
    BACON 2 oz
    SOY-OIL 0.5 oz
    SCALLION 0.25 oz 83
    TRAY 1 each
    FORK 1 each
    NAPKIN 2 each

    CAKE-CORN makes 1 each
    CORN-BATTER 9 oz
    YOGURT-SAUCE 2 floz
    SOY-OIL 0.5 oz
    TRAY 1 each
    FORK 1 each
    NAPKIN 2 each

    CAKE-HONEY makes 1 each
    HONEY-BATTER 6 oz
    MANGO 3 oz 71
    YOGURT 1 oz
    HONEY 0.4 oz
    BUTTER 0.25 oz
    TRAY 1 each
    FORK 1 each
    NAPKIN 2 each

    RICE-PORK makes 1 each
    BRAISED-PORK 5 oz
    RICE-COOKED 9 oz
    SOY-EGG 1 each
    PICKLE 1.5 oz
    SCALLION 0.25 oz 83
    BOWL-24 1 each
    LID-24 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    RICE-CHICKEN makes 1 each
    PULLED-CHICKEN 5 oz
    RICE-COOKED 9 oz
    GINGER-GARLIC 0.4 oz
    CUCUMBER 2 oz
    CHILI-OIL 0.25 floz
    BOWL-24 1 each
    LID-24 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    RICE-MUSHROOM makes 1 each
    BRAISED-MUSHROOM 7 oz
    RICE-COOKED 9 oz
    EDAMAME 1 oz
    PICKLE 1.5 oz
    BOWL-24 1 each
    LID-24 1 each
    CHOPSTICKS 1 each
    NAPKIN 2 each

    SALAD-CUCUMBER makes 1 each
    CUCUMBER 8 oz
    DIP-SAUCE 1 floz
    CHILI-OIL 0.25 floz
    SESAME-SEED 1 g
    CUP-SIDE 1 each
    FORK 1 each
    NAPKIN 1 each

    SALAD-SLAW makes 1 each
    SLAW-BASE 6 oz
    SESAME-SAUCE 1.5 floz
    LEMON 0.25 each
    CUP-SIDE 1 each
    FORK 1 each
    NAPKIN 1 each
    """
)

# Who sells what, with the share of guests in per cent: dishes divide the guests between them,
# drinks are taken beside.
MENUS = {
    "PLEAT": "DUMPLINGS-PORK 36, DUMPLINGS-CHICKEN 25, DUMPLINGS-MUSHROOM 17, DUMPLING-SOUP 13,"
    " SALAD-CUCUMBER 9, WATER 14, GINGER-FIZZ 19, COLD-TEA 16",
    "LADLE": "NOODLES-PORK 31, NOODLES-CHICKEN 26, NOODLES-SESAME 18, NOODLES-SHRIMP 13,"
    " DUMPLING-SOUP 12, WATER 13, COLD-TEA 18, GINGER-FIZZ 14",
    "HEARTH": "FLATBREAD-BEEF 38, FLATBREAD-SPINACH 22, FLATBREAD-POTATO 18, SOUP-LENTIL 14,"
    " SALAD-SLAW 8, WATER 15, APPLE-FIZZ 17, GINGER-FIZZ 13",
    "GRIDDLE": "CAKE-CABBAGE 27, CAKE-SCALLION 24, CAKE-CORN 21, CAKE-HONEY 16,"
    " DUMPLINGS-PORK 12, WATER 14, APPLE-FIZZ 15, PEAR-NECTAR 13",
    "BASKET": "RICE-PORK 33, RICE-CHICKEN 30, RICE-MUSHROOM 18, SALAD-CUCUMBER 10,"
    " SALAD-SLAW 9, WATER 15, COLD-TEA 20, PEAR-NECTAR 9",
    COUNTER: "NOODLES-PORK 16, DUMPLINGS-PORK 14, DUMPLINGS-CHICKEN 10, NOODLES-CHICKEN 12,"
    " RICE-CHICKEN 10, RICE-PORK 8, FLATBREAD-SPINACH 7, SOUP-LENTIL 7, NOODLES-SESAME 6,"
    " CAKE-SCALLION 6, CAKE-HONEY 4, WATER 10, GINGER-FIZZ 16, COLD-TEA 22, APPLE-FIZZ 9",
}

# A dish that came onto a menu late, and one that a truck sells at one site only.
NEW_DISH = ("LADLE", "NOODLES-SHRIMP")
NEW_DISH_DAYS = 45
MARKET = "Brickfield Market"
MARKET_DISH = ("PLEAT", "CAKE-HONEY")
MARKET_SHARE = 0.08
MARKET_PRICE = "8.50"
_MENU_DAYS = 200


def shares(location: str) -> dict[str, float]:
    """Items of a menu and the share of guests who take each."""
    pairs = (part.split() for part in MENUS[location].split(","))
    return {item: float(percent) / 100 for item, percent in pairs}


def shares_on(location: str, site: str, days_ago: int) -> dict[str, float]:
    """``shares`` of one service, with what its site and its day change."""
    offered = shares(location)
    if location == NEW_DISH[0] and days_ago > NEW_DISH_DAYS:
        del offered[NEW_DISH[1]]
    if (location, site) == (MARKET_DISH[0], MARKET):
        offered[MARKET_DISH[1]] = MARKET_SHARE
    return offered


def price_of(location: str, item: str, prices: dict[str, float]) -> float:
    return float(MARKET_PRICE) if (location, item) == MARKET_DISH else prices[item]


def menu_rows(today: date) -> list[Row]:
    rows = [
        _entry(location, item, today - timedelta(days=_start(location, item)))
        for location in MENUS
        for item in shares(location)
    ]
    at_market = _entry(*MARKET_DISH, today - timedelta(days=_MENU_DAYS))
    return [*rows, {**at_market, "price": MARKET_PRICE, "site": MARKET}]


def _start(location: str, item: str) -> int:
    return NEW_DISH_DAYS if (location, item) == NEW_DISH else _MENU_DAYS


def _entry(location: str, item: str, start: date) -> Row:
    entry = {"location": location, "item": item, "from": str(start)}
    return {**entry, "to": "", "price": "", "site": ""}
