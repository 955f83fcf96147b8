"""One piece held against its own row: symbols of the manifest, words, serials, pictures, artwork.

Lives here: comparing what a row must become (`against`) with what the two pages show.  Not here: decoding (`symbols`).
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence

import pikepdf

from vdp.job.load import Job
from vdp.verify.against import Wanted, WantedPicture, WantedSymbol
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine, SymbolLine
from vdp.verify.samples import read_samples
from vdp.verify.sources import Source, read_source
from vdp.verify.state import Area, bounds
from vdp.verify.text import PageText
from vdp.verify.view import PageView, Placed
from vdp.verify.words import Shaper

#: A symbol's corner may differ from the layout's by half a dot of 1200 dpi and the manifest's rounding, in points.
_MOVED = 0.04
_UNIT: Area = (0.0, 0.0, 1.0, 1.0)
#: Source pictures kept decoded.
_KEPT = 8

#: A finding on a side: side (0 front, 1 back), code, message.
OnSide = tuple[int, str, str]


def match_symbols(piece: PieceLine, wanted: Wanted, first_page: int) -> tuple[list[SymbolLine], list[OnSide]]:
    """The symbols to look for: what layout and row ask for, where the manifest says it is.

    `first_page` is the piece's front, 1-based.
    """
    found: list[OnSide] = []
    listed = {symbol.name: symbol for symbol in piece.symbols}
    look: list[SymbolLine] = []
    for due in wanted.symbols:
        symbol = listed.pop(due.name, None)
        if symbol is None:
            message = f"{due.name}: the layout asks for '{due.data[:120]}' on {due.plate}; the manifest has none"
            found.append((due.side, "symbol-missing", message))
            continue
        found += [(due.side, code, message) for code, message in _differences(symbol, due, first_page)]
        symbol = symbol._replace(symbology=due.symbology, identifier=due.identifier, light=due.light)
        symbol = symbol._replace(module=due.module, reduction=due.reduction)
        look.append(symbol._replace(data=due.data, plate=due.plate))
    for symbol in listed.values():
        side = (symbol.page - first_page) & 1
        found.append((side, "symbol-unexpected", f"{symbol.name}: the layout asks for no such symbol on this piece"))
    return look, found


def _differences(symbol: SymbolLine, due: WantedSymbol, first_page: int) -> list[tuple[str, str]]:
    found = []
    told, wanted = ((one.symbology, one.identifier, one.data) for one in (symbol, due))
    if told != wanted:
        is_told, is_due = (f"{kind} '{data[:120]}' ({identifier})" for kind, identifier, data in (told, wanted))
        message = f"{due.name}: the row gives {is_due}, the manifest {is_told}"
        found.append(("payload-wrong", message))
    if symbol.plate != due.plate:
        found.append(("symbol-wrong-plate", f"{due.name}: the layout says plate {due.plate}, not {symbol.plate}"))
    x, y = due.corner
    if symbol.page != first_page + due.side or max(abs(symbol.box[0] - x), abs(symbol.box[3] - y)) > _MOVED:
        at = f"page {symbol.page} at {symbol.box[0]:.2f}, {symbol.box[3]:.2f} pt"
        message = f"{due.name}: it is on {at}, not on page {first_page + due.side} at {x:.2f}, {y:.2f} pt"
        found.append(("symbol-moved", message))
    axis = 0 if due.bars < 0 else 1
    high = symbol.box[axis + 2] - symbol.box[axis]
    if due.bars and abs(high - abs(due.bars)) > _MOVED:
        message = f"{due.name}: its bars are {high:.2f} pt high, the layout's {abs(due.bars):.2f} pt"
        found.append(("symbol-size", message))
    return found


class Holder:
    """Holds pages against rows; keeps source pictures and what was compared with them."""

    def __init__(self, job: Job, shapers: Mapping[str, Shaper]) -> None:
        self.job, self.shapers = job, shapers
        self._sources: OrderedDict[str, Source] = OrderedDict()
        self._same: dict[tuple[tuple[int, int], str], bool] = {}

    def text(self, wanted: Wanted, sides: Sequence[PageText | None]) -> list[OnSide]:
        """Words and serials of both sides."""
        found: list[OnSide] = []
        for side, page in enumerate(sides):
            if page is None:
                continue
            for due in wanted.texts:
                if due.side == side:
                    found += [(side, code, message) for code, message in page.look(due)]
            rest = page.rest()
            if rest:
                found.append((side, "text-extra", f"letters that no item accounts for: '{' '.join(rest)[:120]}'"))
        return found

    def pictures(self, wanted: Wanted, views: Sequence[PageView | None]) -> list[OnSide]:
        """The picture of every image item, by its samples."""
        found: list[OnSide] = []
        for due in wanted.pictures:
            view = views[due.side]
            if view is not None:
                found += [(due.side, code, message) for code, message in self._picture(due, view)]
        return found

    def _picture(self, due: WantedPicture, view: PageView) -> list[tuple[str, str]]:
        x, y = (due.box[0] + due.box[2]) / 2, (due.box[1] + due.box[3]) / 2
        there = [placed for placed in view.seen.pictures if placed.depth == 0 and _covers(placed, x, y)]
        try:
            if any(self._is(placed, due) for placed in there):
                return []
        except Unreadable as doubt:
            return [("cannot-judge", f"{due.name}: {doubt}")]
        what = "another picture is there" if there else "no picture is there"
        return [("image-wrong", f"{due.name}: the row names {due.path.name}; {what}")]

    def _is(self, placed: Placed, due: WantedPicture) -> bool:
        key = (placed.source.objgen, str(due.path))
        same = self._same.get(key)
        if same is None:
            spaces = placed.spaces
            named = dict(spaces.items()) if isinstance(spaces, pikepdf.Dictionary) else None
            same = self._source(due).is_same(read_samples(placed.source, named).ink)
            if placed.source.is_indirect:
                self._same[key] = same
        return same

    def _source(self, due: WantedPicture) -> Source:
        key = str(due.path)
        if key not in self._sources:
            self._sources[key] = read_source(due.path, self.job)
            while len(self._sources) > _KEPT:
                self._sources.popitem(last=False)
        return self._sources[key]


def _covers(placed: Placed, x: float, y: float) -> bool:
    left, bottom, right, top = bounds(placed.matrix, _UNIT)
    return left <= x <= right and bottom <= y <= top
