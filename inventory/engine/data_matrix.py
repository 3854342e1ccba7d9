"""Two-dimensional codes on labels: modules from zint, drawn as one SVG path by the page.

ISO/IEC 16022 Data Matrix; with ``(`` in front the text is GS1 in bracketed form. The library
only warns of a wrong check digit or date, so ``gs1.label_data`` looks first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

# The standard's quiet zone is one module; printers on tape bleed, so two.
QUIET = 2


@dataclass(frozen=True, slots=True)
class Matrix:
    """Rows of modules, True: dark."""

    rows: tuple[tuple[bool, ...], ...]

    @property
    def side(self) -> int:
        """Modules along the wider side, quiet zone included."""
        return max(len(self.rows), len(self.rows[0])) + 2 * QUIET

    @property
    def path(self) -> str:
        """``d`` of an SVG path in modules: one box for each run of dark modules."""
        boxes = []
        for y, row in enumerate(self.rows):
            x = 0
            while x < len(row):
                width = _run(row, x)
                if width:
                    boxes.append(f"M{x + QUIET} {y + QUIET}h{width}v1h-{width}z")
                x += width or 1
        return "".join(boxes)


def data_matrix(text: str) -> Matrix:
    """The square symbol of ``text``. Raises ``ValueError`` where it cannot hold it."""
    from zint import DataMatrixOptions, InputMode, Symbol, Symbology

    symbol = Symbol()
    symbol.symbology = Symbology.DATAMATRIX
    symbol.option_3 = DataMatrixOptions.SQUARE
    if text.startswith("("):
        symbol.input_mode = InputMode.GS1 | InputMode.GS1PARENS
    try:
        symbol.encode(text)
    except RuntimeError as error:
        raise ValueError(str(error)) from error
    # The raw view cannot be indexed twice, and holds eight modules a byte, lowest bit first.
    packed = cast(list[list[int]], symbol.encoded_data.tolist())
    return Matrix(
        tuple(
            tuple(bool(packed[y][x >> 3] >> (x & 7) & 1) for x in range(symbol.width))
            for y in range(symbol.rows)
        )
    )


def _run(row: tuple[bool, ...], start: int) -> int:
    end = start
    while end < len(row) and row[end]:
        end += 1
    return end - start
