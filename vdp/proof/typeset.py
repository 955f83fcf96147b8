"""Text of any language in a PDF of ours, without losing a sign: plain type where one face will do, else drawn glyphs.

Lives here: text → what the document places.  Not here: shaping (`vdp.text`), the document (`document`).

What the house's sans face shows by itself, from left to right, stays text that can be searched.  Everything else is
shaped with the job's own faces and drawn as outlines.  A sign that no face has is written as its number, U+…, and
control characters, which have no look, as their names.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph

from vdp.errors import RowRefused
from vdp.job.faces import FaceFile, builtin_faces
from vdp.marks import Line
from vdp.text import Faces, Setter, Style

PLAIN, BOLD = "sans", "sans-bold"
FONT = "Proof"
#: Dots an inch at which drawn text is laid out, and dots of a box that no text fills.
_DPI, _TALL = 1200, 400_000
_NAMES = {"\u001d": "‹FNC1›", "\u001e": "‹RS›", "\u0004": "‹EOT›", "\t": "‹TAB›", "\n": "‹LF›", "\r": "‹CR›"}
#: Scripts that stand as they are typed: one sign after another, from left to right.
_SIMPLE = ("LATIN", "GREEK", "CYRILLIC")


class Typesetter:
    """Sets text with a job's faces."""

    def __init__(self, files: Mapping[str, FaceFile]) -> None:
        pdfmetrics.registerFont(TTFont(FONT, builtin_faces()[PLAIN].path))
        self._own = Faces(builtin_faces())
        self._faces = Faces(files)
        self._keys = tuple(files)
        self._setter = Setter(self._faces, _DPI)

    def flow(self, text: str, style: ParagraphStyle) -> Flowable:
        """Text as something that wraps; `style` gives size, leading, colour and space."""
        shown = self.shown(text)
        if self._plain(shown):
            return Paragraph(escape(shown), style)
        return _Drawn(shown, style, self)

    def shown(self, text: str) -> str:
        """The text with every sign that cannot be shown written as its name or number."""
        return "".join(self._sign(char) for char in unicodedata.normalize("NFC", text))

    def lines(self, text: str, size: float, leading: float, width: float) -> tuple[Line, ...]:
        """Text broken at `width` points, in dots; the first line begins at the top of a box of `_TALL` dots."""
        box = (0, 0, max(1, int(width * _DPI / 72)), _TALL)
        style = Style(PLAIN, size, leading=leading)
        try:
            return tuple(self._setter.set(text, style, "und", box).lines)
        except RowRefused:
            # One word longer than the line: it is cut between signs.
            half = len(text) // 2
            if half == 0:
                raise
            first = self.lines(text[:half], size, leading, width)
            drop = round(len(first) * leading * _DPI / 72)
            second = self.lines(text[half:], size, leading, width)
            return (*first, *(line._replace(y=line.y - drop) for line in second))

    def outline(self, line: Line, size: float, canvas: Any) -> None:
        """Draws a line's glyphs from the canvas' origin to the right."""
        em = size / 1000
        pen = _Pen(canvas.beginPath())
        across = 0.0
        for run in line.glyphs:
            face = self._faces.face(run.face)
            for at, (gid, advance) in enumerate(zip(run.gids, run.advances, strict=True)):
                dx, dy = run.offsets[at] if run.offsets else (0.0, 0.0)
                pen.place((across + dx) * em, dy * em, face.scale * em)
                face.font.draw_glyph_with_pen(gid, pen)
                across += advance
        canvas.drawPath(pen.path, stroke=0, fill=1)

    def _plain(self, text: str) -> bool:
        return self._own.face(PLAIN).covers(text) and all(_simple(char) for char in text)

    def _sign(self, char: str) -> str:
        if unicodedata.category(char) in {"Cc", "Cs", "Co", "Cn"}:
            return _NAMES.get(char, f"‹U+{ord(char):04X}›")
        return char if any(self._faces.face(key).has(char) for key in self._keys) else f"‹U+{ord(char):04X}›"


def _simple(char: str) -> bool:
    """Whether a sign needs no shaping: it joins no neighbour and runs from left to right."""
    if unicodedata.combining(char) or unicodedata.bidirectional(char) in {"R", "AL", "AN", "RLE", "RLO", "RLI"}:
        return False
    return not unicodedata.category(char).startswith("L") or unicodedata.name(char, "").startswith(_SIMPLE)


class _Pen:
    """Outlines into a path of the canvas, scaled and moved."""

    def __init__(self, path: Any) -> None:
        self.path = path
        self._x = self._y = self._scale = 0.0
        self._at = (0.0, 0.0)

    def place(self, x: float, y: float, scale: float) -> None:
        self._x, self._y, self._scale = x, y, scale

    def _to(self, point: tuple[float, float]) -> tuple[float, float]:
        return self._x + point[0] * self._scale, self._y + point[1] * self._scale

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802  the pen's names are HarfBuzz's
        self._at = point
        self.path.moveTo(*self._to(point))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self._at = point
        self.path.lineTo(*self._to(point))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self._at = points[-1]
        self.path.curveTo(*(part for point in points for part in self._to(point)))

    def qCurveTo(self, control: tuple[float, float], end: tuple[float, float]) -> None:  # noqa: N802
        start = self._at
        first = tuple(s + (c - s) * 2 / 3 for s, c in zip(start, control, strict=True))
        second = tuple(e + (c - e) * 2 / 3 for e, c in zip(end, control, strict=True))
        self.curveTo((first[0], first[1]), (second[0], second[1]), end)

    def closePath(self) -> None:  # noqa: N802
        self.path.close()


class _Drawn(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Shaped lines, drawn."""

    def __init__(self, text: str, style: ParagraphStyle, by: Typesetter) -> None:
        super().__init__()
        self.text, self.style, self.by = text, style, by
        self.lines: tuple[Line, ...] = ()

    def wrap(self, width: float, _: float) -> tuple[float, float]:
        self.lines = self.by.lines(self.text, self.style.fontSize, self.style.leading, width)
        self.width, self.height = width, len(self.lines) * self.style.leading
        return self.width, self.height

    def getSpaceBefore(self) -> float:  # noqa: N802  the library's name
        return float(self.style.spaceBefore)

    def getSpaceAfter(self) -> float:  # noqa: N802
        return float(self.style.spaceAfter)

    def draw(self) -> None:
        colour: Color = self.style.textColor
        self.canv.setFillColor(colour)
        for line in self.lines:
            self.canv.saveState()
            # Lines hang from the top of the box that they were set in.
            self.canv.translate(line.x * 72 / _DPI, self.height - (_TALL - line.y) * 72 / _DPI)
            self.by.outline(line, self.style.fontSize, self.canv)
            self.canv.restoreState()
