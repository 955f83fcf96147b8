"""The index finds what a plain look through all texts finds, in the same order."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.page.index import Index

TEXTS = ["Anna Marsh", "Bo", "ΝΊΚΟΣ", "Straße", "anna", "", "two\nlines", "a\x1fb", "Annabel"]


def numbered(texts: list[str]) -> Index:
    return Index(enumerate(texts))


def test_any_part_is_found_whatever_its_case() -> None:
    index = numbered(TEXTS)
    assert len(index) == len(TEXTS)
    assert list(index.find("ANNA", 9)) == [(0, "Anna Marsh"), (4, "anna"), (8, "Annabel")]
    assert list(index.find("ANNA", 2)) == [(0, "Anna Marsh"), (4, "anna")]
    assert list(index.find("νίκος", 9)) == [(2, "ΝΊΚΟΣ")]
    assert list(index.find("STRASSE", 9)) == [(3, "Straße")]
    assert list(index.find("e\nl", 9)) == []
    assert list(index.find("o\nl", 9)) == [(6, "two\nlines")]
    assert list(index.find("b", 9)) == [(1, "Bo"), (7, "a b"), (8, "Annabel")]


def test_whole_texts_are_found_apart() -> None:
    index = numbered(TEXTS)
    assert list(index.whole("Anna", 9)) == [(4, "anna")]
    assert list(index.whole("anna marsh", 9)) == [(0, "Anna Marsh")]
    assert list(index.whole("ann", 9)) == []
    assert list(numbered(["x", "x", "x"]).whole("X", 2)) == [(0, "x"), (1, "x")]


def test_nothing_is_found_for_nothing_and_never_across_texts() -> None:
    index = numbered(TEXTS)
    for sought in ("", "\x1f", "\x1f\x1f", "Marsh\x1fBo", "marsh\x1fbo\x1f"):
        assert list(index.find(sought, 9)) == []
        assert list(index.whole(sought, 9)) == []
    assert list(numbered([]).find("a", 9)) == []


def test_a_number_is_given_once() -> None:
    index = Index([(7, "Guest one"), (7, "Guest, again"), (9, "guest")])
    assert list(index.find("guest", 9)) == [(7, "Guest one"), (9, "guest")]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.text("aAbßİé\x1f ", max_size=6), max_size=12), st.text("aAbßİé ", min_size=1, max_size=3))
def test_as_a_plain_look_finds_them(texts: list[str], sought: str) -> None:
    clean = [text.replace("\x1f", " ") for text in texts]
    small = sought.casefold()
    found = [(nth, text) for nth, text in enumerate(clean) if small in text.casefold()]
    assert list(numbered(texts).find(sought, len(texts) + 1)) == found
    whole = [(nth, text) for nth, text in enumerate(clean) if small == text.casefold()]
    assert list(numbered(texts).whole(sought, len(texts) + 1)) == whole
