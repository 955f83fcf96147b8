"""Where lines stand in a box: aligned, one under another and turned, in whole dots of the page.

Lives here: places of lines that are made.  Not here: what makes a line (`rows`, `passage`), sizes (`frame`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from vdp.marks import Box, Line, Stretch

#: Thousandths of an em by which sums of floats may miss.
SLACK = 1e-6

#: A line before it is placed: glyphs from left to right, its text, its width in thousandths of an em, and whether its
#: paragraph is read from right to left.
Laid = tuple[tuple[Stretch, ...], str, float, bool]


class Scale(NamedTuple):
    """One size tried: `room` is the line's length in thousandths of an em, of which `unit` are the dots, `holds` how
    many lines the box holds; the others are dots."""

    size: float
    room: float
    unit: float
    holds: int
    ascent: int
    descent: int
    leading: int


class Places:
    """A box, and how lines are aligned and turned in it; `along` and `across` are its sides as the lines see it."""

    def __init__(
        self,
        box: Box,
        turn: int,
        align: Literal["start", "centre", "end", "left", "right"],
        valign: Literal["top", "middle", "bottom"],
    ) -> None:
        self._centred = align == "centre"
        #: Whether lines begin at the box's first edge: those read from the left, those read from the right.
        self._first = (align in {"left", "start"}, align in {"left", "end"})
        self._valign = valign
        self.along, self.across = (box[2], box[3]) if turn in (0, 180) else (box[3], box[2])
        x, y, width, height = box
        #: On the page: where lines begin to be counted, and a dot along a line, and down from one.
        self._start, self._on, self._below = {
            0: ((x, y + height), (1, 0), (0, -1)),
            90: ((x, y), (0, 1), (1, 0)),
            180: ((x + width, y), (-1, 0), (0, 1)),
            270: ((x + width, y + height), (0, -1), (-1, 0)),
        }[turn]

    def down(self, scale: Scale, lines: int) -> int:
        """Dots from the first line's side of the box to its baseline, of so many lines."""
        if self._valign == "top":
            return scale.ascent
        spare = self.across - scale.ascent - scale.descent - scale.leading * (lines - 1)
        return scale.ascent + (spare // 2 if self._valign == "middle" else spare)

    def lines(self, rows: Iterable[Laid | None], scale: Scale, down: int) -> tuple[Line, ...]:
        """Lines one under another, the first so far down; None takes a line's place."""
        x, y = self.spot(0, down)
        right, up = self._on
        to_right, to_top = self._below[0] * scale.leading, self._below[1] * scale.leading
        found: list[Line] = []
        for row in rows:
            if row is not None and row[0]:
                glyphs, text, width, rtl = row
                if self._first[rtl]:
                    found.append(Line(x, y, glyphs, text))
                else:
                    rest = max(0, int(self.along - (width - SLACK) * scale.unit))
                    along = rest // 2 if self._centred else rest
                    found.append(Line(x + right * along, y + up * along, glyphs, text))
            x += to_right
            y += to_top
        return tuple(found)

    def spot(self, along: int, down: int) -> tuple[int, int]:
        """A place in reading direction and down from the first line's side → dots of the page."""
        (x, y), (right, up), (to_right, to_top) = self._start, self._on, self._below
        return x + right * along + to_right * down, y + up * along + to_top * down
