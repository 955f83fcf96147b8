"""Draws the fixed artwork of the ferry pass, two CMYK pages with bleed and six posters; run it to make them anew.

Lives here: what stands on the two pages.  Not here: the pen (`draw_sheet`), the posters (`draw_pictures`), anything
that a record changes (`layout.yaml`).  Same script, same bytes.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from random import Random

from draw_brush import AQUA, CORAL, DEEP, FOAM, NAVY, PAPER, SAND, SEA, Ink, mix
from draw_pictures import draw_pictures
from draw_sheet import BLEED, MM, TRIM, Curve, Sheet, load_faces

#: A line of two dots at 1200 dpi is 0.12 pt; the finest here is three.
HAIR = 0.18 / MM
#: The card on the front's last panel: x, y, width, height, radius, and where its head and its tinted part end.
CARD = (12.0, 208.0, 128.0, 80.0, 3.5)
HEAD_END, TINT_END = 223.0, 261.0


def wave(level: float, high: float, long: float, shift: float) -> Curve:
    return lambda x: level - high * math.sin((x + shift) / long * math.tau)


def guilloche(
    sheet: Sheet, ink: Ink, level: Curve, high: Curve, left: float, right: float, lines: int, long: float
) -> None:
    """A woven band of hair lines: one wave in many phases about one level, under one envelope."""
    for n in range(lines):
        phase = n * math.pi / lines

        def thread(x: float, phase: float = phase) -> float:
            slow = math.cos(x / (long * 4.7) * math.tau - phase)
            return level(x) + high(x) * math.sin(x / long * math.tau + phase) * slow

        sheet.stroke(ink, HAIR, sheet.curve(thread, left, right, 2.5))


def sun(sheet: Sheet, ink: Ink, x: float, y: float, r: float, cuts: list[tuple[Curve, Curve]]) -> None:
    """A disc without the strips between each pair of curves, which go downwards.  What is cut is not painted at all:
    strips painted over would leave their own edge showing."""

    def slices() -> None:
        uppers: list[Curve] = [lambda _: y - r - 1, *(lower for _, lower in cuts)]
        lowers: list[Curve] = [*(upper for upper, _ in cuts), lambda _: y + r + 1]
        for upper, lower in zip(uppers, lowers, strict=True):
            sheet.fill(ink, sheet.between(upper, lower, x - r - 1, x + r + 1))

    sheet.inside(sheet.disc(x, y, r), slices)


def mark(sheet: Sheet, x: float, y: float, r: float, ink: Ink) -> None:
    """The line's sign: a sun going down in three waves.  `x`, `y` is its middle."""
    cuts = []
    for n in range(3):
        level, shift = y + r * (0.16 + 0.30 * n), r * 0.34 * n - x
        cuts.append((wave(level, r * 0.06, r * 1.1, shift), wave(level + r * 0.11, r * 0.06, r * 1.1, shift)))
    sun(sheet, ink, x, y, r, cuts)


def ship(sheet: Sheet, x: float, y: float, size: float, ink: Ink, glass: Ink) -> None:
    """A small ferry from the side, bow to the left; `x`, `y` is the middle of its water line."""

    def part(ink: Ink, *spots: tuple[float, float]) -> None:
        sheet.fill(ink, sheet.polygon(*((x + dx * size, y + dy * size) for dx, dy in spots)))

    part(ink, (-11, -3), (10.5, -2.4), (10, 0.8), (-9, 0.8))
    part(ink, (-8.4, -5), (9.6, -5), (9.6, -2.2), (-9.8, -2.6))
    part(ink, (-6.6, -7), (7.4, -7), (7.4, -4.8), (-7.6, -4.8))
    part(ink, (-5.4, -8.8), (-1, -8.8), (-1, -6.8), (-6.2, -6.8))
    part(ink, (3, -10.6), (5.4, -10.6), (5.8, -6.8), (2.8, -6.8))
    part(ink, (-2.2, -11.6), (-1.9, -11.6), (-1.9, -8.6), (-2.2, -8.6))
    part(glass, (-8.0, -4.3), (8.8, -4.3), (8.8, -3.7), (-8.5, -3.7))
    part(glass, (-6.4, -6.3), (6.6, -6.3), (6.6, -5.7), (-6.8, -5.7))


# -- the front -------------------------------------------------------------------------------------------------------


def front() -> Sheet:
    sheet = Sheet("Thalvera Line season pass, front")
    sunset(sheet)
    mark(sheet, 18, 18.5, 6, CORAL)
    sheet.text("display", 17, NAVY, 28, 19.4, "THALVERA", 190)
    sheet.text("sans", 6.4, SEA, 28.2, 24.3, "ISLAND LINE", 340)
    sheet.text("sans", 5.6, NAVY, 14, 43.2, "Thalvera Line · Old Quay 4 · Pellamos", 20)
    sheet.stroke(NAVY, HAIR, sheet.line((14, 44.7), (60, 44.7)))
    card(sheet)
    return sheet


def sunset(sheet: Sheet) -> None:
    """The sun, the ship, and the woven water beneath the address."""
    x, y, r = 130.0, 48.0, 34.0
    cuts = []
    for n in range(6):
        level, thick, shift = y + 8 + 4.6 * n, 0.7 + 0.36 * n, 9.0 * n
        cuts.append((wave(level, 0.9, 27, shift), wave(level + thick, 0.9, 27, shift)))
    sun(sheet, CORAL, x, y, r, cuts)
    ship(sheet, 118, cuts[0][0](118) + 0.3, 1.15, NAVY, SAND)
    edges = (-BLEED, TRIM[0] + BLEED)
    guilloche(sheet, SEA, lambda _: 89.0, lambda px: 1.8 + 3.2 * ((px + 3) / 158) ** 2, *edges, 12, 46)


def card(sheet: Sheet) -> None:
    x, y, width, height, r = CARD
    outline = sheet.rounded(x, y, width, height, r)

    def inner() -> None:
        sheet.fill((7, 1, 3, 0), sheet.rect(x, HEAD_END, width, TINT_END - HEAD_END))
        part: Curve = lambda px: max(0.0, px - x) / width  # noqa: E731 -- a curve among curves
        guilloche(
            sheet,
            (60, 0, 14, 0),
            lambda px: 257.5 - 15 * part(px) ** 2.4,
            lambda px: 0.7 + 13 * part(px) ** 2.2,
            x,
            x + width,
            16,
            64,
        )
        shore = wave(TINT_END - 1.2, 0.9, 42, 6)
        sheet.fill(PAPER, sheet.between(shore, lambda _: y + height, x, x + width))
        sheet.stroke(SEA, 0.3 / MM, sheet.curve(shore, x, x + width))
        sheet.fill(NAVY, sheet.rect(x, y, width, HEAD_END - y))
        sheet.fill(CORAL, sheet.rect(x, HEAD_END, width, 0.9))

    sheet.inside(outline, inner)
    mark(sheet, 22.2, 215.5, 4.2, CORAL)
    sheet.text("display", 11, PAPER, 29.5, 216.6, "THALVERA", 190)
    sheet.text("sans", 4.8, mix(AQUA, FOAM, 0.5), 29.7, 219.6, "ISLAND LINE", 340)
    sheet.stroke(NAVY, 0.35 / MM, sheet.rounded(x, y, width, height, r))


# -- the back --------------------------------------------------------------------------------------------------------

#: Island → middle, size, seed of its outline, where its name stands from the middle.
ISLANDS = {
    "Pellamos": ((50, 50), 15.0, 4, (-9, 21)),
    "Lessira": ((98, 21), 9.5, 9, (0, -12)),
    "Korvano": ((113, 66), 11.5, 14, (2, 16.5)),
    "Ithora": ((20, 21), 7.5, 23, (-1, 12)),
    "Averil": ((78, 76), 6.0, 31, (6, 10)),
}
#: From an island's coast to another's: name and bearing (degrees from east, clockwise) of both, bend, ink.
PALE = mix(CORAL, SAND, 0.55)
ROUTES = (
    (("Pellamos", -18), ("Lessira", 160), -5, CORAL),
    (("Pellamos", -18), ("Korvano", 190), 4, CORAL),
    (("Pellamos", 215), ("Ithora", 40), 2, PALE),
    (("Pellamos", 70), ("Averil", 185), 3, PALE),
    (("Lessira", 60), ("Korvano", -80), -5, PALE),
)
CHART_END = 91.0


def outline(size: float, seed: int) -> list[tuple[float, float]]:
    chance = Random(seed)  # noqa: S311 -- repeatable, nothing secret
    parts = [(k, 0.34 / k**1.1 * chance.uniform(0.4, 1), chance.uniform(0, math.tau)) for k in range(2, 9)]
    spots = []
    for n in range(44):
        angle = n / 44 * math.tau
        r = size * (1 + sum(high * math.sin(k * angle + shift) for k, high, shift in parts))
        spots.append((r * math.cos(angle) * 1.12, r * math.sin(angle) * 0.82))
    return spots


def coast(name: str, bearing: float) -> tuple[float, float]:
    """A place on an island's outline."""
    (x, y), size, seed, _ = ISLANDS[name]
    spots = outline(size, seed)
    dx, dy = spots[round(bearing / 360 * len(spots)) % len(spots)]
    return x + dx, y + dy


def back() -> Sheet:
    sheet = Sheet("Thalvera Line season pass, back")
    sheet.inside(sheet.rect(-BLEED, -BLEED, TRIM[0] + 2 * BLEED, CHART_END + BLEED), lambda: chart(sheet))
    sheet.stroke(CORAL, 0.9, sheet.line((-BLEED, CHART_END + 0.45), (TRIM[0] + BLEED, CHART_END + 0.45)))
    sheet.stroke(NAVY, HAIR, sheet.line((12, 117.6), (140, 117.6)))
    stub(sheet)
    return sheet


def chart(sheet: Sheet) -> None:
    sheet.fill(NAVY, sheet.rect(-BLEED, -BLEED, TRIM[0] + 2 * BLEED, CHART_END + BLEED))
    for n in range(9):
        sheet.stroke(DEEP, HAIR, sheet.line((12 + 16 * n, -BLEED), (12 + 16 * n, CHART_END)))
    for n in range(6):
        sheet.stroke(DEEP, HAIR, sheet.line((-BLEED, 5 + 16 * n), (TRIM[0] + BLEED, 5 + 16 * n)))
    for grow, ink in ((2.05, mix(NAVY, DEEP, 0.35)), (1.66, mix(NAVY, DEEP, 0.7)), (1.32, DEEP)):
        for (x, y), size, seed, _ in ISLANDS.values():
            spots = outline(size, seed)
            reach = 1 + (grow - 1) * (11 / (size + 4))
            sheet.fill(ink, sheet.blob(x, y, [(dx * reach, dy * reach) for dx, dy in spots]))
    for (x, y), size, seed, _ in ISLANDS.values():
        spots = outline(size, seed)
        sheet.stroke(AQUA, HAIR, sheet.blob(x, y, [(dx * 1.14, dy * 1.14) for dx, dy in spots]))
        sheet.fill(SAND, sheet.blob(x, y, spots))
        for inner, shade in ((0.72, 0.10), (0.46, 0.20), (0.22, 0.32)):
            part = [(dx * inner - size * 0.05, dy * inner - size * 0.06) for dx, dy in spots]
            sheet.fill(mix(SAND, (20, 26, 52, 4), shade * 2), sheet.blob(x, y, part))
    for start, end, bend, ink in ROUTES:
        route(sheet, coast(*start), coast(*end), bend, ink)
    for place in dict.fromkeys(end for start, end, _, _ in ROUTES for end in (start, end)):
        sheet.fill(PAPER, sheet.disc(*coast(*place), 1.1))
        sheet.fill(CORAL, sheet.disc(*coast(*place), 0.7))
    for name, ((x, y), _, _, (dx, dy)) in ISLANDS.items():
        sheet.text("italic", 11 if name == "Pellamos" else 9, PAPER, x + dx, y + dy, name, 30, "centre")
    rose(sheet, 134, 33, 10)


def route(sheet: Sheet, start: tuple[float, float], end: tuple[float, float], bend: float, ink: Ink) -> None:
    """A dashed course between two ports, bent sideways by `bend` mm."""
    length = math.dist(start, end)
    nx, ny = -(end[1] - start[1]) / length * bend, (end[0] - start[0]) / length * bend
    path = sheet.canvas.beginPath()
    path.moveTo(*sheet.at(*start))
    third = [(start[k] + (end[k] - start[k]) * part + (nx, ny)[k] for k in (0, 1)) for part in (1 / 3, 2 / 3)]
    path.curveTo(*sheet.at(*third[0]), *sheet.at(*third[1]), *sheet.at(*end))
    sheet.stroke(ink, 0.38, path, (1.7, 1.1))


def rose(sheet: Sheet, x: float, y: float, r: float) -> None:
    """A compass rose of eight points in two tones."""
    for ring in (0.62, 0.66):
        sheet.stroke(SAND, HAIR, sheet.disc(x, y, r * ring))
    for n in range(72):
        angle, inner = n / 72 * math.tau, r * (0.58 if n % 6 == 0 else 0.60)
        ends = [(x + math.sin(angle) * reach, y - math.cos(angle) * reach) for reach in (inner, r * 0.62)]
        sheet.stroke(SAND, HAIR, sheet.line(*ends))
    for reach, wide, turns in ((0.66, 0.13, (45, 135, 225, 315)), (1.0, 0.15, (0, 90, 180, 270))):
        for turn in turns:
            for side, ink in ((1, mix(SAND, NAVY, 0.55)), (-1, SAND)):
                a, b = math.radians(turn), math.radians(turn + 45 * side)
                tip = (x + math.sin(a) * r * reach, y - math.cos(a) * r * reach)
                hip = (x + math.sin(b) * r * wide, y - math.cos(b) * r * wide)
                sheet.fill(ink, sheet.polygon((x, y), tip, hip))
    sheet.text("display", 6.5, SAND, x, y - r - 1.2, "N", 0, "centre")


def stub(sheet: Sheet) -> None:
    """A pale ground for the stub's words, and the posters' waves at its foot."""
    sheet.fill(mix(SAND, PAPER, 0.5), sheet.rect(-BLEED, 205, TRIM[0] + 2 * BLEED, 297 + BLEED - 205))
    sheet.stroke(NAVY, HAIR, sheet.line((88, 215), (88, 240)))
    sheet.fill(CORAL, sheet.disc(36, 263, 13))
    levels = (
        (262.0, AQUA, 2.2, 54, 0),
        (267.5, SEA, 2.6, 62, 24),
        (274.0, DEEP, 3.0, 70, 8),
        (281.5, NAVY, 3.0, 80, 46),
    )
    edges = (-BLEED, TRIM[0] + BLEED)
    for level, ink, high, long, shift in levels:
        crest = wave(level, high, long, shift)
        sheet.fill(FOAM, sheet.between(wave(level - 0.7, high, long, shift), lambda _: 300.5, *edges))
        sheet.fill(ink, sheet.between(crest, lambda _: 300.5, *edges))
        if ink is AQUA:
            ship(sheet, 112, crest(112) + 1.2, 0.8, NAVY, SAND)
    sheet.text("sans", 5.6, PAPER, 12, 290, "THALVERA ISLAND LINE", 240)
    sheet.text("sans", 6.4, PAPER, 140, 290, "thalvera.example", 60, "right")


def draw(folder: Path) -> None:
    """Writes art/front.pdf, art/back.pdf and images/*.jpg under a folder."""
    load_faces()
    (folder / "art").mkdir(parents=True, exist_ok=True)
    front().save(folder / "art" / "front.pdf")
    back().save(folder / "art" / "back.pdf")
    draw_pictures(folder / "images")


if __name__ == "__main__":
    draw(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
