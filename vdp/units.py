"""Where millimetres, points and device dots meet, and nowhere else.

A length is held as a float number of points (1/72 in) until the press resolution is known; then it becomes a whole
number of device dots.  Names that hold dots end in ``_dots``.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

POINTS_PER_INCH = 72
MM_PER_INCH = Fraction(254, 10)

#: One unit in points, exactly.
UNITS: dict[str, Fraction] = {
    "mm": POINTS_PER_INCH / MM_PER_INCH,
    "in": Fraction(POINTS_PER_INCH),
    "pt": Fraction(1),
}

#: Longest length taken, in points: 10 km, more than any roll of paper has.
LONGEST = 10_000_000 * 72 / 25.4

_LENGTH = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([A-Za-z]*)\s*\Z")


def parse_length(text: str) -> float:
    """``"3 mm"``, ``"0.25in"`` or ``"11 pt"`` → points.  Raises ValueError that says what is missing."""
    match = _LENGTH.match(text)
    if not match:
        raise ValueError(f"'{text}' is not a length: write a number and a unit, such as '3 mm', '0.25 in' or '11 pt'")
    number, unit = match.groups()
    if not unit:
        raise ValueError(f"'{text}' has no unit: write '{number} mm', '{number} in' or '{number} pt'")
    if unit not in UNITS:
        raise ValueError(f"'{unit}' is not a unit of length: use mm, in or pt")
    points_of_it = float(Fraction(number) * UNITS[unit])
    if abs(points_of_it) > LONGEST:
        raise ValueError(f"'{text}' is longer than anything that is printed")
    return points_of_it


def mm(points: float) -> float:
    """Points → millimetres, for messages."""
    return float(points * MM_PER_INCH / POINTS_PER_INCH)


def dots(points: float, dpi: int) -> int:
    """Points → the nearest whole device dot; halves go up, so that equal lengths give equal dots."""
    return math.floor(points * dpi / POINTS_PER_INCH + 0.5)


def points(n_dots: int, dpi: int) -> float:
    """Device dots → points."""
    return n_dots * POINTS_PER_INCH / dpi
