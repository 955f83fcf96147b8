"""Lines over parts of a paragraph are the lines of the paragraph, however it is taken apart."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.text.test_wording import glyphs_of
from vdp.job.faces import builtin_faces
from vdp.text import Faces
from vdp.text.languages import read_language
from vdp.text.passage import Constant, Cut, Part, Rest, Row, Words, broken
from vdp.text.piece import Piece
from vdp.text.rows import fill, order
from vdp.text.shape import Shaper
from vdp.text.voice import Voice

FACES = Faces(builtin_faces())
SHAPER = Shaper(FACES)

words = st.lists(
    st.sampled_from(["a", "Anna", "voucher", "VS1000000012", "office", "wider-than-most-other-words", "12,", "no."]),
    min_size=1,
    max_size=24,
)


def shown(rows: list[Row]) -> list[object]:
    return [(text, width, [glyph for part in glyphs for glyph in glyphs_of(part)]) for glyphs, text, width in rows]


def all_rows(found: tuple[list[Row], Rest | None]) -> list[Row]:
    rows, rest = found
    return rows if rest is None else [*rows, *rest.ended()]


def taken_apart(pieces: list[Piece], cuts: list[int], kinds: list[int]) -> list[Part]:
    """Constant words, words of a record's own, and single pieces."""
    places = sorted({0, len(pieces), *(cut % len(pieces) for cut in cuts)})
    parts: list[Part] = []
    for nth, (start, stop) in enumerate(pairwise(places)):
        kind = kinds[nth % len(kinds)]
        if kind == 0:
            parts.append(Constant(pieces[start:stop]))
        elif kind == 1:
            parts.append(Words(pieces[start:stop]))
        else:
            parts += pieces[start:stop]
    return parts


@given(
    text=words.map(" ".join),
    room=st.integers(300, 20_000),
    cuts=st.lists(st.integers(0, 40), max_size=6),
    kinds=st.lists(st.integers(0, 2), min_size=1, max_size=4),
)
@settings(max_examples=300, deadline=None)
def test_a_paragraph_in_parts_breaks_as_the_whole_does(text: str, room: int, cuts: list[int], kinds: list[int]) -> None:
    paragraph = Voice(FACES, SHAPER, "sans", read_language("en")).read(text)
    due = fill(paragraph, room, 1000)
    found = broken(taken_apart(paragraph.pieces, cuts, kinds), room, rtl=False)
    if found is None:
        assert any(piece.width > room for piece in paragraph.pieces)
        return
    assert all(row.width <= room for row in due)
    expected: list[Row] = []
    for _, first, last, width in due:
        pieces = [*paragraph.pieces[first:last], paragraph.pieces[last].ending]
        expected.append((order(pieces, False), "".join(piece.text for piece in pieces), width))
    assert shown(all_rows(found)) == shown(expected)


def test_what_follows_a_lines_end_among_constant_words_is_ready() -> None:
    voice = Voice(FACES, SHAPER, "sans", read_language("en"))
    constant = Constant(voice.read("and these are the same words for every one of them").pieces)
    first, second = (
        broken([*voice.pieces_of(name, closing=False), constant], 7000, rtl=False) for name in ("Anna", "Anne")
    )
    assert first is not None
    assert second is not None
    assert first[1] is not None
    assert first[1] is second[1]
    assert first[1].ended() is second[1].ended()


@pytest.mark.parametrize("kind", [Words, Constant])
def test_words_wider_than_the_room_are_looked_at_as_a_whole(kind: type[Words]) -> None:
    voice = Voice(FACES, SHAPER, "sans", read_language("en"))
    part = kind(voice.read("a a widerthanmostotherwords a a a").pieces)
    assert broken([part], 6000, rtl=False) is None
    assert broken([*voice.pieces_of("a", closing=False), part], 6000, rtl=False) is None
    assert broken([Words(voice.read("WWWWWWWWWW a").pieces)], 6000, rtl=False) is None


def test_words_from_left_to_right_side_by_side_keep_their_order_as_one() -> None:
    voice = Voice(FACES, SHAPER, "sans", read_language("ar"))
    first, second = (Cut(voice.pieces_at((text, b"\2" * len(text)))) for text in ("one ", "two "))
    arabic = Cut(voice.pieces_at(("سفينة ", b"\1" * 6)))
    assert broken([first, second], 10_000, rtl=True) is None
    assert broken([first, second, arabic], 4500, rtl=True) is None
    found = broken([first, arabic, second], 10_000, rtl=True)
    assert found is not None
    assert [part.text for part in found[0][0][0]] == ["two", "سفينة ", "one "]
