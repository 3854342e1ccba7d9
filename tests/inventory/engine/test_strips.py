from __future__ import annotations

from inventory.engine.strips import CONSONANTS, VOWELS, strips


def test_no_letter_looks_like_another() -> None:
    used = {letter for word in strips(0, 3000)[0] for letter in word}
    assert not used & set("CGIOQVZ")
    assert used == set(CONSONANTS + VOWELS)


def test_no_strip_comes_twice() -> None:
    words, _ = strips(0, 150_000)
    assert len(set(words)) == 150_000


def test_the_sequence_goes_on_where_it_stopped() -> None:
    whole, _ = strips(0, 50)
    first, place = strips(0, 20)
    assert first + strips(place, 30)[0] == whole


def test_the_same_places_give_the_same_strips() -> None:
    """Labels already printed must never come again: the sequence is fixed for good."""
    assert strips(0, 6)[0] == ["BABEK", "YERAY", "XAKAP", "WUYUF", "TERUT", "SAKUL"]
    assert strips(117_504, 3)[0] == ["JJJJJ", "SELBY", "BBNUN"]


def test_early_strips_read_like_syllables() -> None:
    for word in strips(0, 1000)[0]:
        assert [letter in VOWELS for letter in word] == [False, True, False, True, False]


def test_neighbours_in_time_differ_in_two_letters_or_more() -> None:
    words, _ = strips(0, 5000)
    pairs = zip(words, words[1:], strict=False)
    assert min(sum(a != b for a, b in zip(*pair, strict=True)) for pair in pairs) >= 2


def test_none_asked_none_given() -> None:
    assert strips(7, 0) == ([], 7)
