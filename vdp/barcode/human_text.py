"""Human readable interpretation of a linear symbol: which text stands under which of its modules.

Lives here: captions, the clear distance to the bars, guard bars that reach down between the digits.  Not here: faces
and sizes of type, drawing.  Places of EAN and UPC digits after GS1 General Specifications §5.2.5, distances from
memory.
"""

from __future__ import annotations

from typing import NamedTuple

from vdp.barcode import ean, gs1, s10
from vdp.barcode.gs1 import ElementString


class Caption(NamedTuple):
    """`text`, set within modules `left` to `right`, which count from the first bar; less than 0 is the quiet zone."""

    text: str
    left: int
    right: int


class HumanText(NamedTuple):
    """`gap`: least clear distance between bars and digits, in modules (X).

    `guards`: ranges of modules whose bars are longer than the others by `drop` modules.
    """

    captions: tuple[Caption, ...]
    gap: float
    guards: tuple[tuple[int, int], ...]
    drop: int


#: GS1 General Specifications §5.2.5: digits clear the bars by at least half an X; guard bars are 5 X longer.
GAP = 0.5
DROP = 5


def human_text(symbology: str, payload: str | ElementString, modules: int) -> HumanText:
    """What stands under a symbol that is `modules` wide.  Raises RowRefused for a payload the symbology cannot hold."""
    if symbology == "ean13":
        digits = ean.whole(str(payload), 13, "EAN-13")
        captions: tuple[Caption, ...] = (
            Caption(digits[0], -11, -1),
            Caption(digits[1:7], 3, 45),
            Caption(digits[7:], 50, 92),
        )
        return HumanText(captions, GAP, ((0, 3), (45, 50), (92, 95)), DROP)
    if symbology == "ean8":
        digits = ean.whole(str(payload), 8, "EAN-8")
        return HumanText(
            (Caption(digits[:4], 3, 31), Caption(digits[4:], 36, 64)), GAP, ((0, 3), (31, 36), (64, 67)), DROP
        )
    if symbology == "upca":
        digits = ean.whole(str(payload), 12, "UPC-A")
        captions = (
            Caption(digits[0], -9, -1),
            Caption(digits[1:6], 10, 45),
            Caption(digits[6:11], 50, 85),
            Caption(digits[11], 96, 104),
        )
        # The bars of the first and of the last digit are as long as the guard bars beside them.
        return HumanText(captions, GAP, ((0, 10), (45, 50), (85, 95)), DROP)
    if symbology == "upce":
        full = ean.upce_digits(str(payload))
        captions = (Caption(full[0], -9, -1), Caption(full[1:7], 3, 45), Caption(full[7], 52, 58))
        return HumanText(captions, GAP, ((0, 3), (45, 51)), DROP)
    return HumanText((Caption(_plain(symbology, payload), 0, modules),), GAP, (), 0)


def _plain(symbology: str, payload: str | ElementString) -> str:
    """The text of symbologies that have it in one piece."""
    if isinstance(payload, ElementString):
        return payload.text()
    if symbology.startswith("gs1_"):
        return gs1.parse(payload).text()
    if symbology == "itf14":
        return ean.whole(payload, 14, "ITF-14")
    if symbology == "s10":
        return s10.spaced(payload)
    if symbology == "code39":
        # Start and stop characters are shown as asterisks (ISO/IEC 16388 §4.6, from memory).
        return f"*{payload}*"
    return payload
