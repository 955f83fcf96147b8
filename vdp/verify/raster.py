"""A region of a page as grey pixels of an exact size, at any resolution, by PDFium.

PDFium keeps its state in one place: use it from one thread of a process only.
"""

from __future__ import annotations

import ctypes
import math
from types import TracebackType

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

from vdp.verify.doubt import Unreadable
from vdp.verify.samples import Bytes
from vdp.verify.state import Area

#: Pixels in one region: about what a sheet has at 600 dpi.
MOST_PIXELS = 60_000_000
_DOTS = pdfium.FPDF_RENDER_NO_SMOOTHTEXT | pdfium.FPDF_RENDER_NO_SMOOTHIMAGE | pdfium.FPDF_RENDER_NO_SMOOTHPATH


class Raster:
    """A PDF in memory, opened for rendering.  Pages are loaded once each and closed by `close`."""

    def __init__(self, data: bytes) -> None:
        try:
            self._document = pypdfium2.PdfDocument(data)
        except pypdfium2.PdfiumError as error:
            raise Unreadable(f"the copy cannot be opened: {error}") from error
        self._pages: dict[int, pypdfium2.PdfPage] = {}

    def __enter__(self) -> Raster:
        return self

    def __exit__(self, _: type[BaseException] | None, __: BaseException | None, ___: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        self.forget()
        self._document.close()

    def forget(self) -> None:
        """Closes the pages that were loaded."""
        for page in self._pages.values():
            page.close()
        self._pages.clear()

    def _page(self, number: int) -> pypdfium2.PdfPage:
        page = self._pages.get(number)
        if page is None:
            page = self._pages[number] = self._document[number]
        return page

    def region(
        self, number: int, box: Area, dpi: float, shift: tuple[float, float] = (0.0, 0.0), *, dots: bool = False
    ) -> Bytes:
        """Renders `box` (points from the page's lower left) of a 0-based page: 255 is paper.

        The bitmap has ceil(size) + 1 pixels each way, so that a `shift` of 0..1 pixel right and down never cuts; pixels
        that do not lie wholly in the box are white, so that a neighbour never reaches in.  `dots` smooths no edge: a
        pixel has a mark's tint or has not, as a dot of the press.
        """
        scale = dpi / 72
        width = math.ceil((box[2] - box[0]) * scale) + 1
        height = math.ceil((box[3] - box[1]) * scale) + 1
        if not 0 < width * height <= MOST_PIXELS:
            raise Unreadable(f"a region of {width} × {height} pixels")
        page = self._page(number)
        top = page.get_height()
        bitmap = pdfium.FPDFBitmap_CreateEx(width, height, pdfium.FPDFBitmap_Gray, None, 0)
        try:
            pdfium.FPDFBitmap_FillRect(bitmap, 0, 0, width, height, 0xFFFFFFFF)
            left, down = -box[0] * scale + shift[0], -(top - box[3]) * scale + shift[1]
            matrix = pdfium.FS_MATRIX(scale, 0, 0, scale, left, down)
            clip = pdfium.FS_RECTF(0, 0, width, height)
            flags = pdfium.FPDF_GRAYSCALE | (_DOTS if dots else 0)
            pdfium.FPDF_RenderPageBitmapWithMatrix(bitmap, page, matrix, clip, flags)
            stride = pdfium.FPDFBitmap_GetStride(bitmap)
            buffer = pdfium.FPDFBitmap_GetBuffer(bitmap)
            pixels = np.ctypeslib.as_array(ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ubyte)), (height, stride))
            found = pixels[:, :width].copy()
        finally:
            pdfium.FPDFBitmap_Destroy(bitmap)
        for axis, size in ((found.T, box[2] - box[0]), (found, box[3] - box[1])):
            before = shift[0] if axis is not found else shift[1]
            axis[: math.ceil(before - 1e-6)] = 255
            axis[math.floor(before + size * scale + 1e-6) :] = 255
        return found
