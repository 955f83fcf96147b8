"""How reports are set: type, colours, tables, numbered pages.

Not here: what a report says (`report`, `paper`).
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib.colors import CMYKColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph, Table

from vdp.errors import CallerError

INK = CMYKColor(0.85, 0.45, 0.25, 0.55)
QUIET = CMYKColor(0.20, 0.10, 0.08, 0.45)
RULE = CMYKColor(0.10, 0.05, 0.04, 0.15)
GOOD = CMYKColor(0.75, 0.10, 0.70, 0.30)
BAD = CMYKColor(0.05, 0.90, 0.85, 0.15)


def put_story(path: Path, title: str, story: Callable[[], Iterable[Flowable]], face: Path) -> None:
    """Sets what `story` gives in `face` (a TrueType file) on numbered A4 pages, and writes it whole.

    Same story, same bytes.  Raises CallerError when it cannot be written.
    """
    rl_config.invariant = 1
    rl_config.useA85 = 0  # ASCII85 is written in Python, and serves no file of today
    pdfmetrics.registerFont(TTFont("Report", face))
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=A4,
        leftMargin=20 * mm,
        rightMargin=20 * mm,
        topMargin=22 * mm,
        bottomMargin=20 * mm,
        title=f"Report: {title}",
        author="vdp",
        invariant=1,
    )
    frame = Frame(20 * mm, 20 * mm, A4[0] - 40 * mm, A4[1] - 42 * mm, 0, 0, 0, 0)

    def furniture(canvas: Canvas, _: BaseDocTemplate) -> None:
        canvas.setFont("Report", 7.5)
        canvas.setFillColor(QUIET)
        canvas.drawString(20 * mm, 12 * mm, title)
        canvas.drawRightString(A4[0] - 20 * mm, 12 * mm, str(canvas.getPageNumber()))

    document.addPageTemplates(PageTemplate("page", [frame], onPage=furniture))
    document.build(list(story()))
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(buffer.getvalue())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise CallerError.one(str(path), f"cannot be written: {error.strerror}", "free some space") from error


def style(size: float, colour: CMYKColor = INK, before: float = 0, after: float = 2) -> ParagraphStyle:
    """Sizes and spaces in points."""
    return ParagraphStyle(
        f"s{size}{colour.hexval()}",
        fontName="Report",
        fontSize=size,
        leading=size * 1.35,
        textColor=colour,
        spaceBefore=before,
        spaceAfter=after,
        alignment=TA_LEFT,
        splitLongWords=1,
    )


BODY = style(9)
SMALL = style(8, QUIET)
NOTE = style(8)
HEAD = style(12.5, INK, before=14, after=5)
HEAD.keepWithNext = 1
#: Rows that stay with the heading above them.
_KEPT = 3


def text(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    """Words as they are: no mark-up is read in them."""
    return Paragraph(escape(text), style)


def flowing(rows: Sequence[Sequence[Flowable]], widths_mm: Sequence[float]) -> Iterator[Table]:
    """A grid that begins under its heading and runs on to the next page: only its first rows are kept with that."""
    yield grid(rows[:_KEPT], widths_mm)
    if len(rows) > _KEPT:
        yield grid(rows[_KEPT:], widths_mm)


def grid(rows: Sequence[Sequence[Flowable]], widths_mm: Sequence[float], ruled: Sequence[int] | None = None) -> Table:
    """A table of flowables, columns in mm, with a line under each row, or under those of `ruled`."""
    table = Table(rows or [[text("none", SMALL)]], colWidths=[w * mm for w in widths_mm][: len(rows[0]) if rows else 1])
    lines = range(max(1, len(rows))) if ruled is None else ruled
    table.hAlign = "LEFT"
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 2.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            *(("LINEBELOW", (0, row), (-1, row), 0.4, RULE if ruled is None else INK) for row in lines),
        ]
    )
    return table
