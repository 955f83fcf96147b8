"""Thresholds of the two grading standards, and the outcome of a grading.

Grades are whole, 4 best, 0 failed: the editions before decimal grades.  Sources: ISO/IEC 15416 and ISO/IEC 15415:2011,
thresholds as in published tables of verifier makers; what rests on memory says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

#: Words that stand wherever a grade is shown.
PREDICTION = "a prediction from a simulated print, not a verifier's grade"

#: Least values for grades 4, 3, 2, 1.
CONTRAST = (0.70, 0.55, 0.40, 0.20)
MODULATION = (0.70, 0.60, 0.50, 0.40)
DECODABILITY = (0.62, 0.50, 0.37, 0.25)
CELL_MODULATION = (0.50, 0.40, 0.30, 0.20)
UNUSED = (0.62, 0.50, 0.37, 0.25)
#: Largest values for grades 4, 3, 2, 1.
DEFECTS = (0.15, 0.20, 0.25, 0.30)
AXIAL = (0.06, 0.08, 0.10, 0.12)
GRID = (0.38, 0.50, 0.63, 0.75)
#: Pass or fail in ISO/IEC 15416: least edge contrast, and largest Rmin as a share of Rmax.
LEAST_EDGE, MOST_MINIMUM = 0.15, 0.5

_SLACK = 1e-9


class Graded(NamedTuple):
    """Outcome: the symbol's grade 0..4, each parameter's grade, each parameter's measured value (its worst)."""

    grade: float
    grades: Mapping[str, float]
    values: Mapping[str, float]

    @property
    def worst(self) -> str:
        """The parameter with the lowest grade; the first of several."""
        return min(self.grades, key=lambda name: self.grades[name])


def at_least(value: float, limits: Sequence[float]) -> int:
    """4 when the value reaches the first limit … 0 when it reaches none."""
    return next((4 - place for place, limit in enumerate(limits) if value >= limit - _SLACK), 0)


def at_most(value: float, limits: Sequence[float]) -> int:
    """4 when the value keeps within the first limit … 0 when within none."""
    return next((4 - place for place, limit in enumerate(limits) if value <= limit + _SLACK), 0)
