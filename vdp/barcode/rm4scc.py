"""Royal Mail 4-state customer code (RM4SCC) and KIX: capitals and digits → four-state bars.

Lives here: the code table, start and stop bars, check character.  Not here: sizes (`sizes`), postcodes.

The 36 characters fill a square of six rows and columns.  Of a character's four bars two reach up, which tells its row,
and two reach down, which tells its column: the bars weigh 4, 2, 1 and 0, and row or column is their sum modulo 6.  Both
codes from memory; tests compare them with another encoder.
"""

from __future__ import annotations

from itertools import combinations

from vdp.errors import RowRefused
from vdp.marks import States

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_WEIGHTS = (4, 2, 1, 0)
#: Row or column 1 … 6 → the two bars that reach out.
_REACH = {(_WEIGHTS[a] + _WEIGHTS[b]) % 6 or 6: (a, b) for a, b in combinations(range(4), 2)}
_START = "A"
_STOP = "F"

#: Own limits, no source: a postcode and delivery point have 9 characters, a KIX up to 18.
LONGEST = 30


def _character(place: int) -> str:
    up, down = _REACH[place // 6 + 1], _REACH[place % 6 + 1]
    return "".join("TADF"[(bar in up) + 2 * (bar in down)] for bar in range(4))


_BARS = {char: _character(place) for place, char in enumerate(_ALPHABET)}


def encode(text: str) -> States:
    """RM4SCC: start bar, characters, check character, stop bar.  Raises RowRefused for what `kix` refuses."""
    _refuse(text, "RM4SCC")
    return States(_START + "".join(_BARS[c] for c in text + check(text)) + _STOP)


def kix(text: str) -> States:
    """KIX: the same characters without start, check and stop.

    Raises RowRefused for an empty text, one longer than LONGEST, or anything but capitals and digits.
    """
    _refuse(text, "KIX")
    return States("".join(_BARS[c] for c in text))


def check(text: str) -> str:
    """The check character: rows and columns added, each modulo 6."""
    places = [_ALPHABET.index(c) for c in text]
    row = sum(p // 6 + 1 for p in places) % 6 or 6
    column = sum(p % 6 + 1 for p in places) % 6 or 6
    return _ALPHABET[6 * (row - 1) + column - 1]


def _refuse(text: str, title: str) -> None:
    if not text or len(text) > LONGEST:
        raise RowRefused((f"{title} holds 1 to {LONGEST} characters, not {len(text)}",))
    if bad := next((c for c in text if c not in _BARS), ""):
        raise RowRefused((f"{title} holds capitals and digits only, not '{bad}' (U+{ord(bad):04X})",))
