"""Photographs are written anew: upright, smaller, and without what cameras add."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from inventory.engine.pictures import LONGEST_SIDE, MOST_BYTES, clean_picture
from inventory.problems import Refused

GPS = 0x8825
ORIENTATION = 0x0112


def photo(size: tuple[int, int] = (40, 20), kind: str = "JPEG", **exif: object) -> bytes:
    picture = Image.new("RGB", size, "red")
    marks = picture.getexif()
    marks[ORIENTATION] = 6
    marks.get_ifd(GPS)[2] = (51.0, 30.0, 0.0)
    out = BytesIO()
    picture.save(out, kind, exif=marks)
    return out.getvalue()


def test_place_and_device_are_gone_and_it_stands_upright() -> None:
    assert Image.open(BytesIO(photo())).getexif().get_ifd(GPS)
    cleaned = Image.open(BytesIO(clean_picture(photo())))
    assert not cleaned.getexif()
    assert cleaned.size == (20, 40)
    assert cleaned.format == "JPEG"


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_pictures_become_jpeg(kind: str) -> None:
    assert clean_picture(photo(kind=kind)).startswith(b"\xff\xd8")


def test_a_big_picture_is_made_smaller() -> None:
    cleaned = Image.open(BytesIO(clean_picture(photo((4000, 3000), kind="PNG"))))
    assert max(cleaned.size) == LONGEST_SIDE


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"<html><script>alert(1)</script></html>", "no_picture"),
        (b"", "no_picture"),
        (photo()[:40], "no_picture"),
        (b"\xff\xd8" + b"x" * MOST_BYTES, "photo_too_big"),
    ],
    ids=["a page", "nothing", "cut off", "too big"],
)
def test_what_is_no_photograph_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(Refused) as refusal:
        clean_picture(data)
    assert refusal.value.problems[0].code == code
