"""Whether a contestant's file is the work that was asked for: pages counted, pieces rendered, decoded and read.

Shares no code with `vdp.verify`, so that a fault there cannot let `vdp` win.
"""

from __future__ import annotations

import random
import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import zxingcpp
from PIL import Image

from tests.benchmarks.letter.design import HEIGHT, QR_SIDE, WIDTH, Area, Code, Letter, design
from tests.benchmarks.letter.draw import HUES

#: Pixels a point of a rendered symbol: 5 pixels a module of the smallest.
_SCALE = 5.0
_SEED = 20
_CODE128_MODULES = 123


def judge(pdf: Path, folder: Path, records: Path, count: int, pieces: int = 200) -> list[str]:
    """Everything that is wrong with a file of `count` letters, of which `pieces` (seeded) are looked at closely."""
    document = pdfium.PdfDocument(str(pdf))
    try:
        if len(document) != 2 * count:
            return [f"{len(document)} pages for {count} letters"]
        chosen = set(random.Random(_SEED).sample(range(count), min(count, pieces)))
        return [
            f"piece {letter.nth + 1}: {fault}"
            for letter in design().letters(records, count)
            if letter.nth in chosen
            for fault in _faults(document, letter, folder)
        ]
    finally:
        document.close()


def _faults(document: Any, letter: Letter, folder: Path) -> Iterator[str]:
    plan = design()
    front, back = document[2 * letter.nth], document[2 * letter.nth + 1]
    for page, side in ((front, "front"), (back, "back")):
        if any(abs(a - b) > 0.5 for a, b in zip(page.get_size(), (WIDTH, HEIGHT), strict=True)):
            yield f"the {side} is {page.get_size()} points"
    qr, linear = zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.Code128
    yield from _decoded(front, plan.hidden_code, QR_SIDE, qr, letter.hidden_code)
    yield from _decoded(back, plan.code, QR_SIDE, qr, letter.code)
    yield from _decoded(back, plan.bars, _CODE128_MODULES, linear, letter.serial)
    seen = _nearest(_render(front, plan.picture, 0.1), folder)
    if seen != int(letter.picture):
        yield f"picture {seen} in place of {letter.picture}"
    # Microtext 3 × 4, the hidden text, the serial by itself, and the paragraph, which an Arabic reading turns about.
    said, times = _text(front), 14 if letter.language == "ar" else 15
    if said.count(letter.serial) != times:
        yield f"the front says its serial {said.count(letter.serial)} times, not {times}"
    if _joined(letter.hidden_text) not in said:
        yield "the hidden text is not there"
    there = _arabic(said) == _arabic(letter.paragraph) if letter.language == "ar" else _joined(letter.paragraph) in said
    if not there:
        yield "the paragraph is not there"
    said = _text(back)
    for line in (*letter.address, letter.serial):
        if _joined(line) not in said:
            yield f"the back does not say '{line}'"


def _decoded(page: Any, place: Code, modules: int, symbology: Any, expected: str) -> Iterator[str]:
    quiet = 4 * place.module
    area = Area(place.x - quiet, place.y - quiet, modules * place.module + 2 * quiet, place.height + 2 * quiet)
    # Downscaled, a sound Code 128 has been seen to give a second, wrong reading: that is the reader's fault.
    image = _render(page, area, _SCALE).convert("L")
    found = zxingcpp.read_barcodes(image, formats=symbology, try_downscale=False)
    said = [symbol.text for symbol in found]
    if said != [expected]:
        yield f"{symbology.name} reads {said}, not '{expected}'"


def _render(page: Any, area: Area, scale: float) -> Image.Image:
    crop = (area.x, area.y, WIDTH - area.x - area.width, HEIGHT - area.top)
    image: Image.Image = page.render(scale=scale, crop=crop).to_pil()
    return image


@lru_cache(maxsize=8)
def _colours(folder: Path) -> np.ndarray[Any, np.dtype[np.float64]]:
    """The mean colour of each picture, rendered by the same reader from a page of it alone."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(folder / "pictures.pdf"), pagesize=(WIDTH, HEIGHT))
    for number in range(1, len(HUES) + 1):
        canvas.drawImage(str(folder / f"images/{number}.jpg"), *design().picture)
        canvas.showPage()
    canvas.save()
    document = pdfium.PdfDocument(str(folder / "pictures.pdf"))
    try:
        return np.stack([_mean(_render(page, design().picture, 0.1)) for page in document])
    finally:
        document.close()


def _nearest(image: Image.Image, folder: Path) -> int:
    """The number of the picture whose mean colour an image's is, or 0 where it is none's."""
    distances = np.abs(_colours(folder) - _mean(image)).max(axis=1)
    return int(distances.argmin()) + 1 if distances.min() < 12 else 0


def _mean(image: Image.Image) -> np.ndarray[Any, np.dtype[np.float64]]:
    mean: np.ndarray[Any, np.dtype[np.float64]] = np.asarray(image.convert("RGB"), np.float64).mean(axis=(0, 1))
    return mean


def _text(page: Any) -> str:
    text = page.get_textpage()
    try:
        return _joined(text.get_text_range())
    finally:
        text.close()


def _arabic(text: str) -> set[str]:
    """Which Arabic letters occur, whatever their forms: order and count are the reader's guess."""
    return {char for char in unicodedata.normalize("NFKC", text) if "\u0621" <= char <= "\u064a"}


def _joined(text: str) -> str:
    """Without spaces, line ends, and the mark that pdfium puts where it thinks a word is hyphenated."""
    return re.sub(r"[\s\ufffe]+", "", text)
