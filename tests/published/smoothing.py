"""Exponential smoothing and its kin for intermittent demand, as inventory-theory.md, section 6, has
them: rivals of our forecaster (demand-methods.md), apart from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


def levels(values: Sequence[float], alpha: float, start: float | None = None) -> Iterator[float]:
    """Level after each value; without ``start`` the first value is the first level."""
    level = values[0] if start is None else start
    for value in values:
        level += alpha * (value - level)
        yield level


@dataclass(frozen=True, slots=True)
class Croston:
    """Sizes of sales and the days from one to the next, smoothed apart."""

    size: float
    gap: float
    alpha: float

    @classmethod
    def of(cls, values: Sequence[float], alpha: float) -> Croston:
        days = [day for day, value in enumerate(values, start=1) if value > 0]
        gaps = [float(day - before) for day, before in zip(days, [0, *days], strict=False)]
        *_, size = levels([value for value in values if value > 0], alpha)
        *_, gap = levels(gaps, alpha)
        return cls(size, gap, alpha)

    @property
    def forecast(self) -> float:
        return self.size / self.gap

    @property
    def by_sba(self) -> float:
        """Syntetos and Boylan, *International Journal of Forecasting* 21 (2005) 303."""
        return self.forecast * (1 - self.alpha / 2)

    @property
    def by_sbj(self) -> float:
        """Shale, Boylan and Johnston, *Journal of the OR Society* 57 (2006) 588."""
        return self.forecast * (1 - self.alpha / (2 - self.alpha))


def by_tsb(values: Sequence[float], alpha: float) -> Iterator[float]:
    """Forecast after each value: the chance of a sale is smoothed every day (Teunter, Syntetos
    and Babai, *European Journal of Operational Research* 214 (2011) 606). It starts at the first
    value's own, the size at the first sale."""
    size = next(value for value in values if value > 0)
    chances = levels([float(value > 0) for value in values], alpha)
    for value, chance in zip(values, chances, strict=True):
        if value > 0:
            size += alpha * (value - size)
        yield chance * size
