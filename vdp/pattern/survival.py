"""Whether a shape keeps its parts, its holes and its strokes when a press makes dots of it.

Lives here: outlines → dots, parts and holes, thin strokes.  Not here: where outlines come from (fonts), how microtext
fills a line (`microtext`).

A dot is inked when its middle lies inside the outline: the hardest rule for thin strokes.  Growth of toner is not
simulated here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Bitmap = npt.NDArray[np.bool_]
Outline = Sequence[Sequence[tuple[float, float]]]

#: Least stroke in dots: printed, and left out of ink (job rule: toner closes what is left open; no standard).
LEAST_POSITIVE, LEAST_REVERSED = 1.0, 2.0
#: Steps a dot in which a stroke's width is measured; places a dot is divided into where a glyph may fall.
FINE, PHASES = 8, 3


class Shape(NamedTuple):
    """How many parts a shape has, how many holes, and how many of those are more than a pinhole."""

    parts: int
    holes: int
    open_holes: int


def lost(outline: Outline, dots_per_unit: float, *, reversed_out: bool) -> str:
    """What the shape loses at that size, at the worst of its places between dots; "" when nothing.

    `outline` are closed polygons in units, filled by the non-zero rule.
    """
    fine = raster(outline, dots_per_unit * FINE, (0.5, 0.5))
    true = shape_of(fine, diagonal=True, pinhole=FINE)
    if not true.parts:
        return ""
    least = LEAST_REVERSED if reversed_out else LEAST_POSITIVE
    if shape_of(_eroded(fine, least * FINE / 2), diagonal=True).parts != true.parts:
        return f"a stroke or join is thinner than {least:g} dots"
    for across in range(PHASES):
        for up in range(PHASES):
            dots = raster(outline, dots_per_unit, ((across + 0.5) / PHASES, (up + 0.5) / PHASES))
            found = shape_of(dots, diagonal=not reversed_out)
            if found.holes < true.open_holes:
                return "a hole closes"
            if found.parts != true.parts:
                return "it falls apart" if found.parts > true.parts else "parts of it run together or vanish"
            if found.open_holes > true.open_holes:
                return "an opening closes"
    return ""


def raster(outline: Outline, scale: float, phase: tuple[float, float]) -> Bitmap:
    """Dots whose middles lie inside, by the non-zero rule; `phase` is the origin's place in its dot, 0..1."""
    points = [np.asarray(contour, np.float64) * scale + phase for contour in outline if len(contour) > 2]
    if not points:
        return np.zeros((1, 1), bool)
    every = np.concatenate(points)
    low, high = np.floor(every.min(axis=0)) - 1, np.ceil(every.max(axis=0)) + 1
    width, height = (int(size) for size in high - low)
    start = np.concatenate(points) - low
    end = np.concatenate([np.roll(contour, -1, axis=0) for contour in points]) - low
    (x0, y0), (x1, y1) = start.T[:, :, None], end.T[:, :, None]
    middles = np.arange(height) + 0.5
    crossed = (np.minimum(y0, y1) <= middles) & (middles < np.maximum(y0, y1))
    edges, rows = np.nonzero(crossed)
    part = (middles[rows] - y0[edges, 0]) / (y1 - y0)[edges, 0]
    places = np.ceil(x0[edges, 0] + part * (x1 - x0)[edges, 0] - 0.5).astype(int)
    winding = np.zeros((height, width + 1), np.int64)
    np.add.at(winding, (rows, places), np.where((y1 > y0)[edges, 0], 1, -1))
    inside: Bitmap = np.cumsum(winding, axis=1)[:, :width] != 0
    return inside


def shape_of(dots: Bitmap, *, diagonal: bool, pinhole: int = 2) -> Shape:
    """Parts and holes; `diagonal` tells whether dots of the shape that touch at corners hang together (then those of
    its holes do not).  Holes of up to `pinhole` dots are pinholes: acute corners make them, and lose nothing."""
    around = _pieces(np.pad(~dots, 1, constant_values=True), diagonal=not diagonal)
    return Shape(len(_pieces(dots, diagonal=diagonal)), len(around) - 1, sum(size > pinhole for size in around) - 1)


def _pieces(dots: Bitmap, *, diagonal: bool) -> list[int]:
    """Sizes of connected pieces, from runs of dots row by row."""
    parent: list[int] = []
    sizes: list[int] = []

    def root(one: int) -> int:
        while parent[one] != one:
            one = parent[one]
        return one

    above: list[tuple[int, int, int]] = []
    reach = 1 if diagonal else 0
    steps = np.diff(np.pad(dots.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    for row in steps:
        turns = np.flatnonzero(row).tolist()
        here = []
        for start, end in zip(turns[::2], turns[1::2], strict=True):
            label = len(parent)
            parent.append(label)
            sizes.append(end - start)
            for left, right, other in above:
                if left < end + reach and start < right + reach and (old := root(other)) != (new := root(label)):
                    parent[old] = new
                    sizes[new] += sizes[old]
            here.append((start, end, label))
        above = here
    return [sizes[place] for place, one in enumerate(parent) if place == one]


def _eroded(dots: Bitmap, radius: float) -> Bitmap:
    """The middles of discs of that radius, in steps, that lie wholly inside.  Half a step is given: edges fall between
    steps."""
    reach = max(0.0, radius - 0.5)
    most = int(reach)
    padded = np.pad(dots, most)
    left = dots.copy()
    height, width = dots.shape
    for down in range(-most, most + 1):
        for right in range(-most, most + 1):
            if math.hypot(down, right) <= reach:
                left &= padded[most + down : most + down + height, most + right : most + right + width]
    return left
