"""An order as the sheet of paper it is: who, to whom, when, lines, total."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from purchasing.papers.sheet import OrderSheet, SheetLine

# Where letter paper is in the printers (common practice, no source).
LETTER_CURRENCIES = {"USD", "CAD", "MXN", "PHP", "CLP", "COP"}
_DEJAVU = Path("/usr/share/fonts/truetype/dejavu")
_FACES = {
    "Sheet": (_DEJAVU / "DejaVuSans.ttf", "Vera.ttf"),
    "Sheet-Bold": (_DEJAVU / "DejaVuSans-Bold.ttf", "VeraBd.ttf"),
}
_INK, _RULE, _PENCIL = colors.HexColor("#22201c"), colors.HexColor("#d8d3c6"), "#5a564d"
_PLAIN = ParagraphStyle("plain", fontName="Sheet", fontSize=9.5, leading=13, textColor=_INK)
_RIGHT = ParagraphStyle("right", _PLAIN, alignment=2)
_HEAD = ParagraphStyle("head", _PLAIN, fontName="Sheet-Bold", fontSize=15, leading=19)
_SMALL = ParagraphStyle("small", _PLAIN, fontSize=8, leading=11, textColor=_PENCIL)
_SMALL_RIGHT = ParagraphStyle("small right", _SMALL, alignment=2)
_BOLD = ParagraphStyle("bold", _PLAIN, fontName="Sheet-Bold")
_BOLD_RIGHT = ParagraphStyle("bold right", _BOLD, alignment=2)


def order_pdf(sheet: OrderSheet) -> bytes:
    """A4, or Letter where the currency says so; as many pages as the lines need."""
    _fonts()
    out = io.BytesIO()
    size = LETTER if sheet.currency in LETTER_CURRENCIES else A4
    document = SimpleDocTemplate(
        out,
        pagesize=size,
        leftMargin=18 * mm,
        rightMargin=18 * mm,
        topMargin=16 * mm,
        bottomMargin=18 * mm,
        title=f"Order {sheet.number}",
        author=sheet.buyer.name,
        invariant=1,
    )

    def foot(canvas: Canvas, _document: Any) -> None:
        canvas.setFont("Sheet", 7.5)
        canvas.setFillColor(_PENCIL)
        canvas.drawString(18 * mm, 10 * mm, _made(sheet))
        canvas.drawRightString(size[0] - 18 * mm, 10 * mm, f"page {canvas.getPageNumber()}")

    document.build(_parts(sheet, document.width), onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _fonts() -> None:
    """DejaVu knows more letters than the one that comes with the library."""
    for name, (wide, carried) in _FACES.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(wide) if wide.exists() else carried))


def _parts(sheet: OrderSheet, width: float) -> list[Any]:
    notes = [Paragraph(escape(note), _SMALL) for note in sheet.notes]
    return [
        _heading(sheet, width),
        Spacer(1, 6 * mm),
        _lines(sheet, width),
        Spacer(1, 5 * mm),
        *notes,
    ]


def _heading(sheet: OrderSheet, width: float) -> Table:
    supplier, buyer = sheet.supplier, sheet.buyer
    left = [
        Paragraph(escape(supplier.name), _HEAD),
        *_said(supplier.email, supplier.phone),
        Spacer(1, 4 * mm),
        Paragraph("deliver to", _SMALL),
        Paragraph(f"{escape(buyer.name)}<br/>{escape(sheet.deliver_to)}", _PLAIN),
    ]
    right = [
        Paragraph(f"Order {escape(sheet.number)}", _BOLD_RIGHT),
        Paragraph(f"for {sheet.delivery:%a} {sheet.delivery.day} {sheet.delivery:%b %Y}", _RIGHT),
        *([Paragraph(f"account {escape(supplier.account)}", _RIGHT)] if supplier.account else []),
    ]
    table = Table([[left, right]], colWidths=[width * 0.6, width * 0.4])
    table.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *_NO_PADDING]))
    return table


_NO_PADDING = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0)]


def _said(*words: str) -> list[Paragraph]:
    return [Paragraph(escape(word), _SMALL) for word in words if word]


def _lines(sheet: OrderSheet, width: float) -> Table:
    heads = [("cases", 1), ("item", 0), ("your number", 0), ("a case is", 1), ("price", 1)]
    head = [Paragraph(word, _SMALL_RIGHT if right else _SMALL) for word, right in heads]
    rows = [[*head, Paragraph(sheet.currency, _SMALL_RIGHT)], *map(_line, sheet.lines)]
    total = ["", Paragraph("total", _BOLD), "", "", "", Paragraph(_money(sheet.total), _BOLD_RIGHT)]
    shares = (0.08, 0.36, 0.15, 0.13, 0.15, 0.13)
    table = Table([*rows, total], colWidths=[width * share for share in shares], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                *_NO_PADDING,
                ("RIGHTPADDING", (0, 0), (0, -1), 8),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -3), 0.5, _RULE),
                ("LINEABOVE", (0, -1), (-1, -1), 1.2, _INK),
            ]
        )
    )
    return table


def _line(line: SheetLine) -> list[Paragraph]:
    size = f"about {line.pack}" if line.catch_weight else line.pack
    return [
        Paragraph(str(line.cases), _BOLD_RIGHT),
        Paragraph(escape(line.item), _PLAIN),
        Paragraph(escape(line.sku), _PLAIN),
        Paragraph(escape(size), _RIGHT),
        Paragraph(f"{_money(line.price)}/{escape(line.priced_per)}", _RIGHT),
        Paragraph(_money(line.value), _RIGHT),
    ]


def _made(sheet: OrderSheet) -> str:
    by = f", approved by {sheet.approved_by}" if sheet.approved_by else ""
    return f"{sheet.number}, made {sheet.issued:%d %b %Y %H:%M}{by}"


def _money(value: Any) -> str:
    return f"{value:,.2f}"
