"""Serials: what a job's series must give, and what a page shows.

Lives here: own arithmetic of a series, the search for serials in a page's text.  Not here: uniqueness (`judge`), and
what only who has a series' key can tell: the order of shuffled numbers, authenticity codes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import takewhile

from vdp.checkdigit import SCHEMES, check, valid
from vdp.job.series import Series

#: The named alphabets, zero first; README names them.
_ALPHABETS = {"decimal": "0123456789", "alphanumeric": "0123456789ACEFHJKMNPRTVWXY"}


def serial_text(series: Series, index: int, prefix: str | None = None, suffix: str | None = None) -> str:
    """The serial of the 0-based `index` of a series without a key: prefix, number filled to the width, check
    characters, suffix.  `prefix` and `suffix` stand for the series' own where records change them."""
    head = series.prefix if prefix is None else prefix
    number = _digits(series, series.start + index * series.step)
    body = number + check(series.check, _checked(series, head, number))
    return head + _grouped(series, body) + (series.suffix if suffix is None else suffix)


def check_holds(series: Series, text: str, prefix: str | None = None, suffix: str | None = None) -> bool:
    """Whether a serial has the series' form and the right check characters for its own number.  Of an authenticity
    code only the characters are judged."""
    head, tail = (series.prefix if prefix is None else prefix), (series.suffix if suffix is None else suffix)
    spread = text[len(head) : len(text) - len(tail) or None]
    if not text.startswith(head) or not text.endswith(tail) or len(text) < len(head) + len(tail):
        return False
    body = _joined(series, spread)
    alphabet = _alphabet(series)
    number = body[: series.width]
    checked = body[series.width : len(body) - series.code]
    code = body[len(body) - series.code :] if series.code else ""
    if _grouped(series, body) != spread or len(number) < series.width or len(code) < series.code:
        return False
    if not set(number + code) <= set(alphabet):
        return False
    if series.check == "none":
        return not checked
    return bool(checked) and valid(series.check, _checked(series, head, number) + checked)


def _alphabet(series: Series) -> str:
    return _ALPHABETS.get(series.alphabet, series.alphabet)


def _digits(series: Series, number: int) -> str:
    alphabet = _alphabet(series)
    digits = ""
    while number:
        digits = alphabet[number % len(alphabet)] + digits
        number //= len(alphabet)
    return digits.rjust(series.width, alphabet[0])


def _checked(series: Series, prefix: str, number: str) -> str:
    """What the check is taken over: the number, with the prefix before it where the scheme takes letters."""
    takes = SCHEMES.get(series.check, "")
    if "A" not in takes:
        return number
    return "".join(letter for letter in prefix.upper() if letter in takes) + number


def _grouped(series: Series, body: str) -> str:
    """A body in the groups of the series; characters too many stay with the last."""
    if not series.groups:
        return body
    ends = [sum(series.groups[:n]) for n in range(1, len(series.groups))]
    return series.separator.join(body[begin:end] for begin, end in zip([0, *ends], [*ends, None], strict=True))


def _joined(series: Series, text: str) -> str:
    return text.replace(series.separator, "") if series.groups else text


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
    small = any(c.islower() for c in one[len(fixed) :] + other[len(fixed) :])
    kind = r"\d" if digits else "[0-9A-Za-z]" if small else "[0-9A-Z]"
    rest = "".join(kind if c.isalnum() else re.escape(c) for c in one[len(fixed) :])
    return re.compile(rf"{_EDGE}{re.escape(fixed)}{rest}(?![0-9A-Za-z])")


def strangers(text: str, pattern: re.Pattern[str], own: Mapping[str, str]) -> list[str]:
    """Texts of a series' shape that are none of the piece's own serials."""
    mine = set(own.values())
    return sorted({found for found in pattern.findall(text) if found not in mine})


def is_telling(pattern: re.Pattern[str]) -> bool:
    """Whether a series' shape is so particular that whatever has it is a serial: it begins with a letter."""
    return pattern.pattern[len(_EDGE) :][:1].isalpha()
