"""Paragraphs into pieces: judged chunk by chunk or as a whole, the pieces are the same; chunk caches change nothing."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.faces import builtin_faces
from vdp.text import Faces
from vdp.text.bidi import find_levels
from vdp.text.languages import read_language
from vdp.text.piece import Piece
from vdp.text.shape import Shaper
from vdp.text.voice import Voice

FACES = Faces(builtin_faces())

#: Words, punctuation and blanks of the scripts that are set, joined at random.
_WORDS = (
    "Anna one-way (no) “yes” „ja“ «oui» 12.5 .5 -7 01234-5678 3-4, "
    "a/b 3% € – — … ! , ; ( ) Świętokrzyska Việt Αθήνα Київ हिन्दी क्षत्रिय "
    "เรือออกจากท่าเรือ น้ำ 渡轮上午。 「乗船券」 ー々 페리는 مرحبا سفينة، أهلا بكم שלום עֲלֵיכֶם ٢٠٢٦ AB-123 "
    "soft\u00adhy\u00adphen no\u00a0break \u200f \u200b \u2009 \u3000 ★ US$"
)
WORDS = st.sampled_from(_WORDS.split(" "))
TEXTS = st.lists(st.tuples(WORDS, st.sampled_from(["", " ", " ", " ", "  "])), min_size=1, max_size=12).map(
    lambda pairs: "".join(word + gap for word, gap in pairs)
)
LANGUAGES = st.sampled_from(["en", "de", "ar", "he", "th", "ja", "zh-Hant", "hi", ""])


def plain(pieces: list[Piece] | tuple[Piece, ...]) -> list[object]:
    return [
        (
            piece.text,
            piece.width,
            piece.levels,
            [(word.face, word.gids, word.advances, word.offsets, word.clusters, word.rtl) for word in piece.glyphs],
            piece.ending.text,
            [word.gids for word in piece.ending.glyphs],
        )
        for piece in pieces
    ]


def make_voice(language: str) -> Voice:
    return Voice(FACES, Shaper(FACES), "sans", read_language(language))


@settings(max_examples=150, deadline=None)
@given(TEXTS, LANGUAGES)
def test_chunks_and_whole_paragraphs_give_the_same_pieces(text: str, language: str) -> None:
    voice = make_voice(language)
    if not text:
        return
    paragraph = voice.read(text)
    levels, base = find_levels(text, read_language(language).rtl)
    whole = make_voice(language)._cut(text, levels if any(levels) or base else b"")
    assert plain(paragraph.pieces) == plain(whole)
    assert paragraph.rtl == bool(base)
    assert paragraph.mixed == any(levels)
    assert "".join(piece.text for piece in paragraph.pieces) == text
    assert paragraph.sums == [sum(piece.width for piece in whole[:at]) for at in range(len(whole) + 1)]
    # Again, out of the caches.
    assert plain(voice.read(text).pieces) == plain(whole)


@pytest.mark.parametrize(
    ("text", "ending"),
    [
        ("word ", "word"),
        ("word \u2009\u3000", "word"),
        ("\u3000 ", ""),
        ("soft\u00ad", "soft\u00ad"),
        ("שלום ", "שלום"),
    ],
)
def test_endings(text: str, ending: str) -> None:
    voice = make_voice("en")
    pieces = voice.read(f"{text}x" if text.strip() else text).pieces
    piece = pieces[0]
    assert piece.ending.text == ending
    assert piece.ending is piece.ending
    assert piece.ending.ending.text == ending
    shown = "".join(cluster for word in piece.ending.glyphs for cluster in word.clusters)
    assert sorted(shown) == sorted(ending.replace("\u00ad", "\u2010"))


def test_a_piece_without_spaces_is_its_own_ending() -> None:
    (piece,) = make_voice("en").read("word").pieces
    assert piece.ending is piece


def test_words_keep_their_identity() -> None:
    voice = make_voice("en")
    first, second = voice.read("the same word").pieces[1], voice.read("not the same one").pieces[2]
    assert first is second
    assert first.glyphs[0] is second.glyphs[0]


def test_caches_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = make_voice("ar")
    for number in range(3000):
        voice.read(f"رقم{number} A{number} سفينة")
    for kept in (voice._level, voice._last, voice._mixed, voice._pieces, voice._alone):
        assert kept.held <= 2 * kept._limit
    assert voice._mixed.held >= 1024


@given(TEXTS, LANGUAGES)
@settings(max_examples=150, deadline=None)
def test_a_paragraph_measured_is_as_wide_as_a_paragraph_read(text: str, language: str) -> None:
    measured, read, both = (Voice(FACES, Shaper(FACES), "sans", read_language(language)) for _ in range(3))
    width = read.read(text).sums[-1]
    assert measured.measure(text) in {width, float("inf")}
    # Words that are known already are as wide as words measured for the first time.
    both.read(text)
    assert both.measure(text) in {width, float("inf")}


@pytest.mark.parametrize("text", ["VS100000007", "12 Tower Street", "Unit 237, Floor 12", "a  b"])
def test_plain_words_are_measured(text: str) -> None:
    voice = Voice(FACES, Shaper(FACES), "sans", read_language("en"))
    measured = voice.measure(text)
    assert measured == (float("inf") if "  " in text else voice.read(text).sums[-1])
