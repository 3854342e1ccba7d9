"""Kinds of cell: what each takes, and the sentence for what it does not take."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.exchange.grammar import (
    MOST_PROBLEMS,
    Book,
    Column,
    Parse,
    Unreadable,
    Wrong,
    code,
    day,
    email,
    gtin,
    hour,
    number,
    one_of,
    parsed,
    printable,
    problem_at,
    shown,
    text,
    unit,
    weekday,
    weekdays,
    whole,
    words,
    yes_no,
)


def value_of(parse: Parse, cell: object) -> Any:
    return parsed(Column("cell", parse), cell)


TAKEN = [
    (code, "LEEK-2.b_1", "LEEK-2.b_1"),
    (code, " LEEK ", "LEEK"),
    (code, 101, "101"),
    (code, 101.0, "101"),
    (number(), "12.5", Decimal("12.5")),
    (number(), "+.5", Decimal("0.5")),
    (number(), "1e3", Decimal(1000)),
    (number(), 0.1 + 0.2, Decimal("0.3")),
    (number(), 1e-5, Decimal("0.00001")),
    (number(), "0", Decimal(0)),
    (number(least=None), "-18", Decimal(-18)),
    (number(), "0.1234567895", Decimal("0.123456790")),
    (whole(), "7", 7),
    (whole(), 7.0, 7),
    (day, "2026-03-02", date(2026, 3, 2)),
    (day, datetime(2026, 3, 2), date(2026, 3, 2)),  # noqa: DTZ001  # as a spreadsheet gives it
    (day, date(2026, 3, 2), date(2026, 3, 2)),
    (day, "2024-02-29", date(2024, 2, 29)),
    (hour, "06:00", time(6)),
    (hour, "6:00", time(6)),
    (hour, "23:59", time(23, 59)),
    (hour, time(14, 30, 0, 999), time(14, 30)),
    (yes_no, "Yes", True),
    (yes_no, False, False),
    (yes_no, "TRUE", True),
    (weekday, "Sun", 6),
    (weekdays, "thu; mon;mon", [0, 3]),
    (words(), "Milk; wheat;;", ["milk", "wheat"]),
    (one_of(["keep", "discard"]), "keep", "keep"),
    (unit, "hotel-pan", "hotel-pan"),
    (gtin, "00012345678905", "00012345678905"),
    (gtin, 12345678905, "00012345678905"),
    (gtin, 12345678905.0, "00012345678905"),
    (text(), 3.0, "3"),
    (text(), True, "yes"),
    (text(), "two\r\nlines\rmore", "two\nlines\nmore"),
    (email, "orders@marsh.example", "orders@marsh.example"),
]


@pytest.mark.parametrize(("parse", "cell", "value"), TAKEN)
def test_takes(parse: Parse, cell: object, value: object) -> None:
    assert value_of(parse, cell) == value


REFUSED = [
    (number(), "nan", "'nan' is not a number; type a figure such as 12.5"),
    (number(), float("nan"), "'nan' is not a number; type a figure such as 12.5"),
    (number(), float("-inf"), "'-inf' is not a number; type a figure such as 12.5"),
    (number(), "Infinity", "'Infinity' is not a number; type a figure such as 12.5"),
    (number(), "1e309", "'1e309' is too large; at most 9,223,372,036 fits"),
    (number(), "1e999999999", "'1e999999999' is too large; at most 9,223,372,036 fits"),
    (number(), "9223372037", "'9223372037' is too large; at most 9,223,372,036 fits"),
    (number(), "0x1p3", "'0x1p3' is not a number; type a figure such as 12.5"),
    (number(), "1_000", "'1_000' is not a number; type a figure such as 12.5"),
    (number(), "٣", "'٣' is not a number; type a figure such as 12.5"),
    (number(), "1,5", "'1,5' is not a number; type a figure such as 12.5; use a point, not a "
     "comma"),
    (number(), "-1", "'-1' must be 0 or more"),
    (number(above=0), "0", "'0' must be more than 0"),
    (number(above=0), "1e-400", "'1e-400' must be more than 0"),
    (number(), True, "'True' is not a number; type a figure such as 12.5"),
    (number(), date(2026, 3, 2), "'2026-03-02' is not a number; type a figure such as 12.5"),
    (whole(), "2.5", "'2.5' is not a whole number"),
    (whole(most=365), "400", "'400' must be a whole number from 0 to 365"),
    (code, "two words", "'two words' is not a code; a code is up to 40 letters, digits, '-', '_' "
     "and '.'"),
    (code, "x" * 41, f"'{'x' * 40}…' is not a code; a code is up to 40 letters, digits, '-', '_' "
     "and '.'"),
    (code, 1.5, "'1.5' is a number that loses digits; make it a text cell"),
    (code, 10**15, "'1000000000000000' is a number that loses digits; make it a text cell"),
    (code, True, "'True' is not a code; make the cell a text cell"),
    (code, date(2026, 3, 2), "'2026-03-02' is not a code; make the cell a text cell"),
    (day, "02/03/2026", "'02/03/2026' is not a date; a date is YYYY-MM-DD"),
    (day, "2026-02-30", "'2026-02-30' is not a date; a date is YYYY-MM-DD"),
    (day, "20260302", "'20260302' is not a date; a date is YYYY-MM-DD"),
    (day, 46083, "'46083' is not a date; a date is YYYY-MM-DD"),
    (day, "0206-03-02", "'0206-03-02' is outside the years 1990 to 2200; a date is YYYY-MM-DD"),
    (day, date(1904, 1, 1), "'1904-01-01' is outside the years 1990 to 2200; a date is YYYY-MM-DD"),
    (day, datetime(2026, 3, 2, 6), "'2026-03-02 06:00:00' has an hour; a date is YYYY-MM-DD"),  # noqa: DTZ001
    (hour, "24:00", "'24:00' is not a time; a time is HH:MM from 00:00 to 23:59"),
    (hour, "6 am", "'6 am' is not a time; a time is HH:MM from 00:00 to 23:59"),
    (hour, 0.25, "'0.25' is not a time; a time is HH:MM from 00:00 to 23:59"),
    (yes_no, "maybe", "'maybe' must be yes or no"),
    (yes_no, 1, "'1' must be yes or no"),
    (weekdays, "mon;someday", "'someday' is not known; it is one of mon tue wed thu fri sat sun"),
    (words(), "x" * 41, f"'{'x' * 40}…' is too long; a word has at most 40 letters"),
    (one_of(["keep", "discard"]), "burn", "'burn' is not known; it is one of keep discard"),
    (unit, "two words", "'two words' is not a unit; use one of cup dozen each floz g gal kg l lb "
     "mg ml oz pt qt tbsp tsp"),
    (gtin, "00012345678906", "'00012345678906' ends in 6, but its check digit is 5"),
    (gtin, "1234567", "'1234567' is not a GTIN; it has 8, 12, 13 or 14 digits"),
    (gtin, 123456789012345, "'123456789012345' has lost digits as a number; make it a text cell"),
    (text(5), "too long", "is 8 characters long; at most 5 fit"),
    (text(), "a\x00b", "holds a control character; type it again as plain text"),
    (words(), "milk\x1b[2J", "holds a control character; type it again as plain text"),
    (email, "orders at marsh", "'orders at marsh' is not an e-mail address such as "
     "orders@example.org"),
    (email, "a@b\nBcc: c@d", "'a@b�Bcc: c@d' is not an e-mail address such as orders@example.org"),
    (text(), Unreadable("holds #REF!"), "holds #REF!"),
]  # fmt: skip


@pytest.mark.parametrize(("parse", "cell", "message"), REFUSED)
def test_refuses_with_what_would_be_right(parse: Parse, cell: object, message: str) -> None:
    with pytest.raises(Wrong) as refused:
        value_of(parse, cell)
    assert str(refused.value) == message


@pytest.mark.parametrize("cell", [None, "", "  ", "\t"])
def test_a_blank_cell_is_the_columns_empty_value(cell: object) -> None:
    assert parsed(Column("rank", whole(), empty=1), cell) == 1


def test_a_blank_required_cell_says_what_belongs_there() -> None:
    with pytest.raises(Wrong, match=r"^is empty; its name$"):
        parsed(Column("name", text(), "Its name", required=True), " ")


ANY_CELL = st.one_of(
    st.none(),
    st.text(),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.from_regex(r"[+-]?[0-9.]{0,12}([eE][+-]?[0-9]{1,12})?", fullmatch=True),
)
KINDS = [
    code, number(), number(above=0), whole(), day, hour, yes_no, weekday, weekdays, words(), unit,
    gtin, text(), email, one_of(["keep"]),
]  # fmt: skip


@given(cell=ANY_CELL, kind=st.sampled_from(KINDS))
def test_any_cell_is_a_value_or_a_sentence(cell: object, kind: Parse) -> None:
    try:
        value_of(kind, cell)
    except Wrong as wrong:
        assert printable(str(wrong)) == str(wrong)


@given(st.decimals(min_value=0, max_value=9_000_000_000, places=9))
def test_a_number_is_kept_to_the_last_of_nine_places(value: Decimal) -> None:
    assert value_of(number(), f"{value:f}") == value


def test_a_long_cell_is_quoted_by_its_beginning_and_never_acts_on_a_terminal() -> None:
    assert shown("x" * 50_000_000) == f"'{'x' * 40}…'"
    assert shown("\x1b[2Jgone\u202e") == "'�[2Jgone�'"
    assert problem_at("a\nb", 2, "\udcff", "is wrong").message == "a�b!2 �: is wrong"


def test_a_book_keeps_a_number_of_problems_of_each_sheet_and_counts_the_rest() -> None:
    book = Book()
    book.complain(problem_at("sales", row, "qty", "is wrong") for row in range(5000, 0, -1))
    book.complain([problem_at("items", 2, "code", "is wrong")])
    told = [problem.message for problem in book.sorted_problems()]
    assert len(told) == MOST_PROBLEMS + 2
    assert told[0] == f"sales!{5001 - MOST_PROBLEMS} qty: is wrong", "in the order of the rows"
    assert told[-2:] == [
        f"sales: {5000 - MOST_PROBLEMS:,} problems more; correct these first",
        "items!2 code: is wrong",
    ]
