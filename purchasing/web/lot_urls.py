"""Addresses of lots: the board, one strip, its trace, holds, taking out."""

from __future__ import annotations

from django.urls import path, re_path, register_converter
from django.urls.converters import StringConverter

from purchasing.web import holds, lots, take_out, trace, use_by

STRIP = "[A-Za-z]{5}"
SHEET = r"(?P<kind>csv|xlsx)"


class FiveLetters(StringConverter):
    """Five letters, in any case."""

    regex = STRIP


register_converter(FiveLetters, "letters")

urlpatterns = [
    path("use-by/", use_by.use_by, name="use_by"),
    path("use-by/look/", use_by.use_by_look, name="use_by_look"),
    path("use-by/<letters:strip>/help/", use_by.use_by_help, name="use_by_help"),
    path("loads/<str:number>/take-in/", use_by.load_take_in, name="load_take_in"),
    path("lots/<letters:strip>/", lots.lot, name="lot"),
    path("lots/<letters:strip>/hold/", lots.lot_hold, name="lot_hold"),
    path("lots/<letters:strip>/change/", lots.lot_change, name="lot_change"),
    path("lots/<letters:strip>/move/", lots.lot_move, name="lot_move"),
    path("lots/<letters:strip>/trace/", trace.trace, name="trace"),
    re_path(
        rf"^lots/(?P<strip>{STRIP})/trace/records\.{SHEET}$",
        trace.trace_records,
        name="trace_records",
    ),
    re_path(rf"^trace-records\.{SHEET}$", trace.records, name="records"),
    path("holds/", holds.holds, name="holds"),
    path("holds/lot/", holds.hold_one, name="hold_one"),
    path("holds/store/", holds.hold_area, name="hold_area"),
    path("holds/<int:number>/release/", holds.hold_release, name="hold_release"),
    path("take-out/", take_out.take_out, name="take_out"),
]
