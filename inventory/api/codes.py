"""How things are named in addresses: by code, number or strip, never by id."""

from __future__ import annotations

from django.urls import register_converter
from django.urls.converters import StringConverter

CODE = r"[A-Za-z0-9_.\-]{1,40}"
NUMBER = r"[A-Za-z0-9_.\-]{1,60}"
STRIP = r"[A-Z]{5}"
WHOLE = r"[0-9]{1,9}"

# By the name of the parameter.
PATTERNS = {
    "code": CODE,
    "area": CODE,
    "item": CODE,
    "username": CODE,
    "number": NUMBER,
    "strip": STRIP,
    "run": WHOLE,
    "receipt": WHOLE,
}


class Code(StringConverter):
    regex = CODE


class Number(StringConverter):
    regex = NUMBER


class Strip(StringConverter):
    regex = STRIP


class Whole(StringConverter):
    regex = WHOLE


for _word, _converter in (("code", Code), ("number", Number), ("strip", Strip), ("whole", Whole)):
    register_converter(_converter, _word)
