"""A small workbook with every sheet and every column, files made of it, loads of them."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, time
from io import StringIO
from pathlib import Path
from typing import Any

import openpyxl
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from inventory import append_only
from inventory.exchange.book import TextSheet
from purchasing.exchange.workbook import SHEETS

Sheets = dict[str, list[dict[str, str]]]


def rows(header: str, *lines: str) -> list[dict[str, str]]:
    """Rows from lines of cells with commas between; a cell has none in it."""
    names = header.split(",")
    return [dict(zip(names, line.split(","), strict=True)) for line in lines]


_SMALL: Sheets = {
    "settings": rows(
        "key,value",
        "business_name,Steam & Ladle",
        "time_zone,Europe/London",
        "currency,GBP",
        "default_service_level,0.9",
        "holding_rate_per_year,0.2",
        "week_starts,sun",
        "price_alert_pct,7.5",
        "allergen_list,eu14",
        "leave_share,0.4",
    ),
    "locations": rows(
        "code,name,kind,supplied_by,receives,opens,closes,load_time,litres",
        "COM,Yard kitchen,commissary,,mon;tue;wed;thu;fri,05:00,21:00,09:30,4000",
        "VAN1,Van One,truck,COM,,10:00,16:00,10:30,600",
    ),
    "location_closures": rows("location,date,reason", "COM,2026-03-09,Boiler service"),
    "storage_areas": rows(
        "location,code,name,kind,min_temp,max_temp,temp_unit,walk_order,litres",
        "COM,COLD,Cold room,chilled,-1.5,4,C,1,1500",
    ),
    "items": rows(
        "code,name,kind,unit,storage,shelf_life_days,shelf_life_opened_days,"
        "shelf_life_thawed_days,thaw_hours,may_freeze,grams_per_ml,grams_per_each,tcs,"
        "ready_to_eat,traceability_listed,allergens,allergens_may,allergens_free,sale_price,"
        "on_return,use_per,can_be_left_off,litres_per_unit,walk_order",
        "LEEK,Leeks,ingredient,kg,chilled,6,2,,,no,,180,no,no,no,,,gluten,,keep,,no,2.5,3",
        "OIL,Rape oil,ingredient,l,dry,,90,,,no,0.92,,no,no,no,,,,,,,no,1,4",
        "SKIN,Dumpling skins,ingredient,each,frozen,120,3,2,6.5,yes,,9,no,no,no,gluten;wheat,"
        "sesame,,,,,no,,5",
        "FILL,Leek filling,prep,kg,chilled,3,,,,no,,,yes,no,no,,,,,discard,,no,,",
        "DUMP,Leek dumplings,menu,each,,,,,,no,,,yes,yes,no,gluten,,,6.5,,portion,no,,",
        "TRAY,Card trays,packaging,each,dry,,,,,no,,,no,no,no,,,,,,,yes,,9",
    ),
    "item_units": rows(
        "item,unit,qty,of_unit", "LEEK,bunch,3,each", "LEEK,crate,12,bunch", "SKIN,pack,50,each"
    ),
    "menu": rows(
        "location,item,from,to,price,site",
        "VAN1,DUMP,,,,",
        "VAN1,DUMP,2026-03-01,2026-04-30,7,Quay",
    ),
    "recipes": rows(
        "item,makes_qty,makes_unit,made_at,lead_hours,hands_on_minutes,batch_min_qty,"
        "batch_max_qty,batch_unit,batch_minutes,equipment",
        "FILL,10,kg,COM,2.5,40,5,20,kg,90,Kettle",
        "DUMP,1,each,,,,,,,,",
    ),
    "recipe_lines": rows(
        "recipe,item,qty,unit,yield_pct",
        "FILL,LEEK,9,kg,80",
        "FILL,OIL,0.5,l,",
        "DUMP,FILL,120,g,",
        "DUMP,SKIN,6,each,",
        "DUMP,TRAY,1,each,",
    ),
    "stops": rows(
        "location,date,opens,closes,site,event,expected_covers,guaranteed_covers,cancelled,"
        "site_fee,site_fee_pct,crew_hours",
        "VAN1,2026-02-27,11:00,15:00,Quay,,,,no,,,",
        "VAN1,2026-03-04,11:00,15:00,Quay,Boat race,80,40,no,25,10,9",
        "VAN1,2026-03-05,11:00,15:00,Quay,,,,yes,,,",
    ),
    "sales": rows(
        "location,date,item,qty,site,opens,net_amount,sold_out_at",
        "VAN1,2026-02-27,DUMP,61,Quay,11:00,396.5,14:20",
    ),
    "bookings": rows(
        "location,date,item,qty,unit,status,customer,final_by,price,deposit",
        "VAN1,2026-03-06,DUMP,90,each,confirmed,Harbour office,2026-03-04,540,100",
        "COM,2026-03-06,OIL,2,l,,,,,",
        "COM,2026-03-06,OIL,3,l,enquiry,,,,",
    ),
    "usage": rows("location,date,item,qty,unit", "COM,2026-02-26,LEEK,2.25,kg"),
    "stock": rows(
        "location,item,qty,unit,lot,received,use_by,unit_cost,area,hold,state",
        "COM,LEEK,7.5,kg,L-88,2026-03-01,,0.0021,COLD,no,chilled",
        "COM,LEEK,2,crate,,2026-02-20,2026-02-25,,,yes,",
        "COM,OIL,4,l,,2026-02-20,,,,no,",
        "COM,OIL,4,l,,2026-02-20,,,,no,",
        "VAN1,TRAY,200,each,,,,,,no,",
    ),
    "suppliers": rows(
        "code,name,email,phone,account,order_days,cutoff,lead_days,delivery_days,arrives,"
        "minimum_order,below_minimum,delivery_fee",
        "GRO,Marsh Growers,orders@marsh.example,020 7946 0000,A-17,mon;wed;fri,14:00,1,"
        "tue;thu;sat,07:15,30,fee,6.5",
        "DRY,Granary,,,,tue,12:00,2,thu,,,,",
    ),
    "supplier_closures": rows("supplier,date", "GRO,2026-03-06"),
    "supplier_items": rows(
        "supplier,item,pack_qty,pack_unit,price,priced_per,sku,gtin,pack_text,piece_price,"
        "pieces_per_case,minimum_cases,case_multiple,rank,catch_weight,nominal_qty,valid_from",
        "GRO,LEEK,5,kg,9.5,case,LK5,00012345678905,5 kg net,1.1,10,1,1,1,no,,",
        "GRO,LEEK,5,kg,9.9,case,LK5,00012345678905,5 kg net,1.1,10,1,1,1,no,,2026-03-15",
        "GRO,LEEK,10,kg,0.85,lb,LK10,,,,,2,2,2,yes,9.6,",
        "DRY,OIL,20,l,31,,,,,,,,,,,,",
        "DRY,SKIN,10,pack,22,case,,,,,,,,,no,,",
        "DRY,TRAY,500,each,24.75,case,,,,,,,,,no,,",
    ),
    "price_breaks": rows("supplier,item,from_cases,price,sku", "GRO,LEEK,4,9.1,LK5"),
    "pars": rows(
        "location,item,weekday,par,unit,basis,service_level,supplied_by",
        "COM,LEEK,,12,kg,greater,0.97,",
        "COM,LEEK,thu,18,kg,greater,0.97,",
        "COM,SKIN,,,,forecast,,",
        "COM,TRAY,,1000,each,fixed,,",
        "VAN1,TRAY,,,,forecast,,COM",
        "COM,OIL,,1,case,fixed,,",
    ),
    "open_orders": rows(
        "supplier,po,location,item,cases,due,sku,confirmed_cases,status",
        "GRO,PO-7,COM,LEEK,3,2026-03-03,LK5,2,sent",
        "DRY,PO-8,COM,OIL,1,2026-03-05,,,approved",
    ),
}


def small() -> Sheets:
    return deepcopy(_SMALL)


def with_rows(sheet: str, header: str, *lines: str, drop: Sequence[str] = ()) -> Sheets:
    """The small workbook with one sheet in place of its own."""
    return {**{k: v for k, v in small().items() if k not in drop}, sheet: rows(header, *lines)}


def changed(sheet: str, row: int, **cells: str) -> Sheets:
    """The small workbook with some cells of one row changed; ``row`` as in the file."""
    sheets = small()
    sheets[sheet][row - 2] |= cells
    return sheets


def raw(sheets: Mapping[str, list[dict[str, str]]]) -> list[TextSheet]:
    return [TextSheet(name, found) for name, found in sheets.items()]


def as_folder(sheets: Sheets, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, found in sheets.items():
        with open(folder / f"{name}.csv", "w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(found[0]))
            writer.writeheader()
            writer.writerows(found)
    return folder


def as_xlsx(sheets: Sheets, file: Path) -> Path:
    """With true numbers, dates and hours, as a spreadsheet program keeps them."""
    book = openpyxl.Workbook()
    assert book.active is not None
    book.remove(book.active)
    for name, found in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(list(found[0]))
        for row in found:
            sheet.append([typed(column, text) for column, text in row.items()])
    book.save(file)
    return file


_TEXTS = {"lot", "gtin", "po", "sku", "code", "value", "name", "site", "phone", "account"}


def typed(column: str, text: str) -> object:
    """What a spreadsheet program makes of ``text`` when it is typed."""
    if column in _TEXTS or not text:
        return text or None
    for make in (int, float, date.fromisoformat, time.fromisoformat):
        try:
            return make(text)
        except ValueError:
            continue
    return text


def as_file(kind: str, sheets: Sheets, folder: Path) -> Path:
    """``kind``: csv or xlsx."""
    if kind == "csv":
        return as_folder(sheets, folder / "book")
    return as_xlsx(sheets, folder / "book.xlsx")


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command printed, and its exit status."""

    out: str
    err: str
    status: int

    @property
    def problems(self) -> list[str]:
        return self.err.splitlines()


def run(*words: object) -> Ran:
    out, err = StringIO(), StringIO()
    status = 0
    try:
        call_command(*map(str, words), stdout=out, stderr=err, no_color=True)
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 1
    return Ran(out.getvalue(), err.getvalue(), status)


def dump() -> dict[str, list[Any]]:
    """Every row of every table of both apps, time stamps included."""
    return {
        model._meta.label: list(model._default_manager.order_by("pk").values_list())
        for app in ("inventory", "purchasing")
        for model in apps.get_app_config(app).get_models()
    }


def clear() -> None:
    """Empty all tables inside a test's transaction, which brings back what guards them."""
    append_only.remove(connection)
    with connection.cursor() as cursor:
        for app in ("inventory", "purchasing"):
            for model in apps.get_app_config(app).get_models():
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")


assert set(_SMALL) == {sheet.name for sheet in SHEETS}
