"""`vdp check`: everything that can be known before composing."""

from __future__ import annotations

import time
from pathlib import Path

from vdp.run.allot import foreseen, missing_numbers
from vdp.run.artwork import judge_art
from vdp.run.desk import desk_of, ledger_of
from vdp.run.finishing import judge_finishing
from vdp.run.intake import take_in
from vdp.run.numbers import Numbers
from vdp.run.opening import open_job
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.specimen import specimen_for
from vdp.run.web import lay_out


def check_job(path: Path, *, records: Path | None, screen: Screen, pictures: Path | None = None) -> Result:
    """Reads job, layout, art and every record.  Not ok when rows are set aside and the job says `set_aside: stop`, or
    when artwork cannot be used.  `pictures` is a folder for a PNG of each place that artwork is blamed for."""
    begun = time.monotonic()
    desk = desk_of()
    opened = open_job(path, records, desk.environ)
    with ledger_of(opened.job, desk, write=False) as ledger:
        numbers = Numbers(opened.job, opened.series, foreseen(opened, ledger))
    with screen.step("checking", None, "records") as progress:
        intake = take_in(opened.plan, opened.table, numbers, progress)
    if intake.pieces:
        laid = lay_out(opened.job, intake.pieces)
        specimen_for(intake, laid)
        intake.warnings += laid.cautions if laid is not None else ()
    missing = missing_numbers(intake)
    stop = opened.job.model.set_aside == "stop"
    artwork = judge_art(intake.plan, pictures)
    artwork.findings += judge_finishing(intake.plan)
    refused = [(row.row, "; ".join(reasons)) for row, reasons in intake.refused]
    languages = ", ".join(f"{count} {language or '—'}" for language, count in intake.languages.most_common())
    return Result(
        ok=intake.pieces > 0 and not artwork.findings and not (stop and (refused or missing)),
        title=f"{opened.job.model.job}: checked, nothing composed",
        records=intake.records,
        pieces=intake.pieces,
        set_aside=len(refused),
        findings=[*artwork.findings, *(missing if stop else ())],
        warnings=[*artwork.warnings, *intake.warnings, *(() if stop else missing)],
        refused=refused,
        seconds={"check": time.monotonic() - begun},
        last=f"languages {languages}" if intake.pieces else "no record can be set",
    )
