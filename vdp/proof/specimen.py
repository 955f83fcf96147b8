"""Pictures of pieces that are worth nothing to a thief: marked SPECIMEN, codes struck through, secrets left out.

Lives here: pixels only.  Not here: taking them from finished pages (`look`), circles of dots (`loupe`).

Everything is burned into the pixels, since what lies over a picture in a PDF can be taken off again.  A code counts as
struck when the reader at hand finds nothing more; codes that artwork brings along are struck where they are found.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import zxingcpp
from PIL import Image, ImageDraw, ImageFont

from vdp.job.faces import builtin_faces
from vdp.verify.views import Pixels

WORD = "SPECIMEN"
#: Red of the word and of the bars, and how much of it covers what lies below the word.
RED = (196, 30, 44)
_WORD_COVER = 0.34
#: Thickness of a bar through a code, as a share of the code's smaller side; more after each reading that succeeds.
_THICK = (0.20, 0.34, 0.60)
#: Of a place where something hidden prints.
_PLACE, _EDGE = (226, 235, 222), (120, 150, 112)
#: Of a comment's pin.
_PIN = (24, 62, 110)

#: Left, top, right, bottom in pixels.
Edges = tuple[int, int, int, int]


class Place(NamedTuple):
    """Something that prints on a hidden plate: where, and what kind of thing it is."""

    edges: Edges
    kind: str


def as_specimen(pixels: Pixels, codes: Sequence[Edges]) -> Pixels:
    """A picture (grey or RGB) with its codes struck through and the word across it, in RGB."""
    image = Image.fromarray(pixels).convert("RGB")
    draw = ImageDraw.Draw(image)
    for edges in codes:
        _strike(draw, edges, _THICK[0])
    for thick in _THICK:
        found = _readable(image)
        if not found:
            break
        for edges in found:
            _strike(draw, edges, thick)
    for edges in _readable(image):
        draw.rectangle(edges, fill=RED)
    return np.asarray(_worded(image))


def places_only(size: tuple[int, int], places: Iterable[Place]) -> Pixels:
    """Where something prints on a hidden plate, and not what: `size` is width and height in pixels."""
    image = Image.new("RGB", size, (255, 255, 255))
    draw = ImageDraw.Draw(image)
    font = _font(max(9, min(size) // 26))
    for place in places:
        draw.rectangle(place.edges, fill=_PLACE, outline=_EDGE)
    for place in places:
        left, top, right, bottom = place.edges
        draw.text(((left + right) / 2, (top + bottom) / 2), place.kind, font=font, fill=_EDGE, anchor="mm")
    return np.asarray(_worded(image))


def pinned(pixels: Pixels, pins: Sequence[tuple[int, int, int]]) -> Pixels:
    """A picture with a numbered disc at each place: number, and pixels from the left and from the top."""
    image = Image.fromarray(pixels)
    draw = ImageDraw.Draw(image)
    reach = max(9, min(image.size) // 32)
    for number, across, down in pins:
        draw.ellipse((across - reach, down - reach, across + reach, down + reach), _PIN, (255, 255, 255), reach // 6)
        draw.text((across, down), str(number), font=_font(round(reach * 1.3)), fill=(255, 255, 255), anchor="mm")
    return np.asarray(image)


def _strike(draw: ImageDraw.ImageDraw, edges: Edges, share: float) -> None:
    """Two bars from corner to corner, white at their edges so that they are seen on dark codes too."""
    left, top, right, bottom = edges
    thick = max(3, round(min(right - left, bottom - top) * share))
    for line in (((left, top), (right, bottom)), ((left, bottom), (right, top))):
        draw.line(line, fill=(255, 255, 255), width=thick + max(2, thick // 2))
    for line in (((left, top), (right, bottom)), ((left, bottom), (right, top))):
        draw.line(line, fill=RED, width=thick)


def _readable(image: Image.Image) -> list[Edges]:
    """Where a reader still finds a code of any kind, dark on light or light on dark."""
    grey = np.asarray(image.convert("L"))
    found = []
    for code in zxingcpp.read_barcodes(grey, try_rotate=True, try_invert=True, try_downscale=True):
        corners = code.position
        across = [corner.x for corner in _corners(corners)]
        down = [corner.y for corner in _corners(corners)]
        found.append((min(across) - 2, min(down) - 2, max(across) + 2, max(down) + 2))
    return found


def _corners(position: zxingcpp.Position) -> tuple[zxingcpp.Point, ...]:
    return (position.top_left, position.top_right, position.bottom_right, position.bottom_left)


def _worded(image: Image.Image) -> Image.Image:
    """The word from the lower left to the upper right, across the whole picture."""
    width, height = image.size
    diagonal = float(np.hypot(width, height))
    font = _font(max(8, round(diagonal * 0.14)))
    box = font.getbbox(WORD, anchor="lt")
    label = Image.new("L", (int(box[2]) + 8, int(box[3]) + 8), 0)
    ImageDraw.Draw(label).text(
        (4, 4), WORD, font=font, fill=255, anchor="lt", stroke_width=max(1, round(diagonal / 500))
    )
    label = label.rotate(float(np.degrees(np.arctan2(height, width))), expand=True, resample=Image.Resampling.BICUBIC)
    mask = Image.new("L", image.size, 0)
    mask.paste(label, ((width - label.width) // 2, (height - label.height) // 2))
    return Image.composite(
        Image.new("RGB", image.size, RED), image, mask.point([round(value * _WORD_COVER) for value in range(256)])
    )


@lru_cache(maxsize=16)
def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(builtin_faces()["sans-bold"].path), size)
