"""The least X-dimension at which each symbology came through a simulated print, in dots, against toner growth.

Data only, computed by `tests/benchmarks/least.py`, which a test repeats in part.  The simulation is not calibrated
against any press: the table says how symbologies compare, and under which size a test print is due.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

#: Growth of each edge in dots, the columns of the table.
GROWTHS = (0.0, 1.0, 2.0)
#: Raggedness and blur of the simulated press, in dots (engineering choice, no source).
PRESS = (0.4, 0.6)
#: Grade that every print must reach: 1.5 is what GS1 asks of most uses (from memory).
FLOOR = 1.5

LEAST: Mapping[str, tuple[int, ...]] = {
    "code128": (5, 7, 12),
    "gs1-128": (5, 7, 12),
    "code39": (5, 9, 14),
    "itf": (4, 8, 14),
    "itf14": (5, 9, 14),
    "ean13": (4, 7, 11),
    "ean8": (4, 7, 11),
    "upca": (4, 7, 11),
    "upce": (4, 6, 10),
    "qr": (5, 7, 11),
    "datamatrix": (5, 7, 10),
    "micro-qr": (7, 9, 11),
    "pdf417": (3, 5, 8),
    "aztec": (6, 6, 7),
}
#: What prints the same marks as another.
_LIKE = {"s10": "code128", "gs1-qr": "qr", "gs1-datamatrix": "datamatrix"}

#: Growth for which `vdp check` warns, in dots (engineering choice, no source).
USUAL_GROWTH = 1.0
#: Dots an inch of the simulated plates.
_DPI = 1200


def least_dots(symbology: str, dpi: int, growth: float = USUAL_GROWTH) -> int:
    """The least X in dots of `dpi` for a growth of each edge (below 0 edges shrink, which costs as much), taken up to
    the next of GROWTHS; what the weakest needs where none was computed."""
    place = next((at for at, one in enumerate(GROWTHS) if one >= abs(growth)), len(GROWTHS) - 1)
    known = LEAST.get(_LIKE.get(symbology, symbology))
    least = known[place] if known is not None else max(row[place] for row in LEAST.values())
    return math.ceil(least * dpi / _DPI)
