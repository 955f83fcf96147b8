"""Reportlab, tuned: art and pictures as shared forms, one text object a side, raw path operators, binary streams.

The Code 128 widths come from `vdp`'s encoder in both variants; QR symbols from segno, or from `vdp`'s encoder in
batches of 64, which is how it is at its best.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from tests.benchmarks.letter.design import HEIGHT, WIDTH, Code, Design, Letter, design
from tests.benchmarks.letter.draw import SIDES, draw_side
from tests.benchmarks.letter.records import PICTURES
from tests.benchmarks.rivals.ink import BLACK, CLEAR, break_lines, register_faces
from tests.benchmarks.rivals.paths import Encoder, bars, boxes, by_segno, lend
from vdp.barcode import code128

_BATCH = 64


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters with segno's QR symbols."""
    _compose(folder, records, count, out, by_segno)


def compose_lent(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters with QR symbols by the encoder of `vdp`."""
    _compose(folder, records, count, out, lend())


def _compose(folder: Path, records: Path, count: int, out: Path, encoder: Encoder) -> None:
    rl_config.useA85 = 0
    register_faces()
    plan = design()
    canvas = Canvas(str(out), pagesize=(WIDTH, HEIGHT), pageCompression=1)
    _draw_forms(canvas, plan, folder)
    for letter, hidden, code in _encoded(plan.letters(records, count), encoder):
        _draw_front(canvas, plan, letter, hidden)
        canvas.showPage()
        _draw_back(canvas, plan, letter, code)
        canvas.showPage()
    canvas.save()


def _draw_forms(canvas: Any, plan: Design, folder: Path) -> None:
    for side in SIDES:
        canvas.beginForm(side, 0, 0, WIDTH, HEIGHT)
        draw_side(canvas, side, folder)
        canvas.endForm()
    for number in range(1, PICTURES + 1):
        canvas.beginForm(f"picture{number}", 0, 0, WIDTH, HEIGHT)
        canvas.drawImage(str(folder / f"images/{number}.jpg"), *plan.picture)
        canvas.endForm()


def _encoded(letters: Iterator[Letter], encoder: Encoder) -> Iterator[tuple[Letter, str, str]]:
    """Each letter with its hidden and its plain QR symbol as path operators."""
    while batch := list(itertools.islice(letters, _BATCH)):
        hidden = boxes(encoder([letter.hidden_code for letter in batch]))
        codes = boxes(encoder([letter.code for letter in batch]))
        yield from zip(batch, hidden, codes, strict=True)


def _draw_front(canvas: Any, plan: Design, letter: Letter, hidden: str) -> None:
    canvas.doForm("front")
    canvas.doForm("picture" + letter.picture)
    canvas.setFillColor(BLACK)
    face, lines = break_lines(plan, letter)
    style = plan.paragraph
    if face == "arabic":
        canvas.setFont(face, style.size)
        right, baseline = style.area.x + style.area.width, style.baseline
        for line in lines:
            canvas.drawRightString(right, baseline, line)
            baseline -= style.leading
        text = canvas.beginText()
    else:
        text = canvas.beginText(style.area.x, style.baseline)
        text.setFont(face, style.size, style.leading)
        for line in lines:
            text.textLine(line)
    style = plan.serial_front
    text.setTextOrigin(style.area.x, style.baseline)
    text.setFont("sans", style.size)
    text.textOut(letter.serial)
    style, second, _ = plan.microtext
    text.setTextOrigin(style.area.x, style.baseline)
    text.setFont("mono", style.size, style.area.y - second.area.y)
    for line in letter.microtext:
        text.textLine(line)
    canvas.drawText(text)
    canvas.saveState()
    canvas.setFillOverprint(True)
    canvas.setOverprintMask(1)
    canvas.setFillColor(CLEAR)
    style = plan.hidden_text
    canvas.setFont("sans", style.size)
    canvas.drawString(style.area.x, style.baseline, letter.hidden_text)
    _draw_boxes(canvas, plan.hidden_code, hidden)
    canvas.restoreState()


def _draw_back(canvas: Any, plan: Design, letter: Letter, code: str) -> None:
    canvas.doForm("back")
    canvas.setFillColor(BLACK)
    style = plan.address
    text = canvas.beginText(style.area.x, style.baseline)
    text.setFont("sans", style.size, style.leading)
    for line in letter.address:
        text.textLine(line)
    style = plan.serial_back
    text.setTextOrigin(style.area.x, style.baseline)
    text.setFont("sans", style.size)
    text.textOut(letter.serial)
    canvas.drawText(text)
    place = plan.bars
    drawn = " ".join(f"{x} 0 {width} 1 re" for x, width in bars(code128.encode(letter.serial).widths))
    _draw_path(canvas, place, place.height, drawn)
    _draw_boxes(canvas, plan.code, code)


def _draw_boxes(canvas: Any, place: Code, drawn: str) -> None:
    _draw_path(canvas, place, place.module, drawn)


def _draw_path(canvas: Any, place: Code, height: float, drawn: str) -> None:
    """Paints a path in units of a module's width and the given height.  reportlab has no public raw operator."""
    canvas._code.append(f"q {place.module:g} 0 0 {height:g} {place.x:g} {place.y:g} cm\n{drawn} f Q")
