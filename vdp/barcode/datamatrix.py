"""Data Matrix ECC 200 (ISO/IEC 16022), square sizes: text → modules, through zxing-cpp's creator.

Lives here: sizes, the call, a check that its size option was obeyed.  Not here: rectangles, GS1 (FNC1), quiet zone.
Text outside ASCII is carried as UTF-8 after ECI 26.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import zxingcpp

from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

#: ISO/IEC 16022 Table 7: modules a side of the square ECC 200 symbols, finder and timing patterns included.
SIZES = (10, 12, 14, 16, 18, 20, 22, 24, 26, 32, 36, 40, 44, 48, 52, 64, 72, 80, 88, 96, 104, 120, 132, 144)

#: ISO/IEC 16022 Table 7: digits that the largest symbol holds; nothing longer fits in any encodation.
LONGEST = 3116


def encode(text: str, size: int | None = None) -> Matrix:
    """The modules of `text` in a symbol of `size` modules a side, or in the smallest square that holds it.

    Raises RowRefused when `text` is empty or does not fit, OurBug when `size` is not one of SIZES.
    """
    if size is None:
        return _pack(_create(text, forceSquare=True))
    if size not in SIZES:
        raise OurBug(f"Data Matrix has no square size of {size} modules")
    try:
        pixels = _create(text, version=SIZES.index(size) + 1)
    except RowRefused:
        needed = size_needed(text)
        raise RowRefused((f"Data Matrix needs {needed} × {needed} modules, its size is {size} × {size}",)) from None
    if pixels.shape != (size, size):
        raise OurBug(f"a Data Matrix of {size} modules was asked for and {pixels.shape} came")
    return _pack(pixels)


def size_needed(text: str) -> int:
    """Modules a side of the smallest square symbol that holds `text`.  Raises RowRefused when none does."""
    return len(_create(text, forceSquare=True))


def _create(text: str, **options: Any) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """Pixels, one a module, 0 = dark.  Options that the creator does not know are ignored by it: check the result."""
    if not text:
        raise RowRefused(("Data Matrix cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"Data Matrix of {len(text)} characters: the largest symbol holds {LONGEST} digits",))
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise RowRefused(("Data Matrix cannot carry half of a surrogate pair",))
    if not text.isascii():
        options["eci"] = 26
    try:
        symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, **options)
    except ValueError as error:
        raise RowRefused((f"Data Matrix cannot hold the text: {error}",)) from None
    return np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))


def _pack(pixels: np.ndarray[tuple[int, int], np.dtype[np.uint8]]) -> Matrix:
    height, width = pixels.shape
    if height != width:
        raise OurBug(f"a square Data Matrix was asked for and {width} × {height} modules came")
    packed = np.packbits(pixels == 0, axis=1, bitorder="little")
    stride = packed.shape[1]
    flat = packed.tobytes()
    return Matrix(width, tuple(int.from_bytes(flat[i : i + stride], "little") for i in range(0, len(flat), stride)))
