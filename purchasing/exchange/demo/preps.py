"""What the kitchen makes: prep items and the cards they are made from.

Yields over fresh produce, raw thighs, roast shoulder and pan-browned beef are published ones
(food-standards.md section 5: USDA Standard Reference, Food Buying Guide); lines without one
are weighed as they go in. Water is not bought, so it stands on no card.
"""

from __future__ import annotations

from purchasing.exchange.demo.cards import cards
from purchasing.exchange.demo.table import table

PREPS = table(
    """
    code | name | unit | storage | life | is | returns | g_ml | g_each
    GINGER-GARLIC | Ginger and garlic paste | lb | chilled | 6 | TR
    SALTED-CABBAGE | Salted cabbage | lb | chilled | 4
    WARM-SPICE | Warm spice blend | lb | dry | 90
    CHILI-OIL | Chili oil | qt | chilled | 6 | TR | keep_if_cold | 0.92
    DIP-SAUCE | Dipping sauce | qt | chilled | 6 | TR | keep_if_cold | 1.08
    SESAME-SAUCE | Sesame and peanut sauce | qt | chilled | 6 | TR | keep_if_cold | 1.08
    YOGURT-SAUCE | Cucumber and mint yogurt | qt | chilled | 3 | TR | discard | 1.03
    PICKLE | Pickled carrot and radish | lb | chilled | 6 | R | keep_if_cold
    SLAW-BASE | Shredded cabbage and carrot | lb | chilled | 2 | R | discard
    DUMPLING-DOUGH | Dumpling dough | lb | chilled | 2
    FLATBREAD-DOUGH | Flatbread dough | lb | chilled | 2
    PORK-FILLING | Pork and cabbage filling | lb | chilled | 1 | T
    CHICKEN-FILLING | Chicken and celery filling | lb | chilled | 1 | T
    MUSHROOM-FILLING | Mushroom and tofu filling | lb | chilled | 2 | T
    PORK-DUMPLING | Pork dumplings, folded | each | frozen | 45 | TF | keep | | 29
    CHICKEN-DUMPLING | Chicken dumplings, folded | each | frozen | 45 | TF | keep | | 29
    MUSHROOM-DUMPLING | Mushroom dumplings, folded | each | frozen | 45 | TF | keep | | 29
    SWEET-ONION | Slow-cooked onions | lb | chilled | 5 | TR | discard
    BEEF-FILLING | Spiced beef filling | lb | chilled | 3 | TR | discard
    SPINACH-FILLING | Spinach and white cheese filling | lb | chilled | 2 | TR | discard
    POTATO-FILLING | Potato and onion filling | lb | chilled | 3 | TR | discard
    BEEF-FLATBREAD | Beef flatbreads, filled | each | chilled | 2 | TR | discard | | 255
    SPINACH-FLATBREAD | Spinach flatbreads, filled | each | chilled | 2 | TR | discard | | 255
    POTATO-FLATBREAD | Potato flatbreads, filled | each | chilled | 2 | TR | discard | | 255
    PLAIN-FLATBREAD | Plain flatbreads | each | chilled | 2 | R | discard | | 85
    CHICKEN-BROTH | Chicken broth | qt | chilled | 3 | TRF | discard | 1
    VEG-STOCK | Vegetable stock | qt | chilled | 3 | TRF | discard | 1
    BRAISED-PORK | Braised pork shoulder | lb | chilled | 3 | TRF | discard
    PULLED-CHICKEN | Poached chicken, pulled | lb | chilled | 3 | TRF | discard
    BRAISED-MUSHROOM | Braised mushrooms and tofu | lb | chilled | 3 | TR | discard
    SOY-EGG | Soy eggs | each | chilled | 3 | TR | keep_if_cold | | 50
    LENTIL-SOUP | Red lentil soup | qt | chilled | 3 | TRF | discard | 1.03
    RICE-COOKED | Steamed rice | lb | chilled | 1 | TR | discard
    SCALLION-CAKE | Green onion cakes, rolled | each | chilled | 2 | | discard | | 140
    CABBAGE-BATTER | Cabbage cake batter | lb | chilled | 1 | T | discard
    CORN-BATTER | Corn cake batter | lb | chilled | 1 | T | discard
    HONEY-BATTER | Honey cake batter | lb | chilled | 1 | T | discard
    """
)

PREP_CARDS = cards(
    """
    GINGER-GARLIC makes 10 lb | batch 4 to 20 | minutes 30 | hands-on 25 | with blender
    GINGER 5 lb
    GARLIC 4.5 lb 87
    SOY-OIL 0.5 lb

    SALTED-CABBAGE makes 20 lb | batch 10 to 40 | minutes 30 | hands-off 1 | with slicer
    CABBAGE 24 lb 80
    SALT 0.6 lb

    WARM-SPICE makes 2 lb | batch 1 to 4 | minutes 20 | with spice mill
    CUMIN 0.5 lb
    PAPRIKA 0.4 lb
    FENNEL-SEED 0.3 lb
    CINNAMON 0.3 lb
    STAR-ANISE 0.25 lb
    BLACK-PEPPER 0.25 lb

    CHILI-OIL makes 4 qt | batch 2 to 8 | minutes 35 | hands-off 1 | with small kettle
    SOY-OIL 7 lb
    CHILI-FLAKE 0.8 lb
    CHILI-HOT 0.75 lb 73
    GARLIC 0.4 lb 87
    STAR-ANISE 0.05 lb

    DIP-SAUCE makes 8 qt | batch 4 to 16 | minutes 15
    SOY-SAUCE 1.1 gal
    RICE-VINEGAR 0.6 gal
    CHILI-OIL 1 qt
    SUGAR 0.75 lb

    SESAME-SAUCE makes 6 qt | batch 3 to 12 | minutes 20 | with blender
    SESAME-PASTE 4 lb
    PEANUT-BUTTER 3 lb
    SOY-SAUCE 6 cup
    RICE-VINEGAR 4 cup
    SUGAR 0.75 lb
    CHILI-OIL 1 cup

    YOGURT-SAUCE makes 6 qt | batch 3 to 12 | minutes 20
    YOGURT 10 lb
    CUCUMBER 2.5 lb 73
    MINT 2 bunch
    GARLIC 0.15 lb 87
    LEMON 3 each
    SALT 0.1 lb

    PICKLE makes 10 lb | batch 5 to 20 | minutes 30 | hands-off 4 | with slicer
    CARROT 5.5 lb 89
    RADISH 4.5 lb 90
    RICE-VINEGAR 2 qt
    SUGAR 1 lb
    SALT 0.2 lb

    SLAW-BASE makes 10 lb | batch 5 to 20 | minutes 20 | with slicer
    CABBAGE 7.5 lb 80
    CARROT 2.5 lb 89

    DUMPLING-DOUGH makes 16 lb | batch 8 to 32 | minutes 25 | hands-off 0.5 | with mixer
    FLOUR 10.5 lb
    SALT 0.15 lb

    FLATBREAD-DOUGH makes 20 lb | batch 10 to 40 | minutes 30 | hands-off 2 | with mixer
    FLOUR 12 lb
    YOGURT 2.5 lb
    SOY-OIL 0.6 lb
    SALT 0.25 lb
    SUGAR 0.2 lb
    YEAST 0.1 lb

    PORK-FILLING makes 20 lb | batch 10 to 40 | minutes 30 | with mixer
    PORK-GROUND 13 lb
    SALTED-CABBAGE 4.5 lb
    SCALLION 1 lb 83
    GINGER-GARLIC 0.8 lb
    SOY-SAUCE 1.5 cup
    SESAME-OIL 0.2 l

    CHICKEN-FILLING makes 20 lb | batch 10 to 40 | minutes 30 | with mixer
    CHICKEN-GROUND 13 lb
    CELERY 4 lb 89
    SCALLION 1 lb 83
    GINGER-GARLIC 0.8 lb
    SOY-SAUCE 1.5 cup
    SESAME-OIL 0.2 l

    MUSHROOM-FILLING makes 20 lb | batch 10 to 40 | minutes 45 | hands-off 1 | with tilt pan
    MUSHROOM 9 lb
    TOFU 6 lb
    SALTED-CABBAGE 3 lb
    GLASS-NOODLE 1 lb
    MUSHROOM-DRY 0.5 lb
    SCALLION 0.8 lb 83
    SOY-SAUCE 1.25 cup
    SESAME-OIL 0.15 l

    PORK-DUMPLING makes 400 each | batch 120 to 800 | minutes 80 | with folding table
    DUMPLING-DOUGH 11 lb
    PORK-FILLING 14.5 lb
    STARCH 0.4 lb

    CHICKEN-DUMPLING makes 400 each | batch 120 to 800 | minutes 80 | with folding table
    DUMPLING-DOUGH 11 lb
    CHICKEN-FILLING 14.5 lb
    STARCH 0.4 lb

    MUSHROOM-DUMPLING makes 400 each | batch 120 to 800 | minutes 80 | with folding table
    DUMPLING-DOUGH 11 lb
    MUSHROOM-FILLING 14.5 lb
    STARCH 0.4 lb

    SWEET-ONION makes 8 lb | batch 4 to 16 | minutes 90 | hands-on 20 | with tilt pan
    ONION 16 lb 90
    SOY-OIL 0.6 lb

    BEEF-FILLING makes 20 lb | batch 8 to 30 | minutes 60 | hands-off 1.5 | with tilt pan
    BEEF-GROUND 13 lb 65.7
    SWEET-ONION 3.5 lb
    PEPPER-RED 2 lb 82
    TOMATO-PASTE 1.5 lb
    WARM-SPICE 0.3 lb
    SALT 0.15 lb

    SPINACH-FILLING makes 15 lb | batch 5 to 20 | minutes 40 | hands-off 1 | with tilt pan
    SPINACH 10 lb
    WHITE-CHEESE 7 lb
    SWEET-ONION 1.5 lb
    BLACK-PEPPER 0.03 lb
    SALT 0.08 lb

    POTATO-FILLING makes 20 lb | batch 8 to 30 | minutes 60 | hands-off 1.5 | with steamer
    POTATO 14 lb 75
    CHEDDAR 2.5 lb
    SWEET-ONION 2 lb
    PEAS 1.5 lb
    BUTTER 0.6 lb
    TURMERIC 0.05 lb
    CUMIN 0.06 lb
    SALT 0.2 lb

    BEEF-FLATBREAD makes 60 each | batch 20 to 160 | minutes 70 | with griddle
    FLATBREAD-DOUGH 15 lb
    BEEF-FILLING 18 lb
    BUTTER 0.75 lb

    SPINACH-FLATBREAD makes 60 each | batch 20 to 160 | minutes 70 | with griddle
    FLATBREAD-DOUGH 15 lb
    SPINACH-FILLING 18 lb
    BUTTER 0.75 lb

    POTATO-FLATBREAD makes 60 each | batch 20 to 160 | minutes 70 | with griddle
    FLATBREAD-DOUGH 15 lb
    POTATO-FILLING 18 lb
    BUTTER 0.75 lb

    PLAIN-FLATBREAD makes 60 each | batch 20 to 160 | minutes 45 | with griddle
    FLATBREAD-DOUGH 11.5 lb
    SOY-OIL 0.3 lb

    CHICKEN-BROTH makes 20 qt | batch 12 to 60 | minutes 45 | hands-off 6 | with kettle
    CHICKEN-BONES 22 lb
    ONION 2.5 lb 90
    CARROT 1.5 lb 89
    CELERY 1.5 lb 89
    GINGER 0.4 lb

    VEG-STOCK makes 20 qt | batch 8 to 60 | minutes 25 | hands-off 1 | with kettle
    ONION 3 lb 90
    CARROT 2 lb 89
    CELERY 1.5 lb 89
    STOCK-BASE 0.9 lb
    MUSHROOM-DRY 0.2 lb

    BRAISED-PORK makes 20 lb | batch 8 to 40 | minutes 60 | hands-off 4 | with oven
    PORK-BUTT 19 lb 57.8
    CHICKEN-BROTH 4 qt
    SOY-SAUCE 3 cup
    SUGAR 0.8 lb
    GINGER-GARLIC 0.6 lb
    WARM-SPICE 0.2 lb

    PULLED-CHICKEN makes 10 lb | batch 5 to 30 | minutes 50 | hands-off 1.5 | with kettle
    CHICKEN-THIGH 13.5 lb 60
    CHICKEN-BROTH 3 qt
    GINGER 0.2 lb
    SALT 0.1 lb

    BRAISED-MUSHROOM makes 10 lb | batch 5 to 20 | minutes 45 | hands-off 1 | with tilt pan
    MUSHROOM 7 lb
    TOFU 4 lb
    VEG-STOCK 2 qt
    SOY-SAUCE 1.5 cup
    GINGER-GARLIC 0.3 lb
    STARCH 0.15 lb

    SOY-EGG makes 60 each | batch 30 to 120 | minutes 30 | hands-off 10 | with kettle
    EGG 62 each
    SOY-SAUCE 4 cup
    SUGAR 0.5 lb

    LENTIL-SOUP makes 18 qt | batch 9 to 36 | minutes 50 | hands-off 1 | with kettle
    LENTIL-RED 6 lb
    VEG-STOCK 10 qt
    CARROT 2 lb 89
    SWEET-ONION 1.5 lb
    TOMATO 3 lb 91
    TURMERIC 0.06 lb
    CUMIN 0.08 lb
    SALT 0.15 lb

    RICE-COOKED makes 26.1 lb | batch 13 to 52 | minutes 40 | with rice cooker
    RICE 26.1 lb 261

    SCALLION-CAKE makes 50 each | batch 20 to 150 | minutes 60 | with sheeter
    FLOUR 9 lb
    SCALLION 2.5 lb 83
    SOY-OIL 1 lb
    SALT 0.15 lb

    CABBAGE-BATTER makes 20 lb | batch 8 to 30 | minutes 30
    CABBAGE 9 lb 80
    FLOUR 4.5 lb
    EGG 30 each
    VEG-STOCK 1.5 qt
    SCALLION 0.75 lb 83

    CORN-BATTER makes 17 lb | batch 6 to 24 | minutes 25
    CORN 7 lb
    FLOUR 3.5 lb
    EGG 20 each
    MILK 0.25 gal
    CHEDDAR 2.5 lb
    SCALLION 0.5 lb 83
    BAKING-POWDER 0.12 lb

    HONEY-BATTER makes 16 lb | batch 6 to 24 | minutes 20 | with mixer
    FLOUR 6.5 lb
    EGG 24 each
    MILK 0.6 gal
    HONEY 1.5 lb
    BUTTER 1 lb
    BAKING-POWDER 0.2 lb
    """
)
