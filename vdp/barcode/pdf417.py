"""PDF417 (ISO/IEC 15438): text → modules, through zxing-cpp's creator.

Lives here: columns, rows, error correction level, the call and a check that it was obeyed.  Not here: quiet zone,
sizes.  A row of codewords is ROW module rows high here, the least that the standard allows (§5.8.2: Y at least 3 X).
Text outside ASCII is carried as UTF-8 after ECI 26.
"""

from __future__ import annotations

import numpy as np
import zxingcpp

from vdp.barcode.pixels import Pixels, matrix
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

#: ISO/IEC 15438 §5.2: data columns, rows, error correction levels (2 ** (level + 1) codewords), codewords in all.
COLUMNS = range(1, 31)
ROWS = range(3, 91)
LEVELS = range(9)
CODEWORDS = 928
#: Height of a row in modules.
ROW = 3
#: ISO/IEC 15438 §5.1 e): digits at level 0, the most that any symbol holds.
LONGEST = 2710


def encode(text: str, columns: int, level: int, rows: int | None = None) -> Matrix:
    """The symbol of `text` with that many data columns and rows, or as few rows as hold it.

    Raises RowRefused when `text` is empty or does not fit; OurBug for columns, rows or level that do not exist.
    """
    if columns not in COLUMNS or level not in LEVELS or (rows is not None and rows not in ROWS):
        raise OurBug(f"PDF417 has no size of {columns} columns, {rows} rows and level {level}")
    needed = _created(text, columns, level)
    high = len(needed) // ROW
    if rows is None or rows == high:
        return matrix(needed)
    if high > rows:
        raise RowRefused((f"PDF417 needs {high} rows of {columns} columns, its size is {rows} rows",))
    if rows * columns > CODEWORDS:
        raise RowRefused((f"PDF417 holds {CODEWORDS} codewords, and {rows} × {columns} are more",))
    pixels = _created(text, columns, level, rows)
    if len(pixels) != rows * ROW:
        raise OurBug(f"a PDF417 of {rows} rows was asked for and one of {len(pixels) / ROW} came")
    return matrix(pixels)


def rows_needed(text: str, columns: int, level: int) -> int:
    """The fewest rows that hold `text`.  Raises as `encode`."""
    return len(encode(text, columns, level).rows) // ROW


def extent(columns: int) -> int:
    """Width in modules: start, stop and two row indicators beside the data (§5.2.3)."""
    return 17 * (columns + 4) + 1


def _created(text: str, columns: int, level: int, rows: int | None = None) -> Pixels:
    """Pixels; `rows` fewer than needed are ignored by the creator."""
    if not text:
        raise RowRefused(("PDF417 cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"PDF417 of {len(text)} characters: the largest symbol holds {LONGEST} digits",))
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise RowRefused(("PDF417 cannot carry half of a surrogate pair",))
    options: dict[str, object] = {"columns": columns, "ec_level": str(level)}
    if rows is not None:
        options["rows"] = rows
    if not text.isascii():
        options["eci"] = 26
    try:
        symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.PDF417, **options)
    except ValueError as error:
        raise RowRefused((f"PDF417 cannot hold the text: {error}",)) from None
    pixels: Pixels = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    if pixels.shape[1] != extent(columns):
        raise RowRefused((f"PDF417 of {columns} columns and level {level} does not hold the text in {ROWS[-1]} rows",))
    return pixels
