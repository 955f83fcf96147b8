"""Linear and four-state symbols as rectangles, linear ones in batches.

Lives here: element widths → `x y w h re`.  Not here: modules (`modules`), where the symbol stands, its ink.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.errors import OurBug
from vdp.marks import Bars, StateDots, States

#: Stands for a bar behind the last one of a symbol: no bar has as many modules.
_END = 100

#: What is written there.
_BREAK = "|"

_Texts = npt.NDArray[np.void]


def bar_rectangles(bars: Sequence[Bars], module: int = 1, reduction: int = 0) -> list[str]:
    """Bars of height 1 of each symbol, in dots from where its first bar's module begins; in modules where a module is
    one.  Each bar is `reduction` dots narrower, half of that at either side, an odd dot at the right."""
    if not bars:
        return []
    # Pairs of a bar and a space; where a symbol ends with a bar, a space of no width follows.
    elements = b"".join([one.widths + _CLOSES[len(one.widths) % 2] for one in bars])
    pairs = np.frombuffer(elements, np.uint8).reshape(-1, 2)
    wide = pairs[:, 0].astype(np.intp)
    ends = np.flatnonzero(wide >= _END)
    if len(ends) != len(bars):
        raise OurBug(f"a bar of {_END} modules or more")
    # Where each bar begins, had all symbols stood side by side; less where its own symbol does.
    left = np.cumsum(wide + pairs[:, 1])
    left[1:] = left[:-1]
    left[0] = 0
    firsts = np.zeros_like(ends)
    firsts[1:] = ends[:-1] + 1
    left -= np.repeat(left[firsts], ends - firsts + 1)
    left[ends] = -1
    pieces = _pieces(1 << int(left.max()).bit_length(), module, reduction)
    text = np.empty(len(pairs), pieces.item)
    text["place"] = pieces.places.take(left + 1)
    text["width"] = pieces.widths.take(wide)
    return text.tobytes().translate(None, b"\0").decode("ascii").split(_BREAK)[:-1]


#: What closes a symbol of an even and of an odd number of elements.
_CLOSES = (bytes([_END, 0]), bytes([0, _END, 0]))


class _Pieces(NamedTuple):
    """Texts of rectangles: nothing, then ``x 0 `` of every place; ``w 1 re`` of every width, then what stands for the
    end.  `item` is one after the other."""

    places: _Texts
    widths: _Texts
    item: np.dtype[np.void]


@lru_cache(maxsize=64)
def _pieces(count: int, module: int, reduction: int) -> _Pieces:
    places = _table(["", *[f"{x * module + reduction // 2} 0 " for x in range(count + 1)]])
    widths = _table([*[f"{wide * module - reduction} 1 re\n" for wide in range(_END)], _BREAK])
    return _Pieces(places, widths, np.dtype([("place", places.dtype), ("width", widths.dtype)]))


def _table(texts: list[str]) -> _Texts:
    """Texts as items that numpy moves whole, filled up with zero bytes; of a power of two, as those are moved
    quickest."""
    length = 1 << (max(map(len, texts)) - 1).bit_length()
    return np.array(texts, f"S{length}").view(f"V{length}")


def state_rectangles(states: States, size: StateDots) -> str:
    """Bars of a four-state code in dots, from the left edge of the first bar and the foot of a full bar."""
    feet = {"F": 0, "D": 0, "A": size.reach, "T": size.reach}
    heights = {"F": size.full, "D": size.half, "A": size.half, "T": size.tracker}
    return "".join(
        f"{nth * size.pitch} {feet[bar]} {size.bar} {heights[bar]} re\n" for nth, bar in enumerate(states.bars)
    )
