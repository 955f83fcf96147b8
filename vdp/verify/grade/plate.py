"""A symbol on its unprinted one-bit plate: how it stands, its X-dimension in dots, the modules it is made of.

Lives here: what is exact because nothing has been printed yet.  Not here: the simulated print (`press`), grades.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from vdp.verify.grade.fixed import QUIET
from vdp.verify.grade.press import Bitmap
from vdp.verify.samples import Bytes

#: Share of all runs that a length must have to count as the width of a single module: stray dots do not.
_SHARE = 0.01


class Axis(NamedTuple):
    """One direction of a plate: X in dots, and by how many dots single dark modules are narrower than X."""

    module: float
    reduction: float


def one_bit(pixels: Bytes) -> Bitmap:
    """The inked dots of a region that holds the symbol and nothing else."""
    return pixels < (int(pixels.min()) + int(pixels.max())) / 2


def axis(plate: Bitmap) -> Axis | None:
    """Measures along the rows.  Every symbology has dark and light runs of one module between its first and its last
    edge, and what one loses the other gains; None where a plate has no such runs."""
    dark, light = _least(plate), _least(~plate, inner=True)
    return Axis((dark + light) / 2, (light - dark) / 2) if dark and light else None


def _least(plate: Bitmap, *, inner: bool = False) -> int:
    """The shortest run along the rows that is no stray dot; `inner` leaves out what touches the ends of a row."""
    padded = np.zeros((plate.shape[0], plate.shape[1] + 2), np.int8)
    padded[:, 1:-1] = plate
    steps = np.diff(padded.reshape(-1))
    starts, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    lengths = ends - starts
    if inner:
        across = plate.shape[1] + 2
        lengths = lengths[(starts % across > 0) & (ends % across < plate.shape[1])]
    if not len(lengths):
        return 0
    counts = np.bincount(lengths)
    return int(np.flatnonzero(counts >= max(1.0, _SHARE * len(lengths)))[0])


def bounds(plate: Bitmap) -> tuple[int, int, int, int]:
    """First and one past the last inked column, first and one past the last inked row.  There must be ink."""
    rows, columns = np.flatnonzero(plate.any(axis=1)), np.flatnonzero(plate.any(axis=0))
    return int(columns[0]), int(columns[-1]) + 1, int(rows[0]), int(rows[-1]) + 1


def squared(plate: Bitmap, symbology: str, size: tuple[int, int]) -> tuple[Bitmap, float]:
    """The plate cut to the symbol with its quiet zone, and X in dots; `size` are the symbol's columns and rows."""
    left, right, top, bottom = bounds(plate)
    quiet = QUIET[symbology]
    spans, modules = [], []
    for first, last, count, found in ((top, bottom, size[1], axis(plate.T)), (left, right, size[0], axis(plate))):
        lost = found.reduction if found is not None else 0.0
        module = (last - first + lost) / count
        if found is None or abs(found.module - module) > 0.5:
            lost, module = 0.0, (last - first) / count
        spans.append((round(first - lost // 2 - quiet * module), round((count + 2 * quiet) * module)))
        modules.append(module)
    return _around(plate, *spans), modules[1]


def _around(plate: Bitmap, down: tuple[int, int], right: tuple[int, int]) -> Bitmap:
    """The part of a plate that begins at a place, of a size; beyond the plate is paper."""
    found = np.zeros((down[1], right[1]), bool)
    (y, high), (x, wide) = down, right
    top, left = max(y, 0), max(x, 0)
    part = plate[top : y + high, left : x + wide]
    found[top - y : top - y + part.shape[0], left - x : left - x + part.shape[1]] = part
    return found


def band(plate: Bitmap, most: int) -> Bitmap:
    """An upright linear code on fewer rows: its bars' rows, thinned out evenly in blocks to about `most`.

    Ten scan lines see no more than that of tall bars.  `most` must leave a block wider than the aperture.
    """
    _, _, top, bottom = bounds(plate)
    bars = plate[top:bottom]
    if len(bars) <= most:
        return bars
    blocks = 10
    high = most // blocks
    starts = np.linspace(0, len(bars) - high, blocks).astype(int)
    return np.concatenate([bars[start : start + high] for start in starts])
