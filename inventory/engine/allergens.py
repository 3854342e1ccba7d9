"""Allergens: the most cautious word over lines and lots.

*Contains* outweighs *may contain*, that outweighs *not stated*, and only where everything is
stated to be free of it is the whole *free*. What nobody has stated never reads as free.

Sources of the lists: FALCPA 2004 and the FASTER Act 2021 (nine); Regulation (EU) 1169/2011,
Annex II (fourteen). Local code and the licensed person in charge decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum


class Word(StrEnum):
    """From the most cautious to the least."""

    CONTAINS = "contains"
    MAY_CONTAIN = "may"
    NOT_STATED = "not_stated"
    FREE = "free"


MOST_CAUTIOUS_FIRST = tuple(Word)

US9 = (
    "milk",
    "eggs",
    "fish",
    "crustacean shellfish",
    "tree nuts",
    "peanuts",
    "wheat",
    "soybeans",
    "sesame",
)
EU14 = (
    "cereals containing gluten",
    "crustaceans",
    "eggs",
    "fish",
    "peanuts",
    "soybeans",
    "milk",
    "nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
)
LISTS: Mapping[str, tuple[str, ...]] = {"us9": US9, "eu14": EU14}

# What people type for what a list calls otherwise. A word of one list counts on the other
# where it names the same food or a kind of it.
_KINDS_OF_NUT = "almond hazelnut walnut cashew pecan pistachio macadamia"
_NUTS = (
    *(f"{kind}{ending}" for kind in _KINDS_OF_NUT.split() for ending in ("", "s")),
    *("brazil nut", "brazil nuts"),
)
_BOTH = {
    "egg": "eggs",
    "peanut": "peanuts",
    "soy": "soybeans",
    "soya": "soybeans",
    "soybean": "soybeans",
    "dairy": "milk",
    "lactose": "milk",
    "sesame seeds": "sesame",
}
_SHELLFISH = ("crustacean", "crustaceans", "shellfish", "crustacean shellfish")
_CEREALS = ("wheat", "gluten", "spelt", "khorasan", "rye", "barley", "oats")
_MEANS: Mapping[tuple[str, ...], Mapping[str, str]] = {
    US9: {
        **_BOTH,
        **dict.fromkeys((*_NUTS, "nuts"), "tree nuts"),
        **dict.fromkeys(_SHELLFISH, "crustacean shellfish"),
        **dict.fromkeys(("spelt", "khorasan"), "wheat"),
    },
    EU14: {
        **_BOTH,
        **dict.fromkeys((*_NUTS, "tree nuts"), "nuts"),
        **dict.fromkeys(_SHELLFISH, "crustaceans"),
        **dict.fromkeys(_CEREALS, "cereals containing gluten"),
        "sulfites": "sulphites",
        "sulphur dioxide": "sulphites",
        "mollusks": "molluscs",
    },
}
# Free from one kind says nothing of the whole group; free from the group covers the kind.
_ONE_OF_A_GROUP = frozenset({*_NUTS, "lactose", *_CEREALS} - {"gluten"})

Stated = Mapping[str, Word]


@dataclass(frozen=True, slots=True)
class Said:
    """One allergen. ``because``: whose word that is (keys of what went in, in order);
    ``not_stated_by``: of what went in, whatever nobody has stated it of."""

    allergen: str
    word: Word
    because: tuple[str, ...]
    not_stated_by: tuple[str, ...] = ()

    @property
    def is_free(self) -> bool:
        return self.word is Word.FREE


Card = tuple[Said, ...]


def most_cautious(words: Iterable[Word]) -> Word:
    """Of nothing at all: not stated."""
    return min(words, key=MOST_CAUTIOUS_FIRST.index, default=Word.NOT_STATED)


def allergen_card(
    key: str,
    stated: Mapping[str, Stated],
    made_of: Mapping[str, Iterable[str]],
    listed: tuple[str, ...] = US9,
) -> Card:
    """Every allergen of the list, then others that are stated to be contained or may be.

    ``stated``: per food, what is said of which allergen; ``made_of``: what goes into what is
    made, to any depth. A made food's own *contains* and *may contain* count beside those of its
    lines; its own *free* or silence never outweighs them.
    """
    leaves = _leaves(key, made_of)
    told = {leaf: _told(stated.get(leaf, {}), listed) for leaf in leaves}
    own = {
        made: _told(_warnings(stated.get(made, {})), listed)
        for made in _made(key, made_of)
        if made in stated
    }
    names = [*listed, *_others(listed, [*told.values(), *own.values()])]
    return tuple(_said(name, told, own, name in listed) for name in names)


def contained(card: Card) -> frozenset[str]:
    return frozenset(said.allergen for said in card if said.word is Word.CONTAINS)


def _said(
    allergen: str, told: Mapping[str, Stated], own: Mapping[str, Stated], is_listed: bool
) -> Said:
    silent = Word.NOT_STATED
    words = {leaf: said.get(allergen, silent) for leaf, said in told.items()}
    words |= {made: said[allergen] for made, said in own.items() if allergen in said}
    word = most_cautious(words.values())
    unsaid = tuple(leaf for leaf, one in words.items() if one is silent) if is_listed else ()
    return Said(allergen, word, tuple(leaf for leaf, one in words.items() if one is word), unsaid)


def _told(said: Stated, listed: tuple[str, ...]) -> dict[str, Word]:
    """By the list's own names."""
    means, found = _MEANS.get(listed, {}), dict[str, Word]()
    for typed, word in said.items():
        plain = " ".join(typed.lower().split())
        name = plain if plain in listed else means.get(plain, plain)
        if word is Word.FREE and name != plain and plain in _ONE_OF_A_GROUP:
            continue
        found[name] = most_cautious([word, found.get(name, Word.FREE)])
    return found


def _warnings(said: Stated) -> dict[str, Word]:
    return {name: word for name, word in said.items() if word in (Word.CONTAINS, Word.MAY_CONTAIN)}


def _others(listed: tuple[str, ...], told: Iterable[Stated]) -> list[str]:
    named = {name for said in told for name in _warnings(said)}
    return sorted(named - set(listed))


def _leaves(key: str, made_of: Mapping[str, Iterable[str]]) -> list[str]:
    return [food for food in _walk(key, made_of) if not tuple(made_of.get(food, ()))]


def _made(key: str, made_of: Mapping[str, Iterable[str]]) -> list[str]:
    return [food for food in _walk(key, made_of) if tuple(made_of.get(food, ()))]


def _walk(key: str, made_of: Mapping[str, Iterable[str]]) -> Iterator[str]:
    """``key`` and all that goes into it, each once, in the order of the lines."""
    seen, waiting = set[str](), [key]
    while waiting:
        food = waiting.pop()
        if food in seen:
            continue
        seen.add(food)
        yield food
        waiting.extend(reversed(tuple(made_of.get(food, ()))))
