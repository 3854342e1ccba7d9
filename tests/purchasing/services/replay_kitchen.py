"""A commissary, a truck that it supplies and a café, with ten weeks of use and two more to
replay: Monday 9 to Sunday 22 March 2026.

A bowl takes a pan of stew (two kilograms of beans at yield 80 make three) and a cup; drinks
are sold as they come; napkins are used directly. Everything is invented.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from copy import deepcopy
from datetime import date, timedelta

from tests.purchasing.exchange.books import Sheets, rows

FIRST, LAST = date(2026, 3, 9), date(2026, 3, 22)
HISTORY_FROM = date(2026, 1, 1)

_SHEETS: Sheets = {
    "settings": rows(
        "key,value",
        "business_name,Bowl & Barrow",
        "time_zone,Europe/London",
        "currency,GBP",
        "holding_rate_per_year,0.25",
        "leave_share,0.4",
    ),
    "locations": rows(
        "code,name,kind,supplied_by",
        "COM,Yard kitchen,commissary,",
        "VAN,Van,truck,COM",
        "CAFE,Café,kitchen,",
    ),
    "items": rows(
        "code,name,kind,unit,shelf_life_days,sale_price,can_be_left_off,on_return",
        "BEAN,Beans,ingredient,lb,4,,no,keep",
        "CUP,Cups,packaging,each,,,no,keep",
        "HERB,Herbs,ingredient,oz,2,,yes,keep",
        "STEW,Stew,prep,kg,3,,no,discard",
        "BOWL,Bowl,menu,each,,8.5,no,",
        "FIZZ,Fizz,resale,each,30,2.75,no,keep",
        "NAPKIN,Napkins,packaging,each,,,no,keep",
    ),
    "recipes": rows("item,makes_qty,makes_unit,made_at", "STEW,3,kg,COM", "BOWL,1,each,"),
    "recipe_lines": rows(
        "recipe,item,qty,unit,yield_pct",
        "STEW,BEAN,2,kg,80",
        "BOWL,STEW,350,g,",
        "BOWL,CUP,1,each,",
        "BOWL,HERB,3,g,70",
    ),
    "suppliers": rows(
        "code,name,order_days,cutoff,lead_days,delivery_days,minimum_order,below_minimum,"
        "delivery_fee",
        "GRO,Marsh Growers,mon;tue;thu;fri,14:00,1,tue;wed;fri;sat,60,fee,6.5",
        "DRY,Granary,mon;wed;fri,11:00,1,tue;thu;sat,,,4",
        "POP,Pop Works,mon;thu,10:00,2,wed;sat,500,refuse,",
    ),
    "supplier_closures": rows("supplier,date", "GRO,2026-03-13"),
    "supplier_items": rows(
        "supplier,item,pack_qty,pack_unit,price,priced_per,sku,rank,catch_weight,nominal_qty,"
        "case_multiple,valid_from",
        "GRO,BEAN,10,lb,1.13,lb,B10,1,yes,9.7,1,",
        "GRO,HERB,100,g,2.10,case,,1,no,,1,",
        "DRY,CUP,50,each,6.99,case,,1,no,,1,",
        "DRY,CUP,50,each,7.49,case,,1,no,,1,2026-03-14",
        "DRY,NAPKIN,250,each,4.35,case,,1,no,,2,",
        "DRY,FIZZ,24,each,19.99,case,,2,no,,1,",
        "POP,FIZZ,24,each,17.6,case,,1,no,,1,",
    ),
    "price_breaks": rows(
        "supplier,item,from_cases,price,sku",
        "DRY,CUP,6,5.9,",
        "GRO,BEAN,20,1.05,B10",
        "DRY,FIZZ,3,17.9,",
    ),
    "pars": rows(
        "location,item,weekday,par,unit,basis,service_level",
        "COM,BEAN,,60,kg,fixed,",
        "COM,CUP,,400,each,greater,0.9",
        "CAFE,FIZZ,,40,each,fixed,",
        "CAFE,FIZZ,sat,70,each,fixed,",
        "COM,HERB,,,,cost,",
    ),
    "stock": rows(
        "location,item,qty,unit,lot,received,use_by,unit_cost,hold",
        "COM,BEAN,30,kg,L1,2026-03-06,2026-03-10,0.0031,no",
        "COM,BEAN,5,kg,L2,2026-03-06,2026-03-08,,no",
        "COM,BEAN,9,kg,L3,2026-03-06,2026-03-12,,yes",
        "COM,CUP,120,each,L4,2026-03-02,,,no",
        "COM,HERB,11.5,oz,L5,2026-03-08,2026-03-09,0.02,no",
        "COM,HERB,2,oz,L6,2026-03-08,2026-03-10,,no",
        "CAFE,FIZZ,31,each,L7,,2026-03-30,0.8,no",
        "VAN,CUP,60,each,L8,,,,no",
        "CAFE,CUP,500,each,L9,,,,no",
    ),
    "open_orders": rows(
        "supplier,po,location,item,cases,due,sku,confirmed_cases,status",
        "GRO,GRO-20260310-1,COM,BEAN,3,2026-03-10,B10,2,sent",
        "DRY,OLD-7,COM,NAPKIN,2,2026-03-05,,,sent",
        "DRY,DRY-20260312-1,CAFE,FIZZ,1,2026-03-12,,,approved",
    ),
}


def sheets(last: date = LAST) -> Sheets:
    """With sales and usage to ``last``."""
    book = deepcopy(_SHEETS)
    dice = random.Random(7)
    for n in range((last - HISTORY_FROM).days + 1):
        day = HISTORY_FROM + timedelta(days=n)
        busy = 1.6 if day.weekday() >= 4 else 1.0
        book.setdefault("sales", []).extend(_sales(day, busy, dice))
        book.setdefault("usage", []).extend(_usage(day, busy, dice))
    return book


def _sales(day: date, busy: float, dice: random.Random) -> Iterable[dict[str, str]]:
    if day.weekday() != 0:
        yield from rows(
            "location,date,item,qty",
            f"VAN,{day},BOWL,{_count(dice, 40 * busy)}",
            f"VAN,{day},FIZZ,{_count(dice, 9 * busy)}",
        )
    yield from rows(
        "location,date,item,qty",
        f"CAFE,{day},BOWL,{_count(dice, 15 * busy)}",
        f"CAFE,{day},FIZZ,{_count(dice, 6 * busy)}",
    )


def _usage(day: date, busy: float, dice: random.Random) -> Iterable[dict[str, str]]:
    yield from rows(
        "location,date,item,qty,unit",
        f"COM,{day},NAPKIN,{_count(dice, 60 * busy)},each",
        f"COM,{day},STEW,{dice.randint(0, 3)}.37,lb",
    )


def _count(dice: random.Random, mean: float) -> int:
    return max(0, round(dice.gauss(mean, mean**0.5)))
