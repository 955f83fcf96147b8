"""One symbol of a finished page against what the manifest says it must be.

Lives here: on which copies it is looked for, at which resolutions, and which finding each outcome gives.
Not here: decoding (`decode`), what the records ask for (`against`).
"""

from __future__ import annotations

import random
from typing import NamedTuple

import numpy as np

from vdp.verify.decode import FAINT, LEAST_INK, MOST_UNEVEN, Quality, Read, blank, knows, quality, read
from vdp.verify.inks import BLACK, COLOUR, PROCESS
from vdp.verify.manifest import SymbolLine
from vdp.verify.measure import MOST_NARROWER, Seen, reduction_off, state_seen
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.state import meets
from vdp.verify.view import PageView
from vdp.verify.xdim import STATES, inked, state_faults

#: Resolutions tried in turn, in dpi: three pixels a module and more for X of 6 dots of 1200 at the first.
LADDER = (600, 1200, 900, 450)
#: Pixels a module that make a matrix easy to read and to grade.
EASY = 6.0
#: A coarse look for blank areas, in dpi.
COARSE = 150
#: Looks at forms alone that are remembered.
MOST_KNOWN = 5000
#: A region is never larger than this; a large symbol does not need a high resolution.
MOST_PIXELS = 6_000_000
#: Pixels by which opposite quiet zones may differ: the bitmap has one pixel to spare, and edges fall between pixels.
MOST_SKEW = 3
#: Pixels by which the ink of a symbol may span more or less than it should.
MOST_OFF = 2.5
#: Rows without bars that the spare pixels and cut edges of a bitmap may make.
MOST_SHORT = 4


class Judged(NamedTuple):
    """Outcome for a symbol: `read` tells that it says what it must on its plate; `said` what it says instead, if
    anything; `ink` the mean ink of its dark modules; `data` what it must say, or was taken for it."""

    read: bool
    faults: tuple[tuple[str, str], ...]
    said: str | None
    ink: float
    data: str = ""


def copy_name(plate: str) -> str:
    """The copy on which a plate's marks are found."""
    return COLOUR if plate in PROCESS[:3] else plate


class Reader:
    """Reads symbols off the copies of one page.

    `modules` remembers how many modules across, quiet zone included, the last matrix of each name had; `elsewhere` what
    was read where a page shows nothing but forms that other pages show too; `dots` is the job's resolution.
    """

    def __init__(
        self,
        raster: Raster,
        view: PageView,
        chance: random.Random,
        modules: dict[str, int],
        elsewhere: dict[tuple[object, ...], bool],
        dots: int = 1200,
    ) -> None:
        self.raster, self.view, self.copies, self.chance = raster, view, view.copies, chance
        self.modules, self.known, self.dots = modules, elsewhere, dots
        self.dpi = float(LADDER[0])
        self.shift = (0.0, 0.0)

    def judge(self, symbol: SymbolLine, *, alone: bool = False) -> Judged:
        """`alone` looks at the symbol's own plate only, where the others are known from elsewhere.

        Raises Unreadable when the region is too large to be rendered.
        """
        own = copy_name(symbol.plate)
        if not knows(symbol.symbology) or own not in self.copies:
            reason = f"{symbol.symbology} on plate {symbol.plate} cannot be read by this verifier"
            return Judged(False, (("cannot-judge", reason),), None, 0.0)
        symbol = symbol if symbol.told else self._learned(symbol, own)
        pixels, reads = self._look(symbol, own)
        faults: list[tuple[str, str]] = []
        right = [one for one in reads if one.text == symbol.data and one.identifier == symbol.identifier]
        others = [one for one in reads if one not in right]
        elsewhere = [] if alone else self._elsewhere(symbol, own)
        if others:
            wrong = others[0]
            read_as, due = f"'{wrong.text[:120]}' ({wrong.identifier})", f"'{symbol.data[:120]}' ({symbol.identifier})"
            faults.append(("symbol-misread", f"it reads {read_as}, not {due}"))
        elif not right and not elsewhere:
            due = f"where '{symbol.data[:120]}' must be" if symbol.told else "where a code must be"
            faults.append(("symbol-unreadable", f"nothing can be read on {symbol.plate}, {due}"))
        faults += elsewhere
        ink = self._grade(symbol, pixels, right[0], faults) if right and not alone else 0.0
        return Judged(bool(right) and not others, tuple(faults), others[0].text if others else None, ink, symbol.data)

    def _learned(self, symbol: SymbolLine, copy: str) -> SymbolLine:
        """With the data that can be read, where it was removed; as it is where nothing can."""
        number = self.copies[copy]
        for dpi in LADDER if number is not None else ():
            area = (symbol.box[2] - symbol.box[0]) * (symbol.box[3] - symbol.box[1]) * (dpi / 72) ** 2
            if area > MOST_PIXELS and dpi > min(LADDER):
                continue
            pixels = self.raster.region(number or 0, symbol.box, dpi, (self.chance.random(), self.chance.random()))
            found = read(pixels, symbol.symbology, light=symbol.light)
            if found and found[0].identifier == symbol.identifier:
                return symbol._replace(data=found[0].text, told=True)
        return symbol

    def _look(self, symbol: SymbolLine, copy: str) -> tuple[Bytes, list[Read]]:
        """Renders and reads; tries the other resolutions before it takes anything but the right text, read without a
        correction, for an answer: a reader may sample a sound symbol badly at one resolution, a damaged one is damaged
        at all of them."""
        best: list[Read] = []
        number = self.copies[copy]
        pixels = np.full((1, 1), 255, np.uint8)
        mended: tuple[Bytes, list[Read], float, tuple[float, float]] | None = None
        if number is None:
            return pixels, best
        for dpi in (*self._easy(symbol), *LADDER):
            area = (symbol.box[2] - symbol.box[0]) * (symbol.box[3] - symbol.box[1]) * (dpi / 72) ** 2
            if area > MOST_PIXELS and dpi > min(LADDER):
                continue
            shift = (self.chance.random(), self.chance.random())
            pixels = self.raster.region(number, symbol.box, dpi, shift)
            if blank(pixels):
                break
            reads = read(pixels, symbol.symbology, symbol.data, light=symbol.light)
            if reads and all(one.text == symbol.data for one in reads):
                if reads[0].modules:
                    self.modules[symbol.name] = reads[0].modules
                self.dpi, self.shift = dpi, shift
                if all(one.unused >= 1 for one in reads):
                    return pixels, reads
                if mended is None or min(one.unused for one in reads) > min(one.unused for one in mended[1]):
                    mended = pixels, reads, dpi, shift
            best = reads or best
        if mended is None:
            return pixels, best
        *_, self.dpi, self.shift = mended
        return mended[:2]

    def _easy(self, symbol: SymbolLine) -> tuple[float, ...]:
        """A lower resolution that leaves each module `EASY` pixels, where the last of its name was large."""
        modules = self.modules.get(symbol.name)
        if modules is None:
            return ()
        dpi = EASY * modules * 72 / (symbol.box[2] - symbol.box[0])
        return (dpi,) if dpi < 0.8 * LADDER[0] else ()

    def _elsewhere(self, symbol: SymbolLine, own: str) -> list[tuple[str, str]]:
        """The plates on which the symbol can be read although it must not be."""
        faults = []
        for place, (plate, number) in enumerate(self.copies.items()):
            if plate == own or number is None or not self._legible(place, number, symbol):
                continue
            code = "black-in-colour" if (own, plate) == (BLACK, COLOUR) else "symbol-wrong-plate"
            faults.append((code, f"it can be read on {plate}; it belongs on {symbol.plate} alone"))
        return faults

    def _legible(self, place: int, number: int, symbol: SymbolLine) -> bool:
        """Whether such a symbol can be read on a copy.

        Where the page itself puts nothing there, its forms decide, and they are the same on many pages.  (Paper that
        goes with ink on another plate makes no dark modules: it is the symbol, knocked out of what lies below.)
        """
        seen = self.view.seen
        if any(meets(symbol.box, area) for area in seen.areas.get(place, ())):
            return self._looked(number, symbol)
        key = (place, symbol.symbology, symbol.box, tuple(seen.forms))
        if key not in self.known:
            if len(self.known) >= MOST_KNOWN:
                self.known.clear()
            self.known[key] = self._looked(number, symbol)
        return self.known[key]

    def _looked(self, number: int, symbol: SymbolLine) -> bool:
        if self._even(number, symbol):
            return False
        pixels = self.raster.region(number, symbol.box, LADDER[0], (self.chance.random(), self.chance.random()))
        return bool(read(pixels, symbol.symbology))

    def _even(self, number: int, symbol: SymbolLine) -> bool:
        """Whether a coarse look shows nothing there that could be a symbol."""
        pixels = self.raster.region(number, symbol.box, COARSE)[1:-2, 1:-2]
        return pixels.size > 0 and int(pixels.max()) - int(pixels.min()) <= FAINT

    def _grade(self, symbol: SymbolLine, pixels: Bytes, right: Read, faults: list[tuple[str, str]]) -> float:
        graded = quality(pixels, symbol.symbology, right.upright)
        if graded.ink < LEAST_INK:
            faults.append(("symbol-weak", f"its dark modules have {graded.ink:.0%} ink; {LEAST_INK:.0%} is the least"))
        if right.unused < 1:
            faults.append(("symbol-damaged", f"{1 - right.unused:.0%} of its error correction was needed"))
        if graded.uneven > MOST_UNEVEN:
            faults.append(("symbol-damaged", f"its bars differ from row to row by {graded.uneven:.0%}"))
        if graded.short > MOST_SHORT:
            faults.append(("symbol-damaged", f"its bars leave {graded.short} of {max(pixels.shape)} pixels empty"))
        if graded.skew <= MOST_SKEW:
            faults += self._size(symbol, pixels, graded, right)
        else:
            faults.append(("symbol-quiet", f"opposite quiet zones differ by {graded.skew} pixels"))
        return graded.ink

    def _size(self, symbol: SymbolLine, pixels: Bytes, graded: Quality, right: Read) -> list[tuple[str, str]]:
        """Whether the ink spans what the X-dimension and the symbol's box make it, whether dark modules are reduced as
        told; or whether four-state bars are drawn as their post asks."""
        seen = Seen(pixels, self.dpi, self.shift)
        if symbol.symbology in STATES:
            bars = state_seen(seen, symbol.box)
            return [("symbol-size", fault) for fault in state_faults(bars, symbol.symbology)] if bars else []
        turned = not right.upright
        due = inked(symbol, self.dots, turned=turned)
        if due is None:
            return []
        scale = self.dots / self.dpi
        spans = [(was * scale, must) for was, must in zip(graded.spans, due, strict=True) if must]
        wrong = [(was, must) for was, must in spans if abs(was - must) > MOST_OFF * scale]
        if wrong:
            (was, must), x = wrong[0], f"{symbol.module} dots of {self.dots} dpi"
            return [("symbol-size", f"its ink spans {was:.0f} dots, and an X-dimension of {x} makes {must:.0f}")]
        off = reduction_off(seen, symbol, self.dots, turned=turned)
        if abs(off) <= MOST_NARROWER:
            return []
        how, asked = "narrower" if off > 0 else "wider", f"a reduction of {' and '.join(map(str, symbol.reduction))}"
        return [("symbol-size", f"its dark modules are {abs(off):.1f} dots {how} than {asked} dots makes them")]
