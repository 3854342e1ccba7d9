"""Photographs from phones: read, turned upright, made smaller, and written anew.

What is written holds the picture and nothing else: no place, no device, no thumbnail, and
nothing that a browser could take for a page.
"""

from __future__ import annotations

import warnings
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from inventory.problems import Problem, Refused

MOST_BYTES = 5 * 1024 * 1024
LONGEST_SIDE = 2000  # pixels; a label is still readable
_MOST_PIXELS = 60_000_000
_QUALITY = 82
_FORMATS = ("JPEG", "PNG", "WEBP")


def clean_picture(data: bytes) -> bytes:
    """A JPEG of the picture. Raises ``Refused`` where it is too big or no picture."""
    if len(data) > MOST_BYTES:
        raise Refused(
            Problem("photo_too_big", "A photograph is at most 5 MB. Take it smaller.", "photo")
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return _written_anew(data)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        raise Refused(_no_picture()) from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise Refused(_no_picture()) from error


def _written_anew(data: bytes) -> bytes:
    with Image.open(BytesIO(data), formats=_FORMATS) as found:
        if found.width * found.height > _MOST_PIXELS:
            raise Refused(_no_picture())
        upright = ImageOps.exif_transpose(found).convert("RGB")
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    out = BytesIO()
    plain.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def _no_picture() -> Problem:
    return Problem(
        "no_picture",
        "This is no photograph that can be read. Use a JPEG, PNG or WebP picture.",
        "photo",
    )
