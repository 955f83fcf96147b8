"""Data Matrix ECC 200 (ISO/IEC 16022): text or GS1 element string → modules, through zxing-cpp's creator.

Lives here: square and rectangular sizes, the call, a check that its size option was obeyed.  Not here: what an element
string holds (`gs1`), quiet zone.  Text outside ASCII is carried as UTF-8 after ECI 26.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import zxingcpp

from vdp.barcode.gs1 import ElementString
from vdp.barcode.pixels import Pixels, matrix
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

#: ISO/IEC 16022 Table 7: modules a side of the square ECC 200 symbols, finder and timing patterns included.
SIZES = (10, 12, 14, 16, 18, 20, 22, 24, 26, 32, 36, 40, 44, 48, 52, 64, 72, 80, 88, 96, 104, 120, 132, 144)
#: ISO/IEC 16022 Table 7: rows and columns of the rectangular symbols, which the creator numbers after the squares.
RECTANGLES = ((8, 18), (8, 32), (12, 26), (12, 36), (16, 36), (16, 48))

#: ISO/IEC 16022 Table 7: digits that the largest symbol holds; nothing longer fits in any encodation.
LONGEST = 3116


def encode(payload: str | ElementString, size: int | tuple[int, int] | None = None) -> Matrix:
    """The modules of `payload` in a symbol of `size`: modules a side, or (rows, columns) of a rectangle; without it in
    the smallest square that holds it.  An element string becomes GS1 DataMatrix: FNC1 in first position.

    Raises RowRefused when `payload` is empty or does not fit, OurBug when `size` is none of SIZES or RECTANGLES.
    """
    if size is None:
        return _pack(_create(payload, forceSquare=True))
    if isinstance(size, int):
        if size not in SIZES:
            raise OurBug(f"Data Matrix has no square size of {size} modules")
        return _sized(payload, SIZES.index(size) + 1, (size, size))
    if size not in RECTANGLES:
        raise OurBug(f"Data Matrix has no rectangle of {size[0]} × {size[1]} modules")
    return _sized(payload, len(SIZES) + RECTANGLES.index(size) + 1, size)


def size_needed(payload: str | ElementString) -> int:
    """Modules a side of the smallest square symbol that holds `payload`.  Raises RowRefused when none does."""
    return len(_create(payload, forceSquare=True))


def rectangle_needed(payload: str | ElementString) -> tuple[int, int]:
    """Rows and columns of the rectangle with fewest modules that holds `payload`.  Raises RowRefused when none does."""
    for place, size in enumerate(RECTANGLES):
        try:
            _create(payload, version=len(SIZES) + place + 1)
        except RowRefused:
            continue
        return size
    rows, columns = RECTANGLES[-1]
    raise RowRefused((f"no rectangular Data Matrix holds the text: the largest has {rows} × {columns} modules",))


def _sized(payload: str | ElementString, version: int, size: tuple[int, int]) -> Matrix:
    try:
        pixels = _create(payload, version=version)
    except RowRefused:
        rows, columns = rectangle_needed(payload) if size in RECTANGLES else (size_needed(payload),) * 2
        raise RowRefused(
            (f"Data Matrix needs {rows} × {columns} modules, its size is {size[0]} × {size[1]}",)
        ) from None
    if pixels.shape != size:
        raise OurBug(f"a Data Matrix of {size[0]} × {size[1]} modules was asked for and {pixels.shape} came")
    return _pack(pixels, size)


def _create(payload: str | ElementString, **options: Any) -> Pixels:
    """Pixels, one a module, 0 = dark.  Options that the creator does not know are ignored by it: check the result."""
    if isinstance(payload, ElementString):
        # In square brackets, which no GS1 value holds: round ones may be part of one.
        text = "".join(f"[{ai}]{value}" for ai, value in payload.elements)
        options["gs1"] = True
    else:
        text = payload
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
    pixels: Pixels = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    return pixels


def _pack(pixels: Pixels, rectangle: tuple[int, int] | None = None) -> Matrix:
    height, width = pixels.shape
    if height != width and (height, width) != rectangle:
        raise OurBug(f"a square Data Matrix was asked for and {width} × {height} modules came")
    return matrix(pixels)
