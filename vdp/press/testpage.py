"""The uneven, numbered frame as a PDF in its true size, front and back: printed as any frame, it proves the duplex.

Lives here: the pages only.  Not here: where places lie (`web`, `backs`), the same as a picture (`testframe`).

Each place bears its lane and place, an arrow to its head and a wedge in its own upper left corner.  Held to the light,
behind F 1.1 must come B 1.1 with its head where the front's head is (or its foot, head to foot).  Black only.
"""

from __future__ import annotations

import io
from pathlib import Path

from reportlab.lib.colors import CMYKColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from vdp.marks import Box
from vdp.press.backs import Backs, Heads, back_cell, back_turn
from vdp.press.web import Web
from vdp.units import points

_BLACK, _GREY = CMYKColor(0, 0, 0, 1), CMYKColor(0, 0, 0, 0.2)
_FACE = "TestFrame"


def print_test_frame(web: Web, backs: Backs, heads: Heads, title: str, face: Path | str) -> bytes:
    """Two pages, web × frame: the front, then the back as the file has it.  `face` is the font file of the words."""
    pdfmetrics.registerFont(TTFont(_FACE, str(face)))
    out = io.BytesIO()
    size = (points(web.width, web.dpi), points(web.frame, web.dpi))
    canvas = Canvas(out, pagesize=size, invariant=1)
    canvas.setTitle(title)
    cells = list(web.cells())
    behind = [back_cell(web, cell.lane, cell.along, backs) for cell in cells]
    for side, places, turn in (("F", cells, web.turn), ("B", behind, back_turn(web.turn, heads))):
        for cell in places:
            _piece(canvas, web, cell.trim, turn, f"{side} {cell.lane}.{cell.along}")
        canvas.setFillColor(_BLACK)
        canvas.setFont(_FACE, 7)
        said = f"{'front' if side == 'F' else 'back'} · backs {backs.replace('_', ' ')} · {heads.replace('_', ' ')}"
        canvas.drawString(size[0] * 0.05, 4, f"{said} · the leading edge is above")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _piece(canvas: Canvas, web: Web, trim: Box, turn: int, name: str) -> None:
    """A piece about its middle, turned as a whole: name, arrow and wedge turn with it."""
    x, y, width, height = (points(edge, web.dpi) for edge in trim)
    across, up = (width, height) if turn in (0, 180) else (height, width)
    short = min(across, up)
    canvas.saveState()
    canvas.translate(x + width / 2, y + height / 2)
    canvas.rotate(turn)
    canvas.setStrokeColor(_BLACK)
    canvas.setLineWidth(0.5)
    canvas.rect(-across / 2, -up / 2, across, up)
    _filled(
        canvas, _GREY, [(-across / 2, up / 2), (-across / 2 + short / 4, up / 2), (-across / 2, up / 2 - short / 2)]
    )
    tip = up * 0.45
    _filled(canvas, _BLACK, [(0, tip), (short / 12, tip - short / 8), (-short / 12, tip - short / 8)])
    canvas.setFillColor(_BLACK)
    canvas.setFont(_FACE, short * 0.3)
    canvas.drawCentredString(0, -short * 0.12, name)
    canvas.restoreState()


def _filled(canvas: Canvas, ink: CMYKColor, corners: list[tuple[float, float]]) -> None:
    path = canvas.beginPath()
    path.moveTo(*corners[0])
    for corner in corners[1:]:
        path.lineTo(*corner)
    path.close()
    canvas.setFillColor(ink)
    canvas.drawPath(path, stroke=0, fill=1)
