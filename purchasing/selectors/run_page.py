"""Not ordered: everything a run considered and left out, with its reasons."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.utils.translation import gettext as _

from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from purchasing import words
from purchasing.engine.reorder import COULD_BE_BOUGHT, NO_DELIVERY
from purchasing.models import Offer, ReorderRun, RunLine
from purchasing.selectors.deadlines import within


@dataclass(frozen=True, slots=True)
class LeftOut:
    """``offer_id`` None: it cannot be bought there now. ``cases``: the fewest that are sold."""

    pk: int
    item: str
    item_code: str
    place: str
    place_id: int
    why: str
    chance: str
    offer_id: int | None
    cases: int
    may_order: bool

    @property
    def field(self) -> str:
        return f"cases-{self.pk}"


@dataclass(frozen=True, slots=True)
class FromSupplier:
    supplier: str
    lines: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class RunPage:
    run_id: int
    worked_out: str
    considered: int
    ordered: int
    groups: tuple[FromSupplier, ...]
    newest_id: int | None


def run_page(viewer: Viewer, run_id: int) -> RunPage:
    """A number of queries that does not grow with rows."""
    run = ReorderRun.objects.filter(pk=run_id).first()
    if run is None:
        raise NotThere
    clock = business().clock
    mine = within(RunLine.objects.filter(run=run), viewer)
    considered = mine.count()
    rows = mine.filter(cases=0).select_related("item", "location", "supplier")
    in_order = rows.order_by("supplier__name", "item__name", "location__name", "pk")
    offers = _offers()
    lines = [(row, _left_out(row, offers, viewer)) for row in in_order]
    newest = ReorderRun.objects.order_by("-as_of", "-pk").values_list("pk", flat=True).first()
    return RunPage(
        run_id=run.pk,
        worked_out=f"{clock.local(int(run.as_of.timestamp())):%a %d %b %H:%M}",
        considered=considered,
        ordered=considered - len(lines),
        groups=tuple(_grouped(lines)),
        newest_id=newest if newest != run.pk else None,
    )


def _grouped(lines: list[tuple[RunLine, LeftOut]]) -> Iterator[FromSupplier]:
    for supplier, rows in groupby(lines, key=lambda pair: pair[0].supplier):
        name = supplier.name if supplier else _("no supplier")
        yield FromSupplier(name, tuple(left for _row, left in rows))


def _offers() -> dict[tuple[int | None, int, str], Offer]:
    rows = Offer.objects.filter(retired_on__isnull=True)
    return {(row.supplier_id, row.item_id, row.sku): row for row in rows}


def _left_out(
    row: RunLine, offers: dict[tuple[int | None, int, str], Offer], viewer: Viewer
) -> LeftOut:
    offer = offers.get((row.supplier_id, row.item_id, row.sku))
    is_deliverable = row.reasons.get("reason") != NO_DELIVERY
    least = 1
    if offer is not None:
        least = -(-offer.minimum_cases // offer.case_multiple) * offer.case_multiple
    without = Decimal(str(row.reasons.get("stockout_chance_without") or 0))
    return LeftOut(
        pk=row.pk,
        item=row.item.name,
        item_code=row.item.code,
        place=row.location.name,
        place_id=row.location_id,
        why=_why(row),
        chance=words.chance(without) if without >= words.WORTH_SAYING else "",
        offer_id=offer.pk if offer and is_deliverable else None,
        cases=least,
        may_order=viewer.may(Act.DRAFT, row.location_id),
    )


def _why(row: RunLine) -> str:
    match row.reasons.get("reason"):
        case reason if reason == NO_DELIVERY:
            return _("no delivery within 60 days")
        case reason if reason == COULD_BE_BOUGHT:
            return _("it is made in the house; it could be bought")
    reasons = words.Reasons(row.reasons)
    unit = str(row.reasons.get("unit", row.item.unit))
    there = words.quantity(max(reasons.there_at_delivery, Decimal(0)), unit)
    if reasons.word("basis_used") == "fixed":
        par = words.quantity(reasons.amount("target"), unit)
        return _("par %(par)s, %(there)s there: enough") % {"par": par, "there": there}
    use = words.quantity(reasons.amount("use_in_window"), unit)
    if reasons.amount("use_in_window") <= words.NOTHING:
        return _("no use is expected; %(there)s there") % {"there": there}
    most = words.quantity(reasons.amount("use_in_window_p90"), unit)
    said = {"use": use, "most": most, "there": there}
    return _("use %(use)s, on nine days of ten at most %(most)s; %(there)s there") % said
