"""What lies too near a fold, a perforation, a slit or glue, and what a window shows.

Lives here: distances between boxes, in whole dots of the page.  Not here: where folds fall (`folds`), the post's own
zones (`letter`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import hypot
from typing import NamedTuple

from vdp.errors import Fault
from vdp.marks import Box
from vdp.plan.page import inside, overlaps
from vdp.units import MM_PER_INCH, dots, parse_length

#: A code keeps this far from every fold, perforation and slit (common practice; the job cannot lower it).
CODE_CLEARANCE = parse_length("3 mm")
#: How far an insert may slip in its envelope (common practice).
INSERT_SHIFT = parse_length("3 mm")


class Named(NamedTuple):
    """An area, or a line as an area without width, with a name for messages: "qr", "fold 2", "perforation 1"."""

    name: str
    box: Box


def gap(one: Box, other: Box) -> float:
    """The shortest way between two boxes in dots; 0 where they touch or overlap."""
    across = max(one[0] - other[0] - other[2], other[0] - one[0] - one[2], 0)
    down = max(one[1] - other[1] - other[3], other[1] - one[1] - one[3], 0)
    return hypot(across, down)


def too_near(codes: Iterable[Named], lines: Iterable[Named], dpi: int, where: str) -> Iterator[Fault]:
    """Every code (box of its modules, without quiet zone) less than 3 mm from a fold, perforation or slit."""
    least = dots(CODE_CLEARANCE, dpi)
    all_lines = list(lines)
    for code in codes:
        for line in all_lines:
            away = gap(code.box, line.box)
            if away < least:
                yield Fault(
                    where,
                    f"'{code.name}' lies {_mm(away, dpi)} mm from {line.name}: codes keep {_mm(least, dpi)} mm",
                    "move the code or the line",
                )


def on_bare(marks: Iterable[Named], bare: Iterable[Named], where: str) -> Iterator[Fault]:
    """Every mark that prints where glue must find bare paper, on whatever plate."""
    zones = list(bare)
    for mark in marks:
        for zone in zones:
            if overlaps(mark.box, zone.box):
                yield Fault(where, f"'{mark.name}' prints on {zone.name}, which must stay bare paper on every plate")


def window_faults(
    address: Named, window: Box, others: Iterable[Named], dpi: int, where: str, shift: float = INSERT_SHIFT
) -> Iterator[Fault]:
    """What goes wrong behind an address window when the insert slips by `shift` points in any direction.

    The whole address must still show, and nothing else may.
    """
    slip = dots(shift, dpi)
    if not inside(_grown(address.box, slip), window):
        yield Fault(
            where,
            f"'{address.name}' leaves the window when the insert slips by {_mm(slip, dpi)} mm",
            "move or shrink it",
        )
    for other in others:
        if overlaps(_grown(other.box, slip), window):
            yield Fault(
                where, f"'{other.name}' shows in the window when the insert slips by {_mm(slip, dpi)} mm", "move it"
            )


def _grown(box: Box, by: int) -> Box:
    return (box[0] - by, box[1] - by, box[2] + 2 * by, box[3] + 2 * by)


def _mm(n_dots: float, dpi: int) -> str:
    return f"{float(n_dots * float(MM_PER_INCH) / dpi):.2f}"
