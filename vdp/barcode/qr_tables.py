"""A QR Code of one version and level as an affine map over GF(2) from its data codewords to its modules.

Lives here: error correction (ISO/IEC 18004 §7.5), interleaving (§7.6) and placement (§7.7.3) turned into look-up
tables, and the eight symbols, one a mask, that data codewords of zero would give.  Function patterns, format and
version information are segno's.  Not here: the bit stream (`qr_codewords`), which mask (`qr_masks`).

A *line* is a row or a column of modules, bit 0 leftmost or topmost, with clear bits above.  A symbol of N modules a
side is 2 N lines: its rows, then its columns.  In arrays of many symbols the symbols are the last axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import segno
from numpy.typing import NDArray

from vdp.barcode import qr_codewords

Bytes = NDArray[np.uint8]

_BIT = np.arange(7, -1, -1, dtype=np.uint8)[:, None]


@dataclass(frozen=True, slots=True)
class Tables:
    """What turns data codewords into lines of `stride` bytes each.

    `checks[256 * p + v]`: error correction codewords of a block whose only data codeword that is not zero has value v
    and place p, as bytes of 64-bit words; places count from the first of the longest block, so that the last place is
    the same in all.  `slots`: 256 × place of each data codeword; `starts`: first data codeword of each block.
    `shown`: for each bit of each line, low byte and low bit first, which bit of data and error correction codewords it
    shows, the last one being a constant 0.  `masks`: the eight symbols of zeros, shape (8, 2 N, stride).
    """

    side: int
    stride: int
    checks: NDArray[np.uint64]
    slots: NDArray[np.intp]
    starts: NDArray[np.intp]
    shown: NDArray[np.intp]
    masks: Bytes

    def octets(self, codewords: Bytes) -> Bytes:
        """(symbols, data codewords) → (2 N, stride, symbols): lines as bytes, without mask and function patterns."""
        symbols = len(codewords)
        found = self.checks[codewords + self.slots]
        checks = np.bitwise_xor.reduceat(found, self.starts, axis=1).view(np.uint8).reshape(symbols, -1)
        sequence = np.concatenate([codewords, checks], axis=1).T
        bits = np.zeros((8 * len(sequence) + 1, symbols), np.uint8)
        np.bitwise_and(sequence[:, None] >> _BIT, 1, out=bits[:-1].reshape(len(sequence), 8, symbols))
        planes = bits.take(self.shown, axis=0).reshape(-1, 8, symbols)
        octets: Bytes = planes[:, 7].copy()
        for bit in range(6, -1, -1):
            octets += octets
            octets += planes[:, bit]
        return octets.reshape(2 * self.side, self.stride, symbols)


def stride(version: int) -> int:
    """Bytes of a line: a machine word where three clear bits are left above the modules, else enough for eleven."""
    side = 17 + 4 * version
    return 4 if side <= 29 else 8 if side <= 61 else (side + 11 + 7) // 8


@lru_cache(maxsize=16)
def tables(version: int, level: str) -> Tables:
    """The tables of a version 1 … 40 and a level L, M, Q or H; built once, the last sixteen kept."""
    side = 17 + 4 * version
    octets = stride(version)
    checks, slots, starts = _checks(version, level)
    shown = _shown(version, level, octets)
    bare = Tables(side, octets, checks, slots, starts, shown, np.zeros((8, 2 * side, octets), np.uint8))
    # Any payload serves whose bits do not end with a codeword: there segno puts a zero codeword before its padding.
    sample = "00"
    zero = bare.octets(np.frombuffer(qr_codewords.encode(sample, version, level), np.uint8)[None])[:, :, 0]
    masks = np.stack([_packed(sample, version, level, mask, octets) for mask in range(8)])
    return Tables(side, octets, checks, slots, starts, shown, masks ^ zero)


def _packed(payload: str, version: int, level: str, mask: int, octets: int) -> Bytes:
    """segno's symbol of that mask as lines, shape (2 N, octets)."""
    symbol = segno.make_qr(payload, version=version, error=level, mask=mask, boost_error=False)
    modules = np.array([list(row) for row in symbol.matrix], np.uint8)
    lines = np.zeros((2 * len(modules), 8 * octets), np.uint8)
    lines[:, : len(modules)] = np.concatenate([modules, modules.T])
    return np.packbits(lines, axis=1, bitorder="little")


def _lengths(version: int, level: str) -> list[int]:
    """Data codewords of each block: the short blocks stand first (ISO/IEC 18004 Table 9)."""
    blocks = qr_codewords.BLOCKS[level][version - 1]
    short, longer = divmod(qr_codewords.data_codewords(version, level), blocks)
    return [short] * (blocks - longer) + [short + 1] * longer


def _checks(version: int, level: str) -> tuple[NDArray[np.uint64], NDArray[np.intp], NDArray[np.intp]]:
    """`Tables.checks`, `slots` and `starts`."""
    check = qr_codewords.CHECK_LENGTH[level][version - 1]
    lengths = _lengths(version, level)
    remainders = np.array(_remainders(lengths[-1], check))
    checks = np.zeros((len(remainders), 256, -(-check // 8) * 8), np.uint8)
    checks[:, :, :check] = _products()[remainders].transpose(0, 2, 1)
    slots = [256 * place for length in lengths for place in range(lengths[-1] - length, lengths[-1])]
    return checks.view(np.uint64).reshape(256 * len(remainders), -1), np.array(slots), np.cumsum([0, *lengths[:-1]])


def _remainders(length: int, check: int) -> list[list[int]]:
    """Error correction codewords of a block whose only data codeword is a 1 at place 0, 1 … length - 1: remainders of
    powers of x by the generator polynomial, whose roots are 2**0 … 2**(check - 1) (§7.5.2, Annex A)."""
    times = _products().tolist()
    generator = [1]
    root = 1
    for _ in range(check):
        generator = [a ^ times[root][b] for a, b in zip([*generator, 0], [0, *generator], strict=True)]
        root = times[2][root]
    found = [generator[1:]]
    while len(found) < length:
        last = found[-1]
        found.append([a ^ times[last[0]][g] for a, g in zip([*last[1:], 0], generator[1:], strict=True)])
    return found[::-1]


@lru_cache(maxsize=1)
def _products() -> Bytes:
    """The multiplication table of GF(256) with x^8 + x^4 + x^3 + x^2 + 1 (§7.5.2), shape (256, 256)."""
    table = np.zeros((256, 256), np.uint8)
    factor = np.arange(256)
    for bit in range(8):
        table ^= np.where(np.arange(256)[:, None] >> bit & 1, factor, 0).astype(np.uint8)
        factor = factor << 1 ^ np.where(factor & 0x80, 0x11D, 0)
    return table


def _shown(version: int, level: str, octets: int) -> NDArray[np.intp]:
    """`Tables.shown`.  Codewords are interleaved block by block (§7.6); remainder bits show the constant 0."""
    side = 17 + 4 * version
    lengths = _lengths(version, level)
    check = qr_codewords.CHECK_LENGTH[level][version - 1]
    padded = -(-check // 8) * 8
    first = np.cumsum([0, *lengths]).tolist()
    sequence = [first[b] + i for i in range(lengths[-1]) for b in range(len(lengths)) if i < lengths[b]]
    sequence += [first[-1] + padded * b + i for i in range(check) for b in range(len(lengths))]
    constant = 8 * (first[-1] + padded * len(lengths))
    shown = np.full((2 * side, 8 * octets), constant, np.intp)
    bits = [8 * codeword + bit for codeword in sequence for bit in range(8)]
    rows, columns = np.array(_path(version)[: len(bits)]).T
    shown[rows, columns] = shown[side + columns, rows] = bits
    return shown.reshape(-1)


def _path(version: int) -> list[tuple[int, int]]:
    """(row, column) of every bit of the final sequence, in order (§7.7.3): two columns at a time from the right,
    upwards and downwards in turn, past the modules of function patterns; column 6 is left out."""
    taken = _taken(version).tolist()
    side = len(taken)
    found = []
    upwards = True
    for right in (*range(side - 1, 6, -2), *range(5, 0, -2)):
        for row in range(side - 1, -1, -1) if upwards else range(side):
            found += [(row, column) for column in (right, right - 1) if not taken[row][column]]
        upwards = not upwards
    return found


def _taken(version: int) -> NDArray[np.bool_]:
    """Modules of finder, timing and alignment patterns, format and version information (§6.3, §7.9, §7.10)."""
    side = 17 + 4 * version
    taken = np.zeros((side, side), np.bool_)
    taken[:9, :9] = taken[:9, -8:] = taken[-8:, :9] = True
    taken[6, :] = taken[:, 6] = True
    centres = _centres(version)
    for row in centres:
        for column in centres:
            if (row, column) not in {(6, 6), (6, side - 7), (side - 7, 6)}:
                taken[row - 2 : row + 3, column - 2 : column + 3] = True
    if version > 6:
        taken[:6, -11:-8] = taken[-11:-8, :6] = True
    return taken


def _centres(version: int) -> list[int]:
    """Rows and columns of the centres of alignment patterns (Annex E): 6, then even steps back from the far side."""
    if version == 1:
        return []
    gaps = version // 7 + 1
    step = 26 if version == 32 else (4 * version + 2 * gaps + 3) // (2 * gaps) * 2
    return [6, *(10 + 4 * version - step * back for back in range(gaps - 1, -1, -1))]
