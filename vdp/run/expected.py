"""A run of a job as it would come out now: first pass done, numbers foreseen, nothing composed, taken or written.

With a finished run's folder it is that run: its numbers, and only if nothing that went in has changed since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vdp.compose.piece import Accepted
from vdp.errors import CallerError
from vdp.proof.basis import proof_hash
from vdp.proof.choose import MOST, SAMPLE, SEED, Choice, choose
from vdp.run.allot import foreseen
from vdp.run.basis import basis_of
from vdp.run.desk import Desk, desk_of, ledger_of
from vdp.run.intake import Intake, take_in
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened, open_job
from vdp.run.screen import Screen
from vdp.run.web import Laid, lay_out
from vdp.verify.doubt import Unreadable
from vdp.verify.inputs import check_inputs
from vdp.verify.manifest import RunReport, read_report


@dataclass(frozen=True, slots=True)
class Expected:
    """`basis` is what a customer approves of it (`vdp.proof.basis`); `laid` None for a job without a web; `folder` the
    finished run's, None where there is none yet."""

    opened: Opened
    intake: Intake
    laid: Laid | None
    basis: Mapping[str, Any]
    folder: Path | None

    @property
    def proof(self) -> str:
        """The hash that a proof of it carries."""
        return proof_hash(self.basis)

    def choose(
        self,
        screen: Screen,
        *,
        sample: int = SAMPLE,
        seed: int = SEED,
        most: int = MOST,
        wanted: Mapping[int, str] | None = None,
        note: Callable[[Accepted], None] | None = None,
    ) -> Choice:
        """The pieces to look at; one more reading of the records, of which `note` is told each.

        Raises CallerError for a wanted piece that there is not."""
        intake = self.intake
        strangers = [piece for piece in wanted or {} if not 1 <= piece <= intake.pieces]
        if strangers:
            message = f"there is no piece {strangers[0]}: the run has {intake.pieces:,}"
            raise CallerError.one("--piece", message, "name another")
        order = self.laid.run if self.laid is not None else None
        with screen.step("choosing", intake.pieces, "records") as tell:
            return choose(
                intake.plan,
                _noted(intake.accepted(), note),
                intake.pieces,
                order,
                sample=sample,
                seed=seed,
                most=most,
                wanted=wanted,
                tell=tell,
            )


def expect(
    path: Path, *, records: Path | None, screen: Screen, run: Path | None = None, desk: Desk | None = None
) -> Expected:
    """Reads a job and tries every record.  Raises CallerError when no record can be set, and, with `run`, when it is
    no finished run of exactly this job, these records, this artwork and these fonts."""
    desk = desk if desk is not None else desk_of()
    opened = open_job(path, records, desk.environ)
    if run is None:
        with ledger_of(opened.job, desk, write=False) as ledger:
            firsts: Mapping[str, int] = foreseen(opened, ledger)
    else:
        firsts = _report_of(run, opened).firsts
    counted = {name: first for name, first in firsts.items() if opened.job.model.series[name].column is None}
    with screen.step("checking", opened.table.count, "records") as tell:
        intake = take_in(opened.plan, opened.table, Numbers(opened.job, opened.series, counted), tell)
    if not intake.pieces:
        raise CallerError.one(opened.table.shown, "no record can be set: there is nothing to proof", "see vdp check")
    return Expected(opened, intake, lay_out(opened.job, intake.pieces), basis_of(opened, intake), run)


def _noted(records: Iterator[Accepted], note: Callable[[Accepted], None] | None) -> Iterator[Accepted]:
    for record in records:
        if note is not None:
            note(record)
        yield record


def _report_of(run: Path, opened: Opened) -> RunReport:
    """Raises CallerError for another run, and for a reprint, whose proof is that of the first printing."""
    try:
        report = read_report(run / "report.json")
    except Unreadable as doubt:
        raise CallerError.one(str(run), f"is not a finished run: {doubt}", "name the folder of a run") from doubt
    if report.reprinted is not None:
        raise CallerError.one(str(run), "is a reprint", "name the folder of the run that it repeats")
    check_inputs(report, opened.job, opened.table)
    unknown = sorted(set(report.firsts) ^ set(opened.job.model.series))
    if unknown:
        raise CallerError.one(str(run), f"its report and the job do not have the same series: {', '.join(unknown)}")
    return report
