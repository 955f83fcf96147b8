"""EAN-13, EAN-8, UPC-A and UPC-E (ISO/IEC 15420): digits → element widths.

Lives here: check digits, number sets, zero suppression.  Not here: guard bars that reach down and the digits beneath
(`human_text`), add-on symbols, sizes.  Digit patterns and EAN-13's number sets are python-barcode's tables.
"""

from __future__ import annotations

from barcode.charsets import ean as tables

from vdp import checkdigit
from vdp.barcode.pixels import bars
from vdp.errors import RowRefused
from vdp.marks import Bars

_GUARD: str = tables.EDGE
_CENTRE: str = tables.MIDDLE
#: ISO/IEC 15420 §4.3.2: UPC-E ends in its own guard pattern.
_GUARD_E = "010101"

#: ISO/IEC 15420, number sets of a UPC-E of number system 0 by its check digit; number system 1 swaps A and B.
_SETS_E = ("BBBAAA", "BBABAA", "BBAABA", "BBAAAB", "BABBAA", "BAABBA", "BAAABB", "BABABA", "BABAAB", "BAABAB")


def ean13(text: str) -> Bars:
    """12 digits, or 13 with their check digit.  Raises RowRefused for anything else or a wrong check digit."""
    digits = whole(text, 13, "EAN-13")
    sets: str = tables.LEFT_PATTERN[int(digits[0])]
    return bars(_GUARD + _coded(digits[1:7], sets) + _CENTRE + _coded(digits[7:], "CCCCCC") + _GUARD)


def ean8(text: str) -> Bars:
    """7 digits, or 8 with their check digit.  Raises RowRefused as `ean13`."""
    digits = whole(text, 8, "EAN-8")
    return bars(_GUARD + _coded(digits[:4], "AAAA") + _CENTRE + _coded(digits[4:], "CCCC") + _GUARD)


def upca(text: str) -> Bars:
    """11 digits, or 12 with their check digit: the same bars as EAN-13 with a leading 0.  Raises RowRefused as
    `ean13`."""
    return ean13("0" + whole(text, 12, "UPC-A"))


def upce(text: str) -> Bars:
    """A UPC-E: number system 0 or 1 and six digits, without or with check digit (7 or 8 digits), or a UPC-A of 12
    digits whose zeros can be suppressed.  Raises RowRefused for anything else or a wrong check digit."""
    digits = upce_digits(text)
    sets = _SETS_E[int(digits[7])]
    if digits[0] == "1":
        sets = sets.translate({ord("A"): "B", ord("B"): "A"})
    return bars(_GUARD + _coded(digits[1:7], sets) + _GUARD_E)


def upce_digits(text: str) -> str:
    """The eight digits of a UPC-E.  Raises RowRefused as `upce`."""
    digits = suppressed(text) if len(text) == 12 else text
    if len(digits) not in (7, 8) or not digits.isascii() or not digits.isdigit() or digits[0] not in "01":
        raise RowRefused((f"UPC-E holds 0 or 1, six digits and a check digit, not '{digits[:20]}'",))
    upc = expanded(digits)
    right = upc[11]
    if suppressed(upc)[:7] != digits[:7]:
        raise RowRefused((f"UPC-E {digits} leaves out zeros by the wrong rule: {suppressed(upc)} is right",))
    if len(digits) == 8 and digits[7] != right:
        raise RowRefused((f"UPC-E {digits} ends in {digits[7]}, and {right} is right",))
    return digits[:7] + right


def whole(text: str, length: int, title: str) -> str:
    """`text` with its check digit: worked out when one digit is missing, tested when none is."""
    if not text.isascii() or not text.isdigit() or len(text) not in (length - 1, length):
        raise RowRefused((f"{title} holds {length - 1} digits and a check digit, not '{text[:20]}'",))
    right = checkdigit.check("gs1", text[: length - 1])
    if len(text) == length and text[-1] != right:
        raise RowRefused((f"{title} {text} ends in {text[-1]}, and {right} is right",))
    return text[: length - 1] + right


def expanded(text: str) -> str:
    """The UPC-A of 12 digits that a UPC-E stands for (GS1 General Specifications §5.2.2.4.2); a check digit in `text`
    is not looked at."""
    system, a, b, c, d, e, last = tuple(text[:7])
    if last in "012":
        body = f"{a}{b}{last}0000{c}{d}{e}"
    elif last == "3":
        body = f"{a}{b}{c}00000{d}{e}"
    elif last == "4":
        body = f"{a}{b}{c}{d}00000{e}"
    else:
        body = f"{a}{b}{c}{d}{e}0000{last}"
    return whole(system + body, 12, "UPC-A")


def suppressed(text: str) -> str:
    """The UPC-E of 8 digits of a UPC-A.  Raises RowRefused when its zeros do not stand where they can be left out."""
    upc = whole(text, 12, "UPC-A")
    s, body, check = upc[0], upc[1:11], upc[11]
    for short in (
        body[:2] + body[7:] + body[2],
        body[:3] + body[8:] + "3",
        body[:4] + body[9] + "4",
        body[:5] + body[9],
    ):
        if s in "01" and expanded(s + short) == upc:
            return s + short + check
    raise RowRefused((f"UPC-A {upc} cannot be shortened to UPC-E",))


def _coded(digits: str, sets: str) -> str:
    return "".join(tables.CODES[s][int(d)] for s, d in zip(sets, digits, strict=True))
