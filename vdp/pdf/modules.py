"""Matrices as rectangles, in batches.

Lives here: runs of dark modules → `x y w h re` in module units, y upwards.  Not here: bars (`bars`), where the symbol
stands, its ink.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import chain, pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.marks import Matrix

Texts = npt.NDArray[np.void]
#: Modules across, bytes of all rows and of one, dots a module, reduction across and up in dots.
_Alike = tuple[int, int, int, int, tuple[int, int]]


#: Bytes of rows that are turned into text at once.
_AT_ONCE = 1 << 16


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
        shape, module, reduction = self
        return shape.width, len(shape.lines), shape.stride, module if any(reduction) else 1, reduction


def matrix_rectangles(drawn: Iterable[Drawn]) -> list[str]:
    """Rectangles of each matrix of a batch; those that are alike are turned into text together."""
    kinds = []
    alike: defaultdict[_Alike, list[Matrix]] = defaultdict(list)
    for one in drawn:
        kind = one.alike
        kinds.append(kind)
        alike[kind].append(one.shape)
    texts = {kind: chain.from_iterable(_in_parts(kind, group)) for kind, group in alike.items()}
    return [next(texts[kind]) for kind in kinds]


def _in_parts(kind: _Alike, shapes: list[Matrix]) -> Iterator[list[str]]:
    """So many matrices at once that what is worked out on the way stays small."""
    _, size, *_ = kind
    count = max(1, _AT_ONCE // size)
    for start in range(0, len(shapes), count):
        yield _rectangles(kind, shapes[start : start + count])


def _rectangles(kind: _Alike, shapes: list[Matrix]) -> list[str]:
    """Horizontal runs of dark modules of matrices of one kind; every text has the same width a rectangle."""
    # Rows lie end to end, each with a light module or more after it, so that a run never goes on into the next row.
    width, _, stride, _, reduction = kind
    rows = np.frombuffer(b"".join([shape.lines for shape in shapes]), np.uint8)
    if any(reduction):
        rows = _strips(rows.reshape(len(shapes), -1, stride), reduction[1]).reshape(-1)
    modules = np.unpackbits(rows, bitorder="little")
    changes = modules.copy()
    changes[1:] ^= modules[:-1]
    edges = np.flatnonzero(changes.view(np.bool_)).astype(np.int32).reshape(-1, 2)
    starts = np.ascontiguousarray(edges[:, 0])
    lengths = edges[:, 1] - starts
    pieces = _pieces(kind)
    symbol = len(pieces.places)
    places = starts - starts // symbol * symbol
    if pieces.strips > 1:
        # Lengths are told apart by the kind of strip that their row is.
        lengths += places // (8 * stride) % pieces.strips * (width + 1)
    text = np.empty(len(starts), pieces.item)
    text["place"] = pieces.places.take(places)
    text["length"] = pieces.lengths.take(lengths)
    bounds = np.searchsorted(starts, np.arange(len(shapes) + 1) * symbol) * text.itemsize
    # What is most of a page is copied as seldom as can be.
    whole = text.view(np.uint8).data
    return [str(whole[begin:end], "ascii") for begin, end in pairwise(bounds.tolist())]


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


class _Pieces(NamedTuple):
    """Texts of rectangles: ``x y `` of every place (strips of rows of whole bytes, from the top) and ``w h re`` of
    every length in each kind of strip; `item` is one after the other."""

    places: Texts
    lengths: Texts
    strips: int
    item: np.dtype[np.void]


@lru_cache(maxsize=32)
def _pieces(kind: _Alike) -> _Pieces:
    """Each text is padded to one width with spaces, and places once more to a power of two, as such are moved quickest:
    what is too much is covered by the length, which comes after."""
    width, size, stride, module, (across, up) = kind
    height = size // stride
    digits = len(str(module * max(width, height)))
    cuts, every = _cuts(module, up), range(8 * stride)
    places = [
        f"{min(x, width) * module + across // 2:{digits}} {(height - 1 - y) * module + at:{digits}} "
        for y in range(height)
        for at, _ in cuts
        for x in every
    ]
    wide, high = range(width + 1), len(str(module))
    lengths = [f"{max(n * module - across, 0):{digits}} {tall:{high}} re\n" for _, tall in cuts for n in wide]
    place, length = len(places[0]), len(lengths[0])
    padded = 1 << (place - 1).bit_length()
    item = np.dtype(
        {
            "names": ["place", "length"],
            "formats": [f"V{padded}", f"V{length}"],
            "offsets": [0, place],
            "itemsize": place + length,
        }
    )
    return _Pieces(_table(places, padded), _table(lengths, length), len(cuts), item)


def _table(texts: list[str], width: int) -> Texts:
    """Texts as items that numpy moves whole."""
    return np.frombuffer("".join([text.ljust(width) for text in texts]).encode("ascii"), f"V{width}")
