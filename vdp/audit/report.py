"""report.pdf: what was made, what was checked and how, what was found, and pictures of the pieces that matter.

Facts and pictures come in ready; nothing here opens a job, a layout or a finished file.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib.colors import CMYKColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    Image,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from vdp.errors import Finding

INK = CMYKColor(0.85, 0.45, 0.25, 0.55)
QUIET = CMYKColor(0.20, 0.10, 0.08, 0.45)
RULE = CMYKColor(0.10, 0.05, 0.04, 0.15)
GOOD = CMYKColor(0.75, 0.10, 0.70, 0.30)
BAD = CMYKColor(0.05, 0.90, 0.85, 0.15)
MOST_FINDINGS = 200

CAUTIONS = (
    "Only for documents you are entitled to produce; never currency, identity papers or the postage of others.",
    "Security marks deter and help to detect; they do not guarantee.",
    "Recipients' data is personal: keep this folder no longer than needed. Keys are secrets.",
    "UV lamps need eye protection. Local law and licensed practice come first.",
)


@dataclass(frozen=True, slots=True)
class View:
    """One picture with what it shows: PNG bytes and a short label such as 'front' or 'Clear plate'."""

    label: str
    png: bytes


@dataclass(frozen=True, slots=True)
class Shown:
    """A piece shown in the report, why it was chosen, and its views side by side."""

    title: str
    views: tuple[View, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was checked: what, how, and how many times; `good` is False when something was found."""

    what: str
    how: str
    count: str
    good: bool


@dataclass(frozen=True, slots=True)
class Graded:
    """Grades of symbols: what they are worth, and rows of name, kind, grade and reason."""

    note: str
    rows: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Report:
    """Everything that report.pdf says."""

    title: str
    good: bool
    facts: tuple[tuple[str, str], ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    set_aside: tuple[tuple[int, str], ...]
    shown: tuple[Shown, ...]
    graded: Graded | None = None


def write_report(path: Path, report: Report, face: Path) -> None:
    """Sets the report in `face` (a TrueType file) and writes it whole.  Same report, same bytes."""
    rl_config.invariant = 1
    pdfmetrics.registerFont(TTFont("Report", face))
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=A4,
        leftMargin=20 * mm,
        rightMargin=20 * mm,
        topMargin=22 * mm,
        bottomMargin=20 * mm,
        title=f"Report: {report.title}",
        author="vdp",
        invariant=1,
    )
    frame = Frame(20 * mm, 20 * mm, A4[0] - 40 * mm, A4[1] - 42 * mm, 0, 0, 0, 0)

    def furniture(canvas: Canvas, _: BaseDocTemplate) -> None:
        canvas.setFont("Report", 7.5)
        canvas.setFillColor(QUIET)
        canvas.drawString(20 * mm, 12 * mm, report.title)
        canvas.drawRightString(A4[0] - 20 * mm, 12 * mm, str(canvas.getPageNumber()))

    document.addPageTemplates(PageTemplate("page", [frame], onPage=furniture))
    document.build(list(_story(report)))
    path.write_bytes(buffer.getvalue())


def _style(size: float, colour: CMYKColor = INK, before: float = 0, after: float = 2) -> ParagraphStyle:
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


BODY = _style(9)
SMALL = _style(8, QUIET)
HEAD = _style(12.5, INK, before=14, after=5)
HEAD.keepWithNext = 1


def _text(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    return Paragraph(escape(text), style)


def _story(report: Report) -> Sequence[Flowable]:
    story: list[Flowable] = [
        _text(report.title, _style(20, after=4)),
        _text(
            "Every check passed." if report.good else f"{len(report.findings)} findings: not fit for the press.",
            _style(12.5, GOOD if report.good else BAD, after=8),
        ),
        _grid([[_text(k, SMALL), _text(v)] for k, v in report.facts], (45, 125)),
        _text("What was checked, and how", HEAD),
        _grid(
            [
                [
                    _text("good" if c.good else "bad", _style(9, GOOD if c.good else BAD)),
                    _text(c.what),
                    _text(c.how, SMALL),
                    _text(c.count),
                ]
                for c in report.checks
            ],
            (12, 45, 83, 30),
        ),
    ]
    if report.graded is not None:
        story += [_text("Symbols, printed by simulation", HEAD), _text(report.graded.note, SMALL)]
        story.append(_grid([[_text(cell, SMALL) for cell in row] for row in report.graded.rows], (45, 45, 30, 50)))
    story += _list("Findings", report.findings)
    story += _list("Warnings", report.warnings)
    if report.set_aside:
        story.append(_text(f"Rows set aside ({len(report.set_aside)})", HEAD))
        rows = [[_text(str(row)), _text(reason, SMALL)] for row, reason in report.set_aside[:MOST_FINDINGS]]
        story.append(_grid(rows, (20, 150)))
        story += _more(len(report.set_aside))
    story.append(Spacer(1, 5 * mm))
    story += [_shown(shown) for shown in report.shown]
    story.append(KeepTogether([_text("Cautions", HEAD), *(_text(caution, SMALL) for caution in CAUTIONS)]))
    return story


def _list(title: str, findings: Sequence[Finding]) -> list[Flowable]:
    if not findings:
        return []
    rows = [[_text(f.code), _text(f.where, SMALL), _text(f.message, SMALL)] for f in findings[:MOST_FINDINGS]]
    return [_text(f"{title} ({len(findings)})", HEAD), _grid(rows, (35, 45, 90)), *_more(len(findings))]


def _more(count: int) -> list[Flowable]:
    return [_text(f"… and {count - MOST_FINDINGS} more in report.json", SMALL)] if count > MOST_FINDINGS else []


def _grid(rows: list[list[Paragraph]], widths_mm: tuple[float, ...]) -> Table:
    table = Table(
        rows or [[_text("none", SMALL)]], colWidths=[w * mm for w in widths_mm][: len(rows[0]) if rows else 1]
    )
    table.hAlign = "LEFT"
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 2.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ]
    )
    return table


def _shown(shown: Shown) -> Flowable:
    width = 170 * mm / max(1, len(shown.views)) - 3 * mm
    cells: list[list[Flowable]] = [[], []]
    for view in shown.views:
        pixels = ImageReader(io.BytesIO(view.png)).getSize()
        scale = min(width / pixels[0], 92 * mm / pixels[1])
        cells[0].append(Image(io.BytesIO(view.png), pixels[0] * scale, pixels[1] * scale))
        cells[1].append(_text(view.label, SMALL))
    table = Table(cells, colWidths=[width + 3 * mm] * len(shown.views))
    table.hAlign = "LEFT"
    table.setStyle(
        [
            ("ALIGN", (0, 0), (-1, 0), "CENTER"),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            *(("BOX", (at, 0), (at, 0), 0.4, RULE) for at in range(len(shown.views))),
        ]
    )
    return KeepTogether([_text(shown.title), table, Spacer(1, 4 * mm)])
