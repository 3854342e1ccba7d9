"""Items: what is stored of a checked form, what may not change any more, and what a change means
for the rows that rest on it. Steps of a larger act; purchasing makes it whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from inventory.engine.units import ItemMeasures, as_decimal
from inventory.exchange.grammar import Book
from inventory.exchange.store import item_ids, store_item_units, store_items
from inventory.models import Event, Item, ItemUnit, Lot, Sale
from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.selectors.item_facts import as_word, changes_between, digest_of, item_facts
from inventory.selectors.item_uses import UnitUse, joined
from inventory.services.ledger import demand_transaction
from inventory.services.log import note

if TYPE_CHECKING:
    from django.contrib.auth.models import User

_LIVES = ("shelf_life_days", "shelf_life_opened_days", "shelf_life_thawed_days")


@dataclass(frozen=True, slots=True)
class Saved:
    """``said``: what the change means, in sentences."""

    item: Item
    changes: dict[str, list[str]]
    said: tuple[str, ...]


def store_item(
    book: Book,
    *,
    before: ItemMeasures | None,
    after: ItemMeasures,
    uses: Sequence[UnitUse],
    by: User | None,
    at: datetime,
    device: str = "",
) -> Saved:
    """The book's one item with all its units. ``before``: its measures so far, None: a new item;
    ``uses``: rows written in its units. Units the book does not name are taken away. What rests
    on the item was asked before (``rests_on``)."""
    demand_transaction()
    (row,) = book["items"]
    known = Item.objects.filter(code=row["code"]).first()
    old = item_facts(known) if known else {}
    store_items(book)
    item = Item.objects.get(code=row["code"])
    kept = [unit["unit"] for unit in book["item_units"]]
    ItemUnit.objects.filter(item=item).exclude(word__in=kept).delete()
    store_item_units(book, item_ids())
    changes = changes_between(old, item_facts(item))
    if changes:
        verb = "change" if known else "add"
        note(verb, f"item:{item.code}", by=by, at=at, changes=changes, device=device)
    said = [*_new_sizes(before, after, uses), *_lots_keep(item, changes if known else {})]
    return Saved(item, changes, tuple(said))


def rests_on(item: Item, unit: str, after: ItemMeasures, uses: Sequence[UnitUse]) -> list[Problem]:
    """What speaks against reading ``item`` in ``unit`` with the measures ``after``: rows that
    would come to mean something else, or nothing."""
    return [*_sold_in(item, unit), *_left_without(after, uses)]


def not_stale(item: Item, as_read: str) -> None:
    """Refused where somebody changed the item since the form was opened."""
    if digest_of(item_facts(item)) == as_read:
        return
    last = Event.objects.filter(subject=f"item:{item.code}").select_related("by").first()
    raise Refused(Problem("stale", _what_happened(item, last), data={"item": item.code}))


def _what_happened(item: Item, last: Event | None) -> str:
    end = "Your figures are kept below; press save again if they should stand."
    if last is None:
        return f"{item} was changed since you opened this page. {end}"
    who = (last.by.get_full_name() or last.by.get_username()) if last.by else "A workbook"
    clock = business().clock
    local = clock.local(int(last.at.timestamp()))
    told = "; ".join(
        f"{name.replace('_', ' ')} {was or 'blank'} -> {now or 'blank'}"
        for name, (was, now) in last.changes.items()
    )
    return f"{who} changed {item} at {local:%H:%M}: {told}. {end}"


def _sold_in(item: Item, unit: str) -> Iterator[Problem]:
    """Sales are counted in the item's own unit, and keep no unit of their own."""
    if unit == item.unit:
        return
    if sales := Sale.objects.filter(item=item).count():
        yield Problem(
            "unit_rested_on",
            f"{item} was sold in {item.unit} ({sales:,} {'row' if sales == 1 else 'rows'} of "
            f"sales), and those figures would come to mean {unit}. Keep {item.unit}; a "
            "word for another size goes with its own units.",
            "unit",
            {"sales": sales},
        )


def _left_without(after: ItemMeasures, uses: Sequence[UnitUse]) -> Iterator[Problem]:
    """Rows written in a unit that would have no size any more."""
    for unit in sorted({use.unit for use in uses} - {"case"}):
        try:
            after.per(unit)
        except Refused as refused:
            resting = [use for use in uses if use.unit == unit]
            (problem,) = refused.problems
            yield Problem(
                "unit_rested_on",
                f"{_rows(resting)} of {after.name} {_verb(resting, 'is', 'are')} written in "
                f"'{unit}', which would have no size any more. Keep what gives it one, or write "
                "them in another unit first.",
                str(problem.data.get("needs", "unit")),
                {"unit": unit},
            )


def _new_sizes(
    before: ItemMeasures | None, after: ItemMeasures, uses: Sequence[UnitUse]
) -> Iterator[str]:
    for unit in sorted({use.unit for use in uses} - {"case"}) if before else ():
        assert before is not None
        was, now = _size(before, unit), _size(after, unit)
        if was is not None and now is not None and was != now and before.base == after.base:
            resting = [use for use in uses if use.unit == unit]
            yield (
                f"1 {unit} was {_figure(was)} {after.base} and is now {_figure(now)}: "
                f"{_rows(resting)} {_verb(resting, 'means', 'mean')} that from now on."
            )


def _rows(uses: Sequence[UnitUse]) -> str:
    return joined([use.words for use in uses])


def _verb(uses: Sequence[UnitUse], one: str, many: str) -> str:
    return one if sum(use.rows for use in uses) == 1 else many


def _size(measures: ItemMeasures, unit: str) -> Fraction | None:
    try:
        return measures.per(unit)
    except Refused:
        return None


def _figure(value: Fraction) -> str:
    return as_word(as_decimal(value))


def _lots_keep(item: Item, changes: dict[str, list[str]]) -> Iterator[str]:
    """Nobody lengthens, or shortens, the use-by of what is there by changing an item."""
    if not any(life in changes for life in _LIVES):
        return
    there = Lot.objects.filter(item=item, on_hand__qty__gt=0).distinct().count()
    if there:
        lots = "The lot on hand keeps its use-by" if there == 1 else _lots(there)
        yield f"{lots}; the new life counts for what comes, is opened or is thawed from now on."


def _lots(count: int) -> str:
    return f"The {count} lots on hand keep their use-by"
