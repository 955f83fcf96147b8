"""Small type as the press prints it: a circle of a plate in which every device dot is a square that can be counted.

Lives here: pixels of the circle.  Not here: where to look (`look`).
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes

#: What the loupe shows across, in mm, and the pixels a dot is drawn with.
ACROSS_MM = 2.6
PIXELS = 6
#: Grey of the lines between dots: how far paper and ink come together there.
_GRID = 0.16
_RING = 90


def across_dots(dpi: int) -> int:
    """Dots across the circle."""
    return round(ACROSS_MM / 25.4 * dpi)


def dots(raster: Raster, page: int, centre: tuple[int, int], dpi: int) -> Bytes:
    """A square of device dots of a one-plate copy around a place (in dots from the page's lower left): 255 is paper.

    The page is rastered on the dot grid itself and no edge is smoothed, so that a pixel is a dot of the press: it has
    the mark's tint or has not.
    """
    side = across_dots(dpi)
    left, bottom = centre[0] - side // 2, centre[1] - side // 2
    scale = 72 / dpi
    box = (left * scale, bottom * scale, (left + side) * scale, (bottom + side) * scale)
    return raster.region(page, box, dpi, dots=True)[:side, :side]


def circle(square: Bytes) -> Bytes:
    """The dots enlarged, with lines between them, in a circle."""
    large = np.kron(square, np.ones((PIXELS, PIXELS), np.uint8)).astype(np.float32)
    grid = np.zeros(large.shape, bool)
    grid[PIXELS - 1 :: PIXELS] = grid[:, PIXELS - 1 :: PIXELS] = True
    large[grid] += (128 - large[grid]) * _GRID
    size = large.shape[0]
    place = np.arange(size) - (size - 1) / 2
    distance = np.hypot(place[:, None], place[None, :])
    radius = size / 2
    large[distance > radius - 2] = 255
    large[(distance > radius - 8) & (distance <= radius - 2)] = _RING
    return np.rint(large).astype(np.uint8)


def picture(square: Bytes) -> Image.Image:
    """The circle as a picture."""
    return Image.fromarray(circle(square))
