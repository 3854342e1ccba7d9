from __future__ import annotations

import json
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


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read as CSV"):
        run(tmp_path / "none.csv")


def test_a_bad_table_is_refused_with_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("outlet,item,date,qty\nA,X,yesterday,1\n")
    with pytest.raises(CommandError, match="Line 2: the date is not YYYY-MM-DD"):
        run(path)
