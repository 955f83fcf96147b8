"""Outlines of a face's glyphs as polygons.

Lives here: curves flattened.  Not here: opening faces (`faces`), what dots make of an outline (`vdp.pattern`).
"""

from __future__ import annotations

from itertools import pairwise

import uharfbuzz as hb

from vdp.text.faces import Face

#: Straight pieces a curve is cut into: at type sizes of microtext a hundredth of a dot.
_STEPS = 8

Point = tuple[float, float]


class _Pen:
    """Takes HarfBuzz's drawing commands."""

    def __init__(self) -> None:
        self.contours: list[list[Point]] = []

    def start(self, x: float, y: float) -> None:
        self.contours.append([(x, y)])

    def line(self, x: float, y: float) -> None:
        self.contours[-1].append((x, y))

    def curve(self, *points: Point) -> None:
        """A Bézier curve of any degree, by de Casteljau."""
        whole = [self.contours[-1][-1], *points]
        for step in range(1, _STEPS + 1):
            part, left = step / _STEPS, whole
            while len(left) > 1:
                left = [(a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part) for a, b in pairwise(left)]
            self.contours[-1].append(left[0])


def outline(face: Face, gid: int) -> list[list[Point]]:
    """Closed polygons of a glyph, in font units; none where it has no ink."""
    pen = _Pen()
    face.font.draw_glyph(gid, _FUNCS, pen)
    return pen.contours


def _funcs() -> hb.DrawFuncs:
    made = hb.DrawFuncs()
    made.set_move_to_func(lambda x, y, pen: pen.start(x, y))
    made.set_line_to_func(lambda x, y, pen: pen.line(x, y))
    made.set_quadratic_to_func(lambda x1, y1, x, y, pen: pen.curve((x1, y1), (x, y)))
    made.set_cubic_to_func(lambda x1, y1, x2, y2, x, y, pen: pen.curve((x1, y1), (x2, y2), (x, y)))
    made.set_close_path_func(lambda _: None)
    return made


_FUNCS = _funcs()
