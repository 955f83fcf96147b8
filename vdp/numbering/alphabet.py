"""Numbers written in an alphabet: its characters are the digits, the first of them is zero.

Lives here: the named alphabets and the two directions.  Not here: grouping and check characters (`series`).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

DECIMAL = "0123456789"
#: Of each group that is mistaken in print or by hand (0 O Q D, 1 I L, 2 Z, 5 S, 6 G, 8 B, V U) only the first stays:
#: 26 characters.  Common practice, no source.
ALPHANUMERIC = "0123456789ACEFHJKMNPRTVWXY"
ALPHABETS: Mapping[str, str] = MappingProxyType({"decimal": DECIMAL, "alphanumeric": ALPHANUMERIC})


def write(number: int, alphabet: str, width: int) -> str:
    """`number` (0 or more) in at least `width` characters, filled with the alphabet's zero; never cut."""
    if alphabet == DECIMAL:
        return str(number).zfill(width)
    base, written = len(alphabet), []
    while number:
        number, digit = divmod(number, base)
        written.append(alphabet[digit])
    return "".join(reversed(written)).rjust(width, alphabet[0])


def read(text: str, alphabet: str) -> int:
    """The inverse of `write`.  Raises ValueError naming the first character that the alphabet does not have."""
    number, base = 0, len(alphabet)
    for character in text:
        digit = alphabet.find(character)
        if digit < 0:
            raise ValueError(f"'{character}' is not one of {alphabet}")
        number = number * base + digit
    return number
