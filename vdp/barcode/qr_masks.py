"""Which of the eight masks a QR Code takes: the penalties of ISO/IEC 18004 §7.8.3.1, for a batch and bit-parallel.

Lives here: the four rules on packed lines, twice: for many symbols whose lines fit a machine word (up to version 11),
and for one symbol of any size on a Python integer.  Not here: the lines (`qr_tables`).

How the clause is read, since its words leave room:
- "the area to be evaluated is the complete symbol": format and version information of the mask at hand are included;
- N3: each 1:1:3:1:1 with four light modules before it or after it counts once, and modules beyond the edge are light;
- N4: k is the whole number of steps of 5 % between the share of dark modules and 50 %;
- of equal masks the first is taken.
Of the eight ways to read the first two points only this one gives mask 010 for the standard's own example (Annex I).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.unsignedinteger[Any]]

#: Points of ISO/IEC 18004 Table 11; N1 = 3 lies in how runs are counted below.
N2, N3, N4 = 3, 40, 10

#: The largest version whose lines fit a 64-bit word with three clear bits above them.
LARGEST_IN_WORDS = 11


class Scorer:
    """Penalties of symbols of `side` modules, up to `batch` at a time; holds its working memory, so one thread only."""

    def __init__(self, side: int, word: np.dtype[Any], batch: int) -> None:
        self._side = side
        room = 16 * side * batch
        self._words = [np.empty(room, word) for _ in range(5)]
        self._counts = np.empty(room, np.uint8)
        span = word.itemsize * 8
        self._beyond_run = word.type((1 << span) - (1 << side - 4))
        self._beyond_pair = word.type((1 << span) - (1 << side - 1))
        self._pairs_in_words = span * (side - 1)

    def penalties(self, lines: Words) -> NDArray[np.int64]:
        """(8, 2 N, symbols) lines → (8, symbols) penalties."""
        side, symbols = self._side, lines.shape[2]
        # What a smaller batch takes of the room lies side by side.
        shape, taken = (8, 2 * side, symbols), 16 * side * symbols
        edge, near, a, b, c = (w[:taken].reshape(shape) for w in self._words)
        count = self._counts[:taken].reshape(shape)

        # `edge`: where a module differs from the next; `near`: … it or the next.  Light lies beyond the last module.
        np.right_shift(lines, 1, out=a)
        np.bitwise_xor(lines, a, out=edge)
        np.right_shift(edge, 1, out=a)
        np.bitwise_or(edge, a, out=near)

        # N3: dark, edge, edge, none, none, edge, edge.
        np.bitwise_and(edge, a, out=a)
        np.right_shift(a, 4, out=b)
        np.bitwise_and(a, b, out=a)
        np.bitwise_and(a, lines, out=a)
        np.right_shift(near, 2, out=b)
        np.bitwise_or(near, b, out=near)
        np.invert(b, out=b)
        np.bitwise_and(a, b, out=a)
        # `b`: whether any of a module and the three before it is dark.
        np.left_shift(lines, 1, out=b)
        np.bitwise_or(lines, b, out=b)
        np.left_shift(b, 2, out=c)
        np.bitwise_or(b, c, out=b)
        np.right_shift(b, 10, out=c)
        np.left_shift(b, 1, out=b)
        np.bitwise_and(b, c, out=b)
        np.invert(b, out=b)
        np.bitwise_and(a, b, out=a)
        total = N3 * _counted(a, count)

        # N1: `near` now tells whether any of four neighbouring pairs differ.  A run of n >= 5 leaves n - 4 clear bits;
        # smeared over two more they count n - 2 = 3 + (n - 5), and runs stay apart.
        np.bitwise_or(near, self._beyond_run, out=near)
        np.invert(near, out=near)
        np.left_shift(near, 1, out=a)
        np.bitwise_or(near, a, out=near)
        np.left_shift(near, 1, out=a)
        np.bitwise_or(near, a, out=near)
        total += _counted(near, count)

        # N2: squares of four alike, from the rows.
        rows = lines[:, :side]
        square, b = a[:, : side - 1], b[:, : side - 1]
        np.bitwise_xor(rows[:, :-1], rows[:, 1:], out=square)
        np.bitwise_or(square, edge[:, : side - 1], out=square)
        np.bitwise_or(square, edge[:, 1:side], out=square)
        np.bitwise_or(square, self._beyond_pair, out=square)
        total += N2 * (self._pairs_in_words - _counted(square, count[:, : side - 1]))

        # N4.
        dark = _counted(rows, count[:, :side])
        total += N4 * (np.abs(20 * dark - 10 * side * side) // (side * side))
        return total


def _counted(words: Words, room: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Set bits of each symbol; `room` is working memory of the words' shape.  A symbol has fewer than 2**16 modules."""
    np.bitwise_count(words, out=room)
    total: NDArray[np.uint16] = room.sum(axis=1, dtype=np.uint16)
    return total.astype(np.int64)


def penalty(lines: int, side: int, stride: int) -> int:
    """The penalty of one symbol: its rows, then its columns, each `stride` >= `side` + 11 bits, low bit first."""
    half, inner = _frame(side, stride)
    edge = lines ^ lines >> 1

    recent = lines | lines << 1
    recent |= recent << 2
    finder = lines & edge & edge >> 1 & edge >> 4 & edge >> 5 & ~(edge >> 2 | edge >> 3)
    finder &= ~(recent << 1 & recent >> 10)

    near = edge | ~inner
    near |= near >> 1
    runs = ~(near | near >> 2) & inner
    runs |= runs << 1
    runs |= runs << 1

    rows = lines & half
    square = inner & half >> stride & ~(edge | edge >> stride | rows ^ rows >> stride)

    total = side * side
    steps = abs(20 * rows.bit_count() - 10 * total) // total
    return runs.bit_count() + N2 * square.bit_count() + N3 * finder.bit_count() + N4 * steps


@lru_cache(maxsize=8)
def _frame(side: int, stride: int) -> tuple[int, int]:
    """All bits of the rows, and in every line the modules that have a next one."""
    pairs = (1 << side - 1) - 1
    return (1 << stride * side) - 1, sum(pairs << stride * i for i in range(2 * side))
