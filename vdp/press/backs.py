"""The back of the web: every back behind its own front.

Lives here: where a place of the front lies on the back, and how the piece is turned there.  Not here: the front's
own places (`web`).

The back of a frame is seen from behind with the same leading edge at the top, so left and right change places and
lane 1 of the front is the rightmost.  What is printed on both sides is therefore turned over about the web's length:
a piece that reads upwards on the front (90 degrees) reads downwards on the back (270) when both heads lie together.
"""

from __future__ import annotations

from typing import Literal

from vdp.errors import CallerError
from vdp.marks import Box
from vdp.press.web import Cell, Turn, Web

#: Which edge of the back lies behind the front's head: its head (turn it over like a page of a book) or its foot.
Heads = Literal["head_to_head", "head_to_foot"]
#: ``mirrored``: the back's page is as it must lie on paper.  ``as_front``: its places are those of the front, for a
#: press controller that moves each place to the mirrored one by itself; it moves the place, it does not flip the piece.
Backs = Literal["mirrored", "as_front"]

_TURNS: dict[int, Turn] = {0: 0, 90: 90, 180: 180, 270: 270}


def mirror(box: Box, width: int) -> Box:
    """A box of one side → the box behind it, seen from the other side, on a web `width` dots wide."""
    return (width - box[0] - box[2], box[1], box[2], box[3])


def back_cell(web: Web, lane: int, along: int, backs: Backs) -> Cell:
    """The back's place of the front's `lane` and `along`, which keep their numbers, as the file must have it."""
    front = web.cell(lane, along)
    match backs:
        case "mirrored":
            return Cell(lane, along, mirror(front.trim, web.width), mirror(front.area, web.width))
        case "as_front":
            return front
        case _:
            raise CallerError.one("web", f"backs are mirrored or as_front, not '{backs}'")


def back_turn(front: Turn, heads: Heads) -> Turn:
    """How the back is turned, degrees counter-clockwise on its own page, when the front is turned by `front`."""
    if heads not in ("head_to_head", "head_to_foot"):
        raise CallerError.one("web", f"heads are head_to_head or head_to_foot, not '{heads}'")
    return _TURNS[(-front + (180 if heads == "head_to_foot" else 0)) % 360]
