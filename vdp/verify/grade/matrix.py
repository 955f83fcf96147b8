"""ISO/IEC 15415: a matrix symbol graded from its reflectances.

Lives here: contrast, modulation, fixed pattern damage, non-uniformity of the grid, unused error correction.
Not here: the grid (`grid`), which modules are patterns (`fixed`), the simulation (`press`).

Unused error correction comes from a decoder that is shown the sampled modules and nothing else, as clean squares: what
it corrects is what the print lost.  Fixed patterns are mended first: their damage has a grade of its own.  The modules
that are right are those of the unprinted plate, and they are taken only when the decoder finds the expected data in
them without correcting anything.
"""

from __future__ import annotations

import numpy as np

from vdp.verify.decode import read
from vdp.verify.grade.fixed import QUIET, fixed_modules, pattern_grade
from vdp.verify.grade.grid import measure
from vdp.verify.grade.press import Bitmap, Reflectance
from vdp.verify.grade.scale import (
    AXIAL,
    CELL_MODULATION,
    CONTRAST,
    GRID,
    UNUSED,
    Graded,
    at_least,
    at_most,
)

#: Aperture as a share of X: ISO/IEC 15415 leaves it to the application; 80 % is what many take (from memory).
APERTURE = 0.8
_PIXELS, _MARGIN = 6, 5


def gradable(symbology: str) -> bool:
    """Whether there are rules for it here; all other two-dimensional symbols are decoded only."""
    return symbology in QUIET


def true_modules(plate: Bitmap, symbology: str, data: str, columns: int, rows: int) -> Bitmap | None:
    """Modules of an unprinted plate that holds the symbol with its quiet zone; None when the decoder finds other data
    in them or has to correct any."""
    quiet = QUIET[symbology]
    down = ((np.arange(rows) + quiet + 0.5) * plate.shape[0] / (rows + 2 * quiet)).astype(int)
    right = ((np.arange(columns) + quiet + 0.5) * plate.shape[1] / (columns + 2 * quiet)).astype(int)
    modules = plate[np.ix_(down, right)]
    return modules if unused_share(modules, symbology, data) == 1.0 else None


def unused_share(modules: Bitmap, symbology: str, data: str) -> float | None:
    """Share of error correction that a decoder did not need for these modules; None when it cannot read `data`."""
    clean = np.pad(np.kron(~modules, np.ones((_PIXELS, _PIXELS), bool)), _PIXELS * _MARGIN, constant_values=True)
    found = [one for one in read(clean.astype(np.uint8) * np.uint8(255), symbology) if one.text == data]
    return found[0].unused if found else None


def grade_matrix(picture: Reflectance, symbology: str, data: str, expected: Bitmap) -> Graded:
    """Grades a symbol that fills the picture with its quiet zone, turned as `expected` (dark modules, top row first).

    The symbol's grade is that of its worst parameter.  Raises ValueError for a symbology that is not gradable.
    """
    if not gradable(symbology):
        raise ValueError(f"{symbology} is decoded only")
    threshold = float(picture.min() + picture.max()) / 2
    across, down = measure(picture, expected, QUIET[symbology], threshold)
    rows, columns = expected.shape
    seen = _sampled(picture, down.centres(rows), across.centres(columns), (across.pitch + down.pitch) / 2)
    low, high = float(seen.min()), float(seen.max())
    contrast, middle = high - low, (low + high) / 2
    signed = np.where(expected, middle - seen, seen - middle)
    modulation = 2 * signed / contrast if contrast else np.zeros_like(seen)
    levels = np.select([modulation >= limit - 1e-9 for limit in CELL_MODULATION], [4, 3, 2, 1], 0)
    fixed = fixed_modules(expected.shape, symbology)
    unused = unused_share(np.where(fixed, expected, seen < middle), symbology, data)
    axial = abs(across.pitch - down.pitch) / ((across.pitch + down.pitch) / 2)
    departures = float(
        np.hypot(np.abs(across.departures / across.pitch).max(), np.abs(down.departures / down.pitch).max())
    )
    # What is read is the picture itself: the sampled modules alone would forgive a grid that no reader finds.
    shown = np.clip(np.round(picture * 255), 0, 255).astype(np.uint8)
    decodes = any(one.text == data for one in read(shown, symbology))
    values = {
        "decode": float(decodes),
        "contrast": contrast,
        "modulation": float(modulation.min()),
        "fixed": float((signed < 0)[fixed].mean()),
        "axial": axial,
        "grid": departures,
        "unused": unused if unused is not None else 0.0,
    }
    grades: dict[str, float] = {
        "decode": 4 if decodes else 0,
        "contrast": at_least(contrast, CONTRAST),
        "modulation": _modulation(np.where(fixed, 4, levels), expected, symbology, data),
        "fixed": pattern_grade(levels, symbology),
        "axial": at_most(axial, AXIAL),
        "grid": at_most(departures, GRID),
        "unused": at_least(unused, UNUSED) if unused is not None else 0,
    }
    return Graded(min(grades.values()), grades, values)


def _sampled(picture: Reflectance, rows: Reflectance, columns: Reflectance, pitch: float) -> Reflectance:
    """Mean reflectance in a round aperture in the middle of each module."""
    radius = APERTURE * pitch / 2
    reach = int(radius)
    total, count = np.zeros((len(rows), len(columns))), 0
    ys, xs = rows.astype(int), columns.astype(int)
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            if down**2 + right**2 <= radius**2:
                y = np.clip(ys + down, 0, picture.shape[0] - 1)
                x = np.clip(xs + right, 0, picture.shape[1] - 1)
                total += picture[np.ix_(y, x)]
                count += 1
    return total / count


def _modulation(levels: np.typing.NDArray[np.int_], expected: Bitmap, symbology: str, data: str) -> int:
    """Modulation overlaid with error correction: at each level the modules below it count as wrong, and the level
    holds as far as the error correction that is left; the best level counts."""
    best = 0
    for level in (4, 3, 2, 1):
        if level <= best:
            break
        below = levels < level
        left = unused_share(expected ^ below, symbology, data) if below.any() else 1.0
        best = max(best, min(level, at_least(left, UNUSED) if left is not None else 0))
    return best
