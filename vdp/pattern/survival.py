"""Whether a shape keeps its parts, its holes and its strokes when a press makes dots of it.

Lives here: outlines → dots, parts and holes, thin strokes.  Not here: where outlines come from (fonts), which letters a
job sets (`compose.small`), how microtext fills a line (`microtext`).

A dot is inked when its middle lies inside the outline: the hardest rule for thin strokes.  Growth of toner is not
simulated here.  What a shape is whatever its size (`Anatomy`) is worked out once; a size then costs some dots.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Bitmap = npt.NDArray[np.bool_]
Outline = Sequence[Sequence[tuple[float, float]]]

#: Least stroke in dots: printed, and left out of ink (job rule: toner closes what is left open; no standard).
LEAST_POSITIVE, LEAST_REVERSED = 1.0, 2.0
#: Steps an em in which a shape is measured: thirteen a dot at 0.7 pt of 1200 dpi, eight at 1.2 pt.
FINE = 160
#: Places between two dots at which a glyph may stand along its line: quarters of a dot.
PHASES = 4
#: True holes up to this area may close, in dots or in squares of an em: slits where strokes part have them.
_TRUE_PINHOLE, _SLIT = 1 / 8, 0.001
#: Holes that dots make where the shape has none lose nothing up to this area, in dots or in squares of an em: they are
#: the tips of acute notches, closed where two strokes part.
_PINHOLE, _NOTCH = 2, 0.008


class Span(NamedTuple):
    """A count that is not certain: gaps and bridges of an eightieth of an em may be there or not, as nobody sees them
    in type."""

    least: int
    most: int


@dataclass(frozen=True, eq=False)
class Anatomy:
    """A shape whatever its size, lengths in units of its outline: `outline` without what has no area, its type body
    `em`, how many `parts` it has, the areas of its `holes` (the fewest and the most of them, largest first); `dots` are
    what it was measured on, a `step` each, and `pieces` the parts of those."""

    em: float
    outline: tuple[npt.NDArray[np.float64], ...]
    parts: Span
    holes: tuple[tuple[float, ...], tuple[float, ...]]
    dots: Bitmap
    step: float
    pieces: int

    @cached_property
    def stroke(self) -> float:
        """The least stroke: the widest disc that runs through all of it, up to an eightieth of an em too wide."""
        return _stroke(self.dots, self.pieces) * self.step if self.pieces else 0.0


class Shape(NamedTuple):
    """How many parts a shape has, how many holes, and how many of those are more than a pinhole."""

    parts: int
    holes: int
    open_holes: int


def anatomy(outline: Outline, em: float) -> Anatomy:
    """Measures closed polygons that are filled by the non-zero rule; `em` is the type body in their units."""
    contours = tuple(np.asarray(contour, np.float64) for contour in outline if len(contour) > 2)
    step = em / FINE
    dots = raster(contours, 1 / step, (0.5, 0.5))
    parts = len(_pieces(dots, diagonal=True))
    if not parts:
        return Anatomy(em, contours, Span(0, 0), ((), ()), dots, step, 0)
    wide, lean = _grown(dots), ~_grown(~dots)
    span = Span(min(parts, len(_pieces(wide, diagonal=True))), max(parts, len(_pieces(lean, diagonal=True))))
    holes, more, fewer = (_holes(one, step * step) for one in (dots, wide, lean))
    both = min(holes, fewer, key=len), max(holes, more, key=len)
    return Anatomy(em, contours, span, both, dots, step, parts)


def _holes(dots: Bitmap, area: float) -> tuple[float, ...]:
    # The last piece is what lies around the shape: the last row is its own.
    around = _pieces(np.pad(~dots, 1, constant_values=True), diagonal=False)
    return tuple(size * area for size in around[:-1])


def _grown(dots: Bitmap) -> Bitmap:
    """A step more on every side."""
    padded = np.pad(dots, 2)
    across = padded[:, :-2] | padded[:, 1:-1] | padded[:, 2:]
    grown: Bitmap = across[:-2] | across[1:-1] | across[2:]
    return grown


def lost(shape: Anatomy, dots_per_unit: float, phase: tuple[float, float], *, reversed_out: bool) -> str:
    """What the shape loses when its origin stands at `phase` (0..1) of a dot; "" when nothing."""
    if not shape.parts.most:
        return ""
    square = dots_per_unit * dots_per_unit
    em = shape.em * shape.em * square
    fewest = sum(area * square > max(_TRUE_PINHOLE, _SLIT * em) for area in shape.holes[0])
    most = sum(area * square > _TRUE_PINHOLE for area in shape.holes[1])
    dots = raster(shape.outline, dots_per_unit, phase)
    found = shape_of(dots, diagonal=not reversed_out, pinhole=max(_PINHOLE, _NOTCH * em))
    if found.holes < fewest:
        return "a hole closes"
    if found.parts > shape.parts.most:
        return "it falls apart"
    if found.parts < shape.parts.least:
        return "parts of it run together or vanish"
    return "an opening closes" if found.open_holes > most else ""


def lost_along(shape: Anatomy, dots_per_unit: float, up: float, *, reversed_out: bool) -> str:
    """What it loses at the worst of its places along a line; the line itself stands `up` (0..1) in its dots."""
    phases = ((place / PHASES, up) for place in range(PHASES))
    return next(filter(None, (lost(shape, dots_per_unit, phase, reversed_out=reversed_out) for phase in phases)), "")


def thin(shape: Anatomy, dots_per_unit: float, *, reversed_out: bool) -> bool:
    """Whether a stroke or a join is thinner than what prints, or stays open, in dots."""
    least = LEAST_REVERSED if reversed_out else LEAST_POSITIVE
    return bool(shape.parts.most) and shape.stroke * dots_per_unit < least


def least_size(holds: Callable[[float], bool], sizes: Sequence[float]) -> float | None:
    """The least of rising sizes from which on every larger one holds, too; None where the largest does not."""
    found = None
    for size in reversed(sizes):
        if not holds(size):
            break
        found = size
    return found


def raster(outline: Sequence[npt.NDArray[np.float64]], scale: float, phase: tuple[float, float]) -> Bitmap:
    """Dots whose middles lie inside, by the non-zero rule; `phase` is the origin's place in its dot, 0..1."""
    if not outline:
        return np.zeros((1, 1), bool)
    start = np.concatenate(outline) * scale + phase
    low, high = np.floor(start.min(axis=0)) - 1, np.ceil(start.max(axis=0)) + 1
    width, height = (int(size) for size in high - low)
    start -= low
    after = list(chain.from_iterable(_round(outline)))
    end = start[after]
    (x0, y0), (x1, y1) = start.T[:, :, None], end.T[:, :, None]
    middles = np.arange(height) + 0.5
    crossed = (np.minimum(y0, y1) <= middles) & (middles < np.maximum(y0, y1))
    edges, rows = np.nonzero(crossed)
    part = (middles[rows] - y0[edges, 0]) / (y1 - y0)[edges, 0]
    places = np.ceil(x0[edges, 0] + part * (x1 - x0)[edges, 0] - 0.5).astype(np.intp)
    turns = np.where((y1 > y0)[edges, 0], 1.0, -1.0)
    winding = np.bincount(rows * (width + 1) + places, turns, height * (width + 1)).reshape(height, width + 1)
    inside: Bitmap = np.rint(np.cumsum(winding, axis=1)[:, :width]) != 0
    return inside


def _round(outline: Sequence[npt.NDArray[np.float64]]) -> list[list[int]]:
    """The place of the point after each point, contour by contour."""
    found, first = [], 0
    for contour in outline:
        count = len(contour)
        found.append([*range(first + 1, first + count), first])
        first += count
    return found


def least_body(shape: Anatomy, *, reversed_out: bool) -> float:
    """The type body in dots from which on no stroke is too thin."""
    return shape.em / shape.stroke * (LEAST_REVERSED if reversed_out else LEAST_POSITIVE)


def shape_of(dots: Bitmap, *, diagonal: bool, pinhole: float = _PINHOLE) -> Shape:
    """Parts and holes; `diagonal` tells whether dots of the shape that touch at corners hang together (then those of
    its holes do not)."""
    around = _pieces(np.pad(~dots, 1, constant_values=True), diagonal=not diagonal)
    opened = sum(size > pinhole for size in around) - 1
    return Shape(len(_pieces(dots, diagonal=diagonal)), len(around) - 1, opened)


def _pieces(dots: Bitmap, *, diagonal: bool) -> list[int]:
    """Sizes of connected pieces, from runs of dots row by row."""
    parent: list[int] = []
    sizes: list[int] = []

    def root(one: int) -> int:
        while parent[one] != one:
            one = parent[one]
        return one

    reach = 1 if diagonal else 0
    edged = np.zeros((dots.shape[0], dots.shape[1] + 2), np.int8)
    edged[:, 1:-1] = dots
    lines, turns = np.nonzero(np.diff(edged, axis=1))
    above: list[tuple[int, int, int]] = []
    here: list[tuple[int, int, int]] = []
    last = -1
    for line, start, end in zip(lines[::2].tolist(), turns[::2].tolist(), turns[1::2].tolist(), strict=True):
        if line != last:
            above, here = (here if line == last + 1 else []), []
            last = line
        label = len(parent)
        parent.append(label)
        sizes.append(end - start)
        for left, right, other in above:
            if left < end + reach and start < right + reach and (old := root(other)) != (new := root(label)):
                parent[old] = new
                sizes[new] += sizes[old]
        here.append((start, end, label))
    return [sizes[place] for place, one in enumerate(parent) if place == one]


def _stroke(dots: Bitmap, parts: int) -> float:
    """The diameter of the widest disc, in steps, whose middle can go through every part and leave none in pieces."""
    away = _distances(dots)
    low, high = 0, max(1, int(away.max()))
    while low < high:
        middle = (low + high + 1) // 2
        if len(_pieces(away >= middle, diagonal=True)) == parts:
            low = middle
        else:
            high = middle - 1
    # The middle of a stroke of n steps is n / 2 from that of the next step outside, or half a step more if n is odd.
    return float(2 * max(1, low) ** 0.5)


def _distances(dots: Bitmap) -> npt.NDArray[np.int64]:
    """Each dot's squared distance to the nearest dot outside the shape, in two sweeps and a minimum over columns."""
    height, width = dots.shape
    away = np.zeros((height, width), np.int64)
    for row in range(1, height):
        away[row] = np.where(dots[row], away[row - 1] + 1, 0)
    for row in range(height - 2, -1, -1):
        away[row] = np.minimum(away[row], np.where(dots[row], away[row + 1] + 1, 0))
    best = away * away
    square = np.pad(best, ((0, 0), (width, width)))
    across = 1
    while across * across < best.max():
        near = np.minimum(square[:, width - across :][:, :width], square[:, width + across :][:, :width])
        np.minimum(best, near + across * across, out=best)
        across += 1
    return best
