"""Where the human readable text of a symbol goes: a strip along its bars, and longer guard bars of retail codes.

Lives here: sizes in dots that no record changes.  Not here: which text stands under which modules (`barcode`), setting
it (`compose.human`).
"""

from __future__ import annotations

import math
import string

from vdp.barcode.human_text import DROP, GAP
from vdp.errors import Fault
from vdp.job.items import RETAIL, BarcodeItem
from vdp.marks import Box
from vdp.plan.steps import HumanText, SymbolStep
from vdp.text import Face

#: What digits of retail codes, and the text of other codes of bars, may hold.
_DIGITS, _ANY = string.digits, string.ascii_letters + string.digits + string.punctuation


def human_text_of(item: BarcodeItem, face: Face, module: int, dpi: int, where: str) -> HumanText | Fault | None:
    """The strip of an item; a fault where longer guard bars would reach beyond its letters."""
    if item.human_text == "none":
        return None
    em = item.human_size * dpi / 72
    top = _highest(face, _DIGITS if item.barcode in RETAIL else _ANY)
    rise, fall = math.ceil(top * em / 1000), math.ceil(face.descent * em / 1000)
    gap, drop = math.ceil(GAP * module), DROP * module if item.barcode in RETAIL else 0
    if drop:
        fall = 0  # digits have nothing below the line
    depth = gap + rise + fall
    if drop >= depth:
        said = (
            f"{item.barcode}: digits of {item.human_size:g} pt end above the guard bars, {drop} dots below the others"
        )
        return Fault(where, said, f"set {math.ceil((drop + 1 - gap) / top * 1000 * 72 / dpi * 2) / 2:g} pt")
    return HumanText(item.human_text == "above", item.human_face, item.human_size, gap, rise, depth, drop)


def _highest(face: Face, characters: str) -> float:
    """How far ink reaches up from the baseline in thousandths of an em; brackets reach higher than capitals."""
    found = [face.cap_height]
    for char in characters:
        gid = face.font.get_nominal_glyph(ord(char))
        extents = face.font.get_glyph_extents(gid) if gid else None
        if extents is not None:
            found.append(extents.y_bearing * face.scale)
    return max(found)


def strip_of(step: SymbolStep, box: Box) -> Box:
    """The page box of the text of a symbol that fills `box` (quiet zone included)."""
    x, y, width, height = box
    human = step.human
    if human is None:
        return (x, y, width, 0)
    # Which side of the box the strip lies on: 0 below, 90 right, 180 above, 270 left.
    side = (step.turn + (180 if human.above else 0)) % 360
    return {
        0: (x, y - human.depth, width, human.depth),
        90: (x + width, y, human.depth, height),
        180: (x, y + height, width, human.depth),
        270: (x - human.depth, y, human.depth, height),
    }[side]
