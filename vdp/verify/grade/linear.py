"""ISO/IEC 15416: a linear code graded from ten scan lines.

Lives here: scan reflectance profiles and their parameters.  Not here: decodability (`decodability`), the simulation.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from vdp.verify.decode import LINEAR, read
from vdp.verify.grade.decodability import decodability
from vdp.verify.grade.press import Reflectance
from vdp.verify.grade.scale import (
    CONTRAST,
    DECODABILITY,
    DEFECTS,
    LEAST_EDGE,
    MODULATION,
    MOST_MINIMUM,
    Graded,
    at_least,
    at_most,
)

#: Scan lines, and the share of the bars' height in which they lie (ISO/IEC 15416, inspection band).
SCANS, BAND = 10, 0.8
#: Aperture as a share of X.  The standard names diameters for ranges of X; this is about their middle (from memory).
APERTURE = 0.8
_NAMES = ("decode", "contrast", "minimum", "edge", "modulation", "defects", "decodability")


class Profile(NamedTuple):
    """One scan cut into elements: positions of the edges in dots, and reflectances of each element, quiet zones
    first and last."""

    edges: tuple[float, ...]
    elements: tuple[Reflectance, ...]


def grade_linear(picture: Reflectance, symbology: str, data: str, module: float) -> Graded:
    """Grades an upright code with its quiet zones and nothing else.  `module` is X in dots.

    The symbol's grade is the mean of its scans, a scan's that of its worst parameter.  Raises ValueError for what is
    no linear code.
    """
    if symbology not in LINEAR:
        raise ValueError(f"{symbology} is no linear code")
    scans = [_scan(line, symbology, data, module) for line in _lines(picture, module)]
    grades = {name: sum(scan.grades[name] for scan in scans) / SCANS for name in _NAMES}
    values = {
        name: (max if name in ("minimum", "defects") else min)(scan.values[name] for scan in scans) for name in _NAMES
    }
    return Graded(round(sum(scan.grade for scan in scans) / SCANS, 1), grades, values)


def _lines(picture: Reflectance, module: float) -> list[Reflectance]:
    """The scan reflectance profiles, seen through a round aperture."""
    middle = (picture.min() + picture.max()) / 2
    rows = np.flatnonzero((picture < middle).any(axis=1))
    top, bottom = (int(rows[0]), int(rows[-1])) if len(rows) else (0, picture.shape[0] - 1)
    radius = APERTURE * module / 2
    margin = (1 - BAND) / 2 * (bottom - top)
    return [_through(picture, round(y), radius) for y in np.linspace(top + margin, bottom - margin, SCANS)]


def _through(picture: Reflectance, row: int, radius: float) -> Reflectance:
    """Means over a disc that moves along a row."""
    height, width = picture.shape
    total, weight = np.zeros(width), 0
    reach = int(radius)
    for down in range(-reach, reach + 1):
        half = int((radius**2 - down**2) ** 0.5)
        line = picture[min(max(row + down, 0), height - 1)]
        sums = np.concatenate(([0.0], np.cumsum(np.pad(line, half, mode="edge"))))
        total += sums[2 * half + 1 :] - sums[: -2 * half - 1]
        weight += 2 * half + 1
    return total / weight


def _scan(line: Reflectance, symbology: str, data: str, module: float) -> Graded:
    low, high = float(line.min()), float(line.max())
    contrast = high - low
    profile = cut(line, (low + high) / 2)
    edge = _least_edge(profile) if contrast else 0.0
    modulation = edge / contrast if contrast else 0.0
    defects = max((_unevenness(one, dark=place % 2 == 1) for place, one in enumerate(profile.elements)), default=0.0)
    defects = defects / contrast if contrast else 1.0
    decodes = _decodes(line, (low + high) / 2, symbology, data)
    clear = decodability(np.diff(profile.edges), symbology, module) if decodes else 0.0
    values = {
        "decode": float(decodes),
        "contrast": contrast,
        "minimum": low / high if high else 1.0,
        "edge": edge,
        "modulation": modulation,
        "defects": defects,
        "decodability": clear,
    }
    grades: dict[str, float] = {
        "decode": 4 if decodes else 0,
        "contrast": at_least(contrast, CONTRAST),
        "minimum": 4 if values["minimum"] <= MOST_MINIMUM else 0,
        "edge": 4 if edge >= LEAST_EDGE else 0,
        "modulation": at_least(modulation, MODULATION),
        "defects": at_most(defects, DEFECTS),
        "decodability": at_least(clear, DECODABILITY),
    }
    return Graded(min(grades.values()), grades, values)


def cut(line: Reflectance, threshold: float) -> Profile:
    """A profile's elements, cut where it crosses the global threshold."""
    dark = line < threshold
    places = np.flatnonzero(dark[1:] != dark[:-1])
    rise = line[places + 1] - line[places]
    edges = places + (threshold - line[places]) / np.where(rise == 0, 1, rise) + 0.5
    return Profile(tuple(float(edge) for edge in edges), tuple(np.split(line, places + 1)))


def _least_edge(profile: Profile) -> float:
    """The least edge contrast: a space's highest reflectance less the lowest of the bar beside it."""
    ends = [one.min() if place % 2 else one.max() for place, one in enumerate(profile.elements)]
    return float(min((abs(a - b) for a, b in pairwise(ends)), default=0.0))


def _unevenness(element: Reflectance, *, dark: bool) -> float:
    """Element reflectance non-uniformity: its highest peak less its lowest valley.

    A bar has a valley by nature and a space a peak; only what stands between two turns of the other kind counts.
    """
    values = element if dark else -element
    if len(values) < 3:
        return 0.0
    before, after = np.minimum.accumulate(values), np.minimum.accumulate(values[::-1])[::-1]
    rises = np.minimum(values[1:-1] - before[:-2], values[1:-1] - after[2:])
    inside = values[1:-1][rises > 1e-6]
    return float(inside.max() - values.min()) if len(inside) else 0.0


def _decodes(line: Reflectance, threshold: float, symbology: str, data: str) -> bool:
    """Whether the scan's elements, cut at the threshold and drawn to a quarter of a dot, say what they must."""
    fine = np.interp(np.arange(0, len(line) - 1, 0.25), np.arange(len(line)), line)
    drawn = np.where(fine < threshold, 0, 255).astype(np.uint8)
    return any(one.text == data for one in read(np.repeat(drawn[None, :], 60, axis=0), symbology))
