"""Which modules of a matrix symbol are fixed patterns, and the grade that their damage leaves.

After ISO/IEC 18004 (QR, Micro QR) and ISO/IEC 16022 (Data Matrix), annexes on print quality; segments and limits are
from memory.  Left out: alignment patterns, and the average grade over all segments.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.verify.grade.press import Bitmap
from vdp.verify.grade.scale import at_most

_Levels = npt.NDArray[np.int_]

#: Modules of quiet zone on every side (ISO/IEC 18004, 9.1; ISO/IEC 16022, 7.1).
QUIET: Mapping[str, int] = {"qr": 4, "gs1-qr": 4, "micro-qr": 2, "datamatrix": 1, "gs1-datamatrix": 1}

#: Damaged modules of a finder pattern for grades 4, 3, 2, 1.
_FINDER = (0, 1, 2, 3)
#: Share of damaged modules of a timing pattern, a clock track, or a side of the L.
_TIMING = (0.0, 0.07, 0.11, 0.14)
_SIDE = (0.0, 0.09, 0.13, 0.17)


class Segment(NamedTuple):
    """Levels of the modules of one fixed pattern; limits are counts when `counted`, else shares."""

    levels: _Levels
    limits: tuple[float, ...]
    counted: bool


def pattern_grade(levels: _Levels, symbology: str) -> int:
    """Grade of the worst fixed pattern; `levels` are the modules' modulation grades, 0 for a module of wrong colour.

    At each level the modules below it count as damaged; a pattern has the best of the lower of level and damage grade.
    """
    return min(_grade(segment) for segment in _SEGMENTS[symbology.removeprefix("gs1-")](levels))


def fixed_modules(shape: tuple[int, int], symbology: str) -> Bitmap:
    """Which modules of a symbol of that shape are fixed patterns."""
    marked = np.zeros(shape, np.int_)
    for segment in _SEGMENTS[symbology.removeprefix("gs1-")](marked):
        segment.levels[...] = 1
    return marked.astype(bool)


def _grade(segment: Segment) -> int:
    def at(level: int) -> int:
        damaged = segment.levels < level
        amount = float(damaged.sum()) if segment.counted else float(damaged.mean())
        return min(level, at_most(amount, segment.limits))

    return max(at(level) for level in (4, 3, 2, 1))


def _qr(levels: _Levels) -> list[Segment]:
    corners = (levels[:8, :8], levels[:8, -8:], levels[-8:, :8])
    timing = (levels[6, 8:-8], levels[8:-8, 6])
    return [Segment(one, _FINDER, True) for one in corners] + [Segment(one, _TIMING, False) for one in timing]


def _micro_qr(levels: _Levels) -> list[Segment]:
    timing = (levels[0, 8:], levels[8:, 0])
    return [Segment(levels[:8, :8], _FINDER, True)] + [Segment(one, _TIMING, False) for one in timing]


def _datamatrix(levels: _Levels) -> list[Segment]:
    sides = (levels[:, 0], levels[-1])
    clocks = (levels[0, 1:], levels[:, -1])
    return [Segment(one, _SIDE, False) for one in sides] + [Segment(one, _TIMING, False) for one in clocks]


_SEGMENTS: Mapping[str, Callable[[_Levels], list[Segment]]] = {
    "qr": _qr,
    "micro-qr": _micro_qr,
    "datamatrix": _datamatrix,
}
