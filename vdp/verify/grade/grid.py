"""The grid of modules of a matrix symbol, measured from the edges between unlike modules.

Lives here: pitch, print growth and departures from an even grid.  Not here: what the modules say (`matrix`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.verify.grade.press import Bitmap, Reflectance

_Floats = npt.NDArray[np.float64]


class Axis(NamedTuple):
    """One direction: start of the first module and pitch in dots, growth of dark modules at each edge in dots, and how
    far each line between modules departs from an even grid, in dots."""

    start: float
    pitch: float
    growth: float
    departures: _Floats

    def centres(self, count: int) -> _Floats:
        """Middles of the modules in dots."""
        return self.start + self.pitch * (np.arange(count, dtype=np.float64) + 0.5)


def measure(picture: Reflectance, expected: Bitmap, quiet: float, threshold: float) -> tuple[Axis, Axis]:
    """Across and down.  `picture` holds the symbol upright with `quiet` modules of paper on all sides."""
    rows, columns = expected.shape
    pitch = picture.shape[1] / (columns + 2 * quiet), picture.shape[0] / (rows + 2 * quiet)
    return (
        _axis(picture, expected, (pitch[0], pitch[1]), quiet, threshold),
        _axis(picture.T, expected.T, (pitch[1], pitch[0]), quiet, threshold),
    )


def _axis(picture: Reflectance, expected: Bitmap, pitch: tuple[float, float], quiet: float, threshold: float) -> Axis:
    """Least squares of edge = start + pitch · place ± growth over all edges that can be found near their places."""
    along, beside = pitch
    padded = np.pad(expected, ((0, 0), (1, 1)))
    found: list[tuple[float, int, float]] = []
    for row, modules in enumerate(padded):
        line = picture[min(int((row + 0.5 + quiet) * beside), picture.shape[0] - 1)]
        for place in np.flatnonzero(modules[1:] != modules[:-1]):
            falling = bool(modules[place + 1])
            edge = _edge(line, (place + quiet) * along, along, threshold, falling=falling)
            if edge is not None:
                found.append((edge, int(place), -1.0 if falling else 1.0))
    if len(found) < 3:
        return Axis(quiet * along, along, 0.0, np.zeros(expected.shape[1] + 1))
    edges, places, signs = (np.array(column, np.float64) for column in zip(*found, strict=True))
    base = np.column_stack((np.ones_like(edges), places, signs))
    (start, step, growth), *_ = np.linalg.lstsq(base, edges, rcond=None)
    rest = edges - base @ np.array([start, step, growth])
    count = expected.shape[1] + 1
    summed, many = np.zeros(count), np.zeros(count)
    np.add.at(summed, places.astype(int), rest)
    np.add.at(many, places.astype(int), 1)
    return Axis(float(start), float(step), float(growth), summed / np.maximum(many, 1))


def _edge(line: _Floats, near: float, pitch: float, threshold: float, *, falling: bool) -> float | None:
    """Where the line crosses the threshold that way, within a module of `near`; None where it does not."""
    first, last = max(int(near - 0.9 * pitch), 0), min(int(near + 0.9 * pitch) + 1, len(line))
    dark = line[first:last] < threshold
    turns = np.flatnonzero((dark[1:] != dark[:-1]) & (dark[1:] == falling))
    if not len(turns):
        return None
    at = turns + first
    edges = at + (threshold - line[at]) / (line[at + 1] - line[at]) + 0.5
    return float(edges[np.abs(edges - near).argmin()])
