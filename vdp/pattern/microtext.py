"""How a line of microtext fills its box: how many lines, how many repeats, where the last repeat is cut.

Geometry only: widths come in, counts go out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def count_lines(height_dots: int, leading_dots: int, size_dots: int) -> int:
    """Lines whose type bodies fit in the height; 0 when not even one does."""
    if size_dots > height_dots:
        return 0
    return 1 + (height_dots - size_dots) // leading_dots


def fill(advances: Sequence[float], room: float) -> tuple[int, int, float]:
    """Repeats of a text, glyphs of one more that still fit, and what room is left after them.

    `advances` of the text's glyphs and `room` share one unit.  Zero repeats means that the text does not fit even once.
    """
    width = math.fsum(advances)
    if width <= 0:
        return 0, 0, room
    repeats = int(room // width)
    left = room - repeats * width
    glyphs = 0
    for advance in advances:
        if advance > left:
            break
        left -= advance
        glyphs += 1
    return repeats, glyphs, left
