"""`vdp verify`: a finished run folder judged again."""

from __future__ import annotations

import json
from pathlib import Path

from vdp.errors import CallerError, Finding
from vdp.job.load import load_job
from vdp.records.table import open_table
from vdp.run.clock import Stopwatch
from vdp.run.grades import grades_told
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.verify.judge import verify_folder


def verify_again(folder: Path, *, job: Path | None, records: Path | None, workers: int, screen: Screen) -> Result:
    """From the files alone, or against job and records.  Raises CallerError when the inputs have changed since."""
    if records is not None and job is None:
        raise CallerError.one("--records", "needs --job as well: only the job says what a record must become")
    watch = Stopwatch()
    loaded = load_job(job, records) if job is not None else None
    table = None
    if loaded is not None:
        table = open_table(loaded.records_path, loaded.model.records, str(loaded.records_path))
    with watch("verify"), screen.step("verifying", None, "pages") as tell:
        verdict = verify_folder(folder, loaded, table, workers=workers, progress=tell)
    findings = [*verdict.findings, *own_findings(folder)]
    return Result(
        ok=not findings,
        title=f"{folder}: {'each piece held against its own row' if table else 'from the files alone'}",
        records=verdict.pieces + verdict.set_aside,
        pieces=verdict.pieces,
        set_aside=verdict.set_aside,
        symbols_expected=verdict.symbols_expected,
        symbols_decoded=verdict.symbols_decoded,
        serials=verdict.serials,
        serials_unique=verdict.serials_unique,
        findings=findings,
        folder=str(folder),
        seconds=watch.seconds,
        told=grades_told(verdict),
        last="every check passed" if not findings else "do not print: see the findings",
    )


def own_findings(folder: Path) -> list[Finding]:
    """What the run's own report says against it: that it never ended, or that it found something."""
    try:
        report = json.loads((folder / "report.json").read_bytes())
        verified, told = report["verified"], report["findings"]
        found = [Finding(str(f["code"]), str(f["where"]), str(f["message"])) for f in told]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []  # a report that cannot be read is among the verifier's own findings
    if verified is not True:
        why = f": {found[0].message}" if found else ""
        return [Finding("run-unfinished", "report.json", f"the run ended before its files were verified{why}")]
    return [Finding("run-condemned", f.where, f"the run itself found {f.code}: {f.message}") for f in found]
