"""What a code of a finished piece says when it is read, how large it is in dots, and its predicted grade.

Lives here: one code that somebody points at.  Not here: the verdict on a run (`vdp.verify.judge`), grades themselves
(`vdp.verify.grade`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from vdp.verify.decode import LINEAR, Read, knows, read
from vdp.verify.grade.rules import Rules
from vdp.verify.grade.scale import PREDICTION, Graded
from vdp.verify.grade.symbol import grade_symbol
from vdp.verify.grade.told import TITLES
from vdp.verify.manifest import SymbolLine
from vdp.verify.samples import Bytes

#: A code is drawn this many pixels a dot and more when it is read: readers want about three pixels a module.
_ZOOMS = (1, 2, 3)
#: A picture of a code is not graded beyond this many dots: it takes seconds.
MOST_DOTS = 4_000_000


class Heard(NamedTuple):
    """A code as it was read.  `size` is the box with its quiet zone in dots; `module` is X in dots, 0 where it is not
    known; `grade` is None where there are no rules for the symbology, or nothing was read, else `held` names the
    parameter that holds it back."""

    text: str
    identifier: str
    agrees: bool
    size: tuple[int, int]
    module: int
    grade: Graded | None
    note: str
    held: str = ""


def hear(symbol: SymbolLine, pixels: Bytes, rules: Rules, piece: int) -> Heard:
    """Reads the dots of a code's own plate; `symbol` says what is due.  It is printed on the press of the run's own
    `rules`, with what was random for the symbols of this piece when the run was verified."""
    size = (pixels.shape[1], pixels.shape[0])
    if not knows(symbol.symbology):
        return Heard("", "", False, size, 0, None, f"{symbol.symbology} cannot be read here")
    reads = _reads(symbol, pixels)
    if not reads:
        return Heard("", "", False, size, 0, None, "nothing can be read on this plate")
    best = next((one for one in reads if one.text == symbol.data), reads[0])
    agrees = not symbol.data or (best.text == symbol.data and best.identifier == symbol.identifier)
    module = _module(symbol, pixels, best)
    graded = None
    if pixels.size <= MOST_DOTS:
        chance = rules.chance(piece, symbol.name)
        outcome = grade_symbol(pixels, symbol.symbology, best.text, rules.press, chance)
        graded = outcome.graded if outcome.module and not outcome.only_decoded else None
    if graded is None:
        return Heard(best.text, best.identifier, agrees, size, module, None, "read, not graded")
    note = f"{PREDICTION}; press: {rules.source}"
    return Heard(best.text, best.identifier, agrees, size, module, graded, note, TITLES[graded.worst])


def _reads(symbol: SymbolLine, pixels: Bytes) -> list[Read]:
    for zoom in _ZOOMS:
        shown = np.kron(pixels, np.ones((zoom, zoom), np.uint8))
        found = read(shown, symbol.symbology, symbol.data) or read(shown, symbol.symbology, light=True)
        if found:
            return found
    return []


def _module(symbol: SymbolLine, pixels: Bytes, read_as: Read) -> int:
    """X in dots: by the modules across, or of bars the narrowest."""
    if read_as.modules:
        return round(int(pixels.shape[1]) / read_as.modules)
    if symbol.symbology not in LINEAR:
        return 0
    upright = pixels if read_as.upright else pixels.T
    middle = upright[upright.shape[0] // 2] < 128
    edges = [int(edge) for edge in np.flatnonzero(middle[1:] != middle[:-1])]
    return min((after - before for before, after in pairwise(edges)), default=0)
