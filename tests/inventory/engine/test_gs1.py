"""Case labels against the published strings (reference/food-standards.md, sections 3.1 to 3.3:
GS1 General Specifications and the GS1 Barcode Syntax Dictionary)."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

import pytest

from inventory.engine.gs1 import (
    Scan,
    Weight,
    check_digit,
    full_gtin,
    label_data,
    parse_scan,
)
from inventory.problems import Refused

TODAY = date(2026, 3, 4)
CASE = "0110614141000736"
BY_WEIGHT = "0190614141000121"


def read(text: str, today: date = TODAY) -> Scan:
    return parse_scan(text.replace("<GS>", "\x1d"), today=today)


def warned(scan: Scan) -> list[str]:
    return [warning.code for warning in scan.warnings]


@pytest.mark.parametrize(
    ("body", "digit"),
    [
        pytest.param("1061414100073", 6, id="GT-01"),
        pytest.param("9061414100012", 1, id="GT-02"),
        pytest.param("01234567890", 5, id="GT-03"),
        pytest.param("061414112345", 2, id="GT-04"),
        pytest.param("9638507", 4, id="GT-05"),
        pytest.param("10614141192837465", 7, id="GT-06"),
    ],
)
def test_check_digit(body: str, digit: int) -> None:
    assert check_digit(body) == digit


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        pytest.param("012345678905", "00012345678905", id="GT-03"),
        pytest.param("0614141123452", "00614141123452", id="GT-04"),
        pytest.param("96385074", "00000096385074", id="GT-05"),
        ("012345678904", ""),
        ("12345", ""),
        ("", ""),
    ],
)
def test_a_gtin_is_stored_with_fourteen_digits(typed: str, stored: str) -> None:
    assert full_gtin(typed) == stored


def test_gt_07_a_wrong_check_digit_names_no_product() -> None:
    scan = read("019061414100012210L1")
    assert (scan.gtin, scan.lot, "bad_check_digit" in warned(scan)) == ("", "L1", True)


def test_a_bare_number_with_a_wrong_check_digit_is_flagged() -> None:
    assert (read("10614141000735").gtin, warned(read("10614141000735"))) == (
        "",
        ["bad_check_digit"],
    )


def test_gl_01_everything_on_one_label() -> None:
    scan = read("01906141410001213202004125112603021726033010L2606A<GS>21000457")
    assert scan.gtin == "90614141000121"
    assert scan.weight == Weight(Decimal("41.25"), "lb")
    assert (scan.made, scan.use_by) == (date(2026, 3, 2), date(2026, 3, 30))
    assert (scan.lot, scan.serial) == ("L2606A", "000457")
    assert scan.warnings == ()


def test_gl_02_day_00_is_the_last_of_the_month() -> None:
    scan = read("019061414100012131030187101526040010K77")
    assert scan.weight == Weight(Decimal("18.710"), "kg")
    assert (scan.best_before, scan.lot) == (date(2026, 4, 30), "K77")
    assert scan.last_day == date(2026, 4, 30)


def test_gl_03_a_pallet_number() -> None:
    assert read("00106141411928374657").sscc == "106141411928374657"


def test_gl_04_a_pallet_of_cases() -> None:
    scan = read("02106141410007361526053110AB12<GS>3724")
    assert (scan.gtin, scan.holds) == ("10614141000736", True)
    assert (scan.best_before, scan.lot, scan.count) == (date(2026, 5, 31), "AB12", 24)
    assert scan.warnings == ()


def test_gl_05_a_date_with_an_hour() -> None:
    scan = read("011061414100073670032603151430<GS>10X1")
    assert scan.expires_at == datetime(2026, 3, 15, 14, 30)  # noqa: DTZ001
    assert (scan.last_day, scan.lot) == (date(2026, 3, 15), "X1")


def test_gl_06_a_count_and_a_weight() -> None:
    scan = read("01106141410007363012<GS>320100045010Q9")
    assert (scan.count, scan.weight, scan.lot) == (12, Weight(Decimal("45.0"), "lb"), "Q9")


def test_gl_07_a_sell_by_date_is_no_use_by() -> None:
    scan = read("01106141410007361326010516260120251FARM42<GS>10B1")
    assert (scan.packed, scan.sell_by) == (date(2026, 1, 5), date(2026, 1, 20))
    assert (scan.source, scan.lot, scan.last_day) == ("FARM42", "B1", None)
    assert warned(scan) == ["sell_by_only"]


def test_gl_08_a_lost_separator_is_noticed() -> None:
    scan = read("019061414100012110L2606A3202004125")
    assert (scan.lot, scan.weights) == ("L2606A3202004125", ())
    assert warned(scan) == ["separator_lost"]


def test_a_case_sold_by_weight_whose_label_gives_none_is_noticed() -> None:
    assert warned(read(BY_WEIGHT + "10L1")) == ["weight_missing"]


def test_gl_09_the_symbology_prefix_is_dropped() -> None:
    scan = read("]C10190614141000121320200412510L1")
    assert (scan.gtin, scan.weight, scan.lot) == (
        "90614141000121",
        Weight(Decimal("41.25"), "lb"),
        "L1",
    )


@pytest.mark.parametrize(
    ("text", "day"), [("17280200", date(2028, 2, 29)), ("17270200", date(2027, 2, 28))]
)
def test_gl_10_day_00_in_february(text: str, day: date) -> None:
    assert read(CASE + text).use_by == day


@pytest.mark.parametrize("text", ["17261301", "17260231"])
def test_gl_11_days_that_do_not_exist(text: str) -> None:
    with pytest.raises(Refused):
        read(CASE + text)


@pytest.mark.parametrize(
    ("text", "weight"),
    [
        ("3200000042", Weight(Decimal(42), "lb")),
        ("3105123456", Weight(Decimal("1.23456"), "kg")),
    ],
)
def test_gl_12_decimals_of_a_weight(text: str, weight: Weight) -> None:
    assert read(CASE + text).weight == weight


def test_gl_13_six_decimals_are_no_weight() -> None:
    with pytest.raises(Refused):
        read(CASE + "3106018710")


def test_gl_14_a_lot_has_at_most_twenty_characters() -> None:
    assert read(CASE + "10" + "A" * 20).lot == "A" * 20
    with pytest.raises(Refused):
        read(CASE + "10" + "A" * 21)


def test_gl_15_pounds_and_kilograms_of_one_case_agree() -> None:
    scan = read(CASE + "3202004125" + "3103018711")
    assert scan.weights == (Weight(Decimal("41.25"), "lb"), Weight(Decimal("18.711"), "kg"))
    assert warned(scan) == []


def test_pounds_and_kilograms_that_disagree_are_noticed() -> None:
    assert warned(read(CASE + "3202004125" + "3103017711")) == ["weights_disagree"]


@pytest.mark.parametrize(("two_digits", "year"), [("76", 2076), ("77", 1977)])
def test_gl_16_the_century_is_the_nearest(two_digits: str, year: int) -> None:
    scan = read(CASE + f"17{two_digits}0101")
    assert scan.use_by == date(year, 1, 1)
    assert "year_far_off" in warned(scan)


def test_gl_17_a_count_of_nothing() -> None:
    assert warned(read("(01)10614141000736(37)12")) == ["count_without_contents"]


def test_gl_18_use_by_before_it_was_made() -> None:
    assert warned(read(CASE + "1126030217260301")) == ["use_by_before_made"]


@pytest.mark.parametrize("day", ["7003260300" + "1430", "700626" + "0300"])
def test_day_00_is_not_allowed_with_an_hour_or_for_freezing(day: str) -> None:
    """Dictionary, format yymmdd: a real day (biip is lenient)."""
    with pytest.raises(Refused):
        read(CASE + day)


@pytest.mark.parametrize("sign", ["\x1d", "<GS>", "{GS}", "␝", "^]", "|", "~"])
def test_what_scanners_send_for_the_separator(sign: str) -> None:
    scan = parse_scan(f"{CASE}10L1{sign}21000457", today=TODAY)
    assert (scan.lot, scan.serial) == ("L1", "000457")


def test_a_label_without_a_product_is_noticed() -> None:
    assert warned(read("10L1")) == ["no_product"]


@pytest.mark.parametrize("text", ["HELLO", "(99", "0110614141"])
def test_what_is_no_label_is_refused_with_what_to_do(text: str) -> None:
    with pytest.raises(Refused, match=r"Scan it again|is not right"):
        read(text)


def test_the_earliest_last_day_counts() -> None:
    """ST-02 read carefully: best before and use-by on one label."""
    assert read(CASE + "1526033017260320").last_day == date(2026, 3, 20)


def test_our_label_is_read_back() -> None:
    data = label_data(gtin="10614141000736", strip="KALUM", use_by=date(2026, 3, 30))
    assert data == "(01)10614141000736(17)260330(10)KALUM"
    scan = read(data)
    assert (scan.lot, scan.use_by) == ("KALUM", date(2026, 3, 30))


def test_our_label_without_a_use_by() -> None:
    assert label_data(gtin="96385074", strip="KALUM", use_by=None) == "(01)00000096385074(10)KALUM"


@pytest.mark.parametrize(
    ("gtin", "strip"), [("10614141000735", "KALUM"), ("", "KALUM"), ("10614141000736", "KÄLUM")]
)
def test_a_label_that_would_be_wrong_is_refused(gtin: str, strip: str) -> None:
    with pytest.raises(Refused):
        label_data(gtin=gtin, strip=strip, use_by=None)
