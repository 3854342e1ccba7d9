"""``manage.py backtest``: how good the forecaster would have been on a table of past demand."""

from __future__ import annotations

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
    try:
        return pd.read_csv(path, dtype={"outlet": str, "item": str, "date": str, "event": str})
    except (OSError, ValueError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read as CSV: {error}") from error


def _write(test: Backtest, path: Path) -> None:
    try:
        test.predictions().round({"value": DECIMALS}).to_csv(path, index=False)
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error}") from error


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
