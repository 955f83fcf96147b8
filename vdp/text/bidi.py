"""Unicode Bidirectional Algorithm (UAX #9): levels of a paragraph, and the visual order of a line's runs.

Lives here: ICU's levels by code point, rule L2.  Not here: mirroring (HarfBuzz mirrors what it shapes right to left);
rule L1's reset of a line's trailing spaces, which `fit` does not print at all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import icu

#: ICU's "take the first strong character's direction, else left to right" (rules P2 and P3).
_FIRST_STRONG_LTR = icu.Bidi.DEFAULT_LTR

# Blocks whose characters are R, AL or AN by default or in fact, and the directional controls.  Text without any of
# them has level 0 throughout in a left-to-right paragraph.
_RTL = re.compile(
    "[\u0590-\u08ff\u200f\u202a-\u202e\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufeff"
    "\U00010800-\U00010fff\U0001e800-\U0001efff]"
)


def has_rtl(text: str) -> bool:
    """Whether a text holds anything that could give a level above 0 in a left-to-right paragraph."""
    return not text.isascii() and _RTL.search(text) is not None


def find_levels(text: str, rtl: bool | None) -> tuple[bytes, int]:
    """Embedding level of each code point of one paragraph, and the paragraph's own level (0 or 1).

    `rtl` is the base direction, or None for the first strong character's.  Characters that rule X9 removes have the
    level that ICU gives them.
    """
    bidi = icu.Bidi()
    bidi.setPara(icu.UnicodeString(text), _FIRST_STRONG_LTR if rtl is None else int(rtl))
    units = bytes(bidi.getLevels())
    base = int(bidi.getParaLevel())
    if len(units) == len(text):
        return units, base
    levels = bytearray()
    at = 0  # in UTF-16 units, as ICU counts
    for char in text:
        levels.append(units[at])
        at += 2 if char > "\uffff" else 1
    return bytes(levels), base


def _from_right(levels: Sequence[int]) -> list[int]:
    """The same for levels 1 and 2, which most lines from right to left have: stretches of level 2 keep their order."""
    order: list[int] = []
    stop = len(levels)
    while stop:
        start = stop - 1
        if levels[start] == 2:
            while start and levels[start - 1] == 2:
                start -= 1
        order += range(start, stop)
        stop = start
    return order


def visual_order(levels: Sequence[int]) -> list[int]:
    """Rule L2: indices of a line's runs from left to right, given the level of each."""
    order = list(range(len(levels)))
    if levels and 1 <= min(levels) <= max(levels) <= 2:
        return _from_right(levels)
    lowest_odd = min((level for level in levels if level % 2), default=0)
    if not lowest_odd:
        return order
    for level in range(max(levels), lowest_odd - 1, -1):
        start = 0
        while start < len(order):
            if levels[order[start]] < level:
                start += 1
                continue
            stop = start
            while stop < len(order) and levels[order[stop]] >= level:
                stop += 1
            order[start:stop] = order[start:stop][::-1]
            start = stop
    return order
