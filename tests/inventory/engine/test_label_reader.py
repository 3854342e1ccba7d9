"""Codes on photographs of labels."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from inventory.engine.data_matrix import Matrix, data_matrix
from inventory.engine.gs1 import SEPARATOR
from inventory.engine.label_reader import codes_in
from inventory.problems import Refused

GL_01 = "(01)90614141000121(3202)004125(11)260302(17)260330(10)L2606A(21)000457"


def drawn(matrix: Matrix, size: int = 500) -> Image.Image:
    picture = Image.new("L", (matrix.side, matrix.side), 255)
    for y, row in enumerate(matrix.rows):
        for x, dark in enumerate(row):
            picture.putpixel((x + 2, y + 2), 0 if dark else 255)
    return picture.resize((size, size), Image.Resampling.NEAREST)


def taken(*pictures: Image.Image, turned: int = 0) -> bytes:
    """A photograph of labels side by side on a grey table, perhaps held askew."""
    table = Image.new("L", (700 * len(pictures), 700), 200)
    for place, picture in enumerate(pictures):
        table.paste(picture, (700 * place + 100, 100))
    out = BytesIO()
    table.rotate(turned, fillcolor=200).save(out, "JPEG", quality=70)
    return out.getvalue()


@pytest.mark.parametrize("turned", [0, 7, 90, 180])
def test_a_label_is_read_however_it_is_held(turned: int) -> None:
    (text,) = codes_in(taken(drawn(data_matrix(GL_01)), turned=turned))
    assert text == f"01906141410001213202004125112603021726033010L2606A{SEPARATOR}21000457"


def test_gs1_codes_come_before_others() -> None:
    address = drawn(data_matrix("https://farm.example/"))
    texts = codes_in(taken(address, drawn(data_matrix("(01)10614141000736(10)L1"))))
    assert texts == ["011061414100073610L1", "https://farm.example/"]


def test_a_picture_without_a_code() -> None:
    assert codes_in(taken(Image.new("L", (500, 500), 128))) == []


def test_what_is_no_picture_is_refused() -> None:
    with pytest.raises(Refused):
        codes_in(b"<html>")
