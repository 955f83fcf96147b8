"""The letter's fixed artwork and its six pictures, all CMYK, the same bytes every time.

`draw_side` draws on any reportlab canvas, so that a contestant that cannot import a PDF page draws the very same art.
"""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from tests.benchmarks.letter.records import PICTURES
from vdp.job.faces import builtin_faces

WIDTH, HEIGHT = 612, 792
SIDES = ("front", "back")
#: White areas of both sides, where records print (x, y, width, height from the lower left corner in points).
WINDOWS = ((60, 230, 500, 370), (60, 30, 500, 40))
#: Percent of cyan, magenta and yellow about which each picture's colours move.
HUES = ((70, 10, 10), (10, 70, 10), (10, 10, 70), (70, 70, 10), (10, 70, 70), (70, 10, 70))
_CURVES = 100
_FACE = "LetterArt"


def draw(folder: Path) -> None:
    """Writes art/front.pdf, art/back.pdf and images/1.jpg … images/6.jpg into a folder."""
    (folder / "art").mkdir(parents=True, exist_ok=True)
    (folder / "images").mkdir(exist_ok=True)
    for number in range(1, PICTURES + 1):
        _picture(450, 300, HUES[number - 1], number, 75, folder / f"images/{number}.jpg")
    for seed, side in enumerate(SIDES, 11):
        _picture(700, 200, (45, 25, 10), seed, 80, band_of(folder, side))
        canvas = Canvas(str(folder / f"art/{side}.pdf"), pagesize=(WIDTH, HEIGHT), pageCompression=1, invariant=1)
        draw_side(canvas, side, folder)
        canvas.showPage()
        canvas.save()


def band_of(folder: Path, side: str) -> Path:
    """The photograph in the head of a side."""
    return folder / f"art/band_{side}.jpg"


def draw_side(canvas: Any, side: str, folder: Path) -> None:
    """Draws a side's art: a ground, a photograph, 100 wavy lines of 24 curves, white windows, six lines of type."""
    if _FACE not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(_FACE, str(builtin_faces()["sans"].path)))
    chance = random.Random(side)
    canvas.saveState()
    canvas.setFillColorCMYK(0.05, 0.02, 0, 0)
    canvas.rect(0, 0, WIDTH, HEIGHT, stroke=0, fill=1)
    canvas.drawImage(str(band_of(folder, side)), 0, 617, WIDTH, 175)
    canvas.setLineWidth(0.3)
    for curve in range(_CURVES):
        canvas.setStrokeColorCMYK(0.3 * chance.random(), 0.2, 0.1, 0)
        path = canvas.beginPath()
        x, y = 20 + 5.5 * curve, 100
        path.moveTo(x, y)
        for step in range(24):
            sway, low = 6 * math.sin(step / 3 + curve / 7), y + 20 * step
            path.curveTo(x + 10 * chance.random(), low, x - 10 * chance.random(), low + 10, x + sway, low + 20)
        canvas.drawPath(path, stroke=1, fill=0)
    canvas.setFillColorCMYK(0, 0, 0, 0)
    for window in WINDOWS:
        canvas.rect(*window, stroke=0, fill=1)
    canvas.setFillColorCMYK(0, 0, 0, 1)
    canvas.setFont(_FACE, 9)
    for line in range(6):
        canvas.drawString(72, 210 - line * 11, f"Terms and conditions, line {line + 1} of the {side} side.")
    canvas.restoreState()


def _picture(width: int, height: int, hue: tuple[int, int, int], seed: int, quality: int, path: Path) -> None:
    """A CMYK JPEG of waves and grain about a hue."""
    y, x = np.mgrid[0:height, 0:width]
    waves = [
        2.55 * ink + 25 * np.sin(x / (20 + 3 * seed) + at) + 15 * np.cos(y / (15 + 2 * seed) + at)
        for at, ink in enumerate(hue)
    ]
    grain = np.random.default_rng(seed).normal(0, 9, (height, width, 3))
    inks = np.clip(np.stack(waves, -1) + grain, 0, 255).astype(np.uint8)
    black = np.zeros((height, width, 1), np.uint8)
    Image.fromarray(np.concatenate([inks, black], -1), "CMYK").save(path, "JPEG", quality=quality)
