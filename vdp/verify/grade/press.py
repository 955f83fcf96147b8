"""A one-bit plate → the reflectances that toner on paper might have: growth, ragged edges, blur.

Lives here: the simulation.  Not here: grades (`linear`, `matrix`), decoding.

Nothing here is calibrated against a press.  The figures are what a job says of its press; the picture that comes out
shows how a symbol bears such growth, raggedness and blur, and says nothing about real toner or paper.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Reflectance = npt.NDArray[np.float64]
Bitmap = npt.NDArray[np.bool_]

#: Dots over which the raggedness of an edge stays alike (engineering choice, no source).
_GRAIN = 1.5


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
    beyond = (reach + 1) ** 2
    # Squares of distances add up, so the nearest dot is looked for down the columns and then along the rows.
    squares = np.where(target, np.uint16(0), np.uint16(beyond))
    for axis in (0, 1):
        wide = np.pad(squares, [(reach, reach) if one == axis else (0, 0) for one in (0, 1)], constant_values=beyond)
        length = target.shape[axis]
        squares = np.full(target.shape, beyond, np.uint16)
        for step in range(-reach, reach + 1):
            start = reach + step
            part = wide[start : start + length] if axis == 0 else wide[:, start : start + length]
            np.minimum(squares, part + np.uint16(step * step), out=squares)
    squares[squares > reach * reach] = beyond
    return np.sqrt(squares, dtype=np.float64) - 0.5


def _blurred(picture: Reflectance, sigma: float) -> Reflectance:
    """Gaussian blur; what lies outside is like the edge."""
    reach = math.ceil(3 * sigma)
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-(steps**2) / (2 * sigma**2))
    kernel /= kernel.sum()
    for axis in (0, 1):
        wide = np.pad(picture, [(reach, reach) if one == axis else (0, 0) for one in (0, 1)], mode="edge")
        length = picture.shape[axis]
        total, part = np.zeros_like(picture), np.empty_like(picture)
        for share, start in zip(kernel, range(2 * reach + 1), strict=True):
            np.multiply(wide[start : start + length] if axis == 0 else wide[:, start : start + length], share, out=part)
            total += part
        picture = total
    return picture
