"""A place of a finished page through a loupe: one plate as it is drawn, and as dots of the press.

Not here: choosing the place (`smalltype`), judging (`dots`).
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pikepdf

from vdp.verify.dots import FINE
from vdp.verify.doubt import Unreadable
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.png import png
from vdp.verify.raster import Raster
from vdp.verify.smalltype import Thinnest
from vdp.verify.tree import open_pdf, pages

#: Ems around the middle of the letter that are shown, along and across.
_WIDE, _HIGH = 4.0, 1.3


def loupe_views(path: Path, spots: tuple[str, ...], place: Thinnest, dpi: int) -> list[tuple[str, bytes]]:
    """Label and PNG of both views of pieces.pdf; none where the page cannot be read."""
    page = 2 * (place.piece - 1) + place.side
    em = place.size * dpi / 72
    middle = [(place.box[axis] + place.box[axis + 2]) / 2 * dpi / 72 for axis in (0, 1)]
    left, low = (math.floor(at - reach * em) for at, reach in zip(middle, (_WIDE, _HIGH), strict=True))
    right, high = (math.ceil(at + reach * em) for at, reach in zip(middle, (_WIDE, _HIGH), strict=True))
    box = (left * 72 / dpi, low * 72 / dpi, right * 72 / dpi, high * 72 / dpi)
    try:
        with open_pdf(path) as pdf:
            (leaf,) = pages(pdf, page, page + 1)
            writer = PlateWriter(pdf, spots)
            copy = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media).copies[place.plate]
            if copy is None:
                return []
            with Raster(writer.finish()) as raster:
                grey = raster.region(copy, box, dpi * FINE)[: (high - low) * FINE, : (right - left) * FINE]
    except (Unreadable, OSError, ValueError, KeyError, pikepdf.PdfError):
        return []
    dots = np.where(grey[FINE // 2 :: FINE, FINE // 2 :: FINE] < 128, 0, 255).astype(np.uint8)
    return [
        (f"{place.plate} as it is drawn", png(grey)),
        (f"{place.plate} as dots of {dpi} an inch", png(np.kron(dots, np.ones((FINE, FINE), np.uint8)))),
    ]
