"""The X-dimension that a layout gives a symbol, and how large the symbol must then be on the page.

Lives here: dots from millimetres within the range of a stated use, the inked size against the symbol's box, and what
the posts ask of four-state bars.  The ranges stand here a second time, apart from the composer's (`barcode.sizes`).
Not here: looking at pages (`symbols`), measuring (`measure`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from vdp.job.items import FOUR_STATE, BarcodeItem
from vdp.units import MM_PER_INCH, mm
from vdp.verify.manifest import SymbolLine
from vdp.verify.measure import StateSeen

#: Least and largest X in millimetres (GS1 General Specifications §5.12.3; largest X of logistic labels from memory).
RANGES: Mapping[tuple[str, str], tuple[float, float]] = {
    ("ean13", "retail"): (0.264, 0.660),
    ("upca", "retail"): (0.264, 0.660),
    ("upce", "retail"): (0.264, 0.660),
    ("ean8", "retail"): (0.264, 0.660),
    ("ean13", "distribution"): (0.495, 0.660),
    ("upca", "distribution"): (0.495, 0.660),
    ("itf14", "distribution"): (0.495, 1.016),
    ("gs1-128", "distribution"): (0.495, 1.016),
    ("gs1-128", "logistics"): (0.495, 0.940),
    ("gs1-datamatrix", "retail"): (0.396, 0.990),
    ("gs1-qr", "retail"): (0.396, 0.990),
}
#: Modules of quiet zone across, both sides together, and down (clauses: `barcode.symbology`).
QUIET: Mapping[str, tuple[int, int]] = {
    **dict.fromkeys(("code128", "gs1-128", "s10", "code39", "itf", "itf14"), (20, 0)),
    **dict.fromkeys(("ean13", "upca"), (18, 0)),
    "ean8": (14, 0),
    "upce": (16, 0),
    **dict.fromkeys(("qr", "gs1-qr"), (8, 8)),
    **dict.fromkeys(("micro-qr", "pdf417"), (4, 4)),
    **dict.fromkeys(("datamatrix", "gs1-datamatrix"), (2, 2)),
    "aztec": (0, 0),
}
#: Ranges are printed in thousandths of a millimetre.
_LAST_DIGIT = 0.0005


class StateRange(NamedTuple):
    """Least and largest bars an inch, millimetres of a bar's width, of trackers, of ascenders and descenders and of
    full bars, and the least clear zone at either end."""

    per_inch: tuple[float, float]
    bar: tuple[float, float]
    tracker: tuple[float, float]
    half: tuple[float, float]
    full: tuple[float, float]
    clear: float


#: USPS-B-3200 §2.3.1 and §2.3.2 (inches); RM4SCC after a printer maker's manual; KIX taken to be alike, from memory.
_ROYAL = StateRange((20, 24), (0.38, 0.63), (1.02, 1.52), (2.62, 3.68), (4.22, 5.84), 2.0)
STATES: Mapping[str, StateRange] = {
    "imb": StateRange((20, 24), (0.381, 0.635), (0.9906, 1.4478), (2.0828, 2.8194), (3.175, 4.191), 3.175),
    "rm4scc": _ROYAL,
    "kix": _ROYAL,
}
#: Millimetres by which what is measured on pixels may leave a range.
_MEASURED = 0.02


def state_faults(seen: StateSeen, symbology: str) -> list[str]:
    """What of the bars of a four-state code is not as its post asks."""
    due = STATES[symbology]
    sizes = (
        ("mm from bar to bar", seen.pitch, (25.4 / due.per_inch[1], 25.4 / due.per_inch[0])),
        ("mm of bar width", seen.bar, due.bar),
        ("mm of tracker", seen.tracker, due.tracker),
        ("mm of ascender or descender", seen.half, due.half),
        ("mm of full bar", seen.full, due.full),
        ("mm of paper beside it", seen.clear, (due.clear, math.inf)),
    )
    return [
        f"{value:.2f} {what}, not {low:.2f}" + (f" to {high:.2f}" if high < math.inf else " or more")
        for what, value, (low, high) in sizes
        if value and not low - _MEASURED <= value <= high + _MEASURED
    ]


def module_of(item: BarcodeItem, dpi: int) -> int:
    """X in whole dots: the nearest, halves up, that the range of the stated use holds; 0 for four-state codes."""
    if item.barcode in FOUR_STATE or item.x is None:
        return 0
    per_mm = dpi / float(MM_PER_INCH)
    nearest = math.floor(mm(item.x) * per_mm + 0.5)
    known = RANGES.get((item.barcode, item.use or ""))
    if known is None:
        return nearest
    low, high = math.ceil((known[0] - _LAST_DIGIT) * per_mm), math.floor((known[1] + _LAST_DIGIT) * per_mm)
    return min(max(nearest, low), high)


def inked(symbol: SymbolLine, dpi: int, *, turned: bool) -> tuple[float, float] | None:
    """Width and height in dots that the symbol's ink must span on the page, 0 for the height of bars; None where X is
    not known.  `turned`: it lies on its side."""
    quiet = QUIET.get(symbol.symbology)
    if not symbol.module or quiet is None:
        return None
    box = ((symbol.box[2] - symbol.box[0]) * dpi / 72, (symbol.box[3] - symbol.box[1]) * dpi / 72)
    across, down = (box[1], box[0]) if turned else box
    width = across - quiet[0] * symbol.module - symbol.reduction[0]
    height = down - quiet[1] * symbol.module - symbol.reduction[1] if quiet[1] or symbol.symbology == "aztec" else 0.0
    return (height, width) if turned else (width, height)
