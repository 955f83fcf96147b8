"""The loupe shows device dots: each a square of its own, exactly as the plate is rastered."""

from __future__ import annotations

import io

import numpy as np
import pikepdf

from vdp.proof.loupe import PIXELS, across_dots, circle, dots
from vdp.verify.raster import Raster

DPI = 1200


def plate(content: bytes) -> bytes:
    """A page of 1000 dots each way, drawn in dots."""
    pdf = pikepdf.new()
    side = 1000 * 72 / DPI
    pdf.add_blank_page(page_size=(side, side))
    pdf.pages[0].Contents = pdf.make_stream(b"q %.6f 0 0 %.6f 0 0 cm 0 g " % (72 / DPI, 72 / DPI) + content + b" Q")
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def test_a_dot_is_a_square_in_its_place() -> None:
    side = across_dots(DPI)
    assert side == 123, "2.6 mm at 1200 dpi"
    centre = (500, 400)
    left, bottom = centre[0] - side // 2, centre[1] - side // 2
    # A single dot, a line one dot wide, and a slope that covers dots in part.
    content = b"500 400 1 1 re f 480 380 1 30 re f 510 380 m 530 380 l 530 390 l f"
    with Raster(plate(content)) as raster:
        square = dots(raster, 0, centre, DPI)
    assert square.shape == (side, side)

    def at(x: int, y: int) -> int:
        return int(square[side - 1 - (y - bottom), x - left])

    assert at(500, 400) == 0
    assert [at(499, 400), at(501, 400), at(500, 399), at(500, 401)] == [255] * 4
    assert [at(480, y) for y in (379, 380, 409, 410)] == [255, 0, 0, 255]
    assert set(np.unique(square)) == {0, 255}, "a dot is there or is not"
    slope = [sum(at(x, y) == 0 for y in range(375, 395)) for x in range(510, 530)]
    assert slope == sorted(slope)
    assert sum(slope) == (square == 0).sum() - 31
    assert 85 <= sum(slope) <= 115, "as many dots as the slope has area, about"


def test_the_circle_enlarges_every_dot_alike() -> None:
    square = np.full((60, 60), 255, np.uint8)
    square[30, 31] = 0
    shown = circle(square)
    assert shown.shape == (60 * PIXELS, 60 * PIXELS)
    inner = shown[30 * PIXELS : 31 * PIXELS - 1, 31 * PIXELS : 32 * PIXELS - 1]
    assert (inner == 0).all()
    assert (shown[30 * PIXELS : 31 * PIXELS - 1, 32 * PIXELS : 33 * PIXELS - 1] == 255).all()
    assert shown[0, 0] == 255, "outside the circle is paper"
    assert 80 < shown[30 * PIXELS, 4] < 100, "a ring"
    line = shown[20 * PIXELS + PIXELS - 1, 25 * PIXELS]
    assert 225 < line < 250, "lines between dots are pale"
