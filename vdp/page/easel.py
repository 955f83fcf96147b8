"""Pictures of a run's pages as a browser shows them: plates on and off, under the lamp, and single dots of the press.

Lives here: which copies are kept, the one thread that PDFium allows, PNG.  Not here: pixels (`vdp.verify.views`).
"""

from __future__ import annotations

import asyncio
import struct
import zlib
from collections import OrderedDict
from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple, TypeVar

import numpy as np
import pikepdf
from isal import isal_zlib

from vdp.verify.coverage import Tints
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.inks import PROCESS
from vdp.verify.pages import Sheet, sheet_of
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.state import Area
from vdp.verify.tree import Leaf, open_pdf, pages
from vdp.verify.views import Lamp, Pixels, plate_alone, printed, under_lamp

#: Pages whose one-plate copies are kept open.
MOST_OPEN = 24
#: Finished pictures that are kept, in bytes.
MOST_KEPT = 96_000_000
#: Dots along a side of what the glass shows.
GLASS = 80
#: A PNG begins with this; the filter of a row by the one above (ISO/IEC 15948, 5.2 and 9.2).
_SIGNATURE, _UP = b"\x89PNG\r\n\x1a\n", 2
_T = TypeVar("_T")


class Look(NamedTuple):
    """How a page is looked at: the plates that are on, and whether under the lamp."""

    plates: tuple[str, ...]
    lamp: bool = False


class _Copies(NamedTuple):
    raster: Raster
    numbers: Mapping[str, int | None]
    trim: Area


class Easel:
    """Draws the pages of one pieces.pdf.  `inks` are the red, green and blue (of 1) that solid spots leave on screen.

    Everything is drawn by one thread; `picture` and the others may be awaited by any number of askers at once.
    """

    def __init__(self, path: Path, spots: tuple[str, ...], dpi: int, lamp: Lamp, inks: Mapping[str, Colour]) -> None:
        self.path, self.spots, self.dpi, self.lamp, self.inks = path, spots, dpi, lamp, inks
        self._thread = ThreadPoolExecutor(1, "easel")
        self._pdf: pikepdf.Pdf | None = None
        self._open: OrderedDict[int, _Copies] = OrderedDict()
        self._kept: OrderedDict[tuple[object, ...], bytes] = OrderedDict()
        self._held = 0
        self._store = PictureStore()
        self._thread.submit(self._begin)

    async def trim(self, page: int) -> Area:
        """The trim of a 0-based page in points.  Raises Unreadable, as all of these."""
        return await self._run(lambda: self._leaf(page)[1].trim)

    async def picture(self, page: int, look: Look, wide: int) -> bytes:
        """PNG of a page's trim, at most `wide` pixels across and down."""
        return await self._remembered(("picture", page, look, wide), lambda: self._picture(page, look, wide))

    async def dots(self, page: int, look: Look, at: tuple[int, int]) -> bytes:
        """PNG of GLASS × GLASS dots of the press around a dot, counted from the trim's upper left, one pixel each."""
        return await self._remembered(("dots", page, look, at), lambda: self._dots(page, look, at))

    async def plate(self, page: int, plate: str, box: Area) -> Bytes:
        """Dots of one plate in a box in points: 255 is paper."""
        return await self._run(lambda: self._plate(page, plate, box))

    def close(self) -> None:
        """Lets go of the file."""
        self._thread.submit(self._close).result()
        self._thread.shutdown()

    # -- in the thread ------------------------------------------------------------------------------------------------

    async def _run(self, work: Callable[[], _T]) -> _T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    async def _remembered(self, key: tuple[object, ...], work: Callable[[], bytes]) -> bytes:
        known = self._kept.get(key)
        if known is not None:
            self._kept.move_to_end(key)
            return known
        made = await self._run(work)
        if key not in self._kept:
            self._kept[key] = made
            self._held += len(made)
        while self._held > MOST_KEPT:
            self._held -= len(self._kept.popitem(last=False)[1])
        return made

    def _copies(self, page: int) -> _Copies:
        known = self._open.get(page)
        if known is not None:
            self._open.move_to_end(page)
            return known
        try:
            with pdf_faults():
                leaf, sheet, pdf = self._leaf(page)
                writer = PlateWriter(pdf, self.spots, store=self._store, separate=True)
                view = writer.read(leaf.page, leaf.get("/Resources"), sheet.media)
                made = _Copies(Raster(writer.finish()), view.copies, sheet.trim)
        except ValueError as error:
            raise Unreadable(f"the page cannot be read: {error}") from error
        self._open[page] = made
        while len(self._open) > MOST_OPEN:
            self._open.popitem(last=False)[1].raster.close()
        return made

    def _begin(self) -> None:
        """Opens the file before it is asked for: a long one takes seconds.  Who asks is told what is wrong with it."""
        with suppress(Unreadable):
            self._leaf(0)

    def _leaf(self, page: int) -> tuple[Leaf, Sheet, pikepdf.Pdf]:
        try:
            with pdf_faults():
                if self._pdf is None:
                    self._pdf = open_pdf(self.path)
                (leaf,) = pages(self._pdf, page, page + 1)
                return leaf, sheet_of(leaf), self._pdf
        except (OSError, ValueError, pikepdf.PdfError) as error:
            raise Unreadable(f"the page cannot be read: {error}") from error

    def _close(self) -> None:
        for copies in self._open.values():
            copies.raster.close()
        self._open.clear()
        if self._pdf is not None:
            self._pdf.close()

    def _picture(self, page: int, look: Look, wide: int) -> bytes:
        copies = self._copies(page)
        across, down = (copies.trim[axis + 2] - copies.trim[axis] for axis in (0, 1))
        dpi = 72 * wide / max(across, down)
        size = max(1, round(down * dpi / 72)), max(1, round(across * dpi / 72))
        return _png(self._seen(_tints(copies, look.plates, copies.trim, dpi, size, dots=False), look))

    def _dots(self, page: int, look: Look, at: tuple[int, int]) -> bytes:
        copies = self._copies(page)
        dot, trim = 72 / self.dpi, copies.trim
        left, top = trim[0] + (at[0] - GLASS // 2) * dot, trim[3] - (at[1] - GLASS // 2) * dot
        box = (left, top - GLASS * dot, left + GLASS * dot, top)
        return _png(self._seen(_tints(copies, look.plates, box, self.dpi, (GLASS, GLASS), dots=True), look))

    def _plate(self, page: int, plate: str, box: Area) -> Bytes:
        copies = self._copies(page)
        number = copies.numbers.get(plate)
        size = max(1, round((box[3] - box[1]) * self.dpi / 72)), max(1, round((box[2] - box[0]) * self.dpi / 72))
        if number is None:
            return np.full(size, 255, np.uint8)
        return copies.raster.region(number, box, self.dpi, dots=True)[: size[0], : size[1]]

    def _seen(self, tints: Mapping[str, Tints], look: Look) -> Pixels:
        if look.lamp:
            return under_lamp(tints, self.lamp)
        if len(look.plates) == 1:
            return plate_alone(tints[look.plates[0]])
        return printed(tints, self.inks)


Colour = tuple[float, float, float]


def _tints(
    copies: _Copies, plates: Collection[str], box: Area, dpi: float, size: tuple[int, int], *, dots: bool
) -> dict[str, Tints]:
    """Tints 0..1 of the plates that are on, in the order of the press; one of nothing where none is."""
    found: dict[str, Tints] = {}
    for plate in (*PROCESS, *copies.numbers):
        number = copies.numbers.get(plate)
        if plate not in plates or plate in found:
            continue
        if number is None:
            found[plate] = np.zeros(size, np.float32)
            continue
        grey = copies.raster.region(number, box, dpi, dots=dots)[: size[0], : size[1]]
        found[plate] = (255 - grey.astype(np.float32)) / np.float32(255)
    return found or {"Black": np.zeros(size, np.float32)}


def _png(pixels: Pixels) -> bytes:
    """PNG (ISO/IEC 15948): 8 bits grey or RGB, every row but the first as its difference from the one above."""
    rows = np.ascontiguousarray(pixels).reshape(pixels.shape[0], -1)
    filtered = np.empty((rows.shape[0], rows.shape[1] + 1), np.uint8)
    filtered[:, 0], filtered[0, 0] = _UP, 0
    filtered[0, 1:] = rows[0]
    np.subtract(rows[1:], rows[:-1], out=filtered[1:, 1:])
    size = struct.pack(">II", pixels.shape[1], pixels.shape[0])
    head = size + bytes((8, 2 if pixels.ndim == 3 else 0, 0, 0, 0))
    body = bytes(isal_zlib.compress(filtered.tobytes(), 1))
    return _SIGNATURE + b"".join(_chunk(*one) for one in ((b"IHDR", head), (b"IDAT", body), (b"IEND", b"")))


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
