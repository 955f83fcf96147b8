"""What is spelled character by character is what HarfBuzz makes of it; what a font's rules may touch is not spelled."""

from __future__ import annotations

import random
from dataclasses import fields
from itertools import product
from struct import pack

import pytest

from vdp.job.faces import builtin_faces
from vdp.marks import Glyphs, Stretch
from vdp.text import Faces
from vdp.text.rules import Changed, unruly
from vdp.text.shape import Run, Shaper
from vdp.text.spell import Orderly, Speller, letters_of, orderly

#: Faces of Latin letters; the Chinese, Japanese and Korean one has rules for all of them and spells nothing.
SPELLED = [key for key in builtin_faces() if key != "cjk"]
FACES = Faces(builtin_faces())
LANGUAGES = ("en", "tr", "ca", "nl", "ro", "ar", "und")


@pytest.fixture(scope="module")
def shaper() -> Shaper:
    return Shaper(FACES)


def parts(glyphs: Stretch) -> tuple[object, ...]:
    """All that there is to a run: it is compared by identity otherwise."""
    return tuple(getattr(glyphs, field.name) for field in fields(Glyphs))


@pytest.mark.parametrize("face", SPELLED)
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_spelled_word_is_the_shaped_word(shaper: Shaper, face: str, language: str) -> None:
    speller = shaper.speller(face, "Latn", language)
    characters = "".join(sorted(orderly(FACES.face(face)).letters & letters_of("Latn")))
    assert set("VSX0123456789ABC ") <= set(characters)
    chance = random.Random(f"{face} {language}")
    words = ["".join(chance.choices(characters, k=chance.randint(1, 12))) for _ in range(150)]
    words += ["".join(triple) for triple in product("AVTLjl1.", repeat=3) if set(triple) <= set(characters)]
    spelled = 0
    for word in words:
        glyphs = speller.spell(word)
        if glyphs is not None:
            spelled += 1
            assert parts(glyphs) == parts(shaper.shape_whole(Run(word, face, False, "Latn", language))), word
    assert spelled > len(words) * 0.9


@pytest.mark.parametrize(
    ("face", "text"),
    [
        ("sans", "office"),  # a ligature
        ("sans", "Ţara"),  # a letter of its own in Romanian
        ("sans", "na\u0308h"),  # a mark to place
        ("sans", "Жук"),
        ("sans", ""),
        ("cjk", "VS1"),
    ],
)
def test_what_rules_touch_is_left_to_harfbuzz(shaper: Shaper, face: str, text: str) -> None:
    assert shaper.speller(face, "Latn", "ro").spell(text) is None
    if text:
        assert shaper.shape_anew(Run(text, face, False, "Latn", "ro")).text == text


def test_other_directions_and_scripts_are_not_spelled(shaper: Shaper) -> None:
    for run in (Run("12", "sans", True, "Latn", "ar"), Run("12", "arabic", False, "Arab", "ar")):
        assert parts(shaper.shape_anew(run)) == parts(shaper.shape_whole(run))


# A table of one feature and one lookup, by hand (ISO/IEC 14496-22): header, no scripts, the feature, the lookup.
def table(tag: bytes, kind: int, subtable: bytes, flags: int = 0) -> bytes:
    features = pack(">H4sH", 1, tag, 8) + pack(">3H", 0, 1, 0)
    lookups = pack(">2H", 1, 4) + pack(">4H", kind, flags, 1, 8) + subtable
    return pack(">5H", 1, 0, 0, 10, 10 + len(features)) + features + lookups


def coverage(*glyphs: int) -> bytes:
    return pack(f">2H{len(glyphs)}H", 1, len(glyphs), *glyphs)


def told(changed: Changed) -> set[object]:
    return {*changed.anywhere, *changed.pairs}


ASKED = frozenset({1, 2, 3})
#: Glyph 2 becomes the one after it.
SINGLE = pack(">HHh", 1, 6, 1) + coverage(2, 9)


def kerning(first: int, second: int) -> bytes:
    return pack(">5H", 1, 10, first, second, 0) + coverage(1)


def ligature(*rest: int) -> bytes:
    """Glyph 1 and the rest become glyph 7."""
    found = pack(f">2H{len(rest)}H", 7, len(rest) + 1, *rest)
    return pack(">4H", 1, 8, 1, 14) + coverage(1) + pack(">2H", 1, 4) + found


@pytest.mark.parametrize(
    ("tag", "data", "found"),
    [
        ("GSUB", b"", set()),
        ("GSUB", table(b"calt", 1, SINGLE), {2}),
        # Off unless asked for.
        ("GSUB", table(b"smcp", 1, SINGLE), set()),
        ("GSUB", table(b"cv07", 1, SINGLE), set()),
        # Behind an extension.
        ("GSUB", table(b"liga", 7, pack(">2HI", 1, 1, 8) + SINGLE), {2}),
        ("GSUB", table(b"liga", 4, ligature(2, 3)), {(1, 2)}),
        ("GSUB", table(b"liga", 4, ligature()), {1}),
        # Base glyphs between its parts are passed over.
        ("GSUB", table(b"liga", 4, ligature(2, 3), flags=2), {1}),
        # A part of it is not in the text.
        ("GSUB", table(b"liga", 4, ligature(2, 9)), set()),
        # Kerning of the first glyph's advance by the second, and all that is more.
        ("GPOS", table(b"kern", 2, kerning(4, 0)), set()),
        ("GPOS", table(b"kern", 2, kerning(4, 4)), {1}),
        ("GPOS", table(b"kern", 2, kerning(5, 0)), {1}),
        ("GPOS", table(b"kern", 2, kerning(4, 0), flags=2), {1}),
        ("GPOS", table(b"dist", 1, pack(">3H", 1, 6, 4) + coverage(3)), {3}),
    ],
)
def test_rules_are_read(tag: str, data: bytes, found: set[int]) -> None:
    assert told(unruly(data, tag, ASKED)) == found


def context(kind: int, subtable: bytes) -> bytes:
    """A feature with a context that calls a second lookup, which no feature names: `SINGLE`."""
    features = pack(">H4sH", 1, b"calt", 8) + pack(">3H", 0, 1, 0)
    first = pack(">4H", kind, 0, 1, 8) + subtable
    lookups = pack(">3H", 2, 6, 6 + len(first)) + first + pack(">4H", 1, 0, 1, 8) + SINGLE
    return pack(">5H", 1, 0, 0, 10, 10 + len(features)) + features + lookups


def by_place(*after: int) -> bytes:
    """Format 3 with glyph 2 and what comes after it."""
    return pack(">8H", 3, 0, 1, 18, 1, 24, 1, 0) + pack(">H", 1) + coverage(2) + coverage(*after)


def by_glyph(after: int) -> bytes:
    """Format 1 without a chain: glyph 2, then another; the record calls lookup 1 at the first of them."""
    rule = pack(">2HH2H", 2, 1, after, 0, 1)
    return pack(">4H", 1, 8, 1, 14) + coverage(2) + pack(">2H", 1, 4) + rule


def by_glyph_in_chain(after: int) -> bytes:
    rule = pack(">H", 0) + pack(">H", 1) + pack(">2H", 1, after) + pack(">H2H", 1, 0, 1)
    return pack(">4H", 1, 8, 1, 14) + coverage(2) + pack(">2H", 1, 4) + rule


def classes(*pairs: tuple[int, int]) -> bytes:
    """A class definition of format 2: (glyph, class)."""
    return pack(">2H", 2, len(pairs)) + b"".join(pack(">3H", glyph, glyph, number) for glyph, number in pairs)


def by_class(first: int, after: int, *defined: tuple[int, int]) -> bytes:
    """Format 2 without a chain: a glyph of class 0, then one of class `after`; the record calls lookup 1."""
    rule = pack(">2H", 1, 4) + pack(">2HH2H", 2, 1, after, 0, 1)
    begun = coverage(first)
    return pack(">5H", 2, 10, 10 + len(begun) + len(rule), 1, 10 + len(begun)) + begun + rule + classes(*defined)


def by_class_in_chain(after: int) -> bytes:
    """The same with a glyph of class 5 before it; glyph 3 is of class 5 there, and `after` of class 1."""
    before, within = classes((3, 5)), pack(">3HH", 1, after, 1, 1)
    rule = pack(">2H", 1, 4) + pack(">HH", 1, 5) + pack(">2H", 2, 1) + pack(">H", 0) + pack(">H2H", 1, 0, 1)
    start = 14 + len(begun := coverage(2))
    offsets = (14, start, start + len(before), 0, 1, start + len(before) + len(within))
    return pack(">7H", 2, *offsets) + begun + before + within + rule


@pytest.mark.parametrize(
    ("kind", "subtable", "found"),
    [
        (6, by_place(3), {2}),
        (6, by_place(9), set()),
        (5, pack(">3HH2H", 3, 1, 1, 12, 0, 0) + coverage(2), set()),  # calls itself alone
        (5, pack(">3HH2H", 3, 1, 1, 12, 0, 1) + coverage(2), {2}),
        (5, pack(">3HH2H", 3, 1, 1, 12, 0, 1) + coverage(9), set()),
        (5, by_glyph(3), {2}),
        (5, by_glyph(9), set()),
        (6, by_glyph_in_chain(3), {2}),
        (6, by_glyph_in_chain(9), set()),
        (5, by_class(1, 0), {2}),
        (5, by_class(9, 0), set()),
        (5, by_class(1, 1, (3, 1)), {2}),
        (5, by_class(1, 1, (9, 1)), set()),  # no letter that is asked about is of that class
        (5, by_class(1, 0, (1, 1)), set()),  # nor is the first of class 0
        (6, by_class_in_chain(1), {2}),
        (6, by_class_in_chain(9), set()),
    ],
)
def test_contexts_count_where_they_can_come_about(kind: int, subtable: bytes, found: set[int]) -> None:
    assert told(unruly(context(kind, subtable), "GSUB", ASKED)) == found


def test_a_table_that_varies_its_features_is_not_judged() -> None:
    data = table(b"calt", 1, SINGLE)
    varied = pack(">5HI", 1, 1, 0, 14, 14 + 14, 1) + data[10:]
    assert unruly(varied, "GSUB", ASKED) == Changed(ASKED, frozenset())


def shaped(shaper: Shaper, word: str) -> Stretch:
    return shaper.shape_whole(Run(word, "sans", False, "Latn", "en"))


def test_a_width_is_that_of_the_spelled_word(shaper: Shaper) -> None:
    speller = shaper.speller("sans", "Latn", "en")
    for word in ("AVATAR", "V", "To. ", "1237 "):
        spelled = speller.spell(word)
        assert spelled is not None
        assert spelled.width == sum(spelled.advances) == sum(shaped(shaper, word).advances)
    assert speller.spell("") is speller.spell("office") is speller.spell("Жук") is None
    assert speller.spell("fog") is not None  # no ligature begins here


def test_what_a_font_does_not_set_as_its_letters_are_is_not_spelled(shaper: Shaper) -> None:
    """Of a font like the one at hand, but that moves a, widens b where it is alone, makes two c two d, and joins i."""
    usual = shaper.speller("sans", "Latn", "en")
    gid = {char: usual.place(char)[0] for char in "abcdi"}
    asked: list[str] = []

    def ask(text: str) -> tuple[list[int], list[int]] | None:
        asked.append(text)
        if "a" in text:
            return None
        gids = [gid["d"] if "cc" in text else gid[char] for char in text]
        return gids, [int(usual.place(char)[2]) + (char == "b") for char in text]

    joined = frozenset([(gid["i"], gid["i"])])
    speller = Speller(FACES.face("sans"), "Latn", Orderly(frozenset("abcdi"), joined), ask)
    for _ in range(2):
        for text in ("a", "b", "cc", "da", "ii", "x", ""):
            assert speller.spell(text) is None
        for text in ("d", "cd", "id"):
            assert speller.spell(text) is not None
    assert asked.count("a") == asked.count("b") == asked.count("d") == 1
