"""Fine lines of the layout, measured again on the plates of the finished page.

Lives here: which lines, frames and narrow areas a layout has, and how thick each is on its plate.  Not here: which are
too thin to be asked for (`plan.fine`), small type (`smalltype`).

A line is cut in a few places.  Where nothing is seen of it something else may lie over it by design, so only what is
seen is judged, and of that the middle value.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from vdp.job.items import BoxItem, LineItem
from vdp.verify.inks import BLACK, COLOUR
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.view import PageView

#: Dots of thickness from which a line is no fine line (own choice: 0.25 mm at 1200 dpi).
FINE = 12
#: Pixels of a dot that are rendered, dots beside a line that are rendered, and the share of it at which lines are cut.
_PIXELS, _BESIDE = 4, 6
_CUTS = (0.15, 0.3, 0.5, 0.7, 0.85)
#: Dots by which a line may be thinner than it is laid out, the least difference in grey that shows a line, and the
#: share of it that is as good as none.
_THINNER, _SEEN, _BLANK = 0.3, 12, 0.02


class FineLine(NamedTuple):
    """A line from `start` to `end` along its middle, `thick` dots; places in points from the page's lower left.

    `left_out`: it is paper in what lies under it.
    """

    name: str
    side: int
    plate: str
    left_out: bool
    start: tuple[float, float]
    end: tuple[float, float]
    thick: float


Point = tuple[float, float]


def middles_of(item: LineItem | BoxItem, corners: Sequence[Point], dpi: int) -> Iterator[tuple[Point, Point, float]]:
    """Start, end and thickness in dots of the lines of an item whose ends, or opposite corners, lie at `corners`."""
    (x0, y0), (x1, y1) = corners
    dot = 72 / dpi
    if isinstance(item, LineItem):
        yield (x0, y0), (x1, y1), max(1, round(item.line / dot))
        return
    left, right, low, high = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
    if item.weight is None:
        wide, tall = (right - left) / dot, (high - low) / dot
        if wide >= tall:
            yield (left, (low + high) / 2), (right, (low + high) / 2), tall
        else:
            yield ((left + right) / 2, low), ((left + right) / 2, high), wide
        return
    thick = max(1, round(item.weight / dot))
    half = thick * dot / 2
    yield (left, low + half), (right, low + half), thick
    yield (left, high - half), (right, high - half), thick
    yield (left + half, low), (left + half, high), thick
    yield (right - half, low), (right - half, high), thick


def thin_lines(view: PageView, raster: Raster, lines: Sequence[FineLine], dpi: int) -> Iterator[str]:
    """What is thinner on its plate than it is laid out, a sentence a line.  `view` and `raster` are of whole copies."""
    for line in lines:
        # What is left out of ink is thick enough if it is so in one of the inks that it can be seen in.
        plates = [line.plate] if not line.left_out else [*view.copies]
        seen = [_seen(raster, copy, line, dpi) for plate in plates if (copy := view.copies.get(plate)) is not None]
        thick = max((one for one in seen if one is not None), default=line.thick)
        if thick < line.thick - _THINNER:
            where = f"from {line.start[0]:.1f}, {line.start[1]:.1f} to {line.end[0]:.1f}, {line.end[1]:.1f} pt"
            yield f"{line.name}: its line {where} is {thick:.1f} dots thick, laid out with {line.thick:g}"


def plate_of(spot: str, cmyk: Sequence[float]) -> str:
    """The copy that shows a line of that ink; "" for paper."""
    if spot:
        return spot
    return COLOUR if any(cmyk[:3]) else BLACK if cmyk[3] else ""


def _seen(raster: Raster, copy: int, line: FineLine, dpi: int) -> float | None:
    """The middle of what its cuts show."""
    cuts = [thick for share in _CUTS if (thick := _cut(raster, copy, line, share, dpi)) is not None]
    return sorted(cuts)[len(cuts) // 2] if cuts else None


def _cut(raster: Raster, copy: int, line: FineLine, share: float, dpi: int) -> float | None:
    """Thickness in dots where the line is cut; None where nothing is seen of it."""
    (x0, y0), (x1, y1) = line.start, line.end
    length, dot = math.hypot(x1 - x0, y1 - y0), 72 / dpi
    if length < 4 * dot:
        return None
    x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
    level = abs(x1 - x0) >= abs(y1 - y0)
    # A slanting line is cut along one of the axes, and is thicker there.
    slant = (abs(x1 - x0) if level else abs(y1 - y0)) / length
    reach, beside = (line.thick / slant / 2 + _BESIDE) * dot, 1.5 * dot
    box = (x - beside, y - reach, x + beside, y + reach) if level else (x - reach, y - beside, x + reach, y + beside)
    pixels = raster.region(copy, box, dpi * _PIXELS)
    across = pixels[1:-2, pixels.shape[1] // 2] if level else pixels[pixels.shape[0] // 2, 1:-2]
    thick = _run(across, left_out=line.left_out)
    return None if thick is None else thick * slant / _PIXELS


def _run(across: Bytes, *, left_out: bool) -> float | None:
    """Pixels of the stretch of ink (or of paper) that lies in the middle of a cut."""
    grey = across.astype(np.float64)
    depth = grey - grey.min() if left_out else grey.max() - grey
    middle = len(depth) // 2
    start = middle - _PIXELS + int(depth[middle - _PIXELS : middle + _PIXELS + 1].argmax())
    if depth[start] < _SEEN:
        return None
    # A darker neighbour is no measure of how dark the line is.
    covered = np.minimum(depth / depth[start], 1)
    blank = np.flatnonzero(covered < _BLANK)
    before, after = blank[blank < start], blank[blank > start]
    return float(covered[before[-1] : after[0] + 1].sum()) if len(before) and len(after) else None
