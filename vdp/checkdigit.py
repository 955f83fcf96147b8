"""Check characters: ISO/IEC 7064, Luhn, GS1, Damm, Verhoeff, UPU S10, Code 39 modulo 43 and ICAO 7-3-1.

Lives here: text → check characters, and whether a text carries the right ones.  Not here: which part of a serial is
checked (`numbering.series`), spaces and hyphens (callers take them out), which schemes a job may name (`job.model`).

Each scheme takes exactly the characters that `SCHEMES` lists for it; letters are capitals.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

_DIGITS = "0123456789"
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_ALPHANUMERIC = _DIGITS + _LETTERS
_CODE39 = _ALPHANUMERIC + "-. $/+%"
_MRZ = _ALPHANUMERIC + "<"


def check(scheme: str, text: str) -> str:
    """The check characters of `text`: one or two of them, or "" for scheme "none".

    Raises ValueError for an unknown scheme, an empty text, or a character that the scheme does not take.
    """
    rule = _rule(scheme)
    if not rule.length:
        return ""
    if not text:
        raise ValueError(f"{scheme} needs at least one character")
    try:
        values = [*map(rule.values.__getitem__, text)]
    except KeyError:
        bad = next(c for c in text if c not in rule.values)
        raise ValueError(f"{scheme} takes only {rule.takes}, not '{bad}' (U+{ord(bad):04X})") from None
    return rule.compute(values)


def check_digits(scheme: str, numbers: Sequence[int], width: int) -> list[str] | None:
    """`check` of each number (0 or more) written in `width` decimal digits, `LONGEST` at most; None for a scheme that
    does not go by a sum over the digits."""
    weigh = _PLACES_FROM_RIGHT.get(scheme)
    if weigh is None or width > LONGEST:
        return None
    left = np.array(numbers, np.int64)
    total = np.zeros(len(left), np.int64)
    for place in range(width):
        left, digit = np.divmod(left, 10)
        total += weigh[place % 2][digit]
    return [_DIGITS[one] for one in (-total % 10).tolist()]


def valid(scheme: str, text: str) -> bool:
    """Whether `text` ends in the check characters of all that comes before them; False for what the scheme cannot take.

    Scheme "none" holds for any text.  Raises ValueError for an unknown scheme.
    """
    length = _rule(scheme).length
    if not length:
        return True
    try:
        return check(scheme, text[:-length]) == text[-length:]
    except ValueError:
        return False


class _Rule(NamedTuple):
    """`values`: what each character counts; `length`: how many check characters; `compute`: values → characters."""

    takes: str
    length: int
    compute: Callable[[list[int]], str]
    values: Mapping[str, int]


#: Decimal digits that fit a machine word.
LONGEST = 18

#: What a digit counts at the first place from the right and at every other one after it, and at those between.
_PLACES_FROM_RIGHT = {
    "luhn": (np.array([sum(divmod(2 * v, 10)) for v in range(10)]), np.arange(10)),
    "gs1": (3 * np.arange(10), np.arange(10)),
}


def _rule(scheme: str) -> _Rule:
    try:
        return _RULES[scheme]
    except KeyError:
        raise ValueError(f"no check scheme is called '{scheme}': use one of {', '.join(_RULES)}") from None


def _pure(values: list[int], modulus: int, radix: int, alphabet: str) -> str:
    """ISO/IEC 7064 pure system with one check character: the weighted sum, check included, is 1 modulo `modulus`."""
    total = 0
    for value in values:
        total = (total + value) * radix % modulus
    return alphabet[(1 - total) % modulus]


def _pure_pair(values: list[int], modulus: int, radix: int, alphabet: str) -> str:
    """ISO/IEC 7064 pure system with two check characters."""
    total = 0
    for value in values:
        total = (total * radix + value) % modulus
    high, low = divmod((1 - total * radix * radix) % modulus, radix)
    return alphabet[high] + alphabet[low]


def _mod97_10(values: list[int]) -> str:
    """MOD 97-10, a letter read as two digits (A = 10 … Z = 35) as in ISO 13616 and ISO 17442.

    Of the two check numbers that fit a remainder of 0 or 1, ISO 13616 uses the larger: results are 02 … 98.
    """
    total = 0
    for value in values:
        total = (total * (10 if value < 10 else 100) + value) % 97
    return f"{98 - total * 100 % 97:02d}"


def _hybrid(values: list[int], modulus: int, alphabet: str) -> str:
    """ISO/IEC 7064 hybrid system modulo M + 1 and M."""
    product = modulus
    for value in values:
        product = ((product + value) % modulus or modulus) * 2 % (modulus + 1)
    return alphabet[(modulus + 1 - product) % modulus]


def _luhn(values: list[int]) -> str:
    """ISO/IEC 7812-1 Annex B: every other digit from the right doubled, its digits added."""
    doubled = sum(map(_DOUBLED.__getitem__, values[::-2]))
    return _DIGITS[-(doubled + sum(values[-2::-2])) % 10]


_DOUBLED = tuple(sum(divmod(2 * v, 10)) for v in range(10))


def _gs1(values: list[int]) -> str:
    """GS1 General Specifications §7.9: weights 3, 1 in turn from the right."""
    return _DIGITS[-(3 * sum(values[::-2]) + sum(values[-2::-2])) % 10]


def _damm(values: list[int]) -> str:
    """Damm (2004): a walk through a totally anti-symmetric quasigroup of order 10."""
    state = 0
    for value in values:
        state = _QUASIGROUP[state][value]
    return _DIGITS[state]


#: Damm's published quasigroup; a zero diagonal makes the check digit the last state.
_QUASIGROUP = tuple(
    tuple(map(int, row))
    for row in (
        "0317598642",
        "7092154863",
        "4206871359",
        "1750983426",
        "6123045978",
        "3674209581",
        "5869720134",
        "8945362017",
        "9438617205",
        "2581436790",
    )
)


def _verhoeff(values: list[int]) -> str:
    """Verhoeff (1969): digits permuted by place, then multiplied in the dihedral group of order 10."""
    state = 0
    for place, value in enumerate(reversed(values), start=1):
        state = _dihedral(state, _PLACES[place % 8][value])
    return _DIGITS[-state % 5 if state < 5 else state]


def _dihedral(a: int, b: int) -> int:
    """Product in D5: 0 … 4 are the turns of a pentagon, 5 … 9 its mirrorings."""
    turn = (a + b if a < 5 else a - b) % 5
    return turn if (a < 5) == (b < 5) else turn + 5


def _powers(permutation: tuple[int, ...], count: int) -> tuple[tuple[int, ...], ...]:
    """`permutation` applied 0, 1, 2 … times."""
    rows = [tuple(range(len(permutation)))]
    while len(rows) < count:
        rows.append(tuple(permutation[v] for v in rows[-1]))
    return tuple(rows)


_PLACES = _powers((1, 5, 7, 6, 2, 8, 3, 0, 9, 4), 8)


def _upu_s10(values: list[int]) -> str:
    """UPU S10: the eight-digit serial number, weights 8 6 4 2 3 5 9 7, modulo 11."""
    if len(values) != 8:
        raise ValueError(f"upu_s10 takes exactly eight digits, not {len(values)}")
    rest = 11 - sum(v * w for v, w in zip(values, (8, 6, 4, 2, 3, 5, 9, 7), strict=True)) % 11
    return {10: "0", 11: "5"}.get(rest) or _DIGITS[rest]


def _icao_731(values: list[int]) -> str:
    """ICAO Doc 9303-3: weights 7, 3, 1 in turn from the left, modulo 10; A = 10 … Z = 35, filler < = 0."""
    return _DIGITS[sum(v * (7, 3, 1)[i % 3] for i, v in enumerate(values)) % 10]


def _made(
    takes: str, length: int, compute: Callable[[list[int]], str], values: Mapping[str, int] | None = None
) -> _Rule:
    return _Rule(takes, length, compute, values or {c: i for i, c in enumerate(takes)})


_RULES: Mapping[str, _Rule] = {
    "none": _made("", 0, lambda _: ""),
    "mod11_2": _made(_DIGITS, 1, partial(_pure, modulus=11, radix=2, alphabet=_DIGITS + "X")),
    "mod37_2": _made(_ALPHANUMERIC, 1, partial(_pure, modulus=37, radix=2, alphabet=_ALPHANUMERIC + "*")),
    "mod97_10": _made(_ALPHANUMERIC, 2, _mod97_10),
    "mod661_26": _made(_LETTERS, 2, partial(_pure_pair, modulus=661, radix=26, alphabet=_LETTERS)),
    "mod1271_36": _made(_ALPHANUMERIC, 2, partial(_pure_pair, modulus=1271, radix=36, alphabet=_ALPHANUMERIC)),
    "mod11_10": _made(_DIGITS, 1, partial(_hybrid, modulus=10, alphabet=_DIGITS)),
    "mod27_26": _made(_LETTERS, 1, partial(_hybrid, modulus=26, alphabet=_LETTERS)),
    "mod37_36": _made(_ALPHANUMERIC, 1, partial(_hybrid, modulus=36, alphabet=_ALPHANUMERIC)),
    "luhn": _made(_DIGITS, 1, _luhn),
    "gs1": _made(_DIGITS, 1, _gs1),
    "damm": _made(_DIGITS, 1, _damm),
    "verhoeff": _made(_DIGITS, 1, _verhoeff),
    "upu_s10": _made(_DIGITS, 1, _upu_s10),
    "code39_mod43": _made(_CODE39, 1, lambda values: _CODE39[sum(values) % 43]),
    "icao_731": _made(_MRZ, 1, _icao_731, {c: (0 if c == "<" else i) for i, c in enumerate(_MRZ)}),
}

#: The characters each scheme takes in the text it checks ("" for "none", which takes anything).
SCHEMES: Mapping[str, str] = MappingProxyType({name: rule.takes for name, rule in _RULES.items()})
