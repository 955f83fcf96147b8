"""Check schemes in words, each with an example worked out step by step.

Lives here: the words and the arithmetic, written apart from `vdp.checkdigit`, with which it must agree (a test compares
them on many texts).  Sources: ISO/IEC 7064, ISO/IEC 7812-1 Annex B, GS1 General Specifications 7.9, Damm 2004, Verhoeff
1969, UPU S10, MIL-STD-1189B, ICAO Doc 9303-3.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from vdp.checkdigit import SCHEMES, check


class Worked(NamedTuple):
    """`words` says how the scheme works, `steps` works it out for one text, `result` are its check characters."""

    words: str
    steps: str
    result: str


def worked(scheme: str, text: str) -> Worked:
    """The scheme in words, and the check characters of `text` step by step.  Raises ValueError as `check` does."""
    result = check(scheme, text)
    words, steps = _TOLD[scheme]
    return Worked(words, steps(text, SCHEMES[scheme], result), result)


_Steps = Callable[[str, str, str], str]


def _none(_: str, __: str, ___: str) -> str:
    return ""


def _pure(modulus: int, radix: int, length: int) -> _Steps:
    """Sum of values by their powers; the check brings it to 1."""

    def steps(text: str, takes: str, result: str) -> str:
        values = [takes.index(char) for char in text]
        times = [pow(radix, length + place, modulus) for place in range(len(text))][::-1]
        total = sum(value * time for value, time in zip(values, times, strict=True))
        products = " + ".join(f"{value}×{time}" for value, time in zip(values, times, strict=True))
        rest = total % modulus
        return f"{products} = {total} leaves {rest} of {modulus}; {(1 - rest) % modulus} more make 1: {result}"

    return steps


def _mod97(text: str, _: str, result: str) -> str:
    digits = "".join(char if char.isdigit() else str(ord(char) - 55) for char in text)
    rest = int(digits + "00") % 97
    spelled = f"{text} is {digits}; " if digits != text else ""
    return f"{spelled}{digits}00 leaves {rest} of 97; 98 − {rest} = {result}"


def _hybrid(modulus: int) -> _Steps:
    def steps(text: str, takes: str, result: str) -> str:
        held, path = modulus, []
        for char in text:
            held = (held + takes.index(char) - 1) % modulus + 1
            held = 2 * held % (modulus + 1)
            path.append(str(held))
        return f"beginning with {modulus}, {text} leads over {', '.join(path)}; {result} brings that to 1"

    return steps


def _luhn(text: str, _: str, result: str) -> str:
    parts = []
    for place, char in enumerate(reversed(text)):
        value = int(char) * (2 if place % 2 == 0 else 1)
        parts.append(value - 9 if value > 9 else value)
    return _sum_to_ten(list(reversed(parts)), result)


def _gs1(text: str, _: str, result: str) -> str:
    parts = [int(char) * (3 if place % 2 == 0 else 1) for place, char in enumerate(reversed(text))]
    return _sum_to_ten(list(reversed(parts)), result)


def _sum_to_ten(parts: list[int], result: str) -> str:
    total = sum(parts)
    return f"{' + '.join(map(str, parts))} = {total}; {result} more make {-(-total // 10) * 10}"


def _damm(text: str, _: str, result: str) -> str:
    # The digit reached so far is the check digit of what was read so far.
    path = [f"{char} leads to {check('damm', text[: place + 1])}" for place, char in enumerate(text)]
    return f"from 0, {', '.join(path)}: the check digit is {result}"


def _verhoeff(text: str, _: str, result: str) -> str:
    products = []
    for place in range(len(text) - 1, -1, -1):
        inverse = int(check("verhoeff", text[place:]))
        products.append(str(-inverse % 5 if inverse < 5 else inverse))
    return f"from the right the products are {', '.join(products)}; {result} is the opposite of the last"


def _upu(text: str, _: str, result: str) -> str:
    weights = (8, 6, 4, 2, 3, 5, 9, 7)
    total = sum(int(char) * weight for char, weight in zip(text, weights, strict=True))
    products = " + ".join(f"{char}×{weight}" for char, weight in zip(text, weights, strict=True))
    return f"{products} = {total} leaves {total % 11} of 11; 11 − {total % 11} gives {result}"


def _code39(text: str, takes: str, result: str) -> str:
    values = [takes.index(char) for char in text]
    return f"{' + '.join(map(str, values))} = {sum(values)}, which leaves {sum(values) % 43} of 43: {result}"


def _icao(text: str, _: str, result: str) -> str:
    values = [0 if char == "<" else int(char, 36) for char in text]
    parts = [f"{value}×{(7, 3, 1)[place % 3]}" for place, value in enumerate(values)]
    total = sum(value * (7, 3, 1)[place % 3] for place, value in enumerate(values))
    return f"{' + '.join(parts)} = {total}, whose last digit is {result}"


def _pure_words(standard: str, modulus: int, radix: int, characters: str) -> str:
    return (
        f"{standard}: each character counts its value times a power of {radix}, {characters} included, "
        f"and the sum leaves 1 when divided by {modulus}."
    )


def _hybrid_words(standard: str, modulus: int) -> str:
    return (
        f"{standard}: from the left each character's value is added to what is held, modulo {modulus} (0 counts as "
        f"{modulus}), and the sum is doubled modulo {modulus + 1}; the check character brings the last sum to 1."
    )


_TOLD: Mapping[str, tuple[str, _Steps]] = {
    "none": ("There is no check character: a wrong digit is not noticed.", _none),
    "mod11_2": (_pure_words("ISO/IEC 7064 MOD 11-2", 11, 2, "the check character (X is 10)"), _pure(11, 2, 1)),
    "mod37_2": (_pure_words("ISO/IEC 7064 MOD 37-2", 37, 2, "the check character (* is 36)"), _pure(37, 2, 1)),
    "mod97_10": (
        (
            "ISO/IEC 7064 MOD 97-10: letters count 10 to 35; the number with its two check digits leaves 1 when "
            "divided by 97."
        ),
        _mod97,
    ),
    "mod661_26": (_pure_words("ISO/IEC 7064 MOD 661-26", 661, 26, "two check letters"), _pure(661, 26, 2)),
    "mod1271_36": (_pure_words("ISO/IEC 7064 MOD 1271-36", 1271, 36, "two check characters"), _pure(1271, 36, 2)),
    "mod11_10": (_hybrid_words("ISO/IEC 7064 MOD 11,10", 10), _hybrid(10)),
    "mod27_26": (_hybrid_words("ISO/IEC 7064 MOD 27,26", 26), _hybrid(26)),
    "mod37_36": (_hybrid_words("ISO/IEC 7064 MOD 37,36 (A = 10 … Z = 35)", 36), _hybrid(36)),
    "luhn": (
        (
            "ISO/IEC 7812-1 (Luhn): from the right every other digit is doubled, and 9 taken off where that gives two "
            "digits; with the check digit the sum ends in 0."
        ),
        _luhn,
    ),
    "gs1": (
        (
            "GS1 General Specifications 7.9: from the right the digits count three times and once in turn; with the "
            "check digit the sum ends in 0."
        ),
        _gs1,
    ),
    "damm": (
        (
            "Damm (2004): from 0, each digit leads to another by a table of ten by ten in which no two neighbours can "
            "be exchanged unnoticed; the last one is the check digit."
        ),
        _damm,
    ),
    "verhoeff": (
        (
            "Verhoeff (1969): the digits are changed by their place and multiplied in the group of the pentagon; the "
            "check digit brings the product to the group's one."
        ),
        _verhoeff,
    ),
    "upu_s10": (
        (
            "UPU S10: eight digits count 8, 6, 4, 2, 3, 5, 9, 7 times; what the sum lacks to a multiple of 11 is the "
            "check digit (10 is written 0, 11 is written 5)."
        ),
        _upu,
    ),
    "code39_mod43": (
        (
            "MIL-STD-1189B (Code 39): each character counts its place in the alphabet; the check character is what the "
            "sum leaves when divided by 43."
        ),
        _code39,
    ),
    "icao_731": (
        (
            "ICAO Doc 9303-3: the characters count 7, 3, 1 times in turn (A = 10 … Z = 35); the check digit is the "
            "last digit of the sum."
        ),
        _icao,
    ),
}
