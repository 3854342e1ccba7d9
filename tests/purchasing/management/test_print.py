"""What the demo prints: draft orders as sheets, lots by money at risk."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from purchasing.printed import (
    PERSON_IN_CHARGE,
    WIDTH,
    Names,
    expiring_text,
    lots_of,
    orders_text,
    plan_of,
)
from purchasing.words import (
    Reasons,
    chance,
    days_left,
    decision,
    figure,
    in_time,
    ordinal,
    why,
)
from tests.purchasing.exchange.demo_readings import local

NAMES = Names(
    items={"LEEK": "Leeks, trimmed", "LID": "Lid for soup bowl"},
    suppliers={"S1": "Harbour Greens"},
    places={"COM": "Mill Lane commissary"},
    business="Pleat & Ladle",
    currency="USD",
)
REASONS = {
    "basis_used": "forecast",
    "rule": "R9",
    "target": "52.5",
    "raw_need": "40.5",
    "use_in_window": "41.2",
    "use_in_window_p90": "52.4",
    "stockout_chance_before_delivery": "0.01",
    "cannot_cover": [],
    "runs_out_on": "",
    "late": "0",
    "minimum_top_up": "0",
    "price_break_extra": "0",
}


def a_line(**other: Any) -> dict[str, Any]:
    return {
        "item": "LEEK", "sku": "", "cases": 3, "pack_qty": "22.68", "pack_unit": "kg",
        "qty": "68.04", "unit": "kg", "price": "70.80", "priced_per": "case",
        "line_value": "212.40", "reasons": REASONS, **other,
    }  # fmt: skip


def an_order(**other: Any) -> dict[str, Any]:
    return {
        "number": "S1-20260304-1", "supplier": "S1", "location": "COM",
        "order_by": "2026-03-02T09:40", "last_order_by": "2026-03-02T09:40",
        "delivery": "2026-03-04", "next_delivery": "2026-03-08", "value": "212.40",
        "minimum_order": "150.00", "decision": "met", "lines": [a_line()], **other,
    }  # fmt: skip


def printed(*orders: dict[str, Any], width: int = WIDTH) -> str:
    plan = {"as_of": "2026-03-02T06:00", "seed": 1, "paths": 1000, "orders": orders}
    return orders_text(plan_of({**plan, "not_ordered": [{}, {}]}), NAMES, width=width)


def a_lot(**other: Any) -> dict[str, Any]:
    return {
        "lot": "KDWPT", "supplier_lot": "", "item": "LEEK", "location": "COM", "qty": "27",
        "unit": "kg", "use_by": "2026-03-02", "days_left": 0, "expected_waste_qty": "21.3",
        "expected_waste_value": "96.20", "chance_of_waste": "0.83", **other,
    }  # fmt: skip


def at_risk(*lots: dict[str, Any], width: int = WIDTH) -> str:
    found = lots_of({"as_of": "2026-03-02", "lots": lots})
    return expiring_text(found, date(2026, 3, 2), NAMES, width=width)


def on_one_line(text: str) -> str:
    return " ".join(text.split())


def margin(text: str) -> str:
    """Words right of the columns, as they would be read."""
    return on_one_line(" ".join(row[67:] for row in text.splitlines()[2:]))


def test_a_sheet_says_who_for_which_day_by_when_and_how_long_it_must_last() -> None:
    lines = printed(an_order()).splitlines()
    assert lines[0].split("  ")[0] == "Pleat & Ladle: orders due"
    assert lines[0].endswith("worked out Mon 2 Mar at 06:00")
    assert lines[3].startswith("Harbour Greens, Wed 4 Mar  ")
    assert lines[3].endswith("S1-20260304-1")
    assert lines[4].startswith("to Mill Lane commissary")
    assert lines[4].endswith("must last until Sun 8 Mar")
    assert lines[5] == "order by 09:40, in 3 h 40"


def test_a_line_has_cases_item_pack_price_and_value_and_its_reason_in_the_margin() -> None:
    line = next(row for row in printed(an_order()).splitlines() if "Leeks" in row)
    assert line.split() == [
        "3", "Leeks,", "trimmed", "22.68", "kg", "70.80/case", "212.40",
        "use", "41", "kg", "to", "Sat,", "have",
    ]  # fmt: skip


def test_money_is_right_aligned_and_names_the_currency_once_per_column() -> None:
    text = printed(an_order(lines=[a_line(), a_line(item="LID", line_value="1212.40")]))
    rows = text.splitlines()
    ends = {row.index("212.40") + len("212.40") for row in rows if "212.40" in row}
    heading = next(row for row in rows if row.startswith("cases"))
    assert ends == {len(heading)}
    assert text.count("USD") == 1


def test_the_earliest_cutoff_comes_first() -> None:
    later = an_order(number="S2-20260304-1", supplier="S2", order_by="2026-03-02T14:00")
    text = printed(later, an_order())
    assert text.index("S1-20260304-1") < text.index("S2-20260304-1")


def test_the_second_order_for_a_delivery_is_called_so() -> None:
    assert "Harbour Greens, Wed 4 Mar, 2nd" in printed(an_order(number="S1-20260304-2"))


def test_an_order_that_can_wait_says_until_when() -> None:
    text = printed(an_order(last_order_by="2026-03-03T14:00"))
    assert "; last chance for the same delivery Tue 3 Mar 14:00" in text


def test_lines_left_out_are_counted() -> None:
    assert "2 more lines were considered and need no order." in printed(an_order())


@pytest.mark.parametrize("width", [80, 92, 100])
def test_nothing_is_wider_than_the_terminal(width: int) -> None:
    long_name = an_order(number="A-SUPPLIER-WITH-A-LONG-CODE-AND-A-COUNTER-20260304-1")
    text = printed(an_order(), long_name, width=width) + at_risk(a_lot(), width=width)
    assert max(map(len, text.splitlines())) <= width


def test_a_narrow_terminal_has_reasons_under_their_line() -> None:
    rows = printed(an_order(), width=80).splitlines()
    at = next(n for n, row in enumerate(rows) if "Leeks" in row)
    assert rows[at + 1].startswith("       use 41 kg to Sat, have 12 kg; at most 52")


def test_prices_by_weight_are_printed_by_weight() -> None:
    assert "2.69/lb" in printed(an_order(lines=[a_line(priced_per="lb", price="2.69")]))


def said(unit: str = "kg", **other: Any) -> str:
    return why(Reasons({**REASONS, **other}), unit, date(2026, 3, 4), date(2026, 3, 8))


def test_a_forecast_says_use_stock_and_the_bad_case() -> None:
    assert said() == "use 41 kg to Sat, have 12 kg; at most 52 on nine days of ten"


def test_a_par_says_the_par_and_what_will_be_there() -> None:
    assert said("each", basis_used="fixed", target="960", raw_need="618") == (
        "par 960, 342 there on Wed"
    )


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ({"minimum_top_up": "22.7"}, "23 kg of it to reach the minimum"),
        ({"price_break_extra": "45"}, "45 kg of it for the better price"),
        ({"late": "8"}, "8 kg is late and counted on"),
        (
            {"stockout_chance_before_delivery": "0.31"},
            "may run out before it comes (3 chances in 10)",
        ),
        ({"cannot_cover": ["2026-03-06", "2026-03-07"]}, "does not keep for Fri and Sat"),
        ({"runs_out_on": "2026-03-07"}, "runs out on Sat even so"),
    ],
    ids=["topped up", "price break", "late", "early shortage", "cannot cover", "runs out"],
)
def test_what_should_worry_the_buyer_follows_the_reason(reason: dict[str, Any], words: str) -> None:
    assert said(**reason) == f"{said()}; {words}"


def test_reasons_that_are_missing_are_taken_as_nothing() -> None:
    assert why(Reasons({}), "kg", date(2026, 3, 4), date(2026, 3, 5)) == (
        "use 0 kg that day, have 0 kg"
    )


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("none_needed", "there is no minimum"),
        ("met", "the minimum of 150.00 is met"),
        ("topped_up", "topped up to the minimum of 150.00"),
        ("wait", "short of the minimum of 150.00; it can wait for the delivery of Sun 8 Mar"),
        ("fee_paid", "short of the minimum of 150.00; paying the fee costs least"),
        (
            "cannot_meet_minimum",
            "short of the minimum of 150.00, and the supplier refuses less: ring them",
        ),
    ],
)
def test_the_decision_about_the_minimum_is_said_in_words(word: str, says: str) -> None:
    assert decision(word, Decimal("150.00"), date(2026, 3, 8)) == says
    order = an_order(decision=word)
    assert says in margin(printed(order))


def test_an_order_without_a_minimum_is_printed() -> None:
    assert "there is no minimum" in printed(an_order(minimum_order="", decision="none_needed"))


def test_a_lot_says_how_much_is_at_risk_until_when_and_where() -> None:
    text = at_risk(a_lot())
    row = next(row for row in text.splitlines() if "KDWPT" in row)
    assert row[:67].split() == ["KDWPT", "Leeks,", "trimmed", "27", "kg", "today", "only", "96.20"]
    assert "Mill Lane commissary: about 21 kg not used in time (8 chances in 10)" in margin(text)


def test_a_lot_past_its_use_by_is_to_be_taken_out() -> None:
    text = at_risk(a_lot(days_left=-1))
    assert "ended yesterday" in text
    assert "Mill Lane commissary: take it out" in margin(text)


def test_every_list_of_use_by_dates_says_who_decides() -> None:
    assert PERSON_IN_CHARGE in on_one_line(at_risk(a_lot()))
    assert PERSON_IN_CHARGE in on_one_line(at_risk())


def test_nothing_at_risk_is_said() -> None:
    assert "Nothing is at risk in these days." in at_risk()


@pytest.mark.parametrize(
    ("value", "words"),
    [("0", "0"), ("0.0001", "0"), ("0.354", "0.35"), ("4.25", "4.2"), ("5", "5"), ("41.3", "41"),
     ("1305", "1,305"), ("9.96", "10")],
)  # fmt: skip
def test_figures_are_as_exact_as_one_would_say_them(value: str, words: str) -> None:
    assert figure(Decimal(value)) == words


@pytest.mark.parametrize(
    ("then", "words"),
    [
        (local(2026, 3, 2, 6), "in 0 min"),
        (local(2026, 3, 2, 6, 50), "in 50 min"),
        (local(2026, 3, 2, 9, 40), "in 3 h 40"),
        (local(2026, 3, 3, 13), "in 1 day 7 h"),
        (local(2026, 3, 5, 6), "in 3 days 0 h"),
        (local(2026, 3, 2, 5, 30), "30 min ago"),
    ],
    ids=["now", "minutes", "hours", "a day", "days", "past"],
)
def test_deadlines_say_how_long(then: Any, words: str) -> None:
    assert in_time(local(2026, 3, 2, 6), then) == words


@pytest.mark.parametrize(
    ("days", "words"),
    [(3, "3 days left"), (1, "until tomorrow"), (0, "today only"), (-1, "ended yesterday"),
     (-4, "ended 4 days ago")],
)  # fmt: skip
def test_days_left_are_words(days: int, words: str) -> None:
    assert days_left(days) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [("0.02", "hardly a chance"), ("0.31", "3 chances in 10"), ("0.97", "all but certain"),
     ("0.1", "1 chance in 10")],
)  # fmt: skip
def test_chances_are_bets(share: str, words: str) -> None:
    assert chance(Decimal(share)) == words


@pytest.mark.parametrize(
    ("count", "words"),
    [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (12, "12th"), (22, "22nd")],
)
def test_counts_are_ordinals(count: int, words: str) -> None:
    assert ordinal(count) == words


def test_lots_that_will_be_used_are_counted_where_they_are_many() -> None:
    safe = [a_lot(lot=f"SAFE{n}", expected_waste_qty="0", days_left=2) for n in range(6)]
    text = " ".join(at_risk(a_lot(), *safe).split())
    assert "SAFE0" not in text
    assert "6 more lots expire in these days and will be used in time." in text


def test_a_figure_is_not_parted_from_its_unit() -> None:
    lines = printed(an_order()).splitlines()
    assert not [line for line in lines if line.rstrip().endswith((" 41", " 12", " 52"))]
