"""Pixels of a four-state postal code → what it says: Intelligent Mail, RM4SCC and KIX.

Lives here: bars out of pixels, and the Royal Mail table.  Not here: the arithmetic of Intelligent Mail (`imb`).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from vdp.verify.imb import read_bars
from vdp.verify.samples import Bytes

KINDS = frozenset(("imb", "rm4scc", "kix"))
#: Share of the whole height by which a bar must go beyond the band that all bars ink, to reach out.
_BEYOND = 1 / 8
#: By whether a bar reaches down, and twice whether it reaches up.
_LETTERS = np.frombuffer(b"TDAF", np.uint8)
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Two of four bars reach up and two down; in this order the pairs stand for 0 … 5 (Royal Mail's table, from memory).
_PAIRS: Mapping[tuple[int, ...], int] = {
    pair: value for value, pair in enumerate(((2, 3), (1, 3), (1, 2), (0, 3), (0, 2), (0, 1)))
}


def read_four_state(pixels: Bytes, kind: str, due: str) -> tuple[str, bool] | None:
    """What the one symbol in a grey picture says, in any orientation, and whether its bars stand upright; None when it
    says nothing.

    A KIX has neither start nor check, so it can be read upside down too: of the two, `due` is taken if it is there.
    """
    upright = pixels.shape[1] >= pixels.shape[0]
    lying = pixels if upright else np.rot90(pixels)
    bars = _bars(lying <= (int(pixels.min()) + int(pixels.max())) // 2)
    if bars is None:
        return None
    first = _text(bars, kind)
    if first is not None and (kind != "kix" or first == due):
        return first, upright
    second = _text(_upside_down(bars), kind)
    said = second if first is None or second == due else first
    return None if said is None else (said, upright)


def _bars(dark: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> str | None:
    """One letter a bar.  The band that every bar inks is the tracker."""
    rows = np.flatnonzero(dark.any(axis=1))
    dark = dark[rows[0] : rows[-1] + 1]
    inked = dark.any(axis=0).astype(np.int8)
    starts = np.flatnonzero(np.diff(inked, prepend=0) == 1)
    stops = np.flatnonzero(np.diff(inked, append=0) == -1) + 1
    middles = dark[:, (starts + stops) // 2].T
    band = np.flatnonzero(middles.all(axis=0))
    if len(band) == 0:
        return None
    height = dark.shape[0]
    beyond = max(1, round(height * _BEYOND))
    top, bottom = max(int(band[0]) - beyond, 0), min(int(band[-1]) + beyond, height - 1)
    reaches = middles[:, bottom] + 2 * middles[:, top]
    return _LETTERS[reaches].tobytes().decode("ascii")


def _upside_down(bars: str) -> str:
    return bars[::-1].translate(str.maketrans("AD", "DA"))


def _text(bars: str, kind: str) -> str | None:
    if kind == "imb":
        try:
            return "".join(read_bars(bars))
        except (ValueError, KeyError):
            return None
    if kind == "kix":
        return _characters(bars)
    text = _characters(bars[1:-1]) if bars[:1] == "A" and bars[-1:] == "F" else None
    if text is None or len(text) < 2 or _check(text[:-1]) != text[-1]:
        return None
    return text[:-1]


def _characters(bars: str) -> str | None:
    if not bars or len(bars) % 4:
        return None
    text = ""
    for start in range(0, len(bars), 4):
        four = bars[start : start + 4]
        row = _PAIRS.get(tuple(i for i in range(4) if four[i] in "AF"))
        column = _PAIRS.get(tuple(i for i in range(4) if four[i] in "DF"))
        if row is None or column is None:
            return None
        text += _ALPHABET[6 * row + column]
    return text


def _check(text: str) -> str:
    """Rows and columns from 1 to 6 are added, each modulo 6."""
    places = [_ALPHABET.index(character) for character in text]
    row = (sum(place // 6 + 1 for place in places) - 1) % 6
    column = (sum(place % 6 + 1 for place in places) - 1) % 6
    return _ALPHABET[6 * row + column]
