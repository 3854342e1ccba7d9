"""Pictures of a replay."""

from __future__ import annotations

from decimal import Decimal

from purchasing.selectors.replay_svg import cost_bars, stock_lines


def totals(**money: str) -> dict[str, Decimal]:
    return {kind: Decimal(text) for kind, text in money.items()}


def test_bars_stand_to_each_other_as_the_costs_do() -> None:
    bars = cost_bars(
        {"a": totals(lost_margin="30", waste="10"), "b": totals(waste="20")},
        {"a": "40.00", "b": "20.00"},
    )
    first, second = bars
    assert [(part.kind, part.x, part.width) for part in first.parts] == [
        ("lost_margin", "0.00", "75.00"),
        ("waste", "75.00", "25.00"),
    ]
    assert [(part.x, part.width) for part in second.parts] == [("0.00", "50.00")]


def test_where_nothing_costs_there_is_no_bar() -> None:
    (bar,) = cost_bars({"a": totals(lost_margin="-3")}, {"a": "-3.00"})
    assert bar.parts == ()


def test_lines_run_from_the_first_night_to_the_last_under_a_round_top() -> None:
    lines = stock_lines({"a": ["0", "45"], "b": ["90", "100"]}, ["1 Mar", "2 Mar"])
    assert [mark.word for mark in lines.marks] == ["0", "20", "40", "60", "80", "100", "120"]
    assert lines.lines[0].points == "0.00,100.00 100.00,62.50"
    assert [day.at for day in lines.days] == ["0.00", "100.00"]


def test_at_most_eight_days_are_named() -> None:
    for count in (1, 8, 9, 60, 366):
        days = [str(n) for n in range(count)]
        named = stock_lines({"a": ["1"] * count}, days).days
        assert 1 <= len(named) <= 8
