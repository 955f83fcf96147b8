"""How a symbol is drawn, measured to parts of a dot on the smoothed pixels that it was read from.

Lives here: by how much dark stretches are narrower than their modules; pitch, widths and heights of four-state bars.
Not here: what the ink spans from edge to edge (`decode.quality`, `xdim.inked`), sizes that are asked for (`xdim`).

A smoothed pixel is as dark as it is covered, so that sums of pixels are areas, whatever the resolution.  Modules lie
where the symbol's box and X-dimension put them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.verify.decode import LINEAR
from vdp.verify.manifest import SymbolLine
from vdp.verify.samples import Bytes
from vdp.verify.state import Area

_Floats = npt.NDArray[np.float64]

#: Pixels of what a reduction leaves of a module under which nothing is told: the one in its middle must lie within it.
LEAST_PIXELS = 2.5
#: Dots by which dark stretches may be wider or narrower than they should be, as a mean over the symbol.
MOST_NARROWER = 0.4
#: Rows at the ends of bars that are left out, in pixels, and rows between them that are looked at, at most.
_ENDS, _LINES = 4, 16
#: Share of a four-state code's height by which a bar must go beyond the tracker to reach out.
_REACH = 1 / 8


class Seen(NamedTuple):
    """The pixels that a symbol was read from, rendered at `dpi` with an offset of `shift` pixels right and down."""

    pixels: Bytes
    dpi: float
    shift: tuple[float, float]


def reduction_off(seen: Seen, symbol: SymbolLine, dots: int, *, turned: bool) -> float:
    """By how many dots of `dots` an inch dark stretches are narrower than X and the symbol's reduction make them, as a
    mean over the direction in which that is worst (less than 0: wider).  `turned`: it lies on its side.

    0 where it cannot be told: too few pixels, or a code without quiet zone, the pixels of whose edges are lost.
    """
    scale = seen.dpi / dots
    if symbol.symbology == "aztec" or (symbol.module - max(symbol.reduction)) * scale < LEAST_PIXELS:
        return 0.0
    across, up = reversed(symbol.reduction) if turned else symbol.reduction
    middles = [_middles(seen, symbol, axis, symbol.module * scale) for axis in (0, 1)]
    offs = []
    if symbol.symbology not in LINEAR or not turned:
        offs.append(_off(seen.pixels, middles, symbol, across, scale))
    if symbol.symbology not in LINEAR or turned:
        offs.append(_off(seen.pixels.T, middles[::-1], symbol, up, scale))
    return max(offs, key=abs)


def _middles(seen: Seen, symbol: SymbolLine, axis: int, cell: float) -> npt.NDArray[np.int_]:
    """The pixels in which the middles of the modules lie, quiet zone included."""
    count = round((symbol.box[axis + 2] - symbol.box[axis]) * seen.dpi / 72 / cell)
    places = (seen.shift[axis] + (np.arange(count) + 0.5) * cell).astype(int)
    found: npt.NDArray[np.int_] = places[places < seen.pixels.shape[1 - axis]]
    return found


def _off(pixels: Bytes, middles: list[npt.NDArray[np.int_]], symbol: SymbolLine, reduction: int, scale: float) -> float:
    """The same along the rows of pixels, by a row in the middle of each row of modules."""
    right, down = middles
    if symbol.symbology in LINEAR:
        down = np.arange(_ENDS, max(len(pixels) - _ENDS, _ENDS + 1), len(pixels) // _LINES + 1)
    rows, dark = pixels[down], int(pixels.min())
    modules = np.zeros((len(rows), len(right) + 1), np.int8)
    modules[:, 1:] = rows[:, right] < (255 + dark) / 2
    stretches = int(np.count_nonzero(np.diff(modules, axis=1) == 1))
    inked = (255 * rows.size - int(rows.sum(dtype=np.int64))) / max(255 - dark, 1)
    due = int(modules.sum(dtype=np.int64)) * symbol.module - stretches * reduction
    return (due - inked / scale) / max(stretches, 1)


class StateSeen(NamedTuple):
    """Four-state bars as drawn, in millimetres: the distance from bar to bar, a bar's width, the heights of trackers
    alone, of ascenders and descenders, and of full bars (0 where there are none), and the paper at either end."""

    pitch: float
    bar: float
    tracker: float
    half: float
    full: float
    clear: float


def state_seen(seen: Seen, box: Area) -> StateSeen | None:
    """Measures the bars of a four-state code in its box (points), upright or on its side; None where there are fewer
    than two."""
    pixels, dark = seen.pixels, int(seen.pixels.min())
    axis = 0 if pixels.shape[1] >= pixels.shape[0] else 1
    lying = np.rot90(pixels) if axis else pixels
    line = _coverage(lying.min(axis=0), dark)
    inked = (line > 0).astype(np.int8)
    starts = np.flatnonzero(np.diff(inked, prepend=0) == 1)
    stops = np.flatnonzero(np.diff(inked, append=0) == -1) + 1
    if len(starts) < 2:
        return None
    bars = _coverage(lying[:, (starts + stops) // 2], dark)
    heights, reaches = bars.sum(axis=0), _reaches(bars)
    places = np.arange(len(line)) + 0.5
    widths = np.add.reduceat(line, starts)
    middles = np.add.reduceat(line * places, starts) / widths
    mm = 25.4 / seen.dpi
    start, size = seen.shift[axis], (box[axis + 2] - box[axis]) * seen.dpi / 72
    clear = min(float(middles[0] - widths[0] / 2) - start, start + size - float(middles[-1] + widths[-1] / 2))
    tracker, half, full = (
        float(heights[reaches == ends].mean()) * mm if (reaches == ends).any() else 0.0 for ends in (0, 1, 2)
    )
    return StateSeen(
        float(middles[-1] - middles[0]) / (len(middles) - 1) * mm,
        float(widths.mean()) * mm,
        tracker,
        half,
        full,
        clear * mm,
    )


def _coverage(pixels: Bytes, dark: int) -> _Floats:
    """0 paper … 1 as dark as anything there."""
    found: _Floats = (255.0 - pixels) / max(255 - dark, 1)
    return found


def _reaches(bars: _Floats) -> npt.NDArray[np.int_]:
    """At how many of its ends each bar, a column, goes beyond the tracker, which is what all bars ink."""
    inked = bars > 0.5
    band = np.flatnonzero(inked.all(axis=1))
    high = int(inked.any(axis=1).sum())
    if not len(band):
        return np.zeros(bars.shape[1], int)
    above, below = inked[: band[0]].sum(axis=0), inked[band[-1] + 1 :].sum(axis=0)
    found: npt.NDArray[np.int_] = (above > high * _REACH).astype(int) + (below > high * _REACH)
    return found
