"""Pictures of a piece for people: both sides as printed, and its spot plates alone.

Not here: judging.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pypdfium2

from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import read_report
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.png import png
from vdp.verify.raster import Raster
from vdp.verify.tree import Leaf, open_pdf, pages

#: Resolution of the pictures, in dpi.
DPI = 110
SIDES = ("front", "back")


def piece_views(path: Path, piece: int, dpi: int = DPI) -> Iterator[tuple[str, bytes]]:
    """Label and PNG of each view of a 1-based piece of pieces.pdf.  A page that cannot be read has no views.

    The spot plates are those that report.json beside the file names.
    """
    try:
        spots = read_report(path.parent / "report.json").spots
        with open_pdf(path) as pdf, pypdfium2.PdfDocument(path) as document:
            leaves = list(pages(pdf, 2 * piece - 2, 2 * piece))
            for side in range(len(leaves)):
                page = document[2 * piece - 2 + side]
                yield SIDES[side], png(page.render(scale=dpi / 72).to_numpy()[:, :, ::-1])
                page.close()
            for side, leaf in enumerate(leaves):
                yield from _spot_views(pdf, leaf, spots, side, dpi)
    except (Unreadable, OSError, pikepdf.PdfError, pypdfium2.PdfiumError):
        return


def _spot_views(
    pdf: pikepdf.Pdf, leaf: Leaf, spots: tuple[str, ...], side: int, dpi: int
) -> Iterator[tuple[str, bytes]]:
    writer = PlateWriter(pdf, spots)
    view = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media)
    with Raster(writer.finish()) as raster:
        for spot in spots:
            copy = view.copies[spot]
            if copy is not None:
                yield f"{spot}, {SIDES[side]}", png(raster.region(copy, view.box, dpi))


def plate_copy(path: Path, page: int, plate: str) -> bytes:
    """A PDF in grey of what one plate prints on a 1-based page: the copy that the checks raster.

    Raises Unreadable when nothing of that plate is there.
    """
    with open_pdf(path) as pdf:
        (leaf,) = pages(pdf, page - 1, page)
        writer = PlateWriter(pdf, (plate,))
        number = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media).copies[plate]
        if number is None:
            raise Unreadable(f"page {page} prints nothing on {plate}")
        with pikepdf.open(io.BytesIO(writer.finish())) as copies, pikepdf.new() as one:
            one.pages.append(copies.pages[number])
            out = io.BytesIO()
            one.save(out)
            return out.getvalue()
