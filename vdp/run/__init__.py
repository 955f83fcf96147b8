"""The whole job on one screen: read, fit, compose, write, verify, report."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from vdp.errors import CallerError, Finding, OurBug
from vdp.numbering.allot import NumbersMoved
from vdp.numbering.ledger import Ledger
from vdp.records.setaside import write_set_aside
from vdp.run.allot import TRIES, allot_run, follows, foreseen, issue, missing_numbers, numbers_told
from vdp.run.artwork import judge_art
from vdp.run.clock import Stopwatch
from vdp.run.cluster import Cluster, reached
from vdp.run.desk import Desk, desk_of, ledger_of
from vdp.run.finishing import judge_finishing
from vdp.run.folder import FILES, clear, held, prepare, present, sha256_of, spare_sealed
from vdp.run.grades import grades_told
from vdp.run.identity import identity_of, inputs_of
from vdp.run.intake import Intake, take_in
from vdp.run.make import Made, book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened, open_job
from vdp.run.packing import put_packing
from vdp.run.progress import Live, lived
from vdp.run.reporting import put_report, put_report_pdf
from vdp.run.rest import collector_at_rest
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.sheets import lay_sheets
from vdp.run.signoff import Approved, check_approved, check_before, read_approval
from vdp.run.specimen import Specimen, specimen_for
from vdp.run.ticket import put_tickets
from vdp.run.toner import Toner, measure_run
from vdp.run.web import Laid, lay_out
from vdp.run.workers import Begun, at_hand
from vdp.verify.judge import verify_folder
from vdp.verify.verdict import CheckDone, Verdict


class Approval(NamedTuple):
    """A run is to be made under an approval: the file that holds it, and the public key of who must have signed; None
    for the file beside the job, and for whoever signed."""

    place: Path | None = None
    customer: Path | None = None


def run_job(
    path: Path,
    *,
    records: Path | None,
    out: Path | None,
    workers: int,
    screen: Screen,
    cluster: str | None = None,
    desk: Desk | None = None,
    approval: Approval | None = None,
) -> Result:
    """Runs a job into its folder.  Raises CallerError for the caller's mistakes; findings are in the Result.

    `cluster` is the address of a Dask scheduler, whose machines then work instead of `workers` processes.  `desk` says
    who makes the run and when (this process's user and clock by default).  With `approval` nothing is made, and no
    number taken, unless everything is as it was approved.
    """
    desk = desk if desk is not None else desk_of()
    watch = Stopwatch()
    opened = open_job(path, records, desk.environ)
    approved: Approved | None = None
    if approval is not None:
        approved = read_approval(opened.job, *approval)
        opened = replace(opened, approval=approved.as_json())
    folder = out if out is not None else opened.job.folder / "out"
    job, near = opened.job, 1 if cluster is not None else workers
    with (
        ledger_of(job, desk) as ledger,
        lived(screen, folder) as live,
        at_hand(near, job.path, job.records_path, opened.table.header) as begun,
    ):
        firsts = foreseen(opened, ledger)
        for _ in range(TRIES):
            numbers = Numbers(opened.job, opened.series, firsts)
            if approved is not None:
                check_before(approved, opened, numbers)
            with watch("check"), collector_at_rest(), live.step("checking", opened.table.count, "records") as tell:
                intake = take_in(opened.plan, opened.table, numbers, tell, live.found)
                artwork = judge_art(intake.plan)
                artwork.findings += judge_finishing(intake.plan)
                intake.warnings[:0] = artwork.warnings
                laid = lay_out(opened.job, intake.pieces) if intake.pieces else None
                specimen = specimen_for(intake, laid)
                intake.warnings += laid.cautions if laid is not None else ()
            if approved is not None:
                check_approved(approved, opened, intake)
                intake.warnings += approved.warnings()
            prepare(folder, run=True)
            try:
                with held(folder), reached(cluster) as far:
                    blamed = artwork.findings
                    return _make(
                        opened, intake, blamed, laid, specimen, folder, workers, begun, far, live, watch, ledger
                    )
            except NumbersMoved as moved:
                firsts = moved.firsts
    raise CallerError.one("ledger", "other runs kept taking numbers while the records were read", "run again")


def _make(
    opened: Opened,
    intake: Intake,
    blamed: list[Finding],
    laid: Laid | None,
    specimen: Specimen | None,
    folder: Path,
    workers: int,
    begun: Begun | None,
    cluster: Cluster | None,
    screen: Live,
    watch: Stopwatch,
    ledger: Ledger | None,
) -> Result:
    """Everything that writes into the run folder, and into the ledger."""
    pictures = intake.plan.pictures
    spare_sealed(folder, lambda: identity_of(inputs_of(opened.job, opened.table, intake.plan, pictures)).hex())
    clear(folder, [*FILES, *present(folder)])
    write_set_aside(folder / "set_aside.csv", opened.table.header, intake.refused)
    missing = missing_numbers(intake)
    if opened.job.model.set_aside == "stop":
        blamed = [*blamed, *missing]
    else:
        intake.warnings += missing
    if blamed or intake.pieces == 0 or (intake.refused and opened.job.model.set_aside == "stop"):
        return _stopped(opened, intake, blamed, folder, watch)
    allotted = allot_run(opened, intake, ledger)
    with watch("compose"), collector_at_rest(), screen.step("composing", intake.pieces, "pieces") as tell:
        book = book_of(intake.plan, opened.table, intake.pieces, intake.numbers.firsts)
        made = make(
            intake.plan,
            intake.accepted(),
            book,
            folder,
            workers=workers,
            header=opened.table.header,
            tell=tell,
            cluster=cluster,
            begun=begun,
        )
    if made.pieces != intake.pieces:
        raise OurBug(f"{intake.pieces} records accepted, {made.pieces} pieces made")
    sheets = None
    if laid is not None:
        with watch("sheets"), screen.step("laying", laid.frames, "frames") as tell:
            sheets = lay_sheets(folder, book, laid, opened.job, tell, specimen=specimen)
            intake.warnings += put_tickets(folder, intake.plan, laid)
            put_packing(folder, opened.job, laid.run)
    put_report(folder, opened, intake, made, None, allotted=allotted, sheets=sheets)
    pages = 2 * made.pieces + (0 if laid is None else 2 * laid.frames)
    with watch("verify"), screen.step("verifying", pages, "pages") as tell:
        elsewhere = cluster.elsewhere if cluster is not None else None
        verdict = verify_folder(
            folder, opened.job, opened.table, workers=workers, progress=tell, elsewhere=elsewhere, found=screen.found
        )
    with watch("toner"):
        toner = measure_run(folder, opened.job, made.pieces)
    verdict = _with_toner(verdict, toner)
    if not verdict.findings:
        issue(allotted, ledger, sha256_of(folder / "pieces.jsonl"))
    put_report(folder, opened, intake, made, verdict, toner=toner, allotted=allotted, sheets=sheets)
    with watch("report"):
        put_report_pdf(folder, opened, intake, verdict, toner, allotted)
    result = _finished(opened, intake, made, verdict, folder, watch)
    if allotted is not None and ledger is not None:
        result.told += numbers_told(allotted, intake)
        result.warnings += follows(allotted, ledger)
    return result


def _with_toner(verdict: Verdict, toner: Toner | None) -> Verdict:
    """What the measurement found counts like everything that the verifier found."""
    if toner is None:
        return verdict
    how = f"{toner.pages} pages at 150 dpi from their plate copies"
    most = f"{toner.most:.0f} % at most"
    done = CheckDone("Toner", how, most, not toner.findings)
    return replace(verdict, findings=[*verdict.findings, *toner.findings], checks=(*verdict.checks, done))


def _stopped(opened: Opened, intake: Intake, blamed: list[Finding], folder: Path, watch: Stopwatch) -> Result:
    """Rows were refused and the job says stop, nothing is left to compose, or the artwork cannot be used."""
    stop = opened.job.model.set_aside == "stop"
    why = (
        "no record can be set, so nothing was composed"
        if not intake.pieces
        else "the job says set_aside: stop, so nothing was composed: mend the rows in set_aside.csv, or say continue"
        if intake.refused and stop
        else "numbers are missing from the records, so nothing was composed: mend the list, or the stated range"
        if any(finding.code == "numbers-missing" for finding in blamed)
        else "the artwork cannot be used, so nothing was composed: mend it, or accept its code (artwork: {accept: …})"
    )
    result = _result(opened, intake, folder, watch)
    if intake.refused and (stop or not intake.pieces):
        refused = f"{len(intake.refused)} rows refused; {why}"
        result.findings.append(Finding("rows-refused", opened.table.shown, refused))
    result.findings += blamed
    result.last = why
    put_report(folder, opened, intake, None, None, result.findings)
    result.files = present(folder)
    return result


def _finished(opened: Opened, intake: Intake, made: Made, verdict: Verdict, folder: Path, watch: Stopwatch) -> Result:
    result = _result(opened, intake, folder, watch)
    result.ok = not verdict.findings
    result.pieces = made.pieces
    result.symbols_expected, result.symbols_decoded = verdict.symbols_expected, verdict.symbols_decoded
    result.serials, result.serials_unique = verdict.serials, verdict.serials_unique
    result.findings += verdict.findings
    result.told += grades_told(verdict)
    result.files = present(folder)
    result.last = "every check passed" if result.ok else "do not print: see the findings"
    return result


def _result(opened: Opened, intake: Intake, folder: Path, watch: Stopwatch) -> Result:
    return Result(
        ok=False,
        title=opened.job.model.job,
        records=intake.records,
        pieces=intake.pieces,
        set_aside=len(intake.refused),
        warnings=list(intake.warnings),
        refused=[(row.row, "; ".join(reasons)) for row, reasons in intake.refused],
        folder=str(folder),
        seconds=watch.seconds,
    )
