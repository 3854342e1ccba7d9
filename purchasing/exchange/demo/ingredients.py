"""What the kitchen buys to cook with.

Lives are days after receiving, at the careful end of household guidance (USDA FoodKeeper);
where it has no line they are the house's own. ``is``: T needs time and temperature control,
R ready to eat, L on the food traceability list, F may be frozen, G can be left off a plate.
``contains`` a question mark: nobody has stated the allergens yet.
"""

from __future__ import annotations

from purchasing.exchange.demo.table import table

FRESH = table(
    """
    code | name | unit | storage | life | is | contains | may | opened | g_ml | g_each
    PORK-BUTT | Pork shoulder, bone in | lb | chilled | 4 | TF | | | 2
    PORK-GROUND | Ground pork, 80 % lean | lb | chilled | 2 | TF
    BEEF-GROUND | Ground beef, 80 % lean | lb | chilled | 2 | TF
    CHICKEN-THIGH | Chicken thighs, bone and skin | lb | chilled | 2 | TF
    CHICKEN-GROUND | Ground chicken | lb | chilled | 2 | TF
    BACON | Smoked bacon, sliced | lb | chilled | 7 | TF | | | 5
    CABBAGE | Green cabbage | lb | chilled | 10 | | | | | | 1130
    SPINACH | Spinach, bagged | lb | chilled | 4 | TRL | | | 2
    SCALLION | Green onions | lb | chilled | 7
    ONION | Yellow onions | lb | dry | 30 | | | | | | 170
    GARLIC | Garlic, whole heads | lb | dry | 30 | | | | | | 50
    GINGER | Fresh ginger | lb | chilled | 21
    CARROT | Carrots | lb | chilled | 21 | | | | | | 90
    CELERY | Celery | lb | chilled | 14
    CUCUMBER | Cucumbers | lb | chilled | 7 | L | | | | | 300
    RADISH | Radishes, topped | lb | chilled | 10
    PEPPER-RED | Red bell peppers | lb | chilled | 7 | L | | | | | 165
    CHILI-HOT | Hot red chilies, fresh | lb | chilled | 7 | L
    PARSLEY | Flat parsley | lb | chilled | 3 | LG
    MINT | Mint | lb | chilled | 4 | LG
    POTATO | Russet potatoes | lb | dry | 21 | | | | | | 210
    TOMATO | Tomatoes | lb | chilled | 6 | L | | | | | 150
    LEMON | Lemons | each | chilled | 21 | | | | | | 108
    MANGO | Mangoes | lb | chilled | 5 | L | | | | | 340
    MUSHROOM | White mushrooms | lb | chilled | 5
    SPROUT | Bean sprouts | lb | chilled | 2 | TRL
    EGG | Eggs, large | each | chilled | 21 | TL | eggs | | | | 50
    BUTTER | Butter, unsalted | lb | chilled | 30 | F | milk | | | 0.959
    MILK | Whole milk | gal | chilled | 9 | TR | milk | | 5 | 1.031
    YOGURT | Plain yogurt | lb | chilled | 14 | TR | milk | | 6 | 1.03
    WHITE-CHEESE | Soft white cheese | lb | chilled | 10 | TRL | milk | | 5
    CHEDDAR | Cheddar, shredded | lb | chilled | 30 | TRF | milk | | 6 | 0.478
    TOFU | Firm tofu | lb | chilled | 9 | TR | soybeans | | 3
    NOODLE | Fresh wheat noodles | lb | chilled | 6 | T | wheat | eggs
    """
)

FROZEN = table(
    """
    code | name | unit | storage | life | is | contains | may | thawed | thaw | g_ml | g_each
    CHICKEN-BONES | Chicken backs, frozen | lb | frozen | 270 | T | | | 2 | 24
    SHRIMP | Shrimp, peeled, 26 to 30 a lb | lb | frozen | 180 | T | crustacean shellfish | | 2 | 18
    UDON | Thick wheat noodles, frozen | each | frozen | 240 | T | wheat | soybeans | | | | 230
    CORN | Corn kernels, frozen | lb | frozen | 240 | T
    PEAS | Green peas, frozen | lb | frozen | 240 | T
    EDAMAME | Shelled soybeans, frozen | lb | frozen | 240 | TR | soybeans | | 3
    """
)

DRY = table(
    """
    code | name | unit | storage | life | is | contains | may | opened | g_ml
    FLOUR | Flour, all-purpose | lb | dry | 180 | | wheat | | | 0.528
    RICE | White rice, long grain | lb | dry | 720 | | | | | 0.782
    LENTIL-RED | Red lentils, split | lb | dry | 365 | | | wheat
    STARCH | Corn starch | lb | dry | 720
    GLASS-NOODLE | Glass noodles | lb | dry | 540
    SUGAR | Sugar, granulated | lb | dry | | | | | | 0.845
    SALT | Salt, table | lb | dry | | | | | | 1.234
    YEAST | Dry yeast | lb | dry | 365 | | | | 120
    BAKING-POWDER | Baking powder | lb | dry | 365 | | | | 180
    HONEY | Honey | lb | dry | | | | | | 1.433
    SOY-SAUCE | Soy sauce, brewed | gal | dry | 540 | | soybeans;wheat | | 60 | 1.15
    RICE-VINEGAR | Rice vinegar | gal | dry | | | | | | 1.01
    SOY-OIL | Soybean oil, for frying | lb | dry | 365 | | soybeans | | 60 | 0.921
    SESAME-OIL | Sesame oil, toasted | l | dry | 365 | | sesame | | 120 | 0.92
    SESAME-PASTE | Sesame paste | lb | dry | 365 | | sesame | peanuts | 90 | 1.08
    PEANUT-BUTTER | Peanut butter, smooth | lb | dry | 270 | L | peanuts | sesame | 90 | 1.09
    TOMATO-PASTE | Tomato paste | lb | dry | 540 | | | | 5 | 1.1
    STOCK-BASE | Vegetable stock base | lb | dry | 365 | | ? | | 120
    MUSHROOM-DRY | Dried mushrooms | lb | dry | 365
    SESAME-SEED | Sesame seeds, toasted | lb | dry | 180 | G | sesame | | | 0.6
    CUMIN | Cumin, ground | lb | dry | 540 | | | sesame | | 0.43
    PAPRIKA | Paprika, sweet | lb | dry | 540 | | | | | 0.46
    TURMERIC | Turmeric, ground | lb | dry | 540 | | | | | 0.6
    BLACK-PEPPER | Black pepper, ground | lb | dry | 540 | | | | | 0.46
    FENNEL-SEED | Fennel seed | lb | dry | 540
    CINNAMON | Cinnamon sticks | lb | dry | 540
    STAR-ANISE | Star anise | lb | dry | 540
    CHILI-FLAKE | Chili flakes | lb | dry | 540
    """
)

INGREDIENTS = FRESH + FROZEN + DRY

PACKAGING = table(
    """
    code | name | unit | storage | use
    BOWL-24 | Paper bowl, 24 oz | each | dry
    LID-24 | Lid for 24 oz bowl | each | dry
    BOWL-32 | Soup bowl, 32 oz | each | dry
    LID-32 | Vented lid for soup bowl | each | dry
    BOX-DUMPLING | Dumpling box | each | dry
    SLEEVE | Lined paper sleeve | each | dry
    TRAY | Paper tray, 2 lb | each | dry
    CUP-SIDE | Side cup with lid, 8 oz | each | dry
    CUP-SAUCE | Sauce cup with lid, 2 oz | each | dry
    CHOPSTICKS | Chopsticks, pair | each | dry
    SPOON | Soup spoon | each | dry
    FORK | Fork | each | dry
    NAPKIN | Napkins | each | dry
    BAG | Carrier bag, paper | each | dry | cover
    GLOVES | Gloves | each | dry | hour
    TOWEL | Paper towel roll | each | dry | stop
    LABEL | Day labels, dissolving | each | dry
    SANITIZER | Sanitizer, concentrate | gal | dry
    DETERGENT | Dish detergent | gal | dry
    GAS | Propane cylinder, 20 lb, exchange | each | dry | hour
    """
)

DRINKS = table(
    """
    code | name | unit | storage | life | price
    WATER | Spring water, 16.9 oz | each | dry | | 2.00
    GINGER-FIZZ | Ginger fizz, can | each | dry | 270 | 3.00
    COLD-TEA | Barley tea, can | each | dry | 270 | 3.25
    APPLE-FIZZ | Sparkling apple, bottle | each | dry | 365 | 3.75
    PEAR-NECTAR | Pear nectar, carton | each | dry | 240 | 3.25
    """
)

# Words of the house's own.
ITEM_UNITS = table(
    """
    item | unit | qty | of_unit
    SCALLION | bunch | 4 | oz
    PARSLEY | bunch | 2.5 | oz
    MINT | bunch | 2 | oz
    CABBAGE | head | 2.5 | lb
    GARLIC | head | 50 | g
    EGG | flat | 30 | each
    UDON | brick | 1 | each
    NAPKIN | sleeve | 500 | each
    GLOVES | box | 100 | each
    CHOPSTICKS | bundle | 100 | each
    CHICKEN-BROTH | ladle | 6 | floz
    VEG-STOCK | ladle | 6 | floz
    LENTIL-SOUP | ladle | 6 | floz
    RICE-COOKED | hotel-pan | 15 | lb
    BRAISED-PORK | hotel-pan | 12 | lb
    PULLED-CHICKEN | hotel-pan | 10 | lb
    PORK-DUMPLING | tray | 60 | each
    CHICKEN-DUMPLING | tray | 60 | each
    MUSHROOM-DUMPLING | tray | 60 | each
    DIP-SAUCE | squeeze-bottle | 24 | floz
    """
)
