"""Pictures of a graded symbol: the plate, its simulated print, and a part of it enlarged.

Not here: which symbol is shown (`told`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from PIL import Image

from vdp.verify.grade.symbol import Printed, SymbolGrade
from vdp.verify.png import png
from vdp.verify.samples import Bytes

#: Pixels of a picture at most on a side, dots of the enlarged part, and pixels a dot in it.
_MOST, _LOUPE, _TIMES = 900, 110, 6


class Shot(NamedTuple):
    """A graded symbol with its pictures: label and PNG."""

    graded: SymbolGrade
    views: tuple[tuple[str, bytes], ...]


def shoot(graded: SymbolGrade, printed: Printed) -> Shot:
    """The pictures of one symbol, in the same greys whatever it holds: 255 is light that comes back whole."""
    ink = np.where(printed.plate, np.uint8(0), np.uint8(255))
    grey = np.clip(np.round(printed.print * 255), 0, 255).astype(np.uint8)
    rows = slice(*_middle(grey.shape[0]))
    columns = slice(*_middle(grey.shape[1]))
    loupe = np.kron(grey[rows, columns], np.ones((_TIMES, _TIMES), np.uint8))
    views = (
        ("the plate, as it was decoded", _png(ink)),
        ("its simulated print", _png(grey)),
        (f"the print's middle: {_LOUPE} dots enlarged", _png(loupe)),
    )
    return Shot(graded, views)


def _middle(size: int) -> tuple[int, int]:
    first = max(0, (size - _LOUPE) // 2)
    return first, min(size, first + _LOUPE)


def _png(grey: Bytes) -> bytes:
    picture = Image.fromarray(grey)
    picture.thumbnail((_MOST, _MOST), Image.Resampling.BOX)
    return png(np.asarray(picture))
