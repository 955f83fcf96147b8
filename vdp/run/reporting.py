"""report.json and report.pdf of a run: what went in, what came out, what was checked and found.

Neither tells how long anything took: the same input gives the same report.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

from vdp import __version__
from vdp.audit.report import Check, Report, Shown, View, write_report
from vdp.errors import Finding
from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.run.allot import Allotted
from vdp.run.folder import present, put_json, sha256_of
from vdp.run.grades import graded_shown, graded_table
from vdp.run.identity import faces_of, identity_of, inputs_of
from vdp.run.intake import Intake
from vdp.run.loupe import loupe_shown, thinnest_json
from vdp.run.make import Made
from vdp.run.opening import Opened
from vdp.run.strips import strips_of_run
from vdp.run.symbols import symbol_sizes
from vdp.run.toner import Toner
from vdp.units import mm
from vdp.verify.conformance.judge import PDFVT
from vdp.verify.grade.rules import rules_of
from vdp.verify.inputs import accepted_losses
from vdp.verify.verdict import Verdict

#: Pieces with findings that are shown in the report.
MOST_WORST = 3


class Reprinted(Protocol):
    """A reprint, as its report tells of it (`reprint.Reprint`)."""

    @property
    def run(self) -> str: ...

    def as_json(self) -> dict[str, Any]: ...

    def ledger_json(self) -> dict[str, Any]: ...


def put_report(
    folder: Path,
    opened: Opened,
    intake: Intake,
    made: Made | None,
    verdict: Verdict | None,
    findings: Sequence[Finding] = (),
    toner: Toner | None = None,
    allotted: Allotted | None = None,
    sheets: Mapping[str, Any] | None = None,
    reprint: Reprinted | None = None,
) -> None:
    """Writes report.json.  Before the verdict is known the report says `ok: false` and `verified: false`."""
    inputs = inputs_of(opened.job, opened.table, intake.plan, intake.plan.pictures)
    found = [*findings, *(verdict.findings if verdict is not None else ())]
    report: dict[str, Any] = {
        "vdp": __version__,
        "job": opened.job.model.job,
        "run": identity_of(inputs).hex() if reprint is None else reprint.run,
        "ok": verdict is not None and not found,
        "verified": verdict is not None,
        "records": intake.records,
        "pieces": made.pieces if made is not None else intake.pieces,
        "composed": made is not None,
        "set_aside": len(intake.refused),
        "symbols_expected": verdict.symbols_expected if verdict is not None else 0,
        "symbols_decoded": verdict.symbols_decoded if verdict is not None else 0,
        "serials": verdict.serials if verdict is not None else 0,
        "serials_unique": verdict.serials_unique if verdict is not None else 0,
        "languages": dict(sorted(intake.languages.items())),
        "resolution": opened.job.model.resolution,
        "standard": PDFVT if made is not None and opened.job.model.colour.profile is not None else "",
        "human_text": strips_of_run(intake.plan),
        "losses_accepted": [list(sizes) for sizes in accepted_losses(opened.job)],
        "spots": list(opened.job.model.spots),
        "sizes": dict(sorted(intake.plan.needs.items())),
        "symbols": symbol_sizes(intake.plan),
        "inputs": inputs,
        "ledger": allotted.as_json()
        if allotted is not None
        else reprint.ledger_json()
        if reprint is not None
        else None,
        "reprint": reprint.as_json() if reprint is not None else None,
        "approval": opened.approval,
        "faces": faces_of(opened.job, made.fonts) if made is not None else {},
        "files": {name: sha256_of(folder / name) for name in present(folder) if not name.startswith("report.")},
        "sheets": sheets,
        "toner": toner.as_json() if toner is not None else None,
        "grade": rules_of(opened.job.model.grade).as_json(),
        "grades": verdict.grades.as_json() if verdict is not None and verdict.grades is not None else None,
        "findings": [finding.as_json() for finding in found],
        "thinnest": thinnest_json(verdict.thinnest) if verdict is not None else None,
        "warnings": [_placed(warning, opened.job).as_json() for warning in intake.warnings],
    }
    put_json(folder / "report.json", report)


def _placed(warning: Finding, job: Job) -> Finding:
    """Places in the job's files by their names alone: a report is the same wherever the job's folder lies."""
    for name, path in (("job", job.path), ("layout", job.layout_path)):
        shown = f"{job.documents[name].shown}:"
        if warning.where.startswith(shown):
            return replace(warning, where=f"{path.name}:{warning.where.removeprefix(shown)}")
    return warning


def put_report_pdf(
    folder: Path,
    opened: Opened,
    intake: Intake,
    verdict: Verdict,
    toner: Toner | None,
    allotted: Allotted | None,
) -> None:
    """Writes report.pdf."""
    job = opened.job
    series = [f"{name}: {first} to {intake.ends[1][name]}" for name, first in intake.ends[0].items()]
    languages = ", ".join(f"{language or '—'} {count}" for language, count in intake.languages.most_common())
    trim, page = job.layout.trim, intake.plan.page
    facts = (
        ("Records", f"{intake.records} = {intake.pieces} pieces + {len(intake.refused)} set aside"),
        ("Recipient list", f"{opened.table.path.name}, SHA-256 {opened.table.sha256[:16]}…"),
        ("Languages", languages),
        ("Serials", "; ".join(series) or "none"),
        ("Trim", f"{mm(trim[0]):g} × {mm(trim[1]):g} mm ({page.trim[2]} × {page.trim[3]} dots at {page.dpi} dpi)"),
        ("Plates", ", ".join(("Cyan", "Magenta", "Yellow", "Black", *job.model.spots))),
        *_ledger_facts(allotted),
        *_approval_facts(opened),
        *_toner_facts(toner),
    )
    report = Report(
        title=job.model.job,
        good=not verdict.findings,
        facts=facts,
        checks=tuple(Check(c.what, c.how, c.count, c.good) for c in verdict.checks),
        findings=tuple(verdict.findings),
        warnings=tuple(_placed(warning, job) for warning in intake.warnings),
        set_aside=tuple((row.row, "; ".join(reasons)) for row, reasons in intake.refused),
        graded=graded_table(verdict.grades),
        shown=(
            *_shown(folder, intake.pieces, verdict),
            *graded_shown(verdict.grades),
            *loupe_shown(folder, tuple(job.model.spots), verdict.thinnest, page.dpi),
            *_toner_shown(toner),
        ),
    )
    write_report(folder / "report.pdf", report, job_faces(job)["sans"].path)


def _ledger_facts(allotted: Allotted | None) -> tuple[tuple[str, str], ...]:
    """The entry of the ledger by which the run has its numbers."""
    return () if allotted is None else (("Ledger", f"entry {allotted.head.seq}, SHA-256 {allotted.head.hash}"),)


def _approval_facts(opened: Opened) -> tuple[tuple[str, str], ...]:
    """Who approved what, where a run was made under an approval."""
    told = opened.approval
    return () if told is None else (("Approved", f"by {told['name']}, {told['time']}, proof {told['proof']}"),)


def _toner_facts(toner: Toner | None) -> tuple[tuple[str, str], ...]:
    """Areas and grams, as far as they were measured."""
    if toner is None or not toner.pages:
        return ()
    areas = ", ".join(f"{plate} {area:.1f} %" for plate, area in toner.areas.items())
    grams = ", ".join(f"{plate} {grams:,.0f} g" for plate, grams in toner.grams.items())
    return (
        ("Area of each plate", f"{areas} (mean of {toner.pages} pages)"),
        ("Toner for the run", f"about {grams}"),
        ("Thickest place", f"{toner.most:.0f} %: {toner.where}"),
    )


def _toner_shown(toner: Toner | None) -> tuple[Shown, ...]:
    if toner is None or not toner.picture:
        return ()
    view = View(
        "total of the process plates: pale is little, amber is the job's limit, dark red is far over", toner.picture
    )
    return (Shown(f"Toner on the page with the thickest place ({toner.where})", (view,)),)


def _shown(folder: Path, pieces: int, verdict: Verdict) -> tuple[Shown, ...]:
    """First, last and the worst pieces: front and back as printed, and the spot plates alone."""
    from vdp.verify.pictures import piece_views  # noqa: PLC0415

    chosen = {1: "first", pieces: "last"}
    for piece in verdict.worst[:MOST_WORST]:
        chosen[piece] = "with findings"
    shown = []
    for piece, why in sorted(chosen.items()):
        views = tuple(View(label, png) for label, png in piece_views(folder / "pieces.pdf", piece))
        shown.append(Shown(f"Piece {piece}: {why}", views))
    return tuple(shown)
