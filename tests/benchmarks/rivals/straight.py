"""Reportlab, straightforwardly: the art once as a form, drawString line by line, the library's own barcode widgets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.code128 import Code128
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.pdfgen.canvas import Canvas

from tests.benchmarks.letter.design import HEIGHT, WIDTH, Code, Design, Letter, Type, design
from tests.benchmarks.letter.draw import SIDES, draw_side
from tests.benchmarks.rivals.ink import BLACK, CLEAR, break_lines, register_faces


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters, two pages each, to `out`."""
    register_faces()
    plan = design()
    canvas = Canvas(str(out), pagesize=(WIDTH, HEIGHT), pageCompression=1)
    for side in SIDES:
        canvas.beginForm(side, 0, 0, WIDTH, HEIGHT)
        draw_side(canvas, side, folder)
        canvas.endForm()
    for letter in plan.letters(records, count):
        canvas.doForm("front")
        draw_front(canvas, plan, letter, folder)
        canvas.showPage()
        canvas.doForm("back")
        draw_back(canvas, plan, letter)
        canvas.showPage()
    canvas.save()


def draw_front(canvas: Any, plan: Design, letter: Letter, folder: Path) -> None:
    """What a record puts on the front."""
    canvas.setFillColor(BLACK)
    canvas.drawImage(str(folder / f"images/{letter.picture}.jpg"), *plan.picture)
    face, lines = break_lines(plan, letter)
    style = plan.paragraph
    canvas.setFont(face, style.size)
    for at, line in enumerate(lines):
        baseline = style.baseline - at * style.leading
        if face == "arabic":
            canvas.drawRightString(style.area.x + style.area.width, baseline, line)
        else:
            canvas.drawString(style.area.x, baseline, line)
    _line(canvas, "sans", plan.serial_front, letter.serial)
    for style, line in zip(plan.microtext, letter.microtext, strict=True):
        _line(canvas, "mono", style, line)
    canvas.saveState()
    canvas.setFillOverprint(True)
    canvas.setOverprintMask(1)
    canvas.setFillColor(CLEAR)
    _line(canvas, "sans", plan.hidden_text, letter.hidden_text)
    _code(canvas, plan.hidden_code, letter.hidden_code, CLEAR)
    canvas.restoreState()


def draw_back(canvas: Any, plan: Design, letter: Letter) -> None:
    """What a record puts on the back."""
    canvas.setFillColor(BLACK)
    style = plan.address
    canvas.setFont("sans", style.size)
    for at, line in enumerate(letter.address):
        canvas.drawString(style.area.x, style.baseline - at * style.leading, line)
    bars = Code128(letter.serial, barWidth=plan.bars.module, barHeight=plan.bars.height, quiet=0, barFillColor=BLACK)
    bars.drawOn(canvas, plan.bars.x, plan.bars.y)
    _code(canvas, plan.code, letter.code, BLACK)
    _line(canvas, "sans", plan.serial_back, letter.serial)


def _line(canvas: Any, face: str, style: Type, text: str) -> None:
    canvas.setFont(face, style.size)
    canvas.drawString(style.area.x, style.baseline, text)


def _code(canvas: Any, place: Code, text: str, ink: Any) -> None:
    widget = QrCodeWidget(text, barLevel="M", barBorder=0, barFillColor=ink)
    widget.barWidth = widget.barHeight = place.height
    drawing = Drawing(place.height, place.height)
    drawing.add(widget)
    renderPDF.draw(drawing, canvas, place.x, place.y)
