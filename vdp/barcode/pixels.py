"""Bitmaps of one pixel a module → matrices, and strings of modules → bars.

Lives here: packing.  Not here: who makes the bitmap (`datamatrix`, `pdf417`, `aztec`, `micro_qr`) or the string.
"""

from __future__ import annotations

from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from vdp.marks import Bars, Matrix

Pixels = NDArray[np.uint8]


def matrix(pixels: Pixels) -> Matrix:
    """(rows, columns) pixels, 0 = dark, as a matrix."""
    packed = np.packbits(pixels == 0, axis=1, bitorder="little")
    stride = packed.shape[1]
    flat = packed.tobytes()
    rows = (int.from_bytes(flat[i : i + stride], "little") for i in range(0, len(flat), stride))
    return Matrix(pixels.shape[1], tuple(rows))


def bars(modules: str) -> Bars:
    """A string of 1 (bar) and 0 (space) that begins and ends with a bar, as element widths."""
    return Bars(bytes(len(list(run)) for _, run in groupby(modules)))
