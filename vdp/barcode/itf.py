"""Interleaved 2 of 5 (ISO/IEC 16390) and ITF-14 (GS1 General Specifications §5.3): digits → element widths.

Lives here: pairs of digits, one in bars and one in spaces.  Not here: bearer bars and sizes (`sizes`), quiet zone.
Patterns are python-barcode's table.  Widths are in units, as in `code39`.
"""

from __future__ import annotations

from barcode.charsets import itf as tables

from vdp.barcode.code39 import RATIOS
from vdp.barcode.ean import whole
from vdp.errors import OurBug, RowRefused
from vdp.marks import Bars

#: Own limit, no source.
LONGEST = 100


def encode(text: str, ratio: float = 3.0) -> Bars:
    """The bars of an even count of digits; no check digit is added.

    Raises RowRefused for anything else: a leading zero would change the data.  OurBug for a ratio not in RATIOS.
    """
    if ratio not in RATIOS:
        raise OurBug(f"Interleaved 2 of 5 is not drawn at a ratio of {ratio}")
    if not text.isascii() or not text.isdigit() or len(text) % 2 or len(text) > LONGEST:
        raise RowRefused((f"Interleaved 2 of 5 holds 2, 4, 6 … {LONGEST} digits, not '{text[:20]}'",))
    narrow, wide = RATIOS[ratio]
    elements = tables.START.upper()
    for bar, space in zip(text[::2], text[1::2], strict=True):
        elements += "".join(b + s for b, s in zip(tables.CODES[int(bar)], tables.CODES[int(space)], strict=True))
    return Bars(bytes(wide if e == "W" else narrow for e in elements + tables.STOP.upper()))


def itf14(text: str, ratio: float = 2.5) -> Bars:
    """A GTIN of 13 digits, or 14 with their check digit; GS1 aims at a ratio of 2.5 (from memory) and allows 3."""
    return encode(whole(text, 14, "ITF-14"), ratio)
