"""Filling fields into a wording known beforehand gives what reading the whole text gives."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import RowRefused
from vdp.job.faces import builtin_faces
from vdp.marks import Line, Stretch
from vdp.text import Faces, Setter, Style
from vdp.text.languages import read_language
from vdp.text.shape import Shaper
from vdp.text.voice import Voice
from vdp.text.wording import Extent, Wording, woven

FACES = Faces(builtin_faces())
SHAPER = Shaper(FACES)
SETTER = Setter(FACES, 1200)

#: Language → literals; each has words between its fields.
WORDINGS = {
    "en": ("Dear ", ", your pass ", " is good until ", ". Keep it by you, and off the fire."),
    "he": ("", " שלום לך, כרטיס ", " בתוקף עד ", ". שמרו אותו אצלכם ולא ליד האש."),
    "pl": ("Szanowni Państwo, ", ", kupon ", " jest ważny do ", " w każdym oddziale."),
    "el": ("Αγαπητέ φίλε ", ", το κουπόνι ", " ισχύει έως ", "."),
    "ar": ("عزيزنا ", "، قسيمتك ", " صالحة حتى ", " في كل فروعنا."),
    "th": ("เรียน ", " บัตร ", " ใช้ได้ถึง ", " ทุกสาขา ที่ร้าน ของเรา"),
}

value = st.one_of(
    st.text(st.sampled_from("AVTof1920-.,ßłćŞį "), max_size=12),
    st.text(st.sampled_from("Ωβάς 12"), max_size=8),
    st.text(st.sampled_from("ليلى ١٢ a1(), "), max_size=8),
    st.sampled_from(["VS1000", "31 December", "two\nlines", "\u2066a\u2069", "nbsp\u00a0here", "", " ", "office"]),
)


def drawn(lines: Sequence[Line]) -> list[object]:
    """What is printed, glyph by glyph: pieces may be cut otherwise."""
    return [(line.x, line.y, line.text, [glyph for part in line.glyphs for glyph in glyphs_of(part)]) for line in lines]


def glyphs_of(part: Stretch) -> list[tuple[object, ...]]:
    offsets = part.offsets or ((0.0, 0.0),) * len(part.gids)
    return list(zip([part.face] * len(part.gids), part.gids, part.advances, offsets, strict=True))


STYLES = [
    Style("sans", 11, least=8),
    Style("sans", 11, align="centre", valign="middle"),
    Style("serif", 11, least=8, align="right", valign="bottom", turn=90),
    Style("sans", 11, align="end", turn=180),
    Style("sans", 11, align="left", turn=270),
]
#: Wide, narrow, and hardly wider than a word.
BOXES = [(100, 200, 5000, 2000), (0, 0, 2000, 2400), (0, 0, 1100, 5000)]


@pytest.mark.parametrize("language", WORDINGS)
@given(
    values=st.tuples(value, value, value),
    style=st.sampled_from(STYLES),
    box=st.sampled_from(BOXES),
    ended=st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_a_filled_wording_is_set_as_its_whole_text_is(
    language: str, values: tuple[str, ...], style: Style, box: tuple[int, int, int, int], ended: bool
) -> None:
    literals = WORDINGS[language]
    if ended:
        literals = (*literals[:-1], "")
    if style.turn in (90, 270):
        box = (box[0], box[1], box[3], box[2])
    frame = SETTER.frame(style, language, box)
    text = woven(literals, values)
    try:
        whole = frame.set(text)
    except RowRefused:
        for refusing in (frame.fill, frame.check_filled):
            with pytest.raises(RowRefused) as again:
                refusing(literals, values)
            with pytest.raises(RowRefused) as first:
                frame.set(text)
            assert again.value.reasons == first.value.reasons
        return
    filled = frame.fill(literals, values)
    assert filled.size == whole.size
    assert drawn(filled.lines) == drawn(whole.lines)
    frame.check_filled(literals, values)


@pytest.mark.parametrize("language", WORDINGS)
@given(values=st.tuples(value, value, value), closely=st.booleans())
@settings(max_examples=40, deadline=None)
def test_an_extent_is_never_less_than_what_is_set(language: str, values: tuple[str, ...], closely: bool) -> None:
    voice = Voice(FACES, SHAPER, "sans", read_language(language))
    wording = Wording(voice, WORDINGS[language])
    assert wording.usable
    try:
        extent = wording.measure(values, closely=closely)
        paragraph = voice.read(woven(WORDINGS[language], values))
    except RowRefused:
        return
    if extent is not None:
        assert extent.width >= paragraph.sums[-1] - 1e-6
        assert extent.widest >= max(piece.width for piece in paragraph.pieces) - 1e-6


def test_what_was_met_before_changes_no_extent_but_to_a_closer_one() -> None:
    def wording() -> Wording:
        return Wording(Voice(FACES, Shaper(FACES), "sans", read_language("en")), WORDINGS["en"])

    seasoned = wording()
    for number in range(600):
        seasoned.measure((f"Anna{number}", "VS1000", str(number)), closely=False)
    for values in (("Anna3", "VS1000", "7"), ("Anna599", "VS1000", "599"), ("Anna599", "no\ttab", "599")):
        found, alone = seasoned.measure(values, closely=True), wording().measure(values, closely=True)
        assert found == alone
        wide = seasoned.measure(values, closely=False)
        assert (wide is None) == (alone is None)
        assert wide is None or (alone is not None and alone.width - 1e-6 <= wide.width <= alone.width * 1.2)


def test_lines_are_promised_only_where_they_surely_suffice() -> None:
    assert Extent(100, 20).fits(100, 1)
    assert not Extent(101, 20).fits(100, 1)
    assert Extent(300, 20).fits(100, 5)
    # Three lines of 81 and a word of 20 after each may be all that goes on a line.
    assert not Extent(300, 20).fits(100, 4)
    assert not Extent(90, 101).fits(100, 9)


@pytest.mark.parametrize(
    "literals",
    [
        ("no fields at all, and many words",),
        ("a few ", " words"),
        ("one\nline break, ", " and words after it"),
        ("a b c d ", "", ""),
    ],
)
def test_what_cannot_be_known_beforehand_is_read_whole(literals: tuple[str, ...]) -> None:
    voice = Voice(FACES, SHAPER, "sans", read_language("en"))
    assert not Wording(voice, literals).usable


ENDLESS = {
    "en": ("", " HOLD IT TO THE LIGHT AND A CODE."),
    "ar": ("", " HOLD IT TO THE LIGHT AND A CODE."),
    "pl": ("NO ", " OF ", " "),
    "he": ("NO ", " OF "),
}


@pytest.mark.parametrize("language", ENDLESS)
@given(values=st.tuples(value, value))
@settings(max_examples=60, deadline=None)
def test_endless_text_is_shaped_as_its_whole_text_is(language: str, values: tuple[str, ...]) -> None:
    literals = ENDLESS[language]
    values = values[: len(literals) - 1]
    text = woven(literals, values).strip()
    try:
        whole = SETTER.shape(f"{text} ", "sans", language)
    except RowRefused:
        with pytest.raises(RowRefused):
            SETTER.endless(literals, "sans", language).glyphs(values)
        return
    found = SETTER.endless(literals, "sans", language).glyphs(values)
    assert [glyph for part in found for glyph in glyphs_of(part)] == [
        glyph for part in whole for glyph in glyphs_of(part)
    ]


@pytest.mark.parametrize("language", ["en", "el", "ar", "he", "th"])
@given(text=value)
@settings(max_examples=80, deadline=None)
def test_a_line_that_is_spelled_is_what_reading_it_gives(language: str, text: str) -> None:
    text = text.strip(" \u00a0\n")
    voice = Voice(FACES, SHAPER, "sans", read_language(language))
    spelled = voice.line(text) if text else None
    if spelled is None:
        return
    whole = SETTER.shape(text, "sans", language)
    assert [glyph[:2] for glyph in glyphs_of(spelled)] == [glyph[:2] for part in whole for glyph in glyphs_of(part)]
