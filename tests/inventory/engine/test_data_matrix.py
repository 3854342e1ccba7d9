"""Codes are drawn with one library and read back with another (zxing-cpp)."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import zxingcpp

from inventory.engine.data_matrix import QUIET, Matrix, data_matrix
from inventory.engine.gs1 import label_data, parse_scan

TODAY = date(2026, 3, 4)
ELEMENTS = {
    "GL-01": "(01)90614141000121(3202)004125(11)260302(17)260330(10)L2606A(21)000457",
    "GL-02": "(01)90614141000121(3103)018710(15)260400(10)K77",
    "GL-03": "(00)106141411928374657",
    "GL-04": "(02)10614141000736(15)260531(10)AB12(37)24",
    "GL-05": "(01)10614141000736(7003)2603151430(10)X1",
    "GL-06": "(01)10614141000736(30)12(3201)000450(10)Q9",
    "GL-07": "(01)10614141000736(13)260105(16)260120(251)FARM42(10)B1",
    "GL-15": "(01)10614141000736(3202)004125(3103)018711",
}


def seen(matrix: Matrix) -> zxingcpp.Barcode:
    """What a reader makes of the modules, four pixels each, on white paper."""
    pixels = np.where(np.array(matrix.rows), 0, 255).astype(np.uint8)
    picture = np.pad(np.kron(pixels, np.ones((4, 4), np.uint8)), 4 * QUIET, constant_values=255)
    (found,) = zxingcpp.read_barcodes(picture)
    return found


def test_our_label_is_read_back_by_a_decoder() -> None:
    data = label_data(gtin="10614141000736", strip="KALUM", use_by=date(2026, 3, 30))
    code = seen(data_matrix(data))
    assert code.symbology_identifier == "]d2"
    scan = parse_scan(code.bytes.decode(), today=TODAY)
    assert (scan.gtin, scan.lot, scan.use_by) == ("10614141000736", "KALUM", date(2026, 3, 30))


@pytest.mark.parametrize("data", ELEMENTS.values(), ids=ELEMENTS)
def test_published_labels_come_back_as_they_went(data: str) -> None:
    code = seen(data_matrix(data))
    again = parse_scan(code.bytes.decode(), today=TODAY)
    plain = parse_scan(data, today=TODAY)
    assert (again.gtin, again.sscc, again.lot, again.serial) == (
        plain.gtin,
        plain.sscc,
        plain.lot,
        plain.serial,
    )
    assert (again.weights, again.last_day, again.count) == (
        plain.weights,
        plain.last_day,
        plain.count,
    )


def test_an_address_is_a_plain_code() -> None:
    code = seen(data_matrix("https://kitchen.example/lots/KALUM/"))
    assert (code.symbology_identifier, code.text) == ("]d1", "https://kitchen.example/lots/KALUM/")


def test_the_path_draws_every_dark_module_once() -> None:
    matrix = Matrix(((True, True, False), (False, False, True)))
    assert matrix.side == 3 + 2 * QUIET
    assert matrix.path == "M2 2h2v1h-2zM4 3h1v1h-1z"


def test_too_much_for_a_code_is_an_error() -> None:
    with pytest.raises(ValueError, match="too long"):
        data_matrix("x" * 5000)
