"""Strip numbers: the house's own five-letter names of lots.

Letters that look or sound like another are left out (C, G, I, O, Q, V, Z). The first 117,504
read like syllables, such as ``KALUM``, so that they are easy to say in a walk-in; then any five
letters follow (2.4 million). Neighbours in time differ in several letters, so a slip of one
letter does not name the lot beside it.
"""

from __future__ import annotations

from functools import cache
from math import gcd

CONSONANTS = "BDFHJKLMNPRSTWXY"
VOWELS = "AEU"
_ANY = "".join(sorted(CONSONANTS + VOWELS))
_LETTERS = {"c": CONSONANTS, "v": VOWELS, "a": _ANY}
_SYLLABLES = ("cvcvc", "vcvcv", "cvccv", "vccvc")
# Words nobody wants to read on a label.
_UNWANTED = frozenset({"RAPED", "RAPER", "RAPES", "PUSSY", "TURDS", "SLUTS", "RUNTS", "BUTTS"})


def strips(first: int, count: int) -> tuple[list[str], int]:
    """``count`` (>= 0) strip numbers from place ``first`` (>= 0) of the sequence on, and the
    place after them. The same places always give the same strips, none comes twice, up to
    2,476,000 in all."""
    found: list[str] = []
    place = first
    while len(found) < count:
        if word := _word(place):
            found.append(word)
        place += 1
    return found, place


def _word(place: int) -> str | None:
    """The strip at a place; None where its turn was earlier, or it is unwanted."""
    for pattern in _SYLLABLES:
        size = _size(pattern)
        if place < size:
            return _wanted(_spelled(pattern, _shuffled(place, size)))
        place -= size
    word = _spelled("aaaaa", _shuffled(place, _size("aaaaa")))
    return None if _shape(word) in _SYLLABLES else _wanted(word)


def _wanted(word: str) -> str | None:
    return None if word in _UNWANTED else word


@cache
def _size(pattern: str) -> int:
    size = 1
    for kind in pattern:
        size *= len(_LETTERS[kind])
    return size


@cache
def _step(size: int) -> int:
    """About the golden section of ``size``, without a divisor in common."""
    step = round(size * 0.618)
    while gcd(step, size) != 1:
        step += 1
    return step


def _shuffled(index: int, size: int) -> int:
    """A permutation of 0 … size - 1 that jumps far at each step."""
    return (index * _step(size) + size // 3) % size


def _spelled(pattern: str, index: int) -> str:
    word = ""
    for kind in pattern:
        index, letter = divmod(index, len(_LETTERS[kind]))
        word += _LETTERS[kind][letter]
    return word


def _shape(word: str) -> str:
    return "".join("v" if letter in VOWELS else "c" for letter in word)
