"""A page of artwork in pure DeviceCMYK, drawn in millimetres from the trim's upper left corner, y down.

Lives here: the sheet, its pen and its type.  Not here: what is drawn on it (`draw_artwork`).
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Sequence
from importlib.resources import files
from pathlib import Path

import pikepdf
from draw_brush import Ink
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont as FontFile
from fontTools.varLib.instancer import instantiateVariableFont
from reportlab.lib.colors import CMYKColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

MM = 72 / 25.4
TRIM = (152.0, 297.0)
BLEED = 3.0

#: Name in this script → font package, file and axes.
FACES = {
    "display": ("fontpkg_noto_serif", "NotoSerif[wdth,wght].ttf", {"wght": 500, "wdth": 100}),
    "italic": ("fontpkg_noto_serif", "NotoSerif-Italic[wdth,wght].ttf", {"wght": 400, "wdth": 100}),
    "sans": ("fontpkg_noto_sans", "NotoSans[wdth,wght].ttf", {"wght": 500, "wdth": 100}),
}

#: The signs that artwork may use: subsetting before the axes are pinned takes a tenth of the time.
SIGNS = "".join(map(chr, range(32, 127))) + "·"

Curve = Callable[[float], float]


def load_faces() -> None:
    for name, (package, file, axes) in FACES.items():
        font = FontFile(str(files(package) / "files" / file), recalcTimestamp=False)
        few = Subsetter(Options(layout_features=[], notdef_outline=True))
        few.populate(text=SIGNS)
        few.subset(font)
        font = instantiateVariableFont(font, axes)
        stream = io.BytesIO()
        font.save(stream)
        stream.seek(0)
        pdfmetrics.registerFont(TTFont(name, stream))


class Sheet:
    """A page whose user takes millimetres from the trim's upper left corner, y down."""

    def __init__(self, title: str) -> None:
        self.bytes = io.BytesIO()
        size = ((TRIM[0] + 2 * BLEED) * MM, (TRIM[1] + 2 * BLEED) * MM)
        self.canvas = Canvas(
            self.bytes, size, pageCompression=1, invariant=1, enforceColorSpace="CMYK", initialFontName="sans"
        )
        self.canvas.setTitle(title)
        self.canvas.setAuthor("Thalvera Line")
        self.canvas.setCreator("draw_artwork.py")
        self.canvas.setTrimBox((BLEED * MM, BLEED * MM, (BLEED + TRIM[0]) * MM, (BLEED + TRIM[1]) * MM))
        self.canvas.setBleedBox((0, 0, *size))

    def at(self, x: float, y: float) -> tuple[float, float]:
        return (x + BLEED) * MM, (TRIM[1] + BLEED - y) * MM

    @staticmethod
    def ink(ink: Ink) -> CMYKColor:
        return CMYKColor(*(part / 100 for part in ink))

    def fill(self, ink: Ink, path: PDFPathObject) -> None:
        self.canvas.setFillColor(self.ink(ink))
        self.canvas.drawPath(path, stroke=0, fill=1)

    def stroke(self, ink: Ink, weight: float, path: PDFPathObject, dash: Sequence[float] = ()) -> None:
        self.canvas.setStrokeColor(self.ink(ink))
        self.canvas.setLineWidth(weight * MM)
        self.canvas.setDash([d * MM for d in dash])
        self.canvas.drawPath(path, stroke=1, fill=0)

    def rect(self, x: float, y: float, width: float, height: float) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.rect(*self.at(x, y + height), width * MM, height * MM)
        return path

    def rounded(self, x: float, y: float, width: float, height: float, r: float) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.roundRect(*self.at(x, y + height), width * MM, height * MM, r * MM)
        return path

    def disc(self, x: float, y: float, r: float) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.circle(*self.at(x, y), r * MM)
        return path

    def polygon(self, *spots: tuple[float, float]) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.moveTo(*self.at(*spots[0]))
        for spot in spots[1:]:
            path.lineTo(*self.at(*spot))
        path.close()
        return path

    def line(self, *spots: tuple[float, float]) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.moveTo(*self.at(*spots[0]))
        for spot in spots[1:]:
            path.lineTo(*self.at(*spot))
        return path

    def curve(
        self, f: Curve, left: float, right: float, step: float = 2.0, path: PDFPathObject | None = None
    ) -> PDFPathObject:
        """y = f(x) as cubic arcs; goes on from `path` where one is given, and may run from right to left."""
        count = max(1, math.ceil(abs(right - left) / step))
        h = (right - left) / count
        fresh = path is None
        path = self.canvas.beginPath() if path is None else path
        (path.moveTo if fresh else path.lineTo)(*self.at(left, f(left)))
        for n in range(count):
            a, b = left + n * h, left + (n + 1) * h
            slope_a, slope_b = ((f(x + 0.01) - f(x - 0.01)) / 0.02 for x in (a, b))
            path.curveTo(
                *self.at(a + h / 3, f(a) + slope_a * h / 3),
                *self.at(b - h / 3, f(b) - slope_b * h / 3),
                *self.at(b, f(b)),
            )
        return path

    def between(self, upper: Curve, lower: Curve, left: float, right: float) -> PDFPathObject:
        path = self.curve(upper, left, right)
        self.curve(lower, right, left, path=path)
        path.close()
        return path

    def blob(self, x: float, y: float, spots: Sequence[tuple[float, float]]) -> PDFPathObject:
        """A smooth closed outline through spots around a middle."""
        path, n = self.canvas.beginPath(), len(spots)
        path.moveTo(*self.at(x + spots[0][0], y + spots[0][1]))
        for i in range(n):
            before, a, b, after = (spots[(i + k) % n] for k in (-1, 0, 1, 2))
            path.curveTo(
                *self.at(x + a[0] + (b[0] - before[0]) / 6, y + a[1] + (b[1] - before[1]) / 6),
                *self.at(x + b[0] - (after[0] - a[0]) / 6, y + b[1] - (after[1] - a[1]) / 6),
                *self.at(x + b[0], y + b[1]),
            )
        path.close()
        return path

    def text(
        self,
        face: str,
        size: float,
        ink: Ink,
        x: float,
        y: float,
        words: str,
        tracking: float = 0.0,
        align: str = "left",
    ) -> float:
        """Sets words on the base line `y`; `tracking` is in thousandths of the size.  Gives back their width in mm."""
        space = tracking * size / 1000
        width = pdfmetrics.stringWidth(words, face, size) + space * (len(words) - 1)
        px, py = self.at(x, y)
        px -= {"left": 0.0, "centre": width / 2, "right": width}[align]
        text = self.canvas.beginText(px, py)
        text.setFont(face, size)
        text.setFillColor(self.ink(ink))
        text.setCharSpace(space)
        text.textOut(words)
        self.canvas.drawText(text)
        return width / MM

    def inside(self, path: PDFPathObject, draw: Callable[[], None]) -> None:
        self.canvas.saveState()
        self.canvas.clipPath(path, stroke=0, fill=0)
        draw()
        self.canvas.restoreState()

    def save(self, path: Path) -> None:
        self.canvas.showPage()
        self.canvas.save()
        self.bytes.seek(0)
        with pikepdf.open(self.bytes) as pdf:
            # The canvas lists Helvetica on every page, used or not; a face that is not embedded has no place here.
            for page in pdf.pages:
                del page.obj["/Trans"]
                fonts = page.obj.Resources.Font
                for name in [n for n in fonts if "/FontFile2" not in fonts[n].get("/FontDescriptor", {})]:
                    del fonts[name]
            pdf.save(
                path,
                deterministic_id=True,
                object_stream_mode=pikepdf.ObjectStreamMode.generate,
                compress_streams=True,
                recompress_flate=True,
            )
