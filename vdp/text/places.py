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
        self._box = box
        self._turn = turn
        self._centred = align == "centre"
        #: Whether lines begin at the box's first edge: those read from the left, those read from the right.
        self._first = (align in {"left", "start"}, align in {"left", "end"})
        self._valign = valign
        self.along, self.across = (box[2], box[3]) if turn in (0, 180) else (box[3], box[2])

    def down(self, scale: Scale, lines: int) -> int:
        """Dots from the first line's side of the box to its baseline, of so many lines."""
        spare = self.across - scale.ascent - scale.descent - scale.leading * (lines - 1)
        return scale.ascent + {"top": 0, "middle": spare // 2, "bottom": spare}[self._valign]

    def lines(self, rows: Iterable[Laid | None], scale: Scale, down: int) -> tuple[Line, ...]:
        """Lines one under another, the first so far down; None takes a line's place."""
        found: list[Line] = []
        for row in rows:
            if row is not None and row[0]:
                glyphs, text, width, rtl = row
                along = 0
                if not self._first[rtl]:
                    rest = max(0, int(self.along - (width - SLACK) * scale.unit))
                    along = rest // 2 if self._centred else rest
                x, y = self.spot(along, down)
                found.append(Line(x, y, glyphs, text))
            down += scale.leading
        return tuple(found)

    def spot(self, along: int, down: int) -> tuple[int, int]:
        """A place in reading direction and down from the first line's side → dots of the page."""
        x, y, width, height = self._box
        match self._turn:
            case 0:
                return x + along, y + height - down
            case 90:
                return x + down, y + along
            case 180:
                return x + width - along, y + down
            case _:
                return x + width - down, y + height - along
