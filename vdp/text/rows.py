"""A paragraph's pieces into lines: which pieces make a line, and in which order its glyphs stand.

Lives here: rows before they are placed.  Not here: sizes, boxes and places (`fit`), pieces (`voice`).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

from vdp.marks import Stretch
from vdp.text.bidi import visual_order
from vdp.text.breaks import BREAK_SPACES
from vdp.text.piece import Piece
from vdp.text.voice import Paragraph


class Row(NamedTuple):
    """A line before it is placed: pieces `first` to `last`, of which the last ends the line; thousandths of an em."""

    paragraph: Paragraph
    first: int
    last: int
    width: float


def fill(paragraph: Paragraph, room: float, most: int) -> list[Row]:
    """Greedy lines, `most` at most.  A piece wider than the room has a line to itself, which is then too wide."""
    pieces, sums = paragraph.pieces, paragraph.sums
    if sums[-1] <= room and pieces[-1].ending is pieces[-1]:
        return [Row(paragraph, 0, len(pieces) - 1, sums[-1])]
    rows: list[Row] = []
    first = 0
    while first < len(pieces) and len(rows) < most:
        before = sums[first]
        # As many pieces as fit with the spaces after them, and one more if it fits without.
        last = min(bisect_right(sums, before + room, first + 1), len(pieces)) - 1
        while last > first and sums[last] - before + pieces[last].ending.width > room:
            last -= 1
        rows.append(Row(paragraph, first, last, sums[last] - before + pieces[last].ending.width))
        first = last + 1
    return rows


def whole(paragraph: Paragraph) -> Row:
    last = len(paragraph.pieces) - 1
    return Row(paragraph, 0, last, paragraph.sums[last] + paragraph.pieces[last].ending.width)


def text_of(row: Row) -> str:
    return "".join([piece.text for piece in row.paragraph.pieces[row.first : row.last + 1]]).rstrip(BREAK_SPACES)


def order(pieces: list[Piece], mixed: bool) -> tuple[Stretch, ...]:
    """Glyphs of a line from left to right."""
    if len(pieces) == 1:
        glyphs: tuple[Stretch, ...] = pieces[0].glyphs
        levels: Sequence[int] = pieces[0].levels
    else:
        glyphs = tuple(chain.from_iterable([piece.glyphs for piece in pieces]))
        levels = [level for piece in pieces for level in piece.levels or (0,) * len(piece.glyphs)] if mixed else ()
    if not levels:
        return glyphs
    right = levels.count(1)
    if right == len(levels) or (right + levels.count(2) == len(levels) and b"\2\2" not in bytes(levels)):
        return glyphs[::-1]
    return tuple(glyphs[at] for at in visual_order(levels))
