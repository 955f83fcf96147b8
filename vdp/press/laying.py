"""Pieces on both sides of a frame: how each piece's own page is turned, moved and cut to lie in its place.

Lives here: places as `marks.PieceMark`.  Not here: where places are (`web`, `backs`), which piece goes where (`order`),
marks between them (`printmarks`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from vdp.marks import Box, PieceMark
from vdp.press.backs import Backs, Heads, back_cell, back_turn
from vdp.press.web import Cell, Web


class Sides(NamedTuple):
    """The places of a frame, front and back, row by row from the leading edge."""

    front: tuple[Cell, ...]
    back: tuple[Cell, ...]


def sides_of(web: Web, backs: Backs) -> Sides:
    front = tuple(web.cells())
    return Sides(front, tuple(back_cell(web, cell.lane, cell.along, backs) for cell in front))


def lay(what: int | str, cell: Cell, turn: int, bleed: int) -> PieceMark:
    """A piece whose page has `bleed` dots round its trim, in a place."""
    x, y, width, height = cell.trim
    at = {
        0: (x - bleed, y - bleed),
        90: (x + width + bleed, y - bleed),
        180: (x + width + bleed, y + height + bleed),
        270: (x - bleed, y + height + bleed),
    }[turn]
    return PieceMark(what, at, turn, _on_piece(cell.area, at, turn))


def _on_piece(area: Box, at: tuple[int, int], turn: int) -> Box:
    """A box of the sheet as the piece's own page has it."""
    x, y, width, height = area[0] - at[0], area[1] - at[1], area[2], area[3]
    match turn:
        case 0:
            return (x, y, width, height)
        case 90:
            return (y, -x - width, height, width)
        case 180:
            return (-x - width, -y - height, width, height)
        case _:
            return (-y - height, x, height, width)


def lay_frame(
    pieces: Sequence[int | str], sides: Sides, turn: int, heads: Heads, bleed: int
) -> tuple[list[PieceMark], list[PieceMark]]:
    """Front and back of a frame.  `pieces` are 0-based indices, or keys of forms that have a side each (``blank`` is
    drawn as ``blank-front`` and ``blank-back``), in the order of the places."""
    behind = back_turn(turn, heads)  # type: ignore[arg-type]  # a turn is one of four
    front = [
        lay(2 * piece if isinstance(piece, int) else f"{piece}-front", cell, turn, bleed)
        for piece, cell in zip(pieces, sides.front, strict=True)
    ]
    back = [
        lay(2 * piece + 1 if isinstance(piece, int) else f"{piece}-back", cell, behind, bleed)
        for piece, cell in zip(pieces, sides.back, strict=True)
    ]
    return front, back


def around(boxes: Sequence[Box]) -> Box:
    """The smallest box that holds them all."""
    left, bottom = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, top = max(box[0] + box[2] for box in boxes), max(box[1] + box[3] for box in boxes)
    return (left, bottom, right - left, top - bottom)
