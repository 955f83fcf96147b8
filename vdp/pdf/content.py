"""Marks → content streams, many pages at a time (ISO 32000-1, 7.8.2, 8, 9.4).

Lives here: painting order, inks, places.  Not here: symbols (`symbols`), text (`text`), objects.
A page's stream begins by scaling the user space to whole dots; forms are drawn inside that space and do not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple, cast

from vdp.errors import OurBug
from vdp.marks import (
    FillMark,
    FormMark,
    ImageMark,
    Ink,
    Mark,
    StrokeMark,
    SymbolMark,
    TextMark,
)
from vdp.pdf.alike import Alike, Streams, group_alike, ink_of
from vdp.pdf.colour import CLOSE_OVER, CLOSE_PLATE, OPEN_OVER, fill_operator, open_plate, stroke_operator
from vdp.pdf.names import Names
from vdp.pdf.objects import number_text
from vdp.pdf.symbols import draw_symbols, placed
from vdp.pdf.text import GlyphTexts, Typist

#: What is drawn mark by mark.
_Single = FillMark | StrokeMark | ImageMark | FormMark

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
        groups = list(group_alike(pages))
        batch = self._batch(groups)
        streams = [b""] * len(pages)
        for alike in groups:
            for at, stream in zip(alike.places, self._draw(self._start, alike, batch), strict=True):
                streams[at] = stream
        return streams

    def render_form(self, marks: Sequence[Mark]) -> bytes:
        """The content stream of a form that pages draw with a FormMark."""
        groups = list(group_alike([marks]))
        return self._draw("", groups[0], self._batch(groups))[0]

    def _batch(self, groups: Sequence[Alike]) -> _Batch:
        texts: list[TextMark] = []
        symbols: list[SymbolMark] = []
        for alike in groups:
            for column in alike.columns:
                if isinstance(column[0], TextMark):
                    texts += cast(Sequence[TextMark], column)
                elif isinstance(column[0], SymbolMark):
                    symbols += cast(Sequence[SymbolMark], column)
        return _Batch(iter(self._typist.set_all(texts)), iter(draw_symbols(symbols)))

    def _draw(self, start: str, alike: Alike, batch: _Batch) -> list[bytes]:
        count = len(alike.places)
        streams, inks = Streams(count), _Inks()
        streams.write(start)
        for column in alike.columns:
            first = column[0]
            ink = ink_of(first)
            streams.write(inks.leave() if ink is None else inks.enter(ink))
            if isinstance(first, TextMark):
                streams.write_each(list(islice(batch.texts, count)))
            elif isinstance(first, SymbolMark):
                streams.write_each(list(islice(batch.symbols, count)))
            else:
                streams.write_each(self._singles(cast(Sequence[_Single], column)))
        streams.write(inks.leave())
        return streams.finish()

    def _singles(self, column: Sequence[_Single]) -> list[str]:
        # Mostly it is the very same mark on all pages.
        once = {at: self._text(mark) for at, mark in {id(mark): mark for mark in column}.items()}
        return [once[id(mark)] for mark in column]

    def _text(self, mark: _Single) -> str:
        match mark:
            case FillMark():
                x, y, width, height = mark.box
                return f"{x} {y} {width} {height} re f\n"
            case StrokeMark():
                return _line(mark)
            case ImageMark() | FormMark():
                return self._asset(mark)

    def _asset(self, mark: ImageMark | FormMark) -> str:
        name = self._assets.get(mark.asset)
        if name is None:
            raise OurBug(f"{mark.name}: '{mark.asset}' is not among the file's artwork, pictures and forms")
        if isinstance(mark, FormMark):
            return f"{name} Do\n"
        width, height = mark.box[2:] if mark.turn in {0, 180} else mark.box[:1:-1]
        clip = "" if mark.clip is None else "{} {} {} {} re W n ".format(*mark.clip)
        return f"q {clip}{placed(mark.box, mark.turn, 0, 0, width, height)} cm {name} Do Q\n"


class _Batch(NamedTuple):
    """What is worked out for all pages of a batch at once, in the order in which they are drawn."""

    texts: Iterator[str]
    symbols: Iterator[str]


class _Inks:
    """Which ink fills have, and which section of the stream marks stand in: that of a plate, or of process marks that
    overprint, or none."""

    def __init__(self) -> None:
        self._ink: Ink | None = None
        self._process: Ink | None = None  # what the colour goes back to when a section ends
        self._inside = ("", False)
        self._close = ""

    def enter(self, ink: Ink) -> str:
        """What goes before marks in that ink."""
        if ink == self._ink:
            return ""
        before = ""
        section = (ink.spot, ink.over and not ink.spot)
        if section != self._inside:
            if self._close:
                before = self.leave()
            else:
                self._process = self._ink
            self._inside = section
            if ink.spot:
                self._close = CLOSE_PLATE
                before += open_plate(ink.spot)
            elif ink.over:
                self._close = CLOSE_OVER
                before += OPEN_OVER
        if ink != self._ink:
            before += fill_operator(ink)
            self._ink = ink
        return before

    def leave(self) -> str:
        """What goes before marks that bring their own inks, and at the end."""
        close = self._close
        if close:
            self._close, self._inside, self._ink = "", ("", False), self._process
        return close


def _line(mark: StrokeMark) -> str:
    """A stroke states its own colour: strokes are rare, and fills need not remember it."""
    (x0, y0), (x1, y1) = mark.start, mark.end
    return f"q {stroke_operator(mark.ink)}{mark.weight} w {x0} {y0} m {x1} {y1} l S Q\n"
