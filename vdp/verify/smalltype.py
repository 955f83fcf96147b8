"""Small type on the finished page: does every letter keep its parts and holes as dots of the press?

Lives here: which glyphs are small, where they stand, what was seen of them before.  Not here: dots (`dots`), the plan's
own judgement of the same (another room, other code).

A glyph is looked at once for each font, size, ground and quarter of a dot, where it first stands; every page that shows
it again gets the same verdict.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pikepdf

from vdp.verify import lex
from vdp.verify.dots import FINE, Mask, label, lost, stroke
from vdp.verify.fonts import SourceFont
from vdp.verify.manifest import RunReport
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.state import Area
from vdp.verify.tree import Leaf
from vdp.verify.view import PageView, Show

#: Type bodies of this many dots and more are not looked at: 4 pt at 1200 dpi.
SMALL = 67
#: Dots of a line that are rendered at once.
_WINDOW = 300
#: Ems of a window beside its glyphs, below and above the baseline.
_BESIDE, _BELOW, _ABOVE = 0.5, 0.45, 1.15
#: Points by which a size may miss one whose losses the layout accepts.
_SLACK = 0.02
_QUARTERS = 4


class Thinnest(NamedTuple):
    """The letter with the least stroke (in dots) of what was looked at, and where it first stands."""

    stroke: float
    piece: int
    side: int
    plate: str
    box: Area
    text: str
    base: str
    size: float
    reversed_out: bool


class _Glyph(NamedTuple):
    key: tuple[object, ...]
    gid: int
    start: float
    end: float


class _Frame(NamedTuple):
    """A line in its reading frame: origin on the page in points, dots an em, quarter turns, its ink."""

    show: Show
    em: float
    turns: int
    reversed_out: bool


class SmallType:
    """What one process knows of small type."""

    def __init__(self, report: RunReport, accepted: Sequence[tuple[float, float]]) -> None:
        self.report, self.accepted = report, accepted
        self._dots = report.resolution / 72
        self._known: dict[tuple[object, ...], str] = {}
        #: Glyphs and quarters in which nothing was found, by everything else that a key has.
        self._sound: dict[tuple[object, ...], npt.NDArray[np.bool_]] = {}
        self._widths: dict[SourceFont, npt.NDArray[np.float64]] = {}
        self.thinnest: Thinnest | None = None

    def looked_at(self) -> set[tuple[object, ...]]:
        """Glyphs, sizes and places that were looked at so far."""
        return set(self._known)

    def look(self, pdf: pikepdf.Pdf, leaf: Leaf, view: PageView, piece: int, side: int) -> list[str]:
        """What small type of a page loses, one sentence a glyph and size.  Raises Unreadable."""
        lines = [(frame, list(self._glyphs(frame))) for frame in self._frames(view)]
        new = {glyph.key: (frame, glyph) for frame, glyphs in reversed(lines) for glyph in glyphs}
        new = {key: at for key, at in new.items() if key not in self._known}
        if new:
            fresh = [(frame, [glyph for line, glyph in new.values() if line is frame]) for frame, _ in lines]
            self._judge(pdf, leaf, fresh, piece, side)
        found: dict[str, None] = {}
        for frame, glyphs in lines:
            for glyph in glyphs:
                what = self._known[glyph.key]
                if what:
                    text, font = frame.show.font.unicode.get(glyph.gid, "?"), frame.show.font.base
                    found[f"'{text}' of {font} at {frame.em / self._dots:.2f} pt: {what}"] = None
        return list(found)

    def _frames(self, view: PageView) -> Iterator[_Frame]:
        for show in view.seen.shows:
            em = math.hypot(*show.along) * self._dots
            if not 0 < em < SMALL or not show.known or show.font.base not in self.report.faces:
                continue
            inks = [tint for tint in show.tints if tint is not None]
            turns = round(math.atan2(show.along[1], show.along[0]) / (math.pi / 2)) % 4
            if inks and max(map(abs, show.along)) * self._dots > 0.999 * em:
                yield _Frame(show, em, turns, not any(inks))

    def _glyphs(self, frame: _Frame) -> Iterator[_Glyph]:
        """Each glyph of a show once for each place between dots, with its beginning and end in dots along the line."""
        show = frame.show
        gids, starts = self._placed(show)
        starts = starts * frame.em / 1000
        along, up = _turned(show.at[0] * self._dots, show.at[1] * self._dots, frame.turns)
        phases = np.rint((starts + along) % 1 * _QUARTERS).astype(int) % _QUARTERS
        height = round(up % 1 * _QUARTERS) % _QUARTERS
        ground = (show.font.base, round(frame.em, 2), frame.reversed_out, height)
        sound = self._sound.setdefault(ground, np.zeros(65536 * _QUARTERS, bool))
        codes = gids * _QUARTERS + phases
        if sound[codes].all():
            return
        known = self._widths[show.font]
        _, places = np.unique(codes, return_index=True)
        for place in np.sort(places).tolist():
            gid, phase, start = int(gids[place]), int(phases[place]), float(starts[place])
            key = (*ground, gid, phase)
            yield _Glyph(key, gid, start, start + float(known[min(gid, len(known) - 1)]) * frame.em / 1000)

    def _placed(self, show: Show) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
        """Glyph ids of a show, and where each begins, in thousandths of an em."""
        font = show.font
        widths = self._widths.get(font)
        if widths is None:
            widths = np.full(max(font.widths, default=0) + 2, font.default)
            widths[list(font.widths)] = list(font.widths.values())
            self._widths[font] = widths
        gids: list[npt.NDArray[np.int64]] = [np.zeros(0, np.int64)]
        starts: list[npt.NDArray[np.float64]] = [np.zeros(0)]
        pen = 0.0
        for part in lex.shown(show.operand):
            if isinstance(part, float):
                pen -= part
                continue
            here = np.frombuffer(part[: len(part) // 2 * 2], ">u2").astype(np.int64)
            ends = np.cumsum(widths[np.minimum(here, len(widths) - 1)])
            gids.append(here)
            starts.append(pen + np.concatenate(([0.0], ends[:-1])))
            pen += float(ends[-1]) if len(ends) else 0.0
        return np.concatenate(gids), np.concatenate(starts)

    # -- looking ------------------------------------------------------------------------------------------------------

    def _judge(
        self, pdf: pikepdf.Pdf, leaf: Leaf, new: Sequence[tuple[_Frame, list[_Glyph]]], piece: int, side: int
    ) -> None:
        writer = PlateWriter(pdf, self.report.spots)
        copies = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media).copies
        with Raster(writer.finish()) as raster:
            for frame, glyphs in new:
                for window in _windows(glyphs):
                    self._window(raster, copies, writer.plates.names, frame, window, piece, side)

    def _window(
        self,
        raster: Raster,
        copies: dict[str, int | None],
        names: tuple[str, ...],
        frame: _Frame,
        glyphs: Sequence[_Glyph],
        piece: int,
        side: int,
    ) -> None:
        """Renders a stretch of a line, turned to its reading direction, and judges its glyphs."""
        along, up = _turned(frame.show.at[0] * self._dots, frame.show.at[1] * self._dots, frame.turns)
        left = math.floor(along + glyphs[0].start - _BESIDE * frame.em)
        right = math.ceil(along + glyphs[-1].end + _BESIDE * frame.em)
        low, high = math.floor(up - _BELOW * frame.em), math.ceil(up + _ABOVE * frame.em)
        box = self._on_page((left, low, right, high), frame.turns)
        plate, pixels = self._pixels(raster, copies, names, frame, box)
        if pixels is None:
            for glyph in glyphs:
                self._tell(glyph, "")
            return
        ink = np.rot90(pixels, -frame.turns)
        size = frame.em / self._dots
        accepted = any(low - _SLACK <= size <= high + _SLACK for low, high in self.accepted)
        pieces = _Pieces(~ink if frame.reversed_out else ink)
        for glyph in glyphs:
            own = pieces.between((along + glyph.start - left) * FINE, (along + glyph.end - left) * FINE)
            self._tell(glyph, "" if accepted else lost(own, frame.em, reversed_out=frame.reversed_out))
            least = stroke(own, self.thinnest.stroke if self.thinnest is not None else math.inf)
            if own.any() and least < math.inf:
                text = frame.show.font.unicode.get(glyph.gid, "?")
                cell = self._on_page((along + glyph.start, up, along + glyph.end, high), frame.turns)
                base = frame.show.font.base
                found = Thinnest(least, piece, side, plate, cell, text, base, size, frame.reversed_out)
                self.thinnest = min(found, self.thinnest or found)

    def _tell(self, glyph: _Glyph, what: str) -> None:
        self._known[glyph.key] = what
        *ground, gid, phase = glyph.key
        if not what and isinstance(gid, int) and isinstance(phase, int):
            self._sound[tuple(ground)][gid * _QUARTERS + phase] = True

    def _on_page(self, box: tuple[float, float, float, float], turns: int) -> Area:
        """A box in the reading frame, in dots, → page points."""
        corners = [_turned(x, y, -turns) for x, y in ((box[0], box[1]), (box[2], box[3]))]
        xs, ys = zip(*corners, strict=True)
        return (min(xs) / self._dots, min(ys) / self._dots, max(xs) / self._dots, max(ys) / self._dots)

    def _pixels(
        self, raster: Raster, copies: dict[str, int | None], names: tuple[str, ...], frame: _Frame, box: Area
    ) -> tuple[str, Mask | None]:
        """Where the plate that shows the type has ink; None when none does."""
        tints = sorted(
            ((tint or 0.0, name) for name, tint in zip(names, frame.show.tints, strict=True) if tint is not None)
        )
        for tint, name in reversed(tints):
            copy = copies.get(name)
            if copy is None:
                continue
            grey = raster.region(copy, box, self.report.resolution * FINE)
            ink = _inked(grey, tint if not frame.reversed_out else 1.0)
            if not frame.reversed_out or ink.mean() > 0.25:
                return name, ink
        return "", None


def _inked(grey: Bytes, tint: float) -> Mask:
    """Pixels with more than half of the ink; the bitmap's spare pixels are left out."""
    rows, columns = (size // FINE * FINE for size in grey.shape)
    inked: Mask = (255 - grey[:rows, :columns].astype(np.int16)) > 127.5 * tint
    return inked


class _Pieces:
    """The connected pieces of a stretch of a line; those that its edges cut belong to others, or are ground."""

    def __init__(self, shape: Mask) -> None:
        self._labels, count = label(shape, diagonal=True)
        numbers = self._labels.ravel()
        columns = np.tile(np.arange(shape.shape[1]), shape.shape[0])
        areas = np.bincount(numbers, minlength=count + 1)
        self._middles = np.bincount(numbers, columns, count + 1) / np.maximum(areas, 1)
        self._cut = np.zeros(count + 1, bool)
        for edge in (self._labels[0], self._labels[-1], self._labels[:, 0], self._labels[:, -1]):
            self._cut[edge] = True
        self._cut[0] = True

    def between(self, start: float, end: float) -> Mask:
        """The pieces whose middles lie between two columns, cut out on whole dots, and as far as the stretch is high to
        either side."""
        mine = (self._middles >= start) & (self._middles < end) & ~self._cut
        high = len(self._labels)
        left, right = max(0, int(start - high) // FINE * FINE), int(end + high)
        near = mine[self._labels[:, left:right]]
        rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
        if not len(rows):
            return np.zeros((FINE, FINE), bool)
        top, left = rows[0] // FINE * FINE, columns[0] // FINE * FINE
        found: Mask = near[top : rows[-1] + FINE, left : columns[-1] + FINE]
        return found


def _windows(glyphs: list[_Glyph]) -> Iterator[list[_Glyph]]:
    """Glyphs near each other on their line."""
    window: list[_Glyph] = []
    for glyph in sorted(glyphs, key=lambda one: one.start):
        if window and glyph.end - window[0].start > _WINDOW:
            yield window
            window = []
        window.append(glyph)
    if window:
        yield window


def _turned(x: float, y: float, turns: int) -> tuple[float, float]:
    """A place after `turns` quarter turns clockwise: page → reading frame."""
    for _ in range(turns % 4):
        x, y = y, -x
    return x, y
