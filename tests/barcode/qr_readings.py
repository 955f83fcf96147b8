"""The standard's rules on masks read plainly, payloads to try, and other people's encoders under one roof."""

from __future__ import annotations

import random
from itertools import chain, groupby

import numpy as np
import qrcode
import segno
import zint
from qrcode import util

from tests.barcode.drawing import rows_of

Grid = list[list[int]]

ALPHANUMERIC = "ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
#: Characters that only byte mode holds, so that an encoder with mixed segments has nothing to mix.
BYTES = "abcdefghijklmnopqrstuvwxyz!\"#&'(),;<=>?@[]^_`{|}~"
FOREIGN = "éßøłżșΩλжЯאبहไ日本한€"

#: Mode numbers of `qrcode`, and its numbers of the levels.
MODES = {"numeric": util.MODE_NUMBER, "alphanumeric": util.MODE_ALPHA_NUM, "byte": util.MODE_8BIT_BYTE}
LEVELS = {"L": 1, "M": 0, "Q": 3, "H": 2}


def payload(rng: random.Random, kind: str, length: int) -> str:
    """A random payload that holds one kind of character only; "utf8" mixes in letters outside ASCII."""
    if kind == "utf8":
        return "".join(rng.choice(FOREIGN if rng.random() < 0.5 else BYTES) for _ in range(length - 1)) + "é"
    letters = {"numeric": "0123456789", "alphanumeric": ALPHANUMERIC, "byte": BYTES}[kind]
    return "".join(rng.choice(letters) for _ in range(length))


def points(grid: Grid, *, beyond_is_light: bool = True, each_side: bool = False) -> tuple[int, int, int, int]:
    """N1 … N4 of ISO/IEC 18004 Table 11, module by module.

    `beyond_is_light`: the quiet zone can be the light area of N3; `each_side`: a pattern with light on both sides
    counts twice.
    """
    side = len(grid)
    adjacent = finders = 0
    for line in chain(grid, zip(*grid, strict=True)):
        lengths = [len(list(run)) for _, run in groupby(line)]
        adjacent += sum(3 + length - 5 for length in lengths if length >= 5)
        edge = "0000" if beyond_is_light else ""
        text = edge + "".join(map(str, line)) + edge
        for at in range(len(text) - 6):
            if text[at : at + 7] == "1011101":
                sides = (at >= 4 and text[at - 4 : at] == "0000") + (text[at + 7 : at + 11] == "0000")
                finders += sides if each_side else min(1, sides)
    blocks = sum(
        grid[y][x] == grid[y][x + 1] == grid[y + 1][x] == grid[y + 1][x + 1]
        for y in range(side - 1)
        for x in range(side - 1)
    )
    dark = sum(map(sum, grid))
    steps = abs(20 * dark - 10 * side * side) // (side * side)
    return adjacent, 3 * blocks, 40 * finders, 10 * steps


def unformatted(grid: Grid, version: int) -> Grid:
    """The symbol before format and version information and the dark module are written: light in their place."""
    side = len(grid)
    found = [list(row) for row in grid]
    for i in (0, 1, 2, 3, 4, 5, 7, 8):
        found[8][i] = found[i][8] = 0
    for i in range(8):
        found[8][side - 1 - i] = found[side - 1 - i][8] = 0
    if version > 6:
        for i in range(6):
            for j in range(side - 11, side - 8):
                found[i][j] = found[j][i] = 0
    return found


def mask_shown(rows: tuple[int, ...]) -> int:
    """The mask that format information names (ISO/IEC 18004 §7.9): bits 12 … 10, against 101."""
    return 4 * (1 ^ rows[8] >> 2 & 1) + 2 * (rows[8] >> 3 & 1) + (1 ^ rows[8] >> 4 & 1)


def by_zint(text: str, version: int, level: str, *, utf8: bool = False) -> tuple[int, ...]:
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.QRCODE
    symbol.option_1 = "LMQH".index(level) + 1
    symbol.option_2 = version
    symbol.input_mode = zint.InputMode.UNICODE
    if utf8:
        symbol.eci = 26
    symbol.encode(text)
    packed = np.asarray(symbol.encoded_data)[: symbol.rows]
    return tuple(int.from_bytes(row.tobytes(), "little") & ((1 << symbol.width) - 1) for row in packed)


def by_segno(text: str, version: int, level: str, kind: str, mask: int | None) -> segno.QRCode:
    utf8 = kind == "utf8"
    return segno.make_qr(
        text,
        version=version,
        error=level,
        mask=mask,
        mode="byte" if utf8 else kind,
        boost_error=False,
        encoding="utf-8" if utf8 else None,
        eci=utf8,
    )


def by_qrcode(text: str, version: int, level: str, kind: str, mask: int | None) -> tuple[int, ...]:
    symbol = qrcode.QRCode(version, error_correction=LEVELS[level], mask_pattern=mask)
    symbol.add_data(util.QRData(text.encode(), mode=MODES[kind]))
    symbol.make(fit=False)
    return rows_of(symbol.modules)
