"""The palette and the brush of the posters: flat CMYK shapes in pixels of the finished picture.

Lives here: inks, shapes, and what more than one poster has (sky, hills, water, gulls).  Not here: the posters
themselves (`draw_pictures`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from random import Random

from PIL import Image, ImageChops, ImageDraw

#: Placed at 62 x 87 mm, 300 pixels an inch.
WIDTH, HEIGHT = 732, 1028
#: Shapes are drawn this much larger and then averaged, which smooths their edges.
OVER = 3

Ink = tuple[float, float, float, float]
Spot = tuple[float, float]

# Percent of cyan, magenta, yellow and black; no colour adds up to more than 250.
PAPER: Ink = (0, 0, 0, 0)
FOAM: Ink = (10, 0, 4, 0)
SAND: Ink = (3, 9, 26, 0)
PEACH: Ink = (0, 28, 38, 0)
GOLD: Ink = (0, 24, 66, 0)
CORAL: Ink = (0, 66, 58, 0)
RUST: Ink = (18, 84, 72, 8)
PLUM: Ink = (62, 74, 30, 12)
AQUA: Ink = (42, 4, 16, 0)
SEA: Ink = (74, 24, 20, 0)
DEEP: Ink = (92, 52, 24, 10)
NAVY: Ink = (100, 70, 30, 30)
NIGHT: Ink = (100, 78, 30, 42)
OLIVE: Ink = (58, 30, 72, 16)
LEAF: Ink = (40, 12, 58, 2)
STONE: Ink = (14, 12, 18, 0)
SHADE: Ink = (30, 18, 12, 0)


def mix(one: Ink, other: Ink, part: float) -> Ink:
    """`part` 0 is `one`, 1 is `other`."""
    return tuple(a + (b - a) * part for a, b in zip(one, other, strict=True))  # type: ignore[return-value]  # four in, four out


class Brush:
    """Draws in pixels of the finished picture; the picture itself is `OVER` times as large until it is saved."""

    def __init__(self, ground: Ink) -> None:
        self.image = Image.new("CMYK", (WIDTH * OVER, HEIGHT * OVER), self.ink(ground))
        self.pen = ImageDraw.Draw(self.image)

    @staticmethod
    def ink(ink: Ink) -> tuple[int, ...]:
        return tuple(round(part * 2.55) for part in ink)

    @staticmethod
    def big(spots: Sequence[Spot]) -> list[Spot]:
        return [(x * OVER, y * OVER) for x, y in spots]

    def shape(self, ink: Ink, *spots: Spot) -> None:
        self.pen.polygon(self.big(spots), fill=self.ink(ink))

    def rect(self, ink: Ink, x: float, y: float, width: float, height: float) -> None:
        self.shape(ink, (x, y), (x + width, y), (x + width, y + height), (x, y + height))

    def oval(self, ink: Ink, x: float, y: float, across: float, down: float | None = None) -> None:
        """Centre and half axes."""
        down = across if down is None else down
        self.pen.ellipse(self.big([(x - across, y - down), (x + across, y + down)]), fill=self.ink(ink))

    def line(self, ink: Ink, weight: float, *spots: Spot) -> None:
        self.pen.line(self.big(spots), fill=self.ink(ink), width=round(weight * OVER), joint="curve")

    def veil(self, ink: Ink, part: float, *spots: Spot) -> None:
        """A shape through which the ground shows."""
        mask = Image.new("L", self.image.size, 0)
        ImageDraw.Draw(mask).polygon(self.big(spots), fill=round(255 * part))
        self.image.paste(self.ink(ink), mask=mask)

    def grain(
        self, ink: Ink, top: float, bottom: float, most: float, seed: int, inside: Image.Image | None = None
    ) -> None:
        """Stipples `ink` over a band of the picture, thickest at `bottom`: the look of a spattered screen print."""
        chance = Random(seed)  # noqa: S311 -- repeatable, nothing secret
        mask = Image.new("L", self.image.size, 0)
        pen = ImageDraw.Draw(mask)
        for _ in range(round(abs(bottom - top) * WIDTH * most / 9)):
            x, depth = chance.random() * WIDTH, math.sqrt(chance.random())
            y, r = top + (bottom - top) * depth, 0.5 + chance.random() * 0.9
            pen.ellipse(self.big([(x - r, y - r), (x + r, y + r)]), fill=255)
        self.image.paste(self.ink(ink), mask=mask if inside is None else ImageChops.multiply(mask, inside))

    def mask(self, *spots: Spot) -> Image.Image:
        mask = Image.new("L", self.image.size, 0)
        ImageDraw.Draw(mask).polygon(self.big(spots), fill=255)
        return mask

    def crescent(self, ink: Ink, x: float, y: float, r: float) -> None:
        """A moon lit from the left, open to the upper right."""
        mask = Image.new("L", self.image.size, 0)
        pen = ImageDraw.Draw(mask)
        pen.ellipse(self.big([(x - r, y - r), (x + r, y + r)]), fill=255)
        x, y, r = x + r * 0.42, y - r * 0.24, r * 0.92
        pen.ellipse(self.big([(x - r, y - r), (x + r, y + r)]), fill=0)
        self.image.paste(self.ink(ink), mask=mask)

    def save(self, path: Path) -> None:
        self.image.reduce(OVER).save(path, quality=78, subsampling=0, optimize=True, dpi=(300, 300))


def bands(brush: Brush, top: float, bottom: float, inks: Sequence[Ink], each: int) -> None:
    """A sky in flat steps from the first ink to the last."""
    steps = (len(inks) - 1) * each + 1
    for step in range(steps):
        at, part = divmod(step, each)
        ink = inks[at] if part == 0 else mix(inks[at], inks[at + 1], part / each)
        y = top + (bottom - top) * step / steps
        brush.rect(ink, -2, y, WIDTH + 4, bottom - y + 1)


def swell(y: float, high: float, long: float, shift: float, sharp: float = 1.0) -> list[Spot]:
    """The crest line of a wave across the picture; `sharp` above 1 makes crests pointed and troughs round."""
    line = []
    for x in range(-4, WIDTH + 6, 3):
        phase = math.sin((x + shift) / long * math.tau + 0.5 * math.sin((x + shift) / long * math.pi))
        line.append((float(x), y - high * (((phase + 1) / 2) ** sharp * 2 - 1)))
    return line


def water(brush: Brush, ink: Ink, crest: Sequence[Spot]) -> None:
    brush.shape(ink, *crest, (WIDTH + 6, HEIGHT + 4), (-4, HEIGHT + 4))


def hills(brush: Brush, ink: Ink, base: float, tops: Sequence[Spot]) -> None:
    """A soft silhouette through the given summits, standing on `base`."""
    line = []
    for x in range(-4, WIDTH + 6, 3):
        y = base
        for top, height in tops:
            y -= height * math.exp(-(((x - top) / (height * 1.5)) ** 2))
        line.append((float(x), y))
    brush.shape(ink, *line, (WIDTH + 6, base + 2), (-4, base + 2))


def glints(brush: Brush, ink: Ink, middle: float, top: float, bottom: float, wide: float, seed: int) -> None:
    """Level dashes on water under a light, wider apart and longer towards the viewer."""
    chance = Random(seed)  # noqa: S311 -- repeatable, nothing secret
    y, step = top, 6.0
    while y < bottom:
        part = (y - top) / (bottom - top)
        for _ in range(2):
            half = wide * (0.25 + 0.55 * chance.random()) * (1 - 0.45 * part)
            x = middle + (chance.random() - 0.5) * wide * 0.9
            thick = 1.6 + 3.2 * part
            brush.shape(ink, (x - half, y), (x, y - thick / 2), (x + half, y), (x, y + thick / 2))
        y += step
        step *= 1.09


def gull(brush: Brush, ink: Ink, x: float, y: float, span: float) -> None:
    for side in (-1, 1):
        brush.shape(
            ink,
            (x, y),
            (x + side * span * 0.45, y - span * 0.28),
            (x + side * span, y - span * 0.1),
            (x + side * span * 0.45, y - span * 0.17),
            (x, y + span * 0.07),
        )


def sea(brush: Brush, top: float, waves: Sequence[tuple[Ink, float, float, float]]) -> None:
    """Waves from the back to the front, each with a rim of foam."""
    for n, (ink, high, long, shift) in enumerate(waves):
        y = top + n * 62
        water(brush, FOAM, swell(y - 5, high, long, shift, 1.7))
        water(brush, ink, swell(y, high, long, shift, 1.6))
