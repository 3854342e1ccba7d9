"""Adding and changing an item: the kitchen's facts, and what purchasing rests on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from inventory.engine.units import ItemMeasures
from inventory.exchange.grammar import Book
from inventory.models import Item
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.item_uses import joined
from inventory.selectors.measures import CaseSize, item_measures
from inventory.services import items as kitchen
from inventory.services.acts import one_act
from inventory.services.items import Saved
from inventory.services.log import note
from inventory.services.turns import one_at_a_time
from purchasing.exchange.forms import STAND_IN, read_form
from purchasing.models import PurchaseOrder
from purchasing.selectors.item_uses import holds_on_to, unit_uses
from purchasing.selectors.supply import case_sizes
from purchasing.services.due import ask_for_fresh_drafts
from purchasing.services.inbound import tell_kitchen

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class TypedItem:
    """A form as typed: ``facts`` by the workbook's columns, ``units`` the rows that are not
    blank, of word, size and unit of the size, each with its place on the form."""

    facts: Mapping[str, str]
    units: Sequence[tuple[int, Mapping[str, str]]]


@one_act
def change_item(
    code: str, typed: TypedItem, *, as_read: str, viewer: Viewer, by: User | None, at: datetime
) -> Saved:
    """``as_read``: the digest of what the form was filled with."""
    one_at_a_time(f"item:{code}")  # of two who opened the same form one is told
    item = _item_to_change(code, viewer)
    kitchen.not_stale(item, as_read)
    sizes = case_sizes()
    before, uses = item_measures(sizes).of(code), unit_uses(item)
    book, problems = _read(code, typed)
    if book and not _are_units_wrong(problems):
        (row,) = book["items"]
        after = replace(_measures(book, sizes), name=item.name)  # a new name may be at fault
        problems += kitchen.rests_on(item, row["unit"], after, uses)
    if problems or book is None:
        raise Refused(problems)
    saved = kitchen.store_item(
        book,
        before=before,
        after=_measures(book, sizes),
        uses=uses,
        by=by,
        at=at,
        device=viewer.device,
    )
    if saved.changes:
        _tell_everybody(f"item {code} changed", at)
    return saved


@one_act
def add_item(typed: TypedItem, *, viewer: Viewer, by: User | None, at: datetime) -> Saved:
    """Refused where the code is taken, by a retired item too."""
    _may_change_items(viewer)
    one_at_a_time("item:new")
    code = typed.facts.get("code", "").strip()
    taken = Item.objects.filter(code=code).first()
    # of the rest nothing is asked that concerns the other item
    book, problems = _read(STAND_IN if taken else code, typed)
    if taken:
        words = f"Code: '{code}' is {taken}; choose another code."
        others = [problem for problem in problems if problem.field != "code"]
        problems = [Problem("code_taken", words, "code"), *others]
    if problems or book is None:
        raise Refused(problems)
    after = _measures(book, case_sizes())
    saved = kitchen.store_item(
        book, before=None, after=after, uses=(), by=by, at=at, device=viewer.device
    )
    _tell_everybody(f"item {code} added", at)
    return saved


@one_act
def retire_item(code: str, *, viewer: Viewer, by: User | None, at: datetime) -> Item:
    """Out of every list from today on; its code stays taken. Refused while anything needs it."""
    item = _item_to_change(code, viewer)
    if item.retired_on is not None:
        return item  # the press came twice
    today = business().day_of(at)
    if needed := holds_on_to(item, today):
        words = f"{item} is still needed: {joined(needed)}. Clear these first."
        raise Refused(Problem("item_needed", words, data={"needed": needed}))
    item.retired_on = today
    item.save(update_fields=["retired_on"])
    note("retire", f"item:{code}", by=by, at=at, device=viewer.device)
    return item


@one_act
def bring_item_back(code: str, *, viewer: Viewer, by: User | None, at: datetime) -> Item:
    item = _item_to_change(code, viewer)
    if item.retired_on is not None:
        item.retired_on = None
        item.save(update_fields=["retired_on"])
        note("bring_back", f"item:{code}", by=by, at=at, device=viewer.device)
    return item


def _item_to_change(code: str, viewer: Viewer) -> Item:
    _may_change_items(viewer)
    item = Item.objects.filter(code=code).first()
    if item is None:
        raise NotThere
    return item


def _may_change_items(viewer: Viewer) -> None:
    if not viewer.may_everywhere(Act.ITEMS):
        raise Refused(
            Problem(
                "not_allowed",
                "Items are shared by every location: a buyer or manager of the whole business "
                "changes them.",
            )
        )


def _read(code: str, typed: TypedItem) -> tuple[Book | None, list[Problem]]:
    def field(sheet: str, row: int, column: str) -> str:
        return column if sheet == "items" else f"{column}-{typed.units[row][0]}"

    units = [{"item": code, **row} for _, row in typed.units]
    rows = {"items": [{**typed.facts, "code": code}], "item_units": units}
    book, problems = read_form(rows, field)
    words = {str(place): row["unit"].strip() for place, row in typed.units}
    # the form has no input for whose unit it is
    return book, [_named(one, words) for one in problems if not one.field.startswith("item-")]


def _are_units_wrong(problems: Sequence[Problem]) -> bool:
    fields = {problem.field.partition("-")[0] for problem in problems}
    return bool(fields & {"unit", "qty", "of_unit", "grams_per_ml", "grams_per_each"})


def _named(problem: Problem, words: Mapping[str, str]) -> Problem:
    """A problem of a unit of its own says of which."""
    _column, _, place = problem.field.rpartition("-")
    word = words.get(place)
    return replace(problem, message=f"{word}. {problem.message}") if word else problem


def _measures(book: Book, sizes: Mapping[str, CaseSize]) -> ItemMeasures:
    """The item's units when the form is stored: those it names, and the size of a case."""
    (row,) = book["items"]
    own = {unit["unit"]: (Fraction(unit["qty"]), unit["of_unit"]) for unit in book["item_units"]}
    if row["code"] in sizes:
        qty, unit = sizes[row["code"]]
        own = {"case": (Fraction(qty), unit), **own}
    measures = ItemMeasures(row["name"], row["unit"], own=own)
    return replace(
        measures,
        grams_per_ml=_fraction(row["grams_per_ml"]),
        grams_per_each=_fraction(row["grams_per_each"]),
    )


def _fraction(value: object) -> Fraction | None:
    return None if value is None else Fraction(str(value))


def _tell_everybody(why: str, at: datetime) -> None:
    """What is coming has a use-by from the item's life, and drafts rest on units and lives."""
    tell_kitchen(PurchaseOrder.objects.on_order())
    ask_for_fresh_drafts(at=at, why=why)
