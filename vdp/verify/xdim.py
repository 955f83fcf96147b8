"""The X-dimension that a layout gives a symbol, and how large the symbol must then be on the page.

Lives here: dots from millimetres within the range of a stated use, and the inked size against the symbol's box.  The
ranges stand here a second time, apart from the composer's (`barcode.sizes`).  Not here: looking at pages (`symbols`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from vdp.job.items import FOUR_STATE, BarcodeItem
from vdp.units import MM_PER_INCH, mm
from vdp.verify.manifest import SymbolLine

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
