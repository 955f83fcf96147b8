"""Aztec Code (ISO/IEC 24778): text → modules, through zxing-cpp's creator.

Lives here: sizes, the call and a check that it was obeyed.  Not here: runes, sizes in millimetres; no quiet zone is
needed.  Text outside ASCII is carried as UTF-8 after ECI 26.
"""

from __future__ import annotations

import numpy as np
import zxingcpp

from vdp.barcode.pixels import Pixels, matrix
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

#: ISO/IEC 24778 Table 1: modules a side of the compact symbols of 1 … 4 layers.
COMPACT = (15, 19, 23, 27)
#: … and of the full-range symbols of 1 … 32 layers: a reference grid line joins in every eighth layer or so.
FULL = (
    *(19, 23, 27, 31, 37, 41, 45, 49, 53, 57, 61, 67, 71, 75, 79, 83),
    *(87, 91, 95, 101, 105, 109, 113, 117, 121, 125, 131, 135, 139, 143, 147, 151),
)
#: The creator's numbers of sizes: compact first.  Of a compact and a full symbol of one size the compact one is used.
_VERSIONS = {side: place for place, side in reversed(list(enumerate(COMPACT + FULL, start=1)))}
SIZES = tuple(sorted(_VERSIONS))

#: ISO/IEC 24778 §4.1: digits that the largest symbol holds.
LONGEST = 3832

#: ISO/IEC 24778 §7.3.1.1 advises 23 % of check codewords and 3 more; the creator's default keeps to that.


def encode(text: str, size: int | None = None) -> Matrix:
    """The symbol of `text`, `size` modules a side, or in the smallest that holds it with the advised error correction.

    A symbol of a given size uses all its spare room for error correction.  Raises RowRefused when `text` is empty or
    does not fit; OurBug for a size that is not in SIZES.
    """
    if size is None:
        return matrix(_created(text))
    if size not in SIZES:
        raise OurBug(f"Aztec Code has no size of {size} modules")
    needed = size_needed(text)
    if needed > size:
        raise RowRefused((f"Aztec Code needs {needed} × {needed} modules, its size is {size} × {size}",))
    pixels = _created(text, version=_VERSIONS[size])
    if pixels.shape != (size, size):
        raise OurBug(f"an Aztec Code of {size} modules was asked for and {pixels.shape} came")
    return matrix(pixels)


def size_needed(text: str) -> int:
    """Modules a side of the smallest symbol that holds `text`.  Raises RowRefused when none does."""
    return len(_created(text))


def _created(text: str, **options: object) -> Pixels:
    if not text:
        raise RowRefused(("Aztec Code cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"Aztec Code of {len(text)} characters: the largest symbol holds {LONGEST} digits",))
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise RowRefused(("Aztec Code cannot carry half of a surrogate pair",))
    if not text.isascii():
        options["eci"] = 26
    try:
        symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Aztec, **options)
    except ValueError as error:
        raise RowRefused((f"Aztec Code cannot hold the text: {error}",)) from None
    pixels: Pixels = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    return pixels
