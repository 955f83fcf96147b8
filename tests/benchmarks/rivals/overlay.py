"""What a record changes by reportlab as a two-page PDF, merged by pypdf onto the art, which is opened for each record.

Re-opening is what makes it right: a page object that is added twice and then merged shares its contents.
"""

from __future__ import annotations

import io
from pathlib import Path

from pypdf import PdfReader, PdfWriter
from reportlab.pdfgen.canvas import Canvas

from tests.benchmarks.letter.design import HEIGHT, WIDTH, Design, Letter, design
from tests.benchmarks.letter.draw import SIDES
from tests.benchmarks.rivals.ink import register_faces
from tests.benchmarks.rivals.straight import draw_back, draw_front


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters, two pages each, to `out`."""
    register_faces()
    plan = design()
    art = [(folder / f"art/{side}.pdf").read_bytes() for side in SIDES]
    writer = PdfWriter()
    for letter in plan.letters(records, count):
        overlay = PdfReader(io.BytesIO(_overlay(plan, letter, folder)))
        for background, page in zip(art, overlay.pages, strict=True):
            writer.add_page(PdfReader(io.BytesIO(background)).pages[0]).merge_page(page)
    writer.write(out)


def _overlay(plan: Design, letter: Letter, folder: Path) -> bytes:
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(WIDTH, HEIGHT), pageCompression=1)
    draw_front(canvas, plan, letter, folder)
    canvas.showPage()
    draw_back(canvas, plan, letter)
    canvas.showPage()
    canvas.save()
    return file.getvalue()
