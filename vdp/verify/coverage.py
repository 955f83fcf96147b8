"""How much of a page each plate covers, and where the toner lies thickest (total area coverage), from its plate copies.

Lives here: areas and their sums.  Not here: pictures of them (`heat`), what a page may carry at most (the caller).

The area of a plate is the mean of its tints over the page's trim; total area coverage at a place is the sum of all
plates' tints there, in percent, so 400 where four plates are solid.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pikepdf

from vdp.verify.doubt import Unreadable
from vdp.verify.inks import PROCESS
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.state import Area
from vdp.verify.tree import Leaf, open_pdf, pages

Tints = npt.NDArray[np.float32]
#: Resolution at which areas are measured, in dpi: edges of marks are grey there in proportion.
DPI = 300
#: Side of the patch over which the thickest place is averaged, in mm (a hairline crossing is no puddle; common
#: practice, no source).
PATCH_MM = 1.0


class Coverage(NamedTuple):
    """One page.  `areas`: percent of the trim by plate; `mean` and `most`: total area coverage in percent; `where`: the
    thickest patch, in points from the page's lower left corner."""

    areas: Mapping[str, float]
    mean: float
    most: float
    where: Area


def page_coverage(
    path: Path, page: int, spots: Sequence[str], *, counted: Sequence[str] | None = None, dpi: float = DPI
) -> Coverage:
    """Coverage of a 1-based page.  `counted` are the plates whose tints add up to the total (default: the process
    plates).  Raises Unreadable for what the plate copies cannot show: soft masks, blend modes, meshes, Type 3."""
    tints, trim = plate_tints(path, page, spots, dpi)
    return measure(tints, trim, tuple(counted if counted is not None else PROCESS), dpi)


def plate_tints(path: Path, page: int, spots: Sequence[str], dpi: float) -> tuple[dict[str, Tints], Area]:
    """Tint 0..1 of every plate over the trim of a 1-based page (rows from the top), and the trim in points."""
    with open_pdf(path) as pdf:
        try:
            (leaf,) = pages(pdf, page - 1, page)
        except ValueError as error:
            raise Unreadable(f"there is no page {page}") from error
        return leaf_tints(pdf, leaf, spots, dpi)


def leaf_tints(pdf: pikepdf.Pdf, leaf: Leaf, spots: Sequence[str], dpi: float) -> tuple[dict[str, Tints], Area]:
    """The same of a page that is open."""
    sheet = sheet_of(leaf)
    writer = PlateWriter(pdf, tuple(spots), separate=True)
    view = writer.read(leaf.page, leaf.get("/Resources"), sheet.media)
    trim = sheet.trim
    width, height = (max(1, round((trim[axis + 2] - trim[axis]) * dpi / 72)) for axis in (0, 1))
    tints: dict[str, Tints] = {}
    with Raster(writer.finish()) as raster:
        for plate in (*PROCESS, *spots):
            copy = view.copies.get(plate)
            if copy is None:
                tints[plate] = np.zeros((height, width), np.float32)
                continue
            grey = raster.region(copy, trim, dpi)[:height, :width]
            tints[plate] = (255 - grey.astype(np.float32)) / np.float32(255)
    return tints, trim


def total_of(tints: Mapping[str, Tints], counted: Sequence[str]) -> Tints:
    """The sum of the counted plates' tints, place by place."""
    total = np.zeros(next(iter(tints.values())).shape, np.float32)
    for plate in counted:
        total += tints[plate]
    return total


def measure(tints: Mapping[str, Tints], trim: Area, counted: Sequence[str], dpi: float) -> Coverage:
    """Sums and the thickest patch of a page's tints."""
    total = total_of(tints, counted)
    side = max(1, round(PATCH_MM / 25.4 * dpi))
    patches = _patch_means(total, side)
    row, column = np.unravel_index(int(patches.argmax()), patches.shape)
    point = 72 / dpi
    top, left = trim[3] - float(row) * point, trim[0] + float(column) * point
    reach = side * point
    return Coverage(
        areas={plate: float(tint.mean()) * 100 for plate, tint in tints.items()},
        mean=float(total.mean()) * 100,
        most=float(patches[row, column]) * 100,
        where=(left, max(trim[1], top - reach), min(trim[2], left + reach), top),
    )


def _patch_means(total: Tints, side: int) -> npt.NDArray[np.float64]:
    """The mean over every square of `side` pixels that lies wholly on the page (or the page, where that is smaller)."""
    side_down, side_across = min(side, total.shape[0]), min(side, total.shape[1])
    sums = np.zeros((total.shape[0] + 1, total.shape[1] + 1))
    sums[1:, 1:] = total.cumsum(axis=0, dtype=np.float64).cumsum(axis=1)
    squares = (
        sums[side_down:, side_across:]
        - sums[:-side_down, side_across:]
        - sums[side_down:, :-side_across]
        + sums[:-side_down, :-side_across]
    )
    found: npt.NDArray[np.float64] = squares / (side_down * side_across)
    return found
