"""Codes on a photograph of a label, so that any phone with a camera can scan."""

from __future__ import annotations

from io import BytesIO

from PIL import Image

from inventory.engine.pictures import clean_picture

# Of one label; a pallet full of labels in one picture is no scan.
_MOST_CODES = 6


def codes_in(picture: bytes) -> list[str]:
    """Texts of the codes in reading order, separators kept (ASCII 29), GS1 codes first.
    Raises ``Refused`` where it is too big or no picture."""
    import zxingcpp

    with Image.open(BytesIO(clean_picture(picture))) as found:
        seen = zxingcpp.read_barcodes(found.convert("L"))
    codes = [(code.symbology_identifier, code.bytes.decode("latin-1")) for code in seen]
    codes.sort(key=lambda code: code[0] not in _GS1)
    return [text for _, text in codes][:_MOST_CODES]


# GS1-128, GS1 DataBar, GS1 Data Matrix, GS1 QR.
_GS1 = frozenset({"]C1", "]e0", "]d2", "]Q3"})
