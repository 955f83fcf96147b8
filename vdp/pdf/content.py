"""Marks → content streams, many pages at a time (ISO 32000-1, 7.8.2, 8, 9.4).

Lives here: painting order, inks, places.  Not here: rectangles of symbols (`modules`), glyphs (`text`), objects.
A page's stream begins by scaling the user space to whole dots; forms are drawn inside that space and do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vdp.errors import OurBug
from vdp.marks import (
    Bars,
    Box,
    FillMark,
    FormMark,
    ImageMark,
    Ink,
    Mark,
    Matrix,
    States,
    StrokeMark,
    SymbolMark,
    TextMark,
)
from vdp.pdf.colour import CLOSE_OVER, CLOSE_PLATE, OPEN_OVER, fill_operator, open_plate, stroke_operator
from vdp.pdf.modules import Drawn, Matrices, bar_rectangles, reduced_bars, state_rectangles
from vdp.pdf.names import Names
from vdp.pdf.objects import number_text
from vdp.pdf.text import GlyphTexts, Typist

#: Shaped runs kept as operators.
KEPT = 8_192


class Renderer:
    """Renders pages of one job; keeps fragments that come again, and every glyph used (`glyphs`)."""

    def __init__(self, dpi: int, names: Names, kept: int = KEPT) -> None:
        dot = number_text(72 / dpi, 10)
        self._start = f"{dot} 0 0 {dot} 0 0 cm\n"
        self._assets = names.assets
        self._typist = Typist(dpi, names.fonts, kept)

    @property
    def glyphs(self) -> GlyphTexts:
        """Face → glyph id of the source font → text, of everything rendered so far."""
        return self._typist.glyphs

    def render(self, pages: Sequence[Sequence[Mark]]) -> list[bytes]:
        """Content streams of pages, uncompressed.  Any way of cutting pages into batches gives the same."""
        matrices = _matrices(pages)
        return [self._draw(self._start, marks, matrices) for marks in pages]

    def render_form(self, marks: Sequence[Mark]) -> bytes:
        """The content stream of a form that pages draw with a FormMark."""
        return self._draw("", marks, _matrices([marks]))

    def _draw(self, start: str, marks: Sequence[Mark], matrices: Matrices) -> bytes:  # noqa: PLR0912  one a mark kind
        out = [start]
        write = out.append
        close = ""  # what ends the section of a plate, or of process marks that overprint
        inside = ("", False)
        ink: Ink | None = None
        process: Ink | None = None  # what the colour goes back to when such a section ends
        for mark in marks:
            if isinstance(mark, (ImageMark, FormMark)):
                if close:
                    write(close)
                    close, inside, ink = "", ("", False), process
                write(self._asset(mark))
                continue
            new = mark.ink
            if new is not ink and new != ink:
                section = (new.spot, new.over and not new.spot)
                if section != inside:
                    if close:
                        write(close)
                        ink = process
                    else:
                        process = ink
                    inside, close = section, ""
                    if new.spot:
                        close = CLOSE_PLATE
                        write(open_plate(new.spot))
                    elif new.over:
                        close = CLOSE_OVER
                        write(OPEN_OVER)
                if new != ink:
                    write(fill_operator(new))
                    ink = new
            if isinstance(mark, TextMark):
                write(self._typist.set(mark))
            elif isinstance(mark, SymbolMark):
                write(_symbol(mark, matrices))
            elif isinstance(mark, FillMark):
                x, y, width, height = mark.box
                write(f"{x} {y} {width} {height} re f\n")
            else:
                write(_line(mark))
        write(close)
        return "".join(out).encode("ascii")

    def _asset(self, mark: ImageMark | FormMark) -> str:
        name = self._assets.get(mark.asset)
        if name is None:
            raise OurBug(f"{mark.name}: '{mark.asset}' is not among the file's artwork, pictures and forms")
        if isinstance(mark, FormMark):
            return f"{name} Do\n"
        width, height = mark.box[2:] if mark.turn in {0, 180} else mark.box[:1:-1]
        clip = "" if mark.clip is None else "{} {} {} {} re W n ".format(*mark.clip)
        return f"q {clip}{_placed(mark.box, mark.turn, 0, 0, width, height)} cm {name} Do Q\n"


def _matrices(pages: Iterable[Iterable[Mark]]) -> Matrices:
    return Matrices(
        [
            Drawn(mark.shape, mark.module, mark.reduction)
            for marks in pages
            for mark in marks
            if isinstance(mark, SymbolMark) and isinstance(mark.shape, Matrix)
        ]
    )


def _placed(box: Box, turn: int, left: int, bottom: int, across: int, up: int) -> str:
    """The matrix that puts a unit square at (left, bottom) of the unturned box, `across` by `up`, then turns it."""
    x, y, width, height = box
    if turn == 0:
        return f"{across} 0 0 {up} {x + left} {y + bottom}"
    if turn == 90:
        return f"0 {across} {-up} 0 {x + width - bottom} {y + left}"
    if turn == 180:
        return f"{-across} 0 0 {-up} {x + width - left} {y + height - bottom}"
    return f"0 {-across} {up} 0 {x + bottom} {y + height - left}"


def _symbol(mark: SymbolMark, matrices: Matrices) -> str:
    left, bottom, _, _ = mark.quiet
    module = mark.module
    if isinstance(mark.shape, Matrix):
        # What is reduced is drawn in dots.
        scale = 1 if any(mark.reduction) else module
        place = _placed(mark.box, mark.turn, left, bottom, scale, scale)
        return f"q {place} cm\n{matrices.take(Drawn(mark.shape, module, mark.reduction))}f Q\n"
    if any(mark.reduction):
        return _reduced_bars(mark, mark.shape)
    if isinstance(mark.shape, States):
        if mark.state is None:
            raise OurBug(f"{mark.name}: a four-state symbol without sizes")
        place = _placed(mark.box, mark.turn, left, bottom, 1, 1)
        return f"q {place} cm\n{state_rectangles(mark.shape, mark.state)}f Q\n"
    place = _placed(mark.box, mark.turn, left, bottom, module, mark.height)
    return f"q {place} cm\n{bar_rectangles(mark.shape)}f Q\n"


def _reduced_bars(mark: SymbolMark, shape: Bars | States) -> str:
    """The same with narrower bars, in dots."""
    left, bottom, _, _ = mark.quiet
    if isinstance(shape, States):
        raise OurBug(f"{mark.name}: a four-state symbol cannot be reduced")
    place = _placed(mark.box, mark.turn, left, bottom, 1, mark.height)
    return f"q {place} cm\n{reduced_bars(shape, mark.module, mark.reduction[0])}f Q\n"


def _line(mark: StrokeMark) -> str:
    """A stroke states its own colour: strokes are rare, and fills need not remember it."""
    (x0, y0), (x1, y1) = mark.start, mark.end
    return f"q {stroke_operator(mark.ink)}{mark.weight} w {x0} {y0} m {x1} {y1} l S Q\n"
