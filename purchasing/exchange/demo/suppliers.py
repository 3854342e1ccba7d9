"""Who sells to the kitchen, when they deliver, and what they charge.

Houses, addresses and numbers are invented (e-mail: RFC 2606; telephone: 555-01xx). Prices
are of the order a small North American buyer pays per pound or case.
"""

from __future__ import annotations

from datetime import date, timedelta

from purchasing.exchange.demo.table import Row, table

SUPPLIERS = table(
    """
    code | name | phone | account | order_days | cutoff | lead_days | delivery_days | arrives
    FENNICK | Fennick Produce | 555-0111 | PL-204 | sun;mon;tue;wed;thu;fri | 15:00 | 1 | mon;tue;wed;thu;fri;sat | 06:30
    BRACKWATER | Brackwater Meats | 555-0112 | 40117 | mon;wed;fri | 12:00 | 1 | tue;thu;sat | 07:00
    MARLPIT | Marlpit Dairy | 555-0113 | 8831 | mon;wed;fri | 16:00 | 1 | tue;thu;sat | 06:00
    REEDWICK | Reedwick Bean & Noodle | 555-0114 | | sun;tue;thu | 18:00 | 1 | mon;wed;fri |
    OSGOOD | Osgood & Tarn Provisions | 555-0115 | 55-0926 | mon;thu | 13:00 | 2 | wed;sat | 09:30
    WINTERGILL | Wintergill Frozen | 555-0116 | PLEAT1 | tue;fri | 10:00 | 2 | thu;mon | 08:00
    TUCKFOLD | Tuckfold Packaging | 555-0117 | T-7716 | mon;tue;wed;thu | 11:00 | 3 | mon;fri | 10:00
    PELLHOUSE | Pellhouse Drinks | 555-0118 | 3390 | mon;thu | 14:00 | 2 | wed;sat | 11:00
    STELL | Stell Bottled Gas | 555-0119 | | mon;thu | 10:30 | 1 | tue;fri | 13:00
    DROVERS | Drovers Hall, market, we collect | 555-0120 | | mon;tue;wed;thu;fri;sat | 06:45 | 0 | mon;tue;wed;thu;fri;sat | 09:00
    """  # noqa: E501
)

TERMS = table(
    """
    code | minimum_order | below_minimum | delivery_fee
    FENNICK | 150.00 | fee | 18.00
    BRACKWATER | 250.00 | refuse |
    MARLPIT | 120.00 | fee | 15.00
    REEDWICK | 75.00 | fee | 10.00
    OSGOOD | 300.00 | refuse |
    WINTERGILL | 180.00 | fee | 25.00
    TUCKFOLD | 200.00 | refuse |
    PELLHOUSE | 90.00 | |
    STELL | | | 12.00
    """
)

# ``how``: rank 2, catch 34 (nominal weight of a case whose weight varies), least 4 (cases),
# by 2 (case multiple), piece 16.50 x 6 (price of one, pieces in a case).
OFFERS = {
    "BRACKWATER": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        PORK-BUTT | 1140 | 34 | lb | 2.69 | lb | 4 pieces, about 34 lb | catch 34
        PORK-GROUND | 1152 | 20 | lb | 3.19 | lb | 4 x 5 lb
        BEEF-GROUND | 2208 | 20 | lb | 5.29 | lb | 4 x 5 lb
        CHICKEN-THIGH | 3310 | 40 | lb | 1.99 | lb | 4 bags on ice, about 40 lb | catch 40
        CHICKEN-GROUND | 3324 | 20 | lb | 3.29 | lb | 4 x 5 lb
        BACON | 1171 | 15 | lb | 4.69 | lb | 15 lb, laid flat
        """
    ),
    "FENNICK": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        CABBAGE | CAB50 | 50 | lb | 26.50 | | 50 lb carton
        SPINACH | SPI10 | 10 | lb | 24.00 | | 4 x 2.5 lb
        SCALLION | GON48 | 48 | bunch | 27.00 | | 48 bunches
        ONION | ONY50 | 50 | lb | 22.50 | | 50 lb sack
        GARLIC | GAR10 | 10 | lb | 24.00 | | 10 lb net
        GINGER | GIN05 | 5 | lb | 12.50 | | 5 lb box
        CARROT | CAR25 | 25 | lb | 18.50 | | 25 lb bag
        CELERY | CEL24 | 45 | lb | 34.00 | | 24 heads
        CUCUMBER | CUC36 | 30 | lb | 27.00 | | 36 count
        RADISH | RAD10 | 10 | lb | 15.00 | | 10 lb bag
        PEPPER-RED | PEP11 | 11 | lb | 24.50 | | 11 lb carton
        CHILI-HOT | CHI05 | 5 | lb | 16.00 | | 5 lb box
        PARSLEY | PAR30 | 30 | bunch | 21.00 | | 30 bunches
        MINT | MIN12 | 12 | bunch | 13.00 | | 12 bunches
        POTATO | POT50 | 50 | lb | 25.00 | | 50 lb carton
        TOMATO | TOM25 | 25 | lb | 31.00 | | 25 lb flat
        LEMON | LEM115 | 115 | each | 41.00 | | 115 count
        MANGO | MAN10 | 9 | lb | 11.50 | | 10 count, 9 lb
        MUSHROOM | MUS10 | 10 | lb | 25.00 | | 10 lb box
        """
    ),
    "MARLPIT": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        EGG | E15 | 180 | each | 46.00 | | 15 dozen
        EGG | E30 | 360 | each | 90.00 | | 30 dozen | rank 2
        BUTTER | B36 | 36 | lb | 129.00 | | 36 x 1 lb | piece 3.79 x 36
        MILK | M4 | 4 | gal | 18.40 | | 4 x 1 gal
        YOGURT | Y20 | 20 | lb | 39.00 | | 4 x 5 lb tubs
        WHITE-CHEESE | W10 | 10 | lb | 36.00 | | 2 x 5 lb
        CHEDDAR | C20 | 20 | lb | 63.00 | | 4 x 5 lb | piece 16.90 x 4
        """
    ),
    "REEDWICK": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        TOFU | | 20 | lb | 27.00 | | 10 x 2 lb
        NOODLE | | 20 | lb | 29.00 | | 8 x 2.5 lb
        SPROUT | | 10 | lb | 11.50 | | 2 x 5 lb
        GLASS-NOODLE | | 22 | lb | 54.00 | | 22 lb carton | rank 2
        """
    ),
    "OSGOOD": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        FLOUR | 10050 | 50 | lb | 21.80 | | 50 lb sack
        RICE | 10220 | 50 | lb | 31.00 | | 50 lb sack
        LENTIL-RED | 10310 | 25 | lb | 33.00 | | 25 lb sack
        STARCH | 10344 | 24 | lb | 22.00 | | 24 x 1 lb
        GLASS-NOODLE | 10370 | 20 | lb | 46.00 | | 20 lb carton
        SUGAR | 10410 | 50 | lb | 36.00 | | 50 lb sack
        SALT | 10440 | 25 | lb | 8.90 | | 25 lb sack
        YEAST | 10452 | 6 | lb | 24.00 | | 6 x 1 lb
        BAKING-POWDER | 10460 | 5 | lb | 12.50 | | 5 lb tub
        HONEY | 10470 | 30 | lb | 96.00 | | 6 x 5 lb | piece 16.90 x 6
        SOY-SAUCE | 20110 | 4 | gal | 46.00 | | 4 x 1 gal | piece 12.40 x 4
        RICE-VINEGAR | 20130 | 4 | gal | 38.00 | | 4 x 1 gal
        SOY-OIL | 20200 | 35 | lb | 38.50 | | 35 lb jug in a box
        SESAME-OIL | 20240 | 9.9 | l | 99.00 | | 6 x 1.65 l
        SESAME-PASTE | 20310 | 18 | lb | 62.00 | | 18 lb tub
        PEANUT-BUTTER | 20330 | 30 | lb | 64.00 | | 6 x 5 lb
        TOMATO-PASTE | 20400 | 41.625 | lb | 52.00 | | 6 cans of 111 oz
        STOCK-BASE | 20510 | 6 | lb | 44.00 | | 6 x 1 lb
        MUSHROOM-DRY | 20520 | 5 | lb | 58.00 | | 5 lb bag
        SESAME-SEED | 30110 | 5 | lb | 19.50 | | 5 lb tub
        CUMIN | 30120 | 5 | lb | 31.00 | | 5 lb tub
        PAPRIKA | 30130 | 5 | lb | 29.00 | | 5 lb tub
        TURMERIC | 30140 | 5 | lb | 27.00 | | 5 lb tub
        BLACK-PEPPER | 30150 | 5 | lb | 52.00 | | 5 lb tub
        FENNEL-SEED | 30160 | 3 | lb | 24.00 | | 3 lb bag
        CINNAMON | 30170 | 2 | lb | 23.00 | | 2 lb bag
        STAR-ANISE | 30180 | 2 | lb | 31.00 | | 2 lb bag
        CHILI-FLAKE | 30190 | 4 | lb | 27.00 | | 4 lb tub
        """
    ),
    "WINTERGILL": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        CHICKEN-BONES | F-118 | 40 | lb | 0.98 | lb | 4 x 10 lb
        SHRIMP | F-402 | 20 | lb | 6.35 | lb | 10 x 2 lb
        UDON | F-233 | 40 | each | 36.00 | | 8 x 5 bricks
        CORN | F-311 | 20 | lb | 24.00 | | 8 x 2.5 lb
        PEAS | F-315 | 20 | lb | 26.00 | | 8 x 2.5 lb
        EDAMAME | F-322 | 20 | lb | 44.00 | | 8 x 2.5 lb
        PORK-DUMPLING | F-610 | 400 | each | 148.00 | | 8 x 50, ready made
        """
    ),
    "TUCKFOLD": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        BOWL-24 | PB24 | 500 | each | 71.00 | | 10 x 50
        LID-24 | PL24 | 500 | each | 44.00 | | 10 x 50
        BOWL-32 | SB32 | 500 | each | 88.00 | | 10 x 50
        LID-32 | SL32 | 500 | each | 49.00 | | 10 x 50
        BOX-DUMPLING | DB08 | 400 | each | 58.00 | | 4 x 100
        SLEEVE | SV10 | 1000 | each | 49.00 | | 2 x 500
        TRAY | PT02 | 500 | each | 29.00 | | 2 x 250
        CUP-SIDE | CS08 | 500 | each | 62.00 | | 10 x 50
        CUP-SAUCE | CS02 | 2000 | each | 74.00 | | 20 x 100
        CHOPSTICKS | CH09 | 2000 | each | 58.00 | | 20 x 100 pairs
        SPOON | SP01 | 1000 | each | 31.00 | | 1,000
        FORK | FK01 | 1000 | each | 29.00 | | 1,000
        NAPKIN | NP12 | 6000 | each | 41.00 | | 12 x 500
        BAG | BG10 | 500 | each | 62.00 | | 500
        GLOVES | GL-M | 1000 | each | 47.00 | | 10 x 100
        TOWEL | TW12 | 12 | each | 33.00 | | 12 rolls
        LABEL | DL03 | 3000 | each | 58.00 | | 6 rolls of 500
        SANITIZER | SN4 | 4 | gal | 48.00 | | 4 x 1 gal
        DETERGENT | DT4 | 4 | gal | 41.00 | | 4 x 1 gal
        """
    ),
    "PELLHOUSE": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        WATER | 7001 | 24 | each | 5.60 | | 24 bottles | by 2
        GINGER-FIZZ | 7140 | 24 | each | 18.50 | | 24 cans
        COLD-TEA | 7155 | 24 | each | 19.50 | | 24 cans
        APPLE-FIZZ | 7210 | 12 | each | 13.80 | | 12 bottles | least 2
        PEAR-NECTAR | 7233 | 24 | each | 21.00 | | 24 cartons
        """
    ),
    "STELL": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        GAS | EX20 | 1 | each | 22.50 | | exchange, full for empty | least 4 by 2
        """
    ),
    "DROVERS": table(
        """
        item | sku | pack_qty | pack_unit | price | per | pack_text | how
        CABBAGE | | 50 | lb | 30.00 | | 50 lb carton | rank 2
        ONION | | 25 | lb | 14.50 | | 25 lb sack | rank 2
        SCALLION | | 12 | bunch | 9.00 | | 12 bunches | rank 2
        CUCUMBER | | 10 | lb | 12.50 | | 10 lb box | rank 2
        SPINACH | | 2.5 | lb | 7.80 | | one bag | rank 2
        TOMATO | | 10 | lb | 15.50 | | 10 lb flat | rank 2
        MUSHROOM | | 5 | lb | 14.50 | | 5 lb box | rank 2
        MANGO | | 9 | lb | 12.90 | | 10 count, 9 lb | rank 2
        LEMON | | 40 | each | 17.50 | | 40 count | rank 2
        PARSLEY | | 10 | bunch | 9.00 | | 10 bunches | rank 2
        RADISH | | 5 | lb | 9.00 | | 5 lb bag | rank 2
        PORK-GROUND | | 10 | lb | 3.69 | lb | 2 x 5 lb | rank 2
        BEEF-GROUND | | 10 | lb | 5.99 | lb | 2 x 5 lb | rank 2
        CHICKEN-THIGH | | 10 | lb | 2.49 | lb | one bag, about 10 lb | rank 2 catch 10
        EGG | | 60 | each | 17.80 | | 5 dozen | rank 2
        YOGURT | | 5 | lb | 11.20 | | one tub | rank 2
        TOFU | | 6 | lb | 9.90 | | 3 x 2 lb | rank 2
        """
    ),
}

PRICE_BREAKS = table(
    """
    supplier | item | from_cases | price | sku
    OSGOOD | FLOUR | 4 | 20.90 | 10050
    OSGOOD | SOY-OIL | 4 | 36.90 | 20200
    TUCKFOLD | BOWL-24 | 5 | 66.00 | PB24
    TUCKFOLD | BOX-DUMPLING | 5 | 54.00 | DB08
    TUCKFOLD | CUP-SAUCE | 4 | 69.00 | CS02
    """
)

# Prices that moved since the season began, days before today.
_NEW_PRICES = {"EGG": 24, "BEEF-GROUND": 17, "SESAME-OIL": 9}
_SEASON = 150


def supplier_rows() -> list[Row]:
    terms = {row["code"]: row for row in TERMS}
    return [
        {
            **row,
            "email": f"orders@{row['code'].lower()}.example",
            "minimum_order": "",
            "below_minimum": "",
            "delivery_fee": "",
            **terms.get(row["code"], {}),
        }
        for row in SUPPLIERS
    ]


def offer_rows(today: date) -> list[Row]:
    return [_offer_row(supplier, offer, today) for supplier in OFFERS for offer in OFFERS[supplier]]


def _offer_row(supplier: str, offer: Row, today: date) -> Row:
    how = _how(offer["how"])
    since = _NEW_PRICES.get(offer["item"], _SEASON)
    return {
        "supplier": supplier,
        "item": offer["item"],
        "pack_qty": offer["pack_qty"],
        "pack_unit": offer["pack_unit"],
        "price": offer["price"],
        "priced_per": offer["per"] or "case",
        "sku": offer["sku"],
        "pack_text": offer["pack_text"],
        "piece_price": how.get("piece", ""),
        "pieces_per_case": how.get("x", ""),
        "minimum_cases": how.get("least", ""),
        "case_multiple": how.get("by", ""),
        "rank": how.get("rank", "1"),
        "catch_weight": "yes" if "catch" in how else "",
        "nominal_qty": how.get("catch", ""),
        "valid_from": str(today - timedelta(days=since)),
    }


def _how(text: str) -> dict[str, str]:
    words = text.split()
    return dict(zip(words[::2], words[1::2], strict=True))
