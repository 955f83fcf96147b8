"""report.pdf: what was made, what was checked and how, what was found, and pictures of the pieces that matter.

Facts and pictures come in ready; nothing here opens a job, a layout or a finished file.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Image, KeepTogether, Spacer, Table

from vdp.audit.setting import BAD, GOOD, HEAD, NOTE, RULE, SMALL, flowing, grid, put_story, style, text
from vdp.errors import Finding

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
    put_story(path, report.title, lambda: _story(report), face)


def _story(report: Report) -> Sequence[Flowable]:
    story: list[Flowable] = [
        text(report.title, style(20, after=4)),
        text(
            "Every check passed." if report.good else f"{len(report.findings)} findings: not fit for the press.",
            style(12.5, GOOD if report.good else BAD, after=8),
        ),
        grid([[text(k, SMALL), text(v)] for k, v in report.facts], (45, 125)),
        text("What was checked, and how", HEAD),
        check_table(report.checks),
    ]
    if report.graded is not None:
        story += [text("Symbols, printed by simulation", HEAD), text(report.graded.note, SMALL)]
        story.append(grid([[text(cell, SMALL) for cell in row] for row in report.graded.rows], (45, 45, 30, 50)))
    story += _list("Findings", report.findings)
    story += _list("Warnings", report.warnings)
    if report.set_aside:
        story.append(text(f"Rows set aside ({len(report.set_aside)})", HEAD))
        rows = [[text(str(row)), text(reason, NOTE)] for row, reason in report.set_aside[:MOST_FINDINGS]]
        story += flowing(rows, (20, 150))
        story += _more(len(report.set_aside))
    story.append(Spacer(1, 5 * mm))
    story += [_shown(shown) for shown in report.shown]
    story.append(KeepTogether([text("Cautions", HEAD), *(text(caution, SMALL) for caution in CAUTIONS)]))
    return story


def check_table(checks: Sequence[Check]) -> Table:
    """What was checked, how, how often, and whether it was good."""
    rows = [
        [
            text("good" if c.good else "bad", style(9, GOOD if c.good else BAD)),
            text(c.what),
            text(c.how, SMALL),
            text(c.count),
        ]
        for c in checks
    ]
    return grid(rows, (12, 45, 83, 30))


def _list(title: str, findings: Sequence[Finding]) -> list[Flowable]:
    if not findings:
        return []
    rows = [[text(f.code), text(f.where, NOTE), text(f.message, NOTE)] for f in findings[:MOST_FINDINGS]]
    return [text(f"{title} ({len(findings)})", HEAD), *flowing(rows, (35, 45, 90)), *_more(len(findings))]


def _more(count: int) -> list[Flowable]:
    return [text(f"… and {count - MOST_FINDINGS} more in report.json", SMALL)] if count > MOST_FINDINGS else []


def _shown(shown: Shown) -> Flowable:
    width = 170 * mm / max(1, len(shown.views)) - 3 * mm
    cells: list[list[Flowable]] = [[], []]
    for view in shown.views:
        pixels = ImageReader(io.BytesIO(view.png)).getSize()
        scale = min(width / pixels[0], 92 * mm / pixels[1])
        cells[0].append(Image(io.BytesIO(view.png), pixels[0] * scale, pixels[1] * scale))
        cells[1].append(text(view.label, SMALL))
    table = Table(cells, colWidths=[width + 3 * mm] * len(shown.views))
    table.hAlign = "LEFT"
    table.setStyle(
        [
            ("ALIGN", (0, 0), (-1, 0), "CENTER"),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            *(("BOX", (at, 0), (at, 0), 0.4, RULE) for at in range(len(shown.views))),
        ]
    )
    return KeepTogether([text(shown.title), table, Spacer(1, 4 * mm)])
