"""The cross-reference stream: where every object is, in blocks, so that a million pieces need no table in memory
(ISO 32000-1, 7.5.8)."""

from __future__ import annotations

import zlib
from array import array
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.pdf.arithmetic import PER_GROUP, PER_PIECE, PIECES_IN_GROUP, SIDES, Arithmetic

Rows = npt.NDArray[np.uint64]

#: Groups turned into entries at a time.
_BLOCK = 512
#: Offsets kept for a full group: its content streams and its object stream.
OFFSETS_IN_GROUP = 1 + SIDES * PIECES_IN_GROUP


class Table(NamedTuple):
    """A finished table: field widths in bytes, bytes of a row, packed rows (PNG predictor Up, Flate)."""

    widths: tuple[int, int, int]
    columns: int
    data: bytes


def pack_table(arithmetic: Arithmetic, singles: Mapping[int, int], groups: array[int], size: int, last: int) -> Table:
    """Entries of objects 0 to `size` - 1.

    `singles` number → offset of all that stands outside groups (numbers missing there are free); `groups` the offsets
    of the groups' objects in order; `last` the largest offset in the file.
    """
    return pack_rows(entries(arithmetic, singles, groups, size), size, last)


def pack_rows(blocks: Iterable[Rows], size: int, last: int) -> Table:
    """Blocks of rows, which are the entries of objects 0 to `size` - 1; `last` is the largest offset among them."""
    middle = max(1, (max(last, size).bit_length() + 7) // 8)
    widths = (1, middle, 2)
    columns = sum(widths)
    packer = zlib.compressobj(3)
    parts: list[bytes] = []
    above = np.zeros(columns, np.uint8)
    for rows in blocks:
        table = np.empty((len(rows) + 1, columns), np.uint8)
        table[0] = above
        table[1:, 0] = rows[:, 0]
        table[1:, 1 : 1 + middle] = _big_endian(rows[:, 1])[:, 8 - middle :]
        table[1:, 1 + middle :] = _big_endian(rows[:, 2])[:, 6:]
        filtered = np.empty((len(rows), columns + 1), np.uint8)
        filtered[:, 0] = 2
        np.subtract(table[1:], table[:-1], out=filtered[:, 1:])
        above = table[-1].copy()
        parts.append(packer.compress(filtered.tobytes()))
    parts.append(packer.flush())
    return Table(widths, columns, b"".join(parts))


def _big_endian(column: Rows) -> npt.NDArray[np.uint8]:
    return column.astype(">u8").view(np.uint8).reshape(-1, 8)


def entries(arithmetic: Arithmetic, singles: Mapping[int, int], groups: array[int], size: int) -> Iterator[Rows]:
    """Blocks of rows: type, offset or object stream or next free number, generation or place in the object stream."""
    outside = (*range(arithmetic.body), *range(arithmetic.tail, size))
    free = [number for number in outside if number not in singles]
    nexts = dict(zip(free, [*free[1:], 0], strict=True))

    def listed(numbers: range) -> Rows:
        return np.array(
            [
                (1, singles[number], 0) if number in singles else (0, nexts[number], 0 if number else 0xFFFF)
                for number in numbers
            ],
            dtype=np.uint64,
        ).reshape(-1, 3)

    yield listed(range(arithmetic.body))
    offsets = np.frombuffer(groups, np.uint64)
    full = arithmetic.pieces // PIECES_IN_GROUP
    for start in range(0, full, _BLOCK):
        count = min(_BLOCK, full - start)
        block = offsets[start * OFFSETS_IN_GROUP : (start + count) * OFFSETS_IN_GROUP]
        yield _grouped(arithmetic, start, block.reshape(count, OFFSETS_IN_GROUP))
    if full < arithmetic.groups:
        yield _grouped(arithmetic, full, offsets[full * OFFSETS_IN_GROUP :].reshape(1, -1))
    yield listed(range(arithmetic.tail, size))


def _grouped(arithmetic: Arithmetic, first: int, offsets: Rows) -> Rows:
    """Rows of groups of one size; an offset row is the content streams, then the object stream."""
    count, pages = len(offsets), offsets.shape[1] - 1
    per = PER_GROUP + PER_PIECE * (pages // SIDES)
    streams = (arithmetic.stream(first) + np.arange(count) * per).astype(np.uint64)
    rows = np.zeros((count, per, 3), np.uint64)
    rows[:, :pages, 0] = 1
    rows[:, :pages, 1] = offsets[:, :-1]
    rows[:, pages:-1, 0] = 2
    rows[:, pages:-1, 1] = streams[:, None]
    rows[:, pages:-1, 2] = np.arange(per - pages - 1)
    rows[:, -1, 0] = 1
    rows[:, -1, 1] = offsets[:, -1]
    return rows.reshape(-1, 3)
