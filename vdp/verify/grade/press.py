"""A one-bit plate → the reflectances that toner on paper might have: growth, ragged edges, blur.

Lives here: the simulation.  Not here: grades (`linear`, `matrix`), decoding.

Nothing here is calibrated against a press.  The figures are what a job says of its press; the picture that comes out
shows how a symbol bears such growth, raggedness and blur, and says nothing about real toner or paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Reflectance = npt.NDArray[np.float64]
Bitmap = npt.NDArray[np.bool_]

#: Dots over which the raggedness of an edge stays alike (engineering choice, no source).
_GRAIN = 1.5
#: Dots worked on together.
_TOGETHER = 1 << 15


class Press(NamedTuple):
    """What the press does, in dots: how far every edge of ink moves outwards (negative: ink shrinks), the standard
    deviation of that along an edge, the standard deviation of the blur; reflectances 0..1 of bare and of inked paper.
    """

    growth: float = 0.0
    noise: float = 0.0
    blur: float = 0.0
    paper: float = 0.85
    ink: float = 0.05


def print_plate(inked: Bitmap, press: Press, chance: np.random.Generator) -> Reflectance:
    """Reflectance of each dot.  Without growth, noise and blur every dot is exactly paper or ink."""
    moved = np.full(inked.shape, press.growth)
    if press.noise:
        field = _blurred(chance.standard_normal(inked.shape), _GRAIN)
        moved = moved + field * (press.noise / float(field.std()))
    reach = math.ceil(float(np.abs(moved).max())) + 1
    covered = np.clip(0.5 + moved - _signed(inked, reach), 0.0, 1.0)
    if press.blur:
        covered = _blurred(covered, press.blur)
    return press.paper + (press.ink - press.paper) * covered


def _signed(inked: Bitmap, reach: int) -> Reflectance:
    """Distance of each dot's centre to the nearest edge of ink, negative inside; never told beyond `reach` dots."""
    return np.where(inked, -_distance(~inked, reach), _distance(inked, reach))


def _distance(target: Bitmap, reach: int) -> Reflectance:
    """From each dot to the edge of the nearest dot of `target`, at most `reach` dots."""
    beyond = np.uint16((reach + 1) ** 2)
    squares = np.where(target, np.uint16(0), beyond)
    height, width = target.shape
    found = np.empty(target.shape, np.float64)
    # Squares of distances add up, so the nearest dot is looked for down the columns and then along the rows.
    for first, last in _strips(height, width):
        wide = np.full((last - first, width + 2 * reach), beyond)
        down = wide[:, reach : reach + width]
        for step in range(-reach, reach + 1):
            low, high = max(0, first + step), min(height, last + step)
            if low < high:
                part = down[low - step - first : high - step - first]
                np.minimum(part, squares[low:high] + np.uint16(step * step), out=part)
        near = wide[:, :width] + np.uint16(reach * reach)
        for step in range(1 - reach, reach + 1):
            start = reach + step
            np.minimum(near, wide[:, start : start + width] + np.uint16(step * step), out=near)
        near[near > reach * reach] = beyond
        np.sqrt(near, out=found[first:last], dtype=np.float64)
    found -= 0.5
    return found


def _blurred(picture: Reflectance, sigma: float) -> Reflectance:
    """Gaussian blur; what lies outside is like the edge."""
    reach = math.ceil(3 * sigma)
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-(steps**2) / (2 * sigma**2))
    kernel /= kernel.sum()
    height, width = picture.shape
    blurred = np.zeros_like(picture)
    for first, last in _strips(height, width):
        wide = np.zeros((last - first, width + 2 * reach))
        down, part = wide[:, reach : reach + width], np.empty((last - first, width))
        for share, step in zip(kernel, steps.tolist(), strict=True):
            inside = first + step >= 0 and last + step <= height
            rows = (
                slice(first + step, last + step) if inside else np.arange(first + step, last + step).clip(0, height - 1)
            )
            down += np.multiply(picture[rows], share, out=part)
        wide[:, :reach], wide[:, reach + width :] = down[:, :1], down[:, -1:]
        along = blurred[first:last]
        for start, share in enumerate(kernel):
            along += np.multiply(wide[:, start : start + width], share, out=part)
    return blurred


def _strips(height: int, width: int) -> Iterator[tuple[int, int]]:
    """Rows worked on together: as many as stay in a core's cache with what is made of them."""
    rows = max(1, _TOGETHER // width)
    for first in range(0, height, rows):
        yield first, min(first + rows, height)
