"""Modules → `re` operators and SVG paths, for contestants that draw symbols themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate

import numpy as np
import segno

from tests.benchmarks.letter.design import QR_SIDE, QR_VERSION
from vdp.barcode.qr import Qr

#: Payloads → symbols; rows top to bottom, bit 0 is the leftmost module.
Encoder = Callable[[Sequence[str]], list[tuple[int, ...]]]


def by_segno(payloads: Sequence[str]) -> list[tuple[int, ...]]:
    """Symbols by segno, one by one."""
    symbols = (segno.make_qr(text, error="m", version=QR_VERSION, boost_error=False) for text in payloads)
    return [
        tuple(
            int.from_bytes(np.packbits(np.frombuffer(row, np.uint8), bitorder="little"), "little") for row in s.matrix
        )
        for s in symbols
    ]


def lend() -> Encoder:
    """The encoder of `vdp`, for whoever borrows it."""
    qr = Qr(QR_VERSION, "M")
    return lambda payloads: [symbol.rows for symbol in qr.encode(payloads)]


def _boxes() -> list[str]:
    """The operator of each possible run, by 1024 × row from the top + 32 × first column + length."""
    return [f"{run >> 5 & 31} {QR_SIDE - 1 - (run >> 10)} {run & 31} 1 re" for run in range(QR_SIDE << 10)]


_BOXES = _boxes()


def boxes(symbols: Sequence[tuple[int, ...]]) -> list[str]:
    """For each symbol its dark runs as rectangles, one unit a module, origin at its lower left corner."""
    rows = np.array(symbols, np.uint32)
    # A bit is set where the colour changes, so starts and ends of runs take turns.
    edges = rows ^ rows << np.uint32(1)
    places = np.flatnonzero(np.unpackbits(edges.view(np.uint8), bitorder="little"))
    starts, ends = places[0::2], places[1::2]
    runs = (starts >> 5) % QR_SIDE << 10 | (starts & 31) << 5 | ends - starts
    drawn = list(map(_BOXES.__getitem__, runs.tolist()))
    stops = np.searchsorted(starts, np.arange(1, len(symbols) + 1) * (QR_SIDE * 32)).tolist()
    return ["\n".join(drawn[start:stop]) for start, stop in zip([0, *stops], stops, strict=False)]


def runs(symbol: tuple[int, ...]) -> Iterator[tuple[int, int, int]]:
    """Dark runs as (row from the top, first column, length)."""
    for row, bits in enumerate(symbol):
        column = 0
        while rest := bits >> column:
            column += (rest & -rest).bit_length() - 1
            rest = ~(bits >> column)
            length = (rest & -rest).bit_length() - 1
            yield row, column, length
            column += length


def bars(widths: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Bars of a linear symbol as (start, width) in modules, from its element widths."""
    starts = (0, *accumulate(widths))
    return zip(starts[0::2], widths[0::2], strict=False)
