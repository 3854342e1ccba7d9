"""Strips for lots, ready to print: words that can be read without the code, and the code."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.engine.data_matrix import Matrix, data_matrix
from inventory.engine.gs1 import full_gtin, label_data
from inventory.models import Lot
from inventory.roles import Viewer
from inventory.selectors.allergens import lot_allergens, sentence
from purchasing import words
from purchasing.models import Offer, ReceiptLine
from purchasing.selectors.deadlines import within
from purchasing.selectors.put_away import day_with_year

MOST_LABELS = 200


@dataclass(frozen=True, slots=True)
class Size:
    """A roll of label tape, in millimetres."""

    key: str
    width: int
    height: int

    @property
    def words(self) -> str:
        return f"{self.width} × {self.height} mm"


# Rolls in common use (common practice, no source).
SIZES = (
    Size("62x29", 62, 29),
    Size("50x30", 50, 30),
    Size("100x50", 100, 50),
)


@dataclass(frozen=True, slots=True)
class Label:
    """``code_says``: what the code holds, in brackets or as an address."""

    strip: str
    item: str
    use_by: str
    received: str
    state: str
    supplier_lot: str
    allergens: str
    matrix: Matrix
    code_says: str
    is_gs1: bool


@dataclass(frozen=True, slots=True)
class Labels:
    size: Size
    sizes: Sequence[Size]
    labels: tuple[Label, ...]
    missing: tuple[str, ...]
    copies: int = 1


def labels(strips: Iterable[str], viewer: Viewer, base: str, size: str, copies: int = 1) -> Labels:
    """In the order asked for. ``base``: the site's address, put before a lot's. Strips that do
    not exist, or lie at places this person does not see, are missing. Queries do not grow."""
    asked = list(dict.fromkeys(strip.strip().upper() for strip in strips if strip.strip()))
    rows = Lot.objects.filter(strip__in=asked[:MOST_LABELS]).select_related("item")
    seen = within(rows, viewer, field="movements__location").distinct()
    found = {lot.strip: lot for lot in seen}
    gtins = _gtins(found.values())
    cards = lot_allergens(list(found.values())) if found else {}
    return Labels(
        size=next((one for one in SIZES if one.key == size), SIZES[0]),
        sizes=SIZES,
        labels=tuple(
            _label(found[strip], gtins.get(strip, ""), sentence(cards[strip]), base)
            for strip in asked
            if strip in found
            for _ in range(copies)
        ),
        missing=tuple(strip for strip in asked if strip not in found),
        copies=copies,
    )


def _label(lot: Lot, gtin: str, allergens: str, base: str) -> Label:
    says = f"{base}/lots/{lot.strip}/"
    if gtin:
        says = label_data(gtin=gtin, strip=lot.strip, use_by=lot.use_by)
    return Label(
        strip=lot.strip,
        item=lot.item.name,
        use_by=day_with_year(lot.use_by, lot.received_on),
        received=words.day_name(lot.received_on) if lot.received_on else "",
        state=lot.get_state_display(),
        supplier_lot=lot.supplier_lot,
        allergens=allergens,
        matrix=data_matrix(says),
        code_says=says,
        is_gs1=bool(gtin),
    )


def _gtins(lots: Iterable[Lot]) -> dict[str, str]:
    """By strip: the GTIN of the case a lot came in, where it came in one."""
    rows = ReceiptLine.objects.filter(lot__in=list(lots), order_line__isnull=False)
    came = rows.values_list("lot__strip", "order_line__offer_id")
    offers = dict(Offer.objects.exclude(gtin="").values_list("pk", "gtin"))
    return {strip: number for strip, pk in came if (number := full_gtin(offers.get(pk or 0, "")))}
