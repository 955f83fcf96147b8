"""A symbol mark drawn in pixels and read: a dot is a pixel."""

from __future__ import annotations

import numpy as np
import zxingcpp

from vdp.marks import Bars, Matrix, SymbolMark

_FORMATS = {"datamatrix": zxingcpp.BarcodeFormat.DataMatrix, "code128": zxingcpp.BarcodeFormat.Code128}


def black(mark: SymbolMark, kind: str) -> str:
    """What the symbol says; it must fill its box, quiet zone and all."""
    _, _, width, height = mark.box
    left, bottom, right, top = mark.quiet
    if isinstance(mark.shape, Bars):
        dark = np.repeat([at % 2 == 0 for at in range(len(mark.shape.widths))], [*mark.shape.widths])
        modules = np.tile(dark, (1, 1))
        drawn = np.repeat(np.repeat(modules, mark.module, axis=1), mark.height, axis=0)
    else:
        assert isinstance(mark.shape, Matrix)
        rows = mark.shape.rows
        modules = np.array([[row >> x & 1 for x in range(mark.shape.width)] for row in rows], bool)
        drawn = np.repeat(np.repeat(modules, mark.module, axis=0), mark.module, axis=1)
    pixels = np.full((height, width), 255, np.uint8)
    assert drawn.shape == (height - top - bottom, width - left - right)
    pixels[top : height - bottom, left : width - right][drawn] = 0
    found = zxingcpp.read_barcodes(np.pad(pixels, 20, constant_values=255), formats=_FORMATS[kind])  # type: ignore[arg-type]  # a format
    return found[0].text if found else ""
