"""Serials: what a job's series must give, and what a page shows.

Lives here: own arithmetic of a series, the search for serials in a page's text.  Not here: uniqueness (`judge`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import takewhile

from vdp.checkdigit import SCHEMES, check, valid
from vdp.job.model import Series


def serial_text(series: Series, index: int) -> str:
    """The serial of the 0-based `index`: prefix, zero-filled number, check characters, suffix."""
    number = str(series.start + index * series.step).zfill(series.width)
    return series.prefix + number + check(series.check, _checked(series, number)) + series.suffix


def check_holds(series: Series, text: str) -> bool:
    """Whether a serial ends in the right check characters for its own number."""
    body = text[len(series.prefix) : len(text) - len(series.suffix) or None]
    if not text.startswith(series.prefix) or not text.endswith(series.suffix) or len(body) < series.width:
        return False
    if series.check == "none":
        return len(body) == series.width
    return valid(series.check, _checked(series, body[: series.width]) + body[series.width :])


def _checked(series: Series, number: str) -> str:
    """What the check is taken over: the number, with the prefix before it where the scheme takes letters."""
    takes = SCHEMES.get(series.check, "")
    if "A" not in takes:
        return number
    return "".join(letter for letter in series.prefix.upper() if letter in takes) + number


#: A serial does not begin in the middle of a word.
_EDGE = "(?<![0-9A-Za-z])"


def shows(text: str, serial: str) -> bool:
    """Whether a text holds the serial, and not merely as part of a longer number."""
    at = text.find(serial) if serial else -1
    while at >= 0:
        before, after = text[at - 1 : at], text[at + len(serial) : at + len(serial) + 1]
        longer = (before.isdigit() and serial[0].isdigit()) or (after.isdigit() and serial[-1].isdigit())
        if not longer:
            return True
        at = text.find(serial, at + 1)
    return False


def shape(one: str, other: str) -> re.Pattern[str]:
    """What serials of a series look like, from two of them: what they share in front, then characters of their kinds.

    The shared front ends where its last digits begin: they are part of the number.
    """
    fixed = "".join(c for c, _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))
    fixed = fixed.rstrip("0123456789")
    digits = (one[len(fixed) :] + other[len(fixed) :]).isdigit()
    kind = r"\d" if digits else "[0-9A-Z]"
    rest = "".join(kind if c.isalnum() else re.escape(c) for c in one[len(fixed) :])
    return re.compile(rf"{_EDGE}{re.escape(fixed)}{rest}(?![0-9A-Za-z])")


def strangers(text: str, pattern: re.Pattern[str], own: Mapping[str, str]) -> list[str]:
    """Texts of a series' shape that are none of the piece's own serials."""
    mine = set(own.values())
    return sorted({found for found in pattern.findall(text) if found not in mine})


def is_telling(pattern: re.Pattern[str]) -> bool:
    """Whether a series' shape is so particular that whatever has it is a serial: it begins with a letter."""
    return pattern.pattern[len(_EDGE) :][:1].isalpha()
