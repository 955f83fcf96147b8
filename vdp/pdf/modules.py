"""Symbols as rectangles: modules of matrices in batches, bars of linear codes by the character, four-state bars.

Lives here: runs of dark modules → `x y w h re` in module units, y upwards.  Not here: where the symbol stands, its ink.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from vdp.marks import Bars, Matrix, StateDots, States

#: Element widths looked up at a time: a Code 128 character has six.
_CHUNK = 6

Texts = npt.NDArray[np.void]


class Matrices:
    """Rectangles of the matrices of a batch.  They are turned into text together, then taken in the same order."""

    def __init__(self, shapes: Iterable[Matrix]) -> None:
        alike: dict[tuple[int, int], list[Matrix]] = defaultdict(list)
        for shape in shapes:
            alike[shape.width, len(shape.rows)].append(shape)
        self._texts: dict[tuple[int, int], Iterator[str]] = {
            size: iter(_rectangles(size[0], size[1], group)) for size, group in alike.items()
        }

    def take(self, shape: Matrix) -> str:
        """Rectangles of the next matrix, which must be `shape`."""
        return next(self._texts[shape.width, len(shape.rows)])


def _rectangles(width: int, height: int, shapes: list[Matrix]) -> list[str]:
    """Horizontal runs of dark modules of matrices of one size; every text has the same width a rectangle."""
    # Rows lie end to end, each with a light module or more after it, so that a run never goes on into the next row.
    size = width // 8 + 1
    if width < 64:
        rows = np.array([shape.rows for shape in shapes], dtype="<u8").view(np.uint8).reshape(-1, 8)[:, :size]
    else:
        packed = b"".join([row.to_bytes(size, "little") for shape in shapes for row in shape.rows])
        rows = np.frombuffer(packed, np.uint8)
    modules = np.unpackbits(rows.reshape(-1), bitorder="little")
    edges = np.flatnonzero(np.diff(modules.view(np.bool_), prepend=False))
    starts, ends = edges[0::2], edges[1::2]
    places, lengths = _pieces(width, height)
    symbol = len(places)
    text = np.empty(len(starts), [("place", places.dtype), ("length", lengths.dtype)])
    text["place"] = places.take(starts % symbol)
    text["length"] = lengths.take(ends - starts)
    bounds = np.searchsorted(starts, np.arange(len(shapes) + 1) * symbol) * text.itemsize
    whole = text.tobytes().decode("ascii")
    return [whole[begin:end] for begin, end in pairwise(bounds.tolist())]


@lru_cache(maxsize=32)
def _pieces(width: int, height: int) -> tuple[Texts, Texts]:
    """``x y `` of every place (rows of whole bytes, from the top) and ``w 1 re`` of every length, each padded to one
    width."""
    digits = len(str(max(width, height)))
    across = 8 * (width // 8 + 1)
    places = [f"{min(x, width):{digits}} {height - 1 - y:{digits}} " for y in range(height) for x in range(across)]
    lengths = [f"{length:{digits}} 1 re\n" for length in range(width + 1)]
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


def reduced_matrix(shape: Matrix, module: int, reduction: tuple[int, int]) -> str:
    """A matrix in dots from its lower left corner: every dark stretch narrower and lower by those dots, half of that at
    either side, an odd dot at the right and on top.

    A row of modules becomes strips: what is cut off its foot stays dark where the row below is dark too, what is cut
    off its top where the row above is; along each strip the stretches are then taken in.
    """
    across, up = reduction
    foot, top = up // 2, up - up // 2
    rows, text = shape.rows, []
    for place, row in enumerate(rows):
        above = rows[place - 1] if place else 0
        below = rows[place + 1] if place + 1 < len(rows) else 0
        y = (len(rows) - 1 - place) * module
        strips = ((y, foot, row & below), (y + foot, module - up, row), (y + module - top, top, row & above))
        for at, height, dark in strips:
            if height:
                text += [
                    f"{first * module + across // 2} {at} {count * module - across} {height} re\n"
                    for first, count in _stretches(dark)
                ]
    return "".join(text)


@lru_cache(maxsize=16384)
def _stretches(row: int) -> tuple[tuple[int, int], ...]:
    """First place and length of each run of ones, from bit 0."""
    found, at = [], 0
    while row:
        skip = (row & -row).bit_length() - 1
        row >>= skip
        length = (~row & row + 1).bit_length() - 1
        found.append((at + skip, length))
        row >>= length
        at += skip + length
    return tuple(found)


def state_rectangles(states: States, size: StateDots) -> str:
    """Bars of a four-state code in dots, from the left edge of the first bar and the foot of a full bar."""
    feet = {"F": 0, "D": 0, "A": size.reach, "T": size.reach}
    heights = {"F": size.full, "D": size.half, "A": size.half, "T": size.tracker}
    return "".join(
        f"{nth * size.pitch} {feet[bar]} {size.bar} {heights[bar]} re\n" for nth, bar in enumerate(states.bars)
    )
