"""``manage.py backtest``: how good the forecaster would have been on a table of past demand."""

from __future__ import annotations

import gzip
import json
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path

import pandas as pd
from django.core.management.base import BaseCommand, CommandError

from inventory.engine.demand.backtest import Backtest, backtest, checked, scored
from inventory.engine.demand.scores import Scores
from inventory.problems import Refused

MEASURES = ("pinball", "wape", "bias", "coverage", "error")
DECIMALS = 6  # of what is written: a forecast is not known better


class Command(BaseCommand):
    help = "Rolling-origin forecast of a tidy table outlet,item,date,qty[,event][,sold_out]."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="CSV, plain or gzip-compressed")
        parser.add_argument("--weeks", type=int, default=8, help="origins, a week apart")
        parser.add_argument("--horizon", type=int, default=7, help="days after each origin")
        parser.add_argument("--out", help="CSV of predictions to write")
        parser.add_argument("--json", action="store_true", help="one JSON document")

    def handle(self, *args: object, **options: object) -> None:
        weeks, horizon = int(str(options["weeks"])), int(str(options["horizon"]))
        table = _read(Path(str(options["file"])))
        try:
            rows = checked(table)
            test = backtest(rows, weeks=weeks, horizon=horizon)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        if options["out"]:
            _write(test, Path(str(options["out"])))
        scores = scored(test, rows)
        self.stdout.write(_json(test, scores) if options["json"] else _table(scores))


def _read(path: Path) -> pd.DataFrame:
    """All cells as text: a code such as 007 or NA is a code."""
    many = f"{path} is not a table, since a line has too many cells"
    many_remedy = "Put a cell that holds a separator in quotes."
    try:
        found = pd.read_csv(path, sep=_separator(path), dtype=str, keep_default_na=False)
    except UnicodeDecodeError as error:
        raise CommandError(f"{path} is not in UTF-8. Save it as CSV in UTF-8.") from error
    except pd.errors.EmptyDataError as error:
        message = f"{path} is empty. Its first line names the columns: outlet,item,date,qty."
        raise CommandError(message) from error
    except pd.errors.ParserError as error:
        told = str(error).removeprefix("Error tokenizing data. C error: ").strip()
        raise CommandError(f"{many}: {told}. {many_remedy}") from error
    except (OSError, EOFError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise CommandError(f"{path} cannot be read: {why}.") from error
    if not isinstance(found.index, pd.RangeIndex):  # from the first line on
        raise CommandError(f"{many}: line 2. {many_remedy}")
    return found


def _separator(path: Path) -> str:
    """A comma, or a semicolon where the first line has only these."""
    opened = gzip.open if path.suffix == ".gz" else open
    with opened(path, "rt", encoding="utf-8") as file:
        head = file.readline()
    return ";" if ";" in head and "," not in head else ","


def _write(test: Backtest, path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        test.predictions().round({"value": DECIMALS}).to_csv(path, index=False)
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error.strerror or error}.") from error


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)


def _json(test: Backtest, scores: dict[str, Scores]) -> str:
    words = {
        part: {name: _rounded(value) for name, value in asdict(found).items()}
        for part, found in scores.items()
    }
    origins = [origin.isoformat() for origin in test.origins]
    return json.dumps({"origins": origins, "predicted_days": len(test.days), "scores": words})


def _table(scores: dict[str, Scores]) -> str:
    """One line a part of the days: measures, ``-`` where one does not exist."""
    head = f"{'days':<14}{'count':>8}" + "".join(f"{name:>10}" for name in MEASURES)
    return "\n".join([head, *(_line(part, found) for part, found in scores.items())])


def _line(part: str, found: Scores) -> str:
    values = [getattr(found, name) for name in MEASURES]
    cells = ["-" if value is None else f"{value:.4f}" for value in values]
    return f"{part:<14}{found.days:>8}" + "".join(f"{cell:>10}" for cell in cells)
