"""Lines that read from left to right as a whole, wherever they stand.

Lives here: what tells so at first sight, isolates among it.  Not here: levels of a paragraph (`bidi`).
"""

from __future__ import annotations

#: What makes a stretch read from left to right whatever stands around it, and what ends it (UAX #9).
ISOLATE, POP = "\u2066", "\u2069"


def isolated(line: str) -> str:
    """What reads from left to right as a whole in a paragraph from right to left, without its isolate; a space where
    that is not so.  Stops and numbers at the ends would belong to the paragraph's own direction (UAX #9, N1, N2, W7).
    """
    if line[:1] == ISOLATE and line[-1:] == POP:
        return " " if line[1:2] in (" ", POP) or line[-2] == " " else line[1:-1]
    return line if not line or (line[0].isalpha() and line[-1].isalnum()) else " "


def has_plain_letters(line: str) -> bool:
    """Whether a text has letters, and is all ASCII."""
    return line.isascii() and line.upper() != line.lower()
