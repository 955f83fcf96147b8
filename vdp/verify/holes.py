"""Do other marks knock a hole into a spot plate's marks?  Asked only where their areas meet.

Not here: noticing that they may (`rewrite`).
"""

from __future__ import annotations

import numpy as np
import pikepdf

from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.tree import Leaf

#: Resolution at which holes are looked for, in dpi, and the difference in grey that is one.
_DPI, _DEPTH = 200, 96


def has_hole(pdf: pikepdf.Pdf, spots: tuple[str, ...], leaf: Leaf, plate: int) -> bool:
    """Renders the plate with and without what other marks knock out of it, and compares.  Raises Unreadable."""
    with_holes = _rendered(pdf, spots, leaf, plate, ignore=False)
    without = _rendered(pdf, spots, leaf, plate, ignore=True)
    if with_holes is None or without is None:
        return with_holes is not without
    return int(np.abs(with_holes.astype(np.int16) - without.astype(np.int16)).max()) >= _DEPTH


def _rendered(pdf: pikepdf.Pdf, spots: tuple[str, ...], leaf: Leaf, plate: int, *, ignore: bool) -> Bytes | None:
    writer = PlateWriter(pdf, spots, ignore_knockout=ignore)
    view = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media)
    copy = view.copies[writer.plates.names[plate]]
    if copy is None:
        return None
    with Raster(writer.finish()) as raster:
        return raster.region(copy, view.box, _DPI)
