"""Shaping: what text each glyph stands for, widths, language forms, default-ignorable characters."""

from __future__ import annotations

import unicodedata

import pytest

from vdp.marks import Stretch
from vdp.text import Faces, Setter
from vdp.text.shape import Run, Shaper, tell_clusters


@pytest.fixture
def shaper(faces: Faces) -> Shaper:
    return Shaper(faces)


def read_back(glyphs: Stretch) -> str:
    """Text in reading order out of the glyphs alone."""
    return "".join(reversed(glyphs.clusters) if glyphs.rtl else glyphs.clusters)


def test_a_run_keeps_its_identity_and_its_widths(shaper: Shaper, faces: Faces) -> None:
    run = Run("AVATAR ", "sans", False, "Latn", "en")
    glyphs = shaper.shape(run)
    assert shaper.shape(run) is glyphs
    assert shaper.shape_anew(run) is not glyphs
    assert glyphs.text == "AVATAR "
    assert glyphs.clusters == tuple("AVATAR ")
    assert glyphs.width == sum(glyphs.advances)
    # Kerned, against the font's own advances.
    assert glyphs.advances != glyphs.natural
    face = faces.face("sans")
    assert list(glyphs.natural) == [face.font.get_glyph_h_advance(gid) for gid in glyphs.gids]
    assert glyphs.width < sum(glyphs.natural)
    plain = shaper.shape(Run("minimum", "sans", False, "Latn", "en"))
    assert plain.advances == plain.natural
    whole = shaper.shape_whole(Run("minimum", "sans", False, "Latn", "en"))
    assert whole.advances is whole.natural  # for the memory of what is kept
    assert plain.offsets == ()


def test_units_are_thousandths_of_an_em_whatever_the_font_has(shaper: Shaper, faces: Faces) -> None:
    glyphs = shaper.shape(Run("א", "hebrew", True, "Hebr", "he"))
    face = faces.face("hebrew")
    assert face.upem == 2048
    assert glyphs.width == face.font.get_glyph_h_advance(glyphs.gids[0]) * 1000 / 2048


@pytest.mark.parametrize(
    ("values", "text", "rtl", "told"),
    [
        ([], "", False, ()),
        ([0, 1], "ab", False, ("a", "b")),
        # A ligature, then two glyphs of one letter.
        ([0, 2, 2], "fix", False, ("fi", "x", "")),
        # The same right to left: the letter's first glyph in reading order is the last on paper.
        ([2, 2, 0], "אבג", True, ("", "ג", "אב")),
        # LAM with ALEF, its three kin, and a ligature with a form of its own that is no LAM ALEF.
        ([0], "لا", True, ("\ufefb",)),
        ([0], "لآ", True, ("\ufef5",)),
        ([0], "لأ", True, ("\ufef7",)),
        ([0], "لإ", True, ("\ufef9",)),
        ([2, 0], "لاب", True, ("ب", "\ufefb")),
        ([0], "الله", True, ("\ufdf2",)),
        # Letter and hamza, and SARA AM, in two glyphs each.
        ([0, 0], "أ", True, ("\u0654", "ا")),
        ([0, 2, 1, 2], "น้ำ", False, ("น", "\u0e4d", "้", "า")),
        # Characters that left no glyph, first, in between and last.
        ([1, 3], "\u200fa\u200db\u200c", False, ("\u200fa\u200d", "b\u200c")),
        # Marks before their letter, as Devanagari's I.
        ([1, 0], "कि", False, ("ि", "क")),
    ],
)
def test_text_of_glyphs(values: list[int], text: str, rtl: bool, told: tuple[str, ...]) -> None:
    assert tell_clusters(text, values, rtl) == told


def test_ligatures_keep_their_letters(shaper: Shaper) -> None:
    glyphs = shaper.shape(Run("क्षत्रिय", "sans", False, "Deva", "hi"))
    assert glyphs.clusters == ("क्ष", "ि", "त्र", "य")


@pytest.mark.parametrize(
    ("text", "language"),
    [("بلاد لا تي أإ الله مُحَمَّدٌ", "ar"), ("می‌خواهم", "fa"), ("שָׁלוֹם", "he"), ("น้ำทำ", "th"), ("Việt Nam’s ﬁ", "vi")],
)
def test_text_reads_back_from_the_glyphs(setter: Setter, text: str, language: str) -> None:
    glyphs = setter.shape(text, "sans", language)
    assert all(glyph.rtl == (language in {"ar", "fa", "he"}) for glyph in glyphs)
    words = [read_back(word) for word in (reversed(glyphs) if glyphs[0].rtl else glyphs)]
    found = unicodedata.normalize("NFKC", "".join(words))
    if language == "th":
        # SARA AM is one character and two glyphs with the tone mark between them.
        found = found.replace("\u0e4d้า", "้\u0e4dา")
    assert found == unicodedata.normalize("NFKC", text)


def test_default_ignorable_and_odd_spaces(setter: Setter, faces: Faces) -> None:
    # Values that CLDR formats carry: U+202F in French numbers, U+200F in Arabic money, U+00A0, U+2019.
    space = faces.face("sans").font.get_nominal_glyph(0x20)
    for char in "\u200d\u200c\u200e\u200f\u00ad\u2060\u2066\ufeff":
        (plain,) = setter.shape("ab", "sans", "en")
        glyphs = setter.shape(f"a{char}b", "sans", "en")
        assert [gid for word in glyphs for gid in word.gids] == list(plain.gids), ascii(char)
        assert sum(word.width for word in glyphs) == plain.width
    for face in ("sans", "mono", "hebrew", "serif-bold"):
        for char in "\u00a0\u202f\u2019":
            glyphs = setter.shape(f"1{char}2", face, "fr")
            assert 0 not in [gid for word in glyphs for gid in word.gids]
            width = sum(word.width for word in glyphs) - sum(word.width for word in setter.shape("12", face, "fr"))
            assert width > 100, (face, ascii(char))
    (no_break,) = setter.shape("1\u202f2", "hebrew", "fr")
    assert no_break.clusters == ("1", "\u202f", "2")
    assert setter.shape("\u200f", "sans", "ar") == ()
    assert space


def test_language_forms(setter: Setter) -> None:
    """Han unification: U+9AA8 is drawn differently for Japan, mainland China and Taiwan; Serbian has
    its own italics, Romanian its comma below (OpenType 'locl')."""

    def gids(text: str, face: str, language: str) -> tuple[int, ...]:
        return tuple(gid for word in setter.shape(text, face, language) for gid in word.gids)

    han = {language: gids("骨", "sans", language) for language in ("ja", "zh-Hans", "zh-Hant", "zh", "zh_TW", "ko")}
    assert len({han["ja"], han["zh-Hans"], han["zh-Hant"]}) == 3
    assert han["zh"] == han["zh-Hans"]
    assert han["zh_TW"] == han["zh-Hant"]
    assert gids("返", "sans", "ko") != gids("返", "sans", "zh-Hant")
    assert gids("бгдпт", "sans-italic", "sr") != gids("бгдпт", "sans-italic", "ru")
    assert gids("ŞşŢţ", "sans", "ro") != gids("ŞşŢţ", "sans", "tr")


def test_kana_is_set_solid(setter: Setter) -> None:
    for char in "アイウ、。「":
        assert [word.width for word in setter.shape(char, "cjk", "ja")] == [1000]
    assert sum(word.width for word in setter.shape("アイウっァー", "cjk", "ja")) == 6000


def test_hyphens(shaper: Shaper) -> None:
    assert shaper.hyphen("sans") == "\u2010"
    assert shaper.hyphen("hebrew") == "-"


def test_no_hyphen_where_a_face_has_none(shaper: Shaper, faces: Faces, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(type(faces.face("sans")), "has", lambda self, char: False)
    assert shaper.hyphen("sans") == ""
