from __future__ import annotations

import json
from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import pandas as pd
import pytest
from django.core.management import CommandError, call_command

from tests.inventory.engine.demand.tables import demand


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "demand.csv.gz"
    rows = demand({"BUN": 30.0, "PIE": 3.0}, days=100)
    rows.assign(date=rows["date"].dt.strftime("%Y-%m-%d")).to_csv(path, index=False)
    return path


def run(*args: object) -> str:
    out = StringIO()
    call_command("backtest", *map(str, args), stdout=out)
    return out.getvalue()


def test_writes_every_quantile_and_the_mean(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "predictions.csv"
    run(file, "--weeks", 2, "--horizon", 7, "--out", out)
    found = pd.read_csv(out, dtype=str)
    assert list(found.columns) == ["outlet", "item", "origin", "date", "quantile", "value"]
    assert len(found) == 2 * 7 * 2 * 6
    assert found["quantile"].unique().tolist() == ["0.5", "0.7", "0.8", "0.9", "0.95", "mean"]


def test_json_is_one_document(file: Path) -> None:
    answer = json.loads(run(file, "--weeks", 2, "--json"))
    assert answer["origins"] == ["2025-11-25", "2025-12-02"]
    assert answer["scores"]["all"]["days"] == 28


def test_table_names_its_measures(file: Path) -> None:
    assert "coverage" in run(file, "--weeks", 1)


def test_the_same_file_gives_the_same_answer(file: Path, tmp_path: Path) -> None:
    one, other = tmp_path / "one.csv", tmp_path / "other.csv"
    run(file, "--weeks", 1, "--out", one)
    run(file, "--weeks", 1, "--out", other)
    assert one.read_bytes() == other.read_bytes()


HEAD = "outlet,item,date,qty\n"


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (None, "cannot be read: No such file"),
        (b"", "is empty. Its first line names the columns"),
        (HEAD.encode() + "Caf\xe9,X,2025-09-01,1\n".encode("latin-1"), "is not in UTF-8"),
        (HEAD.encode() + b"A,X,2025-09-01,1,9\nA,X,2025-09-02,1\n", "too many cells: line 2"),
        (HEAD.encode() + b"A,X,2025-09-01,1\nA,X,2025-09-02,1,9\n", "line 3, saw 5"),
        (b"\x1f\x8bnot", "cannot be read"),
    ],
    ids=["not there", "empty", "Latin-1", "a cell too many at once", "a cell too many", "not gzip"],
)
def test_a_file_that_cannot_be_read_is_refused_in_a_sentence(
    written: bytes | None, said: str, tmp_path: Path
) -> None:
    path = tmp_path / ("demand.csv.gz" if written and written[0] == 0x1F else "demand.csv")
    if written is not None:
        path.write_bytes(written)
    with pytest.raises(CommandError, match=said) as refused:
        run(path)
    assert "Errno" not in str(refused.value)
    assert "codec" not in str(refused.value)


def test_a_bad_table_is_refused_with_all_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(
        f"{HEAD}A,X,yesterday,1\n,X,2025-09-01,1\nA, ,2025-09-01,1\nA,X,2025-09-01,inf\n"
        "A,X,2025-09-02,\n"
    )
    with pytest.raises(CommandError) as refused:
        run(path)
    for said in (
        "Line 2: the date is not YYYY-MM-DD.",
        "Line 3: the outlet is missing.",
        "Line 4: the item is missing.",
        "Line 5: qty is not a number of 0 or more.",
        "Line 6: qty is not a number of 0 or more.",
    ):
        assert said in str(refused.value)


def test_codes_are_text_and_semicolons_separate_too(tmp_path: Path) -> None:
    days = [date(2025, 9, 1) + timedelta(days=n) for n in range(40)]
    rows = [f"007;NA;{day};{5 + n % 3}" for n, day in enumerate(days)]
    path, out = tmp_path / "demand.csv", tmp_path / "new" / "predictions.csv"
    path.write_text("\n".join(["outlet;item;date;qty", *rows]))
    run(path, "--weeks", 1, "--out", out)
    found = pd.read_csv(out, dtype=str, keep_default_na=False)
    assert set(zip(found["outlet"], found["item"], strict=True)) == {("007", "NA")}
