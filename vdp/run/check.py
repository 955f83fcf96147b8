"""`vdp check`: everything that can be known before composing."""

from __future__ import annotations

import time
from pathlib import Path

from vdp.run.artwork import judge_art
from vdp.run.intake import take_in
from vdp.run.opening import open_job
from vdp.run.result import Result
from vdp.run.screen import Screen


def check_job(path: Path, *, records: Path | None, screen: Screen, pictures: Path | None = None) -> Result:
    """Reads job, layout, art and every record.  Not ok when rows are set aside and the job says `set_aside: stop`, or
    when artwork cannot be used.  `pictures` is a folder for a PNG of each place that artwork is blamed for."""
    begun = time.monotonic()
    opened = open_job(path, records)
    with screen.step("checking", None, "records") as progress:
        intake = take_in(opened.plan, opened.table, progress)
    artwork = judge_art(intake.plan, pictures)
    refused = [(row.row, "; ".join(reasons)) for row, reasons in intake.refused]
    languages = ", ".join(f"{count} {language or '—'}" for language, count in intake.languages.most_common())
    return Result(
        ok=intake.pieces > 0 and not artwork.findings and (not refused or opened.job.model.set_aside == "continue"),
        title=f"{opened.job.model.job}: checked, nothing composed",
        records=intake.records,
        pieces=intake.pieces,
        set_aside=len(refused),
        findings=artwork.findings,
        warnings=[*artwork.warnings, *intake.warnings],
        refused=refused,
        seconds={"check": time.monotonic() - begun},
        last=f"languages {languages}" if intake.pieces else "no record can be set",
    )
