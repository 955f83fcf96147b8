"""Paints the six posters of the ferry pass as CMYK JPEGs, with no outside pictures; run it to make them anew.

Lives here: one function a poster.  Not here: palette and brush (`draw_brush`), the pages (`draw_artwork`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from random import Random

from draw_brush import (
    AQUA,
    CORAL,
    DEEP,
    FOAM,
    GOLD,
    HEIGHT,
    LEAF,
    NAVY,
    NIGHT,
    OLIVE,
    PAPER,
    PEACH,
    PLUM,
    RUST,
    SAND,
    SEA,
    SHADE,
    STONE,
    WIDTH,
    Brush,
    bands,
    glints,
    gull,
    hills,
    mix,
    sea,
    swell,
    water,
)


def harbour() -> Brush:
    brush = Brush(PLUM)
    bands(brush, 0, 600, (PLUM, mix(PLUM, CORAL, 0.7), CORAL, PEACH, SAND), 3)
    brush.oval(mix(GOLD, PEACH, 0.2), 470, 560, 120)
    hills(brush, mix(PLUM, CORAL, 0.35), 602, [(150, 120), (330, 70), (720, 60)])
    brush.rect(mix(DEEP, PLUM, 0.45), 0, 600, WIDTH, HEIGHT - 600)
    brush.grain(NAVY, 720, HEIGHT, 0.10, 3)
    glints(brush, GOLD, 470, 612, 930, 120, 5)
    town = [(0, 430, 92, 190), (70, 380, 76, 240), (128, 470, 84, 150), (196, 510, 70, 110), (250, 540, 60, 80)]
    for n, (x, y, width, height) in enumerate(town):
        brush.rect(mix(NIGHT, PLUM, 0.10 + 0.10 * (n % 3)), x, y, width, height)
        for row in range(int(height // 44)):
            for column in range(2 + (width > 80)):
                if (row * 3 + column * 5 + n) % 4:
                    brush.rect(GOLD, x + 14 + column * 24, y + 20 + row * 40, 9, 14)
    brush.shape(mix(NIGHT, PLUM, 0.2), (70, 380), (108, 340), (146, 380))
    brush.rect(NIGHT, -2, 612, 352, 26)
    for x in range(20, 340, 54):
        brush.rect(NIGHT, x, 636, 9, 46)
        brush.rect(mix(NIGHT, DEEP, 0.5), x, 690, 9, 14)
    for x, y, size in ((455, 742, 1.0), (610, 668, 0.62), (230, 846, 1.45)):
        boat(brush, x, y, size)
    return brush


def boat(brush: Brush, x: float, y: float, size: float) -> None:
    """A fishing boat with one mast, at anchor."""
    brush.shape(NIGHT, *((x + dx * size, y + dy * size) for dx, dy in ((-82, -18), (96, -26), (66, 18), (-62, 18))))
    brush.shape(CORAL, *((x + dx * size, y + dy * size) for dx, dy in ((-80, -18), (95, -26), (92, -17), (-76, -9))))
    brush.shape(SAND, *((x + dx * size, y + dy * size) for dx, dy in ((-52, -19), (-52, -50), (-10, -50), (-2, -21))))
    brush.rect(NIGHT, x - 42 * size, y - 43 * size, 11 * size, 10 * size)
    brush.rect(NIGHT, x - 26 * size, y - 43 * size, 11 * size, 10 * size)
    brush.line(NIGHT, 3 * size, (x + 18 * size, y - 20 * size), (x + 18 * size, y - 168 * size))
    brush.line(NIGHT, 1.5 * size, (x + 18 * size, y - 166 * size), (x + 94 * size, y - 26 * size))
    brush.line(NIGHT, 1.5 * size, (x + 18 * size, y - 166 * size), (x - 52 * size, y - 50 * size))
    for n in range(4):
        half = (70 - 14 * n) * size
        brush.rect(NIGHT, x - half + 4 * n, y + (24 + 9 * n) * size, 2 * half, 3.2 * size)


def lighthouse() -> Brush:
    brush = Brush(AQUA)
    bands(brush, 0, 690, (SEA, AQUA, mix(AQUA, SAND, 0.6), SAND), 3)
    for part, tip in ((0.55, (-10, 60)), (0.55, (WIDTH + 10, 40))):
        brush.veil(mix(GOLD, PAPER, 0.35), part, (402, 244), (tip[0], tip[1]), (tip[0], tip[1] + 210))
    hills(brush, mix(SEA, SAND, 0.45), 692, [(90, 60), (250, 34)])
    brush.rect(SEA, 0, 690, WIDTH, HEIGHT)
    brush.grain(DEEP, 700, 860, 0.16, 11)
    brush.shape(NAVY, (230, 800), (262, 722), (300, 700), (330, 660), (480, 652), (520, 690), (590, 716), (640, 800))
    brush.shape(DEEP, (330, 660), (480, 652), (520, 690), (470, 704), (420, 690), (372, 716), (300, 700))
    for n in range(6):
        top, low = 300 + n * 62, 362 + n * 62
        wide = [46 + (y - 300) * 0.068 for y in (top, low)]
        ink, dark = (PAPER, SHADE) if n % 2 == 0 else (CORAL, RUST)
        brush.shape(ink, (402 - wide[0], top), (402 + wide[0], top), (402 + wide[1], low), (402 - wide[1], low))
        brush.shape(
            dark, (402 + wide[0] * 0.35, top), (402 + wide[0], top), (402 + wide[1], low), (402 + wide[1] * 0.35, low)
        )
    brush.rect(NAVY, 340, 288, 124, 14)
    for x in range(342, 466, 15):
        brush.rect(NAVY, x, 266, 3, 24)
    brush.rect(NAVY, 340, 264, 124, 4)
    brush.rect(GOLD, 374, 214, 56, 74)
    for x in (374, 400, 428):
        brush.rect(NAVY, x - 1, 214, 4, 74)
    brush.shape(CORAL, (362, 216), (402, 164), (442, 216))
    brush.shape(RUST, (410, 175), (402, 164), (442, 216), (416, 216))
    brush.oval(NAVY, 402, 160, 7)
    for y in (392, 516):
        brush.rect(NAVY, 394, y, 14, 24)
    brush.rect(NAVY, 388, 626, 28, 44)
    sea(
        brush,
        780,
        ((DEEP, 22, 300, 40), (mix(DEEP, NAVY, 0.5), 26, 340, 170), (NAVY, 30, 380, 20), (NIGHT, 26, 420, 230)),
    )
    for x, y, span in ((150, 300, 44), (210, 356, 28), (600, 420, 36)):
        gull(brush, PAPER, x, y, span)
    return brush


def ferry() -> Brush:
    brush = Brush(SAND)
    bands(brush, 0, 650, (mix(CORAL, PEACH, 0.6), PEACH, SAND, mix(SAND, PAPER, 0.5)), 3)
    brush.oval(CORAL, 500, 330, 170)
    for n, y in enumerate((318, 356, 398, 444)):
        brush.rect(mix(PEACH, SAND, 0.3 + 0.2 * n), 322 - 16 * n, y, 360 + 32 * n, 5 + 4 * n)
    hills(brush, mix(AQUA, PEACH, 0.35), 640, [(60, 150), (240, 80), (690, 120)])
    water(brush, SEA, swell(640, 6, 260, 0))
    brush.grain(mix(SEA, FOAM, 0.6), 730, 660, 0.10, 23)
    ship(brush, 92, 672)
    sea(
        brush,
        716,
        (
            (mix(SEA, DEEP, 0.5), 24, 330, 120),
            (DEEP, 30, 380, 280),
            (mix(DEEP, NAVY, 0.6), 34, 420, 60),
            (NAVY, 36, 470, 330),
            (NIGHT, 30, 520, 120),
        ),
    )
    for x, y, span in ((160, 220, 40), (232, 262, 26), (110, 300, 20)):
        gull(brush, NAVY, x, y, span)
    return brush


def ship(brush: Brush, x: float, y: float) -> None:
    """A car ferry from the side, bow to the right; `y` is the water line."""
    brush.shape(NAVY, (x, y - 50), (x + 560, y - 66), (x + 500, y + 60), (x + 24, y + 60))
    brush.shape(CORAL, (x + 12, y - 2), (x + 532, y - 6), (x + 500, y + 60), (x + 24, y + 60))
    brush.shape(PAPER, (x + 1, y - 56), (x + 562, y - 72), (x + 559, y - 62), (x + 1, y - 46))
    brush.shape(PAPER, (x + 18, y - 106), (x + 452, y - 106), (x + 490, y - 68), (x + 18, y - 55))
    brush.shape(PAPER, (x + 40, y - 150), (x + 410, y - 150), (x + 436, y - 108), (x + 40, y - 108))
    brush.shape(PAPER, (x + 270, y - 190), (x + 372, y - 190), (x + 392, y - 152), (x + 270, y - 152))
    for deck, (left, right, step) in enumerate(((34, 440, 29), (54, 396, 27))):
        for place in range(left, right - 16, step):
            brush.rect(DEEP, x + place, y - 92 - deck * 44, 17, 14)
    brush.shape(DEEP, (x + 330, y - 182), (x + 371, y - 182), (x + 380, y - 164), (x + 330, y - 164))
    brush.rect(SHADE, x + 18, y - 108, 430, 4)
    brush.rect(SHADE, x + 40, y - 152, 372, 4)
    for place in (110, 176):
        brush.shape(
            CORAL, (x + place, y - 152), (x + place + 10, y - 222), (x + place + 50, y - 222), (x + place + 50, y - 152)
        )
        brush.shape(
            NAVY,
            (x + place + 8, y - 208),
            (x + place + 10, y - 222),
            (x + place + 50, y - 222),
            (x + place + 50, y - 208),
        )
    brush.line(NAVY, 4, (x + 330, y - 190), (x + 330, y - 262))
    brush.line(NAVY, 3, (x + 312, y - 238), (x + 348, y - 238))


def olives() -> Brush:
    brush = Brush(PEACH)
    bands(brush, 0, 300, (mix(AQUA, FOAM, 0.3), mix(FOAM, SAND, 0.5), SAND, PEACH), 3)
    brush.oval(mix(GOLD, PAPER, 0.25), 560, 150, 66)
    hills(brush, mix(AQUA, PEACH, 0.3), 300, [(90, 70), (300, 40)])
    brush.rect(SEA, 0, 298, WIDTH, 120)
    brush.grain(FOAM, 400, 304, 0.06, 31)
    soils = (
        mix(LEAF, SAND, 0.3),
        mix(PEACH, SAND, 0.4),
        LEAF,
        mix(GOLD, SAND, 0.35),
        mix(LEAF, OLIVE, 0.35),
        mix(PEACH, CORAL, 0.28),
        OLIVE,
    )
    for n, ink in enumerate(soils):
        y = 372 + n * 92
        line = [
            (
                float(x),
                y
                + 60 * math.sin((x - 80 + n * 70) / 760 * math.pi) * (-1) ** n * 0.6
                + (x - 366) * 0.05 * (1 if n % 2 else -1.6),
            )
            for x in range(-4, WIDTH + 6, 4)
        ]
        brush.shape(ink, *line, (WIDTH + 6, HEIGHT + 4), (-4, HEIGHT + 4))
        wall = [(px, py + 15) for px, py in reversed(line)]
        brush.shape(mix(STONE, SHADE, 0.35 if n % 2 else 0.0), *line, *wall)
        brush.grain(
            mix(ink, OLIVE, 0.5), y + 40, y + 110, 0.07, 40 + n, brush.mask(*wall, *[(px, py + 120) for px, py in line])
        )
        for k in range(3 + (n < 3)):
            place = line[(20 + n * 23 + k * (52 if n < 3 else 66)) % len(line)]
            olive_tree(brush, place[0], place[1] + 2, 0.50 + n * 0.16, n * 7 + k)
    return brush


def olive_tree(brush: Brush, x: float, y: float, size: float, seed: int) -> None:
    chance = Random(seed)  # noqa: S311 -- repeatable, nothing secret
    trunk = mix(NAVY, RUST, 0.35)
    lean = (chance.random() - 0.5) * 14 * size
    brush.shape(
        trunk,
        (x - 7 * size, y + 2),
        (x - 3 * size + lean, y - 44 * size),
        (x + 4 * size + lean, y - 44 * size),
        (x + 8 * size, y + 2),
    )
    brush.line(trunk, 4 * size, (x + lean, y - 36 * size), (x + lean - 20 * size, y - 62 * size))
    brush.line(trunk, 4 * size, (x + lean, y - 36 * size), (x + lean + 22 * size, y - 64 * size))
    crown = [(chance.uniform(-34, 34), chance.uniform(-100, -62), chance.uniform(15, 23)) for _ in range(11)]
    for ink, shift, grow in ((mix(OLIVE, NAVY, 0.45), 4, 1.0), (OLIVE, 0, 0.94), (mix(LEAF, SHADE, 0.35), -6, 0.62)):
        for dx, dy, r in crown:
            brush.oval(
                ink,
                x + lean + (dx + shift * 0.6) * size,
                y + (dy + shift) * size,
                r * grow * size,
                r * grow * 0.86 * size,
            )


def village() -> Brush:
    brush = Brush(AQUA)
    bands(brush, 0, 620, (mix(SEA, AQUA, 0.5), AQUA, FOAM, SAND), 3)
    brush.oval(PAPER, 150, 170, 62)
    hills(brush, mix(AQUA, SEA, 0.3), 742, [(70, 90), (210, 46)])
    brush.rect(SEA, 0, 740, WIDTH, HEIGHT)
    glints(brush, FOAM, 130, 756, 1010, 120, 17)
    cliff = (
        (WIDTH + 6, 470),
        (640, 520),
        (520, 560),
        (400, 640),
        (330, 700),
        (292, 770),
        (300, 860),
        (262, 930),
        (270, HEIGHT + 4),
        (WIDTH + 6, HEIGHT + 4),
    )
    brush.shape(mix(RUST, PEACH, 0.35), *cliff)
    brush.shape(
        mix(RUST, PLUM, 0.35),
        (WIDTH + 6, 760),
        (600, 800),
        (540, 880),
        (430, 920),
        (400, HEIGHT + 4),
        (WIDTH + 6, HEIGHT + 4),
    )
    brush.shape(
        mix(RUST, PEACH, 0.6), (292, 770), (360, 740), (340, 840), (390, 900), (320, 960), (262, 930), (300, 860)
    )
    brush.grain(PLUM, 720, HEIGHT, 0.16, 51, brush.mask(*cliff))
    houses = (
        (560, 250, 190, 330),
        (470, 350, 120, 230),
        (640, 400, 100, 200),
        (400, 430, 110, 210),
        (520, 470, 130, 150),
        (330, 540, 104, 160),
        (620, 540, 120, 140),
        (440, 560, 120, 140),
        (300, 640, 90, 90),
        (540, 620, 110, 110),
        (390, 660, 92, 90),
        (650, 670, 96, 90),
        (480, 700, 90, 70),
    )
    for n, (x, y, width, height) in enumerate(houses):
        house(brush, n, x, y, width, height)
    for x, y, r in ((655, 250, 62), (455, 430, 40), (590, 470, 34)):
        dome(brush, x, y, r)
    sea(brush, 960, ((DEEP, 10, 300, 10),))
    for x, y, span in ((250, 330, 38), (310, 380, 24)):
        gull(brush, PAPER, x, y, span)
    return brush


def house(brush: Brush, n: int, x: float, y: float, width: float, height: float) -> None:
    """A white cube: lit front, shaded right side, openings in a few inks."""
    side = width * 0.26
    brush.rect(PAPER if n % 4 else mix(SAND, PAPER, 0.4), x, y, width, height)
    brush.rect(SHADE, x + width - side, y, side, height)
    brush.rect(mix(SHADE, PAPER, 0.5), x, y, width - side, 4)
    brush.rect(mix(SHADE, SEA, 0.3), x + width - side, y, side, 4)
    shutter = (SEA, CORAL, DEEP, SEA)[n % 4]
    top = y + 28
    while top + 30 < y + min(height, 150):
        brush.rect(shutter, x + width * 0.16, top, 15, 24)
        if width > 96:
            brush.rect(shutter, x + width * 0.46, top, 15, 24)
        top += 58
    if n % 3 == 0:
        brush.rect(DEEP, x + width * 0.40, y + height - 40, 20, 40)
        brush.oval(DEEP, x + width * 0.40 + 10, y + height - 40, 10)


def dome(brush: Brush, x: float, y: float, r: float) -> None:
    brush.pen.pieslice(brush.big([(x - r, y - r), (x + r, y + r)]), 180, 360, fill=brush.ink(SEA))
    brush.pen.pieslice(brush.big([(x - r * 0.1, y - r), (x + r, y + r)]), 180, 360, fill=brush.ink(DEEP))
    brush.pen.pieslice(
        brush.big([(x - r * 0.1, y - r), (x + r * 0.52, y + r)]), 180, 360, fill=brush.ink(mix(SEA, DEEP, 0.55))
    )
    brush.rect(PAPER, x - r - 4, y - 5, 2 * r + 8, 10)
    brush.rect(PAPER, x - 2.5, y - r - 22, 5, 24)
    brush.rect(PAPER, x - 9, y - r - 16, 18, 4.5)


def night() -> Brush:
    brush = Brush(NIGHT)
    bands(brush, 0, 720, (NIGHT, NAVY, mix(NAVY, DEEP, 0.7), mix(DEEP, SEA, 0.6), mix(SEA, AQUA, 0.6)), 3)
    chance = Random(7)  # noqa: S311 -- repeatable, nothing secret
    for _ in range(900):
        along, off = chance.random(), chance.gauss(0, 1)
        x, y = along * 900 - 80 + off * 40, 640 - along * 640 + off * 46
        if y < 560:
            brush.oval(mix(FOAM, DEEP, 0.35 + 0.4 * chance.random()), x, y, 0.5 + chance.random() * 0.9)
    for _ in range(150):
        x, y, r = chance.random() * WIDTH, chance.random() ** 1.4 * 560, 0.8 + chance.random() ** 4 * 2.6
        brush.oval(PAPER if r < 2 else mix(GOLD, PAPER, 0.5), x, y, r)
    for x, y, r in ((196, 238, 13), (540, 92, 10), (612, 392, 9)):
        brush.shape(PAPER, (x - r, y), (x, y - r * 0.16), (x + r, y), (x, y + r * 0.16))
        brush.shape(PAPER, (x, y - r), (x + r * 0.16, y), (x, y + r), (x - r * 0.16, y))
    brush.crescent(mix(GOLD, PAPER, 0.55), 210, 470, 74)
    hills(brush, mix(NAVY, DEEP, 0.5), 722, [(560, 120), (720, 80), (400, 44)])
    hills(brush, NIGHT, 724, [(40, 70), (150, 40)])
    brush.rect(mix(NAVY, DEEP, 0.25), 0, 720, WIDTH, HEIGHT)
    brush.grain(NIGHT, 760, HEIGHT, 0.12, 61)
    glints(brush, mix(GOLD, SAND, 0.5), 210, 732, 960, 80, 9)
    for x in (508, 534, 560, 586, 600):
        brush.rect(GOLD, x, 700 - (x % 4) * 3, 5, 6)
        brush.rect(mix(GOLD, DEEP, 0.35), x, 732, 5, 22)
    x, y = 470, 846
    brush.shape(NIGHT, (x - 110, y - 12), (x + 120, y - 24), (x + 84, y + 20), (x - 84, y + 20))
    brush.shape(PAPER, (x + 8, y - 300), (x + 8, y - 30), (x - 104, y - 26))
    brush.shape(CORAL, (x + 22, y - 270), (x + 22, y - 32), (x + 108, y - 34))
    brush.shape(RUST, (x + 22, y - 270), (x + 22, y - 32), (x + 46, y - 33))
    brush.line(NIGHT, 5, (x + 14, y - 316), (x + 14, y - 16))
    brush.oval(GOLD, x - 66, y - 30, 7)
    for n in range(5):
        half = 90 - 15 * n
        brush.rect(mix(SAND, DEEP, 0.5 + 0.08 * n), x - half + 10, y + 28 + 12 * n, 1.5 * half, 3)
    return brush


POSTERS: dict[str, Callable[[], Brush]] = {
    "harbour.jpg": harbour,
    "lighthouse.jpg": lighthouse,
    "ferry.jpg": ferry,
    "olives.jpg": olives,
    "village.jpg": village,
    "night.jpg": night,
}


def draw_pictures(folder: Path) -> None:
    """Writes the six posters into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, poster in POSTERS.items():
        poster().save(folder / name)


if __name__ == "__main__":
    draw_pictures(Path(__file__).parent / "images")
