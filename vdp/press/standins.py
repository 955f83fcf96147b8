"""What stands where no live piece does: the blank of a block that is not full, and the word across a specimen.

Lives here: marks on the piece's own page, the same on front and back.  Not here: where they are (`order`).
"""

from __future__ import annotations

from collections.abc import Sequence

from vdp.marks import BLACK, PAPER, Box, FillMark, Ink, Mark, StrokeMark, TextMark
from vdp.plan.page import overlaps
from vdp.text.fit import Setter, Style
from vdp.units import dots, parse_length

#: Places that are tried for the word of a specimen, across and up.
_STEPS = 16
_WEIGHT = parse_length("0.5 mm")
#: Black at 35 %: codes below it still read.
PALE = Ink("", 0.0, (0.0, 0.0, 0.0, 0.35))


def blank_marks(trim: Box, setter: Setter, dpi: int) -> list[Mark]:
    """A crossed-out piece that says so; it bears no number and no code."""
    x, y, width, height = trim
    weight = max(2, dots(_WEIGHT, dpi))
    inset = weight
    strokes: list[Mark] = [
        StrokeMark("blank", BLACK, (x + inset, y + inset), (x + width - inset, y + height - inset), weight),
        StrokeMark("blank", BLACK, (x + inset, y + height - inset), (x + width - inset, y + inset), weight),
    ]
    field = _field(trim)
    return [*strokes, FillMark("blank", PAPER, field), _word("BLANK", field, BLACK, setter)]


def specimen_marks(trim: Box, setter: Setter, symbols: Sequence[Box] = ()) -> list[Mark]:
    """The word over a specimen, so that nobody takes it for a live piece; pale, so that what is below still reads.

    It is as large as it can be and as near the middle as it can be beside the `symbols`, which stay readable; where
    there is no such place it stands in the middle.
    """
    x, y, width, height = trim
    for part in range(8, 0, -1):
        wide, high = width * part // 16, max(2, min(height // 4, width // 8) * part // 8)
        places = [
            (x + (width - wide) * across // _STEPS, y + (height - high) * up // _STEPS, wide, high)
            for across in range(_STEPS + 1)
            for up in range(_STEPS + 1)
        ]
        free = [box for box in places if not any(overlaps(box, symbol) for symbol in symbols)]
        if free:
            return [_word("SPECIMEN", min(free, key=lambda box: _off_middle(box, trim)), PALE, setter)]
    return [_word("SPECIMEN", _field(trim), PALE, setter)]


def _off_middle(box: Box, trim: Box) -> int:
    """How far a box lies from the middle of the trim: twice the dots, across and up together."""
    across = abs(2 * box[0] + box[2] - 2 * trim[0] - trim[2])
    return across + abs(2 * box[1] + box[3] - 2 * trim[1] - trim[3])


def _field(trim: Box) -> Box:
    """The middle of a piece, half as wide as it is."""
    x, y, width, height = trim
    wide, high = width // 2, max(2, min(height // 4, width // 8))
    return (x + (width - wide) // 2, y + (height - high) // 2, wide, high)


def _word(word: str, field: Box, ink: Ink, setter: Setter) -> TextMark:
    style = Style("sans-bold", 48.0, least=3.0, align="centre", valign="middle", one_line=True)
    setting = setter.set(word, style, "und", field)
    return TextMark(word.lower(), ink, field, 0, setting.size, setting.lines)
