"""The steps of USPS-B-3200 one by one, without the composer's code, and bars out of a clean bitmap.

Bars are F, A, D, T.  The way back is the verifier's reader.
"""

from __future__ import annotations

from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vdp.verify.imb import CHARACTERS, CODEWORD, DOWN, FIVE, ROUTING_OFFSET, TWO, UP, digits_of, frame_check, read_bars

__all__ = ["CHARACTERS", "CODEWORD", "DOWN", "FIVE", "TWO", "UP", "digits_of", "frame_check", "read_bars"]


def value_of(tracking: str, routing: str) -> int:
    """Step 1: one number of at most 102 bits."""
    value = int(routing or "0") + ROUTING_OFFSET[len(routing)]
    value = (value * 10 + int(tracking[0])) * 5 + int(tracking[1])
    return value * 10**18 + int(tracking[2:])


def codewords_of(value: int) -> list[int]:
    """Step 3: A … J, before the check goes in."""
    value, last = divmod(value, 636)
    found = [last]
    for _ in range(8):
        value, word = divmod(value, 1365)
        found.insert(0, word)
    return [value, *found]


def with_check(codewords: list[int], check: int) -> list[int]:
    """Step 4: J doubled, A raised by 659 where the highest bit of the check is set."""
    return [codewords[0] + 659 * (check >> 10), *codewords[1:9], 2 * codewords[9]]


def characters_of(codewords: list[int], check: int) -> list[int]:
    """Step 5: 13-bit characters, inverted where the check has a bit."""
    return [CHARACTERS[word] ^ (0x1FFF if check >> i & 1 else 0) for i, word in enumerate(codewords)]


def bars_from(characters: list[int]) -> str:
    """Step 6."""
    pairs = zip(DOWN, UP, strict=True)
    return "".join("TDAF"[(characters[d] >> i & 1) + 2 * (characters[u] >> j & 1)] for (d, i), (u, j) in pairs)


def bars_of(picture: NDArray[Any]) -> str:
    """Bars of a bitmap that shows one four-state symbol upright and nothing else, True = ink.

    The tracker band is what every bar inks; a bar that goes an eighth of the whole height beyond it reaches out.
    """
    rows = np.flatnonzero(picture.any(axis=1))
    picture = picture[rows[0] : rows[-1] + 1]
    inked = picture.any(axis=0).astype(int)
    starts = np.flatnonzero(np.diff(inked, prepend=0) == 1)
    stops = np.flatnonzero(np.diff(inked, append=0) == -1) + 1
    columns = np.array([picture[:, a:b].min(axis=1) for a, b in zip(starts, stops, strict=True)])
    band = np.flatnonzero(columns.all(axis=0))
    height = len(picture)
    top, bottom = max(band[0] - height // 8, 0), min(band[-1] + height // 8, height - 1)
    return "".join("TDAF"[bool(c[bottom]) + 2 * bool(c[top])] for c in columns)


def routing_counts() -> list[int]:
    """How many routing codes of each length there are, added up: where each length's offset comes from."""
    return list(accumulate([0, 1, 10**5, 10**9]))
