"""Items: the list, one item, and its form."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.exchange.grammar import printable
from inventory.models import AllergenWord, Item
from inventory.problems import Problem
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.house_units import thinks_in_pounds
from inventory.selectors.item_facts import as_word
from inventory.services.items import Saved
from inventory.web.posting import STALE, Posted, all_at_once, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.form_words import fact_labels
from purchasing.selectors import item_pages
from purchasing.selectors.item_list import items_page
from purchasing.selectors.item_pages import ItemFormFacts
from purchasing.services.items import (
    TypedItem,
    add_item,
    bring_item_back,
    change_item,
    retire_item,
)

# The form's inputs that are columns of the workbook's items sheet.
TEXTS = (
    "name",
    "kind",
    "unit",
    "storage",
    "shelf_life_days",
    "shelf_life_opened_days",
    "shelf_life_thawed_days",
    "thaw_hours",
    "grams_per_ml",
    "grams_per_each",
    "sale_price",
    "on_return",
    "use_per",
    "litres_per_unit",
    "walk_order",
)
FLAGS = ("tcs", "ready_to_eat", "traceability_listed", "may_freeze", "can_be_left_off")
UNIT_INPUTS = ("unit", "qty", "of_unit")
_COLUMN_OF = {"contains": "allergens", "may": "allergens_may", "free": "allergens_free"}
SPARE_ALLERGENS = 2
SPARE_UNITS = 3
MOST_ROWS = 60


@require_safe
@page()
def items(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    shown = items_page(printable(request.GET.get("find", "")), viewer)
    return render(request, "purchasing/items.html", context(page=shown))


@require_safe
@page()
def item(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    shown = item_pages.item_page(code, viewer, now())
    return render(request, "purchasing/item.html", context(page=shown))


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.ITEMS)
def item_change(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    facts = item_pages.item_form(code, viewer)
    if request.method != "POST":
        return _form(request, facts, _stored(facts.item), facts.as_read)
    as_read = request.POST.get("as_read", "")

    def act() -> Mapping[str, Any]:
        hand = {"viewer": viewer, "by": user_of(request), "at": now()}

        def store(typed: TypedItem) -> Saved:
            return change_item(code, typed, as_read=as_read, **hand)  # type: ignore[arg-type]

        return {"said": _what_was_done(_stored_whole(request.POST, facts, store))}

    posted = post_once(request, f"change_item:{code}", act)
    if posted.is_done:
        say(request, str(posted.answer["said"]))
        return redirect("item", code)
    stale = any(problem.code == STALE for problem in posted.problems)
    # after a stale form the next press knows what it replaces
    return _form(request, facts, request.POST.dict(), facts.as_read if stale else as_read, posted)


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.ITEMS)
def item_add(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    if request.method != "POST":
        return _form(request, None, {}, "")

    def act() -> Mapping[str, Any]:
        def store(typed: TypedItem) -> Saved:
            return add_item(typed, viewer=viewer, by=user_of(request), at=now())

        saved = _stored_whole(request.POST, None, store)
        return {"code": saved.item.code, "said": _("%(item)s is added.") % {"item": saved.item}}

    posted = post_once(request, "add_item", act)
    if posted.is_done:
        say(request, str(posted.answer["said"]))
        return redirect("item", posted.answer["code"])
    return _form(request, None, request.POST.dict(), "", posted)


@require_POST
@page(Act.ITEMS)
def item_retire(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    """Retires the item, or brings it back."""
    back = bool(request.POST.get("back"))

    def act() -> Mapping[str, Any]:
        do = bring_item_back if back else retire_item
        return {"name": str(do(code, viewer=viewer, by=user_of(request), at=now()))}

    posted = post_once(request, f"retire_item:{code}", act)
    if posted.is_done:
        done = _("%(item)s is back.") if back else _("%(item)s is retired: no list shows it now.")
        say(request, done % {"item": posted.answer["name"]})
        return redirect("item", code)
    facts = item_pages.item_form(code, viewer)
    return _form(request, facts, _stored(facts.item), facts.as_read, posted)


def _what_was_done(saved: Saved) -> str:
    if not saved.changes:
        return _("Nothing was changed.")
    return " ".join([_("%(item)s is changed.") % {"item": saved.item}, *saved.said])


def _stored_whole(
    post: QueryDict, facts: ItemFormFacts | None, store: Callable[[TypedItem], Saved]
) -> Saved:
    """Refused, with all else that is wrong, while a word was typed and nothing said of it: it
    would be lost."""
    unsaid = _unsaid(post, len(_allergen_names(facts)))
    return all_at_once(unsaid, lambda: store(typed_item(post)), are_last=True)


def _unsaid(post: QueryDict, first_spare: int) -> list[Problem]:
    words = _("Say of %(allergen)s whether it contains it, may contain it or is free of it.")
    return [
        Problem("allergen_unsaid", words % {"allergen": word}, f"allergen-{index}")
        for index in range(first_spare, MOST_ROWS)
        if (word := post.get(f"allergen-{index}", "").strip())
        and post.get(f"says-{index}", "") not in _COLUMN_OF
    ]


def typed_item(post: QueryDict) -> TypedItem:
    """The form as the workbook would have it."""
    facts = {name: post.get(name, "") for name in ("code", *TEXTS)}
    facts |= {name: "yes" if post.get(name) else "no" for name in FLAGS}
    said: dict[str, list[str]] = defaultdict(list)
    for index in range(MOST_ROWS):
        says = post.get(f"says-{index}", "")
        word = post.get(f"allergen-{index}", "").strip()
        if word and says in _COLUMN_OF:
            said[_COLUMN_OF[says]].append(word)
    facts |= {column: ";".join(said[column]) for column in _COLUMN_OF.values()}
    return TypedItem(facts, _typed_units(post))


def _typed_units(post: QueryDict) -> list[tuple[int, dict[str, str]]]:
    """Rows that are not blank, each with its place on the form."""
    rows = [
        (index, {name: post.get(f"{name}-{index}", "").strip() for name in UNIT_INPUTS})
        for index in range(MOST_ROWS)
    ]
    return [(index, row) for index, row in rows if any(row.values())]


def _stored(item: Item) -> dict[str, str]:
    """The form's inputs as they are."""
    typed = {name: as_word(getattr(item, name)) for name in ("code", *TEXTS, *FLAGS)}
    for index, row in enumerate(item.units.all()):
        named = {"unit": row.word, "qty": as_word(row.qty), "of_unit": row.of_unit}
        typed |= {f"{name}-{index}": value for name, value in named.items()}
    return typed


@dataclass(frozen=True, slots=True)
class AllergenRow:
    index: int
    name: str
    says: str
    is_spare: bool

    @property
    def index_text(self) -> str:
        return str(self.index)


@dataclass(frozen=True, slots=True)
class UnitRow:
    index: int
    word: str
    qty: str
    of_unit: str
    uses: str

    @property
    def index_text(self) -> str:
        return str(self.index)


def _form(
    request: HttpRequest,
    facts: ItemFormFacts | None,
    typed: Mapping[str, str],
    as_read: str,
    posted: Posted | None = None,
) -> HttpResponse:
    labels = {name: capfirst(label) for name, label in fact_labels().items()}
    shown = {
        "item": facts.item if facts else None,
        "as_read": as_read,
        "allergens": _allergen_rows(facts, typed, is_posted="as_read" in typed),
        "says": [(word.value, _(word.label)) for word in AllergenWord.Says],
        "units": _unit_rows(facts, typed),
        "kinds": [("", _("choose")), *_words(Item.Kind)],
        "storages": [("", _("not stated")), *_words(Item.Storage)],
        "returns": [("", _("not stated")), *_words(Item.OnReturn)],
        "use_pers": [("", _("portion (usual)")), *_words(Item.UsePer)],
        "flags": [(name, labels[name], bool(_is_on(typed, name))) for name in FLAGS],
        "labels": labels,
        "hints": _hints(),
    }
    told = context(page=shown, typed=typed, problems=posted.problems if posted else ())
    status = posted.status if posted else 200
    return render(request, "purchasing/item_form.html", told, status=status)


def _words(choices: Any) -> list[tuple[str, str]]:
    return [(one.value, _(one.label)) for one in choices]


def _is_on(typed: Mapping[str, str], name: str) -> bool:
    return typed.get(name, "") not in ("", "no")


def _hints() -> dict[str, str]:
    """Units of the house's own system beside the figures that are kept in grams and litres."""
    if thinks_in_pounds(business()):
        return {
            "unit": _("lb, gal, each, or a word of its own below"),
            "weight": _("1 oz is 28.35 g"),
            "room": _("1 gal is 3.785 litres"),
        }
    return {"unit": _("kg, l, each, or a word of its own below")}


def _allergen_rows(
    facts: ItemFormFacts | None, typed: Mapping[str, str], *, is_posted: bool
) -> list[AllergenRow]:
    """Every allergen of the house's list, others that are stated, and rows for more."""
    said, names = _said(facts), _allergen_names(facts)
    rows = []
    for index in range(len(names) + SPARE_ALLERGENS):
        spare = index >= len(names)
        name = typed.get(f"allergen-{index}", "") if spare else names[index]
        says = typed.get(f"says-{index}", "") if is_posted else said.get(name, "")
        rows.append(AllergenRow(index, name, says, spare))
    return rows


def _said(facts: ItemFormFacts | None) -> dict[str, str]:
    return dict(facts.item.allergen_words.values_list("allergen", "says")) if facts else {}


def _allergen_names(facts: ItemFormFacts | None) -> list[str]:
    """Those that have a row of their own."""
    listed = facts.listed if facts else item_pages.listed_allergens()
    return [*listed, *sorted(set(_said(facts)) - set(listed))]


def _unit_rows(facts: ItemFormFacts | None, typed: Mapping[str, str]) -> list[UnitRow]:
    count = len([name for name in typed if name.startswith("unit-")])
    stored = facts.item.units.count() if facts else 0
    rows = []
    for index in range(min(MOST_ROWS, max(count, stored + SPARE_UNITS))):
        word, qty, of_unit = (typed.get(f"{name}-{index}", "") for name in UNIT_INPUTS)
        uses = facts.uses.get(word, "") if facts and word else ""
        rows.append(UnitRow(index, word, qty, of_unit, uses))
    return rows
