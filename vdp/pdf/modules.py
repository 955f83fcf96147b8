"""Symbols as rectangles: modules of matrices in batches, bars of linear codes by the character, four-state bars.

Lives here: runs of dark modules → `x y w h re` in module units, y upwards.  Not here: where the symbol stands, its ink.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.marks import Bars, Matrix, StateDots, States

#: Element widths looked up at a time: a Code 128 character has six.
_CHUNK = 6

Texts = npt.NDArray[np.void]
#: Modules across and down, dots a module, reduction across and up in dots.
_Alike = tuple[int, int, int, tuple[int, int]]


class Drawn(NamedTuple):
    """A matrix to be drawn.  Without reduction it is drawn in modules; with one, in dots from its lower left corner:
    every dark stretch is `reduction` dots narrower and lower, half of that at either side, an odd dot at the right and
    on top."""

    shape: Matrix
    module: int = 1
    reduction: tuple[int, int] = (0, 0)

    @property
    def alike(self) -> _Alike:
        """What matrices share that are turned into text together."""
        module = self.module if any(self.reduction) else 1
        return self.shape.width, self.shape.height, module, self.reduction


class Matrices:
    """Rectangles of the matrices of a batch.  They are turned into text together, then taken in the same order."""

    def __init__(self, drawn: Iterable[Drawn]) -> None:
        alike: dict[_Alike, list[Matrix]] = defaultdict(list)
        for one in drawn:
            alike[one.alike].append(one.shape)
        self._texts: dict[_Alike, Iterator[str]] = {
            kind: iter(_rectangles(kind, group)) for kind, group in alike.items()
        }

    def take(self, drawn: Drawn) -> str:
        """Rectangles of the next matrix, which must be `drawn`."""
        return next(self._texts[drawn.alike])


def _rectangles(kind: _Alike, shapes: list[Matrix]) -> list[str]:
    """Horizontal runs of dark modules of matrices of one kind; every text has the same width a rectangle."""
    # Rows lie end to end, each with a light module or more after it, so that a run never goes on into the next row.
    width, _, _, reduction = kind
    size = width // 8 + 1
    stride = shapes[0].stride
    if any(shape.stride != stride for shape in shapes):
        shapes = [Matrix(width, shape.rows) for shape in shapes]
        stride = size
    rows = np.frombuffer(b"".join([shape.lines for shape in shapes]), np.uint8).reshape(-1, stride)[:, :size]
    if any(reduction):
        rows = _strips(rows.reshape(len(shapes), -1, size), reduction[1])
    modules = np.unpackbits(rows.reshape(-1), bitorder="little")
    edges = np.flatnonzero(np.diff(modules.view(np.bool_), prepend=False))
    starts, ends = edges[0::2], edges[1::2]
    places, lengths = _pieces(kind)
    symbol = len(places)
    place = starts % symbol
    text = np.empty(len(starts), [("place", places.dtype), ("length", lengths.dtype)])
    text["place"] = places.take(place)
    # Lengths are told apart by the kind of strip that their row is.
    strips = len(lengths) // (width + 1)
    text["length"] = lengths.take(ends - starts + place // (8 * size) % strips * (width + 1))
    bounds = np.searchsorted(starts, np.arange(len(shapes) + 1) * symbol) * text.itemsize
    whole = text.tobytes().decode("ascii")
    return [whole[begin:end] for begin, end in pairwise(bounds.tolist())]


def _strips(rows: npt.NDArray[np.uint8], up: int) -> npt.NDArray[np.uint8]:
    """(symbol, row, byte) → the rows' strips from foot to top, as `_cuts` tells them: what is cut off a row's foot
    stays dark where the row below is dark too, what is cut off its top where the row above is."""
    if not up:
        return rows
    strips = [rows]
    top = np.zeros_like(rows)
    np.bitwise_and(rows[:, 1:], rows[:, :-1], out=top[:, 1:])
    strips.append(top)
    if up > 1:
        foot = np.zeros_like(rows)
        np.bitwise_and(rows[:, :-1], rows[:, 1:], out=foot[:, :-1])
        strips.insert(0, foot)
    return np.stack(strips, axis=2)


def _cuts(module: int, up: int) -> list[tuple[int, int]]:
    """Foot and height of each strip of a row of modules in dots: foot, what is left of the row, top."""
    foot, top = up // 2, up - up // 2
    return [cut for cut in ((0, foot), (foot, module - up), (module - top, top)) if cut[1]]


@lru_cache(maxsize=32)
def _pieces(kind: _Alike) -> tuple[Texts, Texts]:
    """``x y `` of every place (strips of rows of whole bytes, from the top) and ``w h re`` of every length in each
    strip, each padded to one width."""
    width, height, module, (across, up) = kind
    digits = len(str(module * max(width, height)))
    cuts, every = _cuts(module, up), range(8 * (width // 8 + 1))
    places = [
        f"{min(x, width) * module + across // 2:{digits}} {(height - 1 - y) * module + at:{digits}} "
        for y in range(height)
        for at, _ in cuts
        for x in every
    ]
    wide, high = range(width + 1), len(str(module))
    lengths = [f"{max(n * module - across, 0):{digits}} {tall:{high}} re\n" for _, tall in cuts for n in wide]
    return _table(places), _table(lengths)


def _table(texts: list[str]) -> Texts:
    """Texts of one length as items that numpy moves whole."""
    return np.frombuffer("".join(texts).encode("ascii"), f"V{len(texts[0])}")


def bar_rectangles(bars: Bars) -> str:
    """Bars of height 1, in modules from the first bar's left edge."""
    widths, at, parts = bars.widths, 0, []
    for start in range(0, len(widths), _CHUNK):
        text, step = _chunk(at, widths[start : start + _CHUNK])
        parts.append(text)
        at += step
    return "".join(parts)


@lru_cache(maxsize=16384)
def _chunk(at: int, widths: tuple[int, ...]) -> tuple[str, int]:
    """Rectangles of bar, space, bar, … that begin at `at`, and how far they reach."""
    text, x = "", at
    for place, width in enumerate(widths):
        if place % 2 == 0:
            text += f"{x} 0 {width} 1 re\n"
        x += width
    return text, x - at


def reduced_bars(bars: Bars, module: int, reduction: int) -> str:
    """Bars of height 1, in dots from where the first bar's module begins: each `reduction` dots narrower, half of that
    at either side, an odd dot at the right."""
    text, x = [], 0
    for place, width in enumerate(bars.widths):
        if place % 2 == 0:
            text.append(f"{x * module + reduction // 2} 0 {width * module - reduction} 1 re\n")
        x += width
    return "".join(text)


def state_rectangles(states: States, size: StateDots) -> str:
    """Bars of a four-state code in dots, from the left edge of the first bar and the foot of a full bar."""
    feet = {"F": 0, "D": 0, "A": size.reach, "T": size.reach}
    heights = {"F": size.full, "D": size.half, "A": size.half, "T": size.tracker}
    return "".join(
        f"{nth * size.pitch} {feet[bar]} {size.bar} {heights[bar]} re\n" for nth, bar in enumerate(states.bars)
    )
