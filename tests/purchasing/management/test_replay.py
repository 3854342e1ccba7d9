"""The command ``replay`` on a small workbook, held against a replay of its own tables."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from inventory.exchange.book import TextSheet
from inventory.models import Item, Location, Sale, Usage
from purchasing.exchange.workbook import load_sheets
from purchasing.services import replay as service
from tests import factories as make
from tests.oracle.cells import Row
from tests.oracle.resimulated import Facts, Line, Pair, arrivals, nine_places, opening, rounded
from tests.purchasing.exchange.books import Ran, Sheets, dump, run
from tests.purchasing.services.replay_kitchen import FIRST, LAST, sheets

pytestmark = pytest.mark.django_db
POLICIES = ("pars", "fixed", "forecast", "greater", "cost", "mean", "outdating")


@pytest.fixture(autouse=True)
def _few_paths(settings: Any) -> None:
    settings.REORDER_PATHS = 50


def load(book: Sheets | None = None) -> None:
    given = book or sheets()
    load_sheets([TextSheet(name, rows) for name, rows in given.items()], by=None, at=timezone.now())


def replayed(*words: object, first: object = FIRST, last: object = LAST) -> Ran:
    return run("replay", "--from", first, "--to", last, *words)


@dataclass(frozen=True, slots=True)
class Told:
    """The document, and the tables by policy."""

    out: str
    document: Any
    daily: dict[str, list[Row]]
    orders: dict[str, list[Row]]


def told(folder: Path, *words: object) -> Told:
    ran = replayed("--json", "--daily", folder, *words)
    assert ran.status == 0, ran.err
    tables = (_by_policy(folder / name) for name in ("daily.csv", "orders.csv"))
    return Told(ran.out, json.loads(ran.out), *tables)


def _by_policy(path: Path) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found[row["policy"]].append(row)
    return found


@pytest.mark.parametrize("with_r13", [False, True], ids=["plain", "bridges and price breaks"])
def test_every_figure_can_be_had_from_the_tables_and_the_workbook(
    with_r13: bool, tmp_path: Path, settings: Any
) -> None:
    settings.REORDER_BRIDGE = settings.REORDER_PRICE_BREAKS = with_r13
    load()
    answer, facts = told(tmp_path, "--policy", *POLICIES), Facts.of(sheets())
    assert [one["policy"] for one in answer.document["policies"]] == list(POLICIES)
    for policy in answer.document["policies"]:
        name = policy["policy"]
        lines = lived(facts, policy, answer.daily[name], answer.orders[name])
        fees, numbers = paid(facts, answer.orders[name]), answer.orders[name]
        for said in policy["lines"]:
            pair = said["location"], said["item"]
            assert expected(lines[pair], facts, said) == {key: said[key] for key in LINE}, pair
        assert in_all(lines, fees, numbers) == {key: policy["totals"][key] for key in TOTAL}
        shared = sum(Fraction(one["fees"]) for one in policy["lines"])
        assert abs(shared - fees) < Fraction(1, 20)  # each rounded to a cent


LINE = (
    *("lost_margin", "waste", "holding", "spend", "opening_value", "used", "closing_value"),
    *("stockout_days", "line_days", "fill_rate", "lost", "expired", "usage", "met"),
)
TOTAL = (*LINE[:9], "avoidable", "fees", "orders", "order_lines", "fill_rate")


def lived(facts: Facts, policy: Any, daily: list[Row], orders: list[Row]) -> dict[Pair, Line]:
    """Every line lived through again, each day held against its row."""
    lines = {}
    for one in policy["lines"]:
        pair = one["location"], one["item"]
        line = Line(facts, pair, opening(facts, pair, FIRST), arrivals(facts, pair, FIRST, orders))
        line.money["opening_value"] = line.value
        lines[pair] = line
    cases: dict[tuple[str, str, str], Fraction] = defaultdict(Fraction)
    for row in orders:
        cases[row["placed"], row["location"], row["item"]] += Fraction(row["cases"])
    assert len(daily) == len(lines) * 14
    for row, (on, pair, usage) in zip(daily, _days(facts, list(lines)), strict=True):
        day_told = {key: Fraction(row[key]) for key in row if key in _QUANTITIES}
        assert (row["date"], row["location"], row["item"]) == (on.isoformat(), *pair)
        assert lines[pair].live(on, usage) == day_told, (policy["policy"], row)
        assert Fraction(row["ordered_cases"]) == cases[row["date"], *pair]
    return lines


_QUANTITIES = ("on_hand_start", "arrived", "usage", "met", "lost", "expired", "on_hand_end")


def _days(facts: Facts, pairs: list[Pair]) -> Iterator[tuple[date, Pair, Fraction]]:
    for n in range((LAST - FIRST).days + 1):
        on = FIRST + timedelta(days=n)
        used: dict[Pair, Fraction] = defaultdict(Fraction)
        for place, item, qty in facts.uses(on):
            for pair, each in facts.taken(place, item, qty).items():
                used[pair] += each
        for pair in pairs:
            yield on, pair, nine_places(used[pair])


def expected(line: Line, facts: Facts, said: Any) -> dict[str, Any]:
    line.money["closing_value"] = line.value
    money, counts = line.money, line.counts
    assert money["opening_value"] + money["spend"] == (
        money["used"] + money["waste"] + money["closing_value"]
    )
    share = counts["met"] / counts["usage"] if counts["usage"] else Fraction(1)
    measure = facts.measures[said["item"]]
    own = {key: measure.in_unit(counts[key]) for key in ("lost", "expired", "usage", "met")}
    assert all(abs(Fraction(said[key]) - qty) <= Fraction(1, 10**9) for key, qty in own.items())
    return {
        **{key: rounded(money[key], 2) for key in LINE[:7]},
        **{key: counts[key] for key in ("stockout_days", "line_days")},
        "fill_rate": rounded(share, 4),
        **{key: said[key] for key in own},
    }


def in_all(lines: dict[Pair, Line], fees: Fraction, orders: list[Row]) -> dict[str, Any]:
    def total(key: str) -> Fraction:
        return sum((line.money[key] for line in lines.values()), Fraction(0))

    avoidable = total("lost_margin") + total("waste") + total("holding") + fees
    counts = ("stockout_days", "line_days")
    return {
        **{key: rounded(total(key), 2) for key in LINE[:7]},
        **{key: sum(line.counts[key] for line in lines.values()) for key in counts},
        "avoidable": rounded(avoidable, 2),
        "fees": rounded(fees, 2),
        "orders": len({(row["supplier"], row["location"], row["delivery"]) for row in orders}),
        "order_lines": len(orders),
        "fill_rate": rounded(total("met") / total("asked"), 4),
    }


def paid(facts: Facts, orders: list[Row]) -> Fraction:
    suppliers = {row["code"]: row for row in facts.sheets["suppliers"]}
    fees = Fraction(0)
    for number in {row["order"] for row in orders}:
        row = next(row for row in orders if row["order"] == number)
        supplier = suppliers[row["supplier"]]
        if row["decision"] == "fee_paid" or not supplier["minimum_order"]:
            fees += Fraction(supplier["delivery_fee"] or 0)
    return fees


def test_the_lines_are_those_of_places_that_buy(tmp_path: Path) -> None:
    load()
    document = told(tmp_path, "--policy", "mean").document
    (policy,) = document["policies"]
    assert [(one["location"], one["item"]) for one in policy["lines"]] == [
        ("CAFE", "CUP"),
        ("CAFE", "FIZZ"),
        ("CAFE", "HERB"),
        ("COM", "BEAN"),
        ("COM", "CUP"),
        ("COM", "FIZZ"),
        ("COM", "HERB"),
        ("COM", "NAPKIN"),
    ]
    head = {key: document[key] for key in ("from", "to", "seed", "paths", "currency", "lines")}
    assert head == {
        "from": "2026-03-09",
        "to": "2026-03-22",
        "seed": 1,
        "paths": 50,
        "currency": "GBP",
        "lines": 8,
    }


def test_lines_without_par_and_without_margin_are_named(tmp_path: Path) -> None:
    load()
    fixed, mean = told(tmp_path, "--policy", "fixed", "mean").document["policies"]
    assert [(one["location"], one["item"]) for one in fixed["lines"]] == [
        ("CAFE", "FIZZ"),
        ("COM", "BEAN"),
        ("COM", "CUP"),
    ]
    assert {"location": "COM", "item": "HERB"} in fixed["without_par"]
    assert (len(fixed["without_par"]), mean["without_par"]) == (5, [])
    # Used directly, by nothing that is sold.
    assert mean["without_margin"] == [{"location": "COM", "item": "NAPKIN"}]


def test_the_tables_have_their_columns_and_only_what_was_placed(tmp_path: Path) -> None:
    load()
    answer = told(tmp_path, "--policy", "forecast")
    header = (tmp_path / "daily.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == (
        "policy,date,location,item,on_hand_start,arrived,ordered_cases,usage,met,lost,expired,"
        "on_hand_end"
    )
    header = (tmp_path / "orders.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == (
        "policy,placed,supplier,location,item,sku,cases,qty,case_price,delivery,order,decision"
    )
    placed = answer.orders["forecast"]
    assert {row["decision"] for row in placed} <= {"none_needed", "met", "topped_up", "fee_paid"}
    assert all(row["order"].startswith(f"{row['supplier']}-") for row in placed)


def test_a_second_run_prints_the_same_bytes_and_stores_nothing(tmp_path: Path) -> None:
    load()
    before = dump()
    first, second = told(tmp_path / "a", "--seed", 5), told(tmp_path / "b", "--seed", 5)
    assert first.out == second.out
    for name in ("daily.csv", "orders.csv"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert dump() == before


def test_a_policy_or_a_location_alone_has_the_figures_that_it_has_among_all(
    tmp_path: Path,
) -> None:
    load()
    among = told(tmp_path, "--policy", "cost", "mean").document["policies"]
    (mean,) = told(tmp_path, "--policy", "mean").document["policies"]
    assert mean == among[1]
    cafe = told(tmp_path, "--policy", "cost", "--location", "CAFE").document
    assert cafe["lines"] == 3
    assert cafe["policies"][0]["lines"] == [
        one for one in among[0]["lines"] if one["location"] == "CAFE"
    ]


@pytest.mark.parametrize("change", ["deleted", "changed"])
def test_what_is_sold_and_used_from_a_day_on_changes_nothing_before(
    change: str, tmp_path: Path
) -> None:
    day = "2026-03-17"
    load()
    before = told(tmp_path)
    for rows in (Sale.objects.filter(date__gte=day), Usage.objects.filter(date__gte=day)):
        if change == "deleted":
            rows.delete()
        else:
            rows.update(qty=77)
    after = told(tmp_path)
    for policy in POLICIES:
        for table, column in (("daily", "date"), ("orders", "placed")):
            old, new = getattr(before, table)[policy], getattr(after, table)[policy]
            last = "2026-03-16" if table == "daily" else day  # its orders are placed before use
            assert _until(old, column, last) == _until(new, column, last)
    assert before.daily != after.daily


def _until(rows: list[Row], column: str, last: str) -> list[Row]:
    return [row for row in rows if row[column] <= last]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            {"first": "2026-03-10", "last": "2026-03-09"},
            "The first day, 2026-03-10, comes after the last, 2026-03-09. "
            "Give the earlier day first.",
        ),
        (
            {"first": "2025-12-31"},
            "The first day, 2025-12-31, comes before the first usage on record. "
            "Start on 2026-01-01.",
        ),
        (
            {"words": ["--policy", "hunch"]},
            "There is no policy 'hunch'. Use some of: pars, fixed, forecast, greater, cost, mean,"
            " outdating, recorded.",
        ),
        (
            {"words": ["--location", "MOON"]},
            "There is no location 'MOON'. Use the code of one that the workbook lists.",
        ),
    ],
    ids=["days backwards", "before the first usage", "unknown policy", "unknown location"],
)
def test_wrong_input_is_answered_by_a_sentence(words: dict[str, Any], sentence: str) -> None:
    load()
    ran = replayed(*words.pop("words", ()), **words)
    assert (ran.status, ran.out, ran.problems) == (1, "", [sentence])


def test_nothing_on_record_is_said() -> None:
    book = {name: rows for name, rows in sheets().items() if name not in ("sales", "usage")}
    load(book)
    ran = replayed()
    assert (ran.status, ran.problems) == (
        1,
        ["Nothing was ever sold or used here, so there is nothing to replay. Load sales."],
    )


def test_a_unit_without_a_conversion_is_refused() -> None:
    load()
    Usage.objects.filter(item__code="NAPKIN").update(unit="kg")
    ran = replayed()
    assert ran.status == 1
    assert ran.problems[0].startswith("Napkins is kept in each (count), and 'kg' cannot be turned")


def test_a_table_for_people_compares_policies_and_says_what_it_leaves_out() -> None:
    load()
    out = replayed("--policy", "fixed", "mean").out.splitlines()
    assert out[0] == "2026-03-09 to 2026-03-22, 8 lines, money in GBP"
    assert out[2].split() == [
        *("avoidable", "missed", "waste", "holding", "fees", "spent", "orders"),
        *("ran", "out", "filled"),
    ]
    assert [line.split()[0] for line in out[3:5]] == ["fixed", "mean"]
    text = " ".join(out)
    assert "On the first morning 3 of 8 lines had no stock:" in text
    assert "fixed leaves out what has no par: CUP at CAFE, HERB at CAFE," in text
    assert "is not known, and counts as nothing, of: NAPKIN at COM." in text


def test_stopped_from_the_keyboard_it_ends_with_a_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stopped(*words: object, **more: object) -> None:
        raise KeyboardInterrupt

    load()
    monkeypatch.setattr(service, "replay", stopped)
    ran = replayed()
    assert (ran.status, ran.out) == (130, "")
    assert ran.problems == ["Stopped. A replay stores nothing, so nothing is half done."]


def test_recorded_replays_what_really_came(tmp_path: Path) -> None:
    load()
    napkins, kitchen = Item.objects.get(code="NAPKIN"), Location.objects.get(code="COM")
    when = datetime(2026, 3, 12, 8, tzinfo=UTC)
    make.lot(500, at=kitchen, of=napkins, when=when, unit_cost=Decimal("0.02"))
    answer = told(tmp_path, "--policy", "recorded")
    (row,) = answer.orders["recorded"]
    assert (row["placed"], row["delivery"], row["qty"], row["cases"], row["case_price"]) == (
        *("2026-03-12", "2026-03-12", "500", "2", "5"),
    )
    line = next(one for one in answer.document["policies"][0]["lines"] if one["item"] == "NAPKIN")
    assert line["spend"] == "10.00"


def test_recorded_is_left_out_unasked_where_nothing_came(tmp_path: Path) -> None:
    load()
    names = [one["policy"] for one in told(tmp_path).document["policies"]]
    assert names == list(POLICIES)
