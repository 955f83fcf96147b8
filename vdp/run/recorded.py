"""What a line saw, told to the ledger: good, missing, kept and spoiled copies, and those printed once too often.

Only what the ledger does not say yet is told, so that the same reads told again add nothing, and later reads mend what
earlier ones said.  A copy that a reprint was begun of keeps what was told of it.  Not here: what the line saw
(`vdp.audit.reconcile`), adding up (`account`).
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from pathlib import Path
from typing import Any

from vdp.audit.account import FATES, CopyName, Number, Stretch, stretches
from vdp.audit.copies import Made
from vdp.audit.reconcile import Reconciled
from vdp.errors import CallerError, Finding
from vdp.job.load import Job, load_job
from vdp.numbering.entry import AGAIN, EXTRA, Event
from vdp.numbering.ledger import Ledger
from vdp.plan.numbering import numbering_of
from vdp.run.desk import Desk, ledger_of
from vdp.run.folder import sha256_of
from vdp.run.source import index_of, job_beside, kept_as_of, origin_of


@dataclass(frozen=True, slots=True)
class Recorder:
    """A run folder whose copies the ledger is to be told of, from reads of this SHA-256."""

    folder: Path
    report: Mapping[str, Any]
    job: Job
    desk: Desk
    reads: str

    def tell(self, made: Sequence[Made], found: Reconciled) -> tuple[int, list[Finding]]:
        """The count of new entries, and copies that are good although they were made again.

        Raises CallerError when the ledger never gave these numbers to this run.
        """
        with ledger_of(self.job, self.desk) as ledger:
            if ledger is None:
                raise CallerError.one(str(self.job.path), "the job has no series: there is no ledger to tell")
            events: list[Event] = []
            findings: list[Finding] = []
            for nth, name in enumerate(self.report["ledger"]["series"]):
                new, twice = self._series(ledger, nth, name, made, found)
                events += new
                findings += twice if not nth else []
            return len(ledger.append(events)), findings

    def _series(
        self, ledger: Ledger, nth: int, name: str, made: Sequence[Made], found: Reconciled
    ) -> tuple[list[Event], list[Finding]]:
        run, kept_as = str(self.report["run"]), kept_as_of(self.report, name)
        indexes = self._indexes(ledger, nth, name, made)
        told = ledger.of_run(run)
        known = list(stretches(e for e in told if e.series == kept_as and e.kind in (*FATES, EXTRA, AGAIN)))
        events: list[_New] = []
        findings: list[Finding] = []
        for index, piece in sorted(zip(indexes, made, strict=True), key=lambda each: each[0]):
            number = _number(known, index)
            fates = found.fates[piece.piece]
            if again := number.again.get(CopyName(run, "")):
                if fates[:1] == ("good",):
                    message = f"it was read as good, and was made again in reprint {again[:12]}: one copy is too many"
                    findings.append(Finding("line-double", f"piece {piece.piece}, {piece.serials[nth]}", message))
                fates = ("", *fates[1:])
            events += _events(index, fates, number, run)
        job = str(self.job.model.job)
        detail = {"reads": self.reads}
        return [
            Event(kind, kept_as, first, last, run, job, detail | ({EXTRA: extra} if extra else {}))
            for kind, first, last, extra in _joined(events)
        ], findings

    def _indexes(self, ledger: Ledger, nth: int, name: str, made: Sequence[Made]) -> list[int]:
        series = numbering_of(self.job, self.desk.environ) if self.report["ledger"]["series"][name]["column"] else {}
        indexes = [
            index_of(self.report, series, name, piece.piece, piece.serials[nth], at) for at, piece in enumerate(made)
        ]
        given = ledger.given(kept_as_of(self.report, name), origin_of(self.report))
        never = [piece for index, piece in zip(indexes, made, strict=True) if not given.hold(index, index)]
        if never:
            message = f"the ledger {ledger.shown} never gave {never[0].serials[nth]} to this run"
            raise CallerError.one(f"series {name}", message, "is it the ledger of this run?")
        return indexes


def open_recorder(folder: Path, job: Path | None, desk: Desk, reads: Path) -> Recorder:
    """Raises CallerError for a folder that is no finished run, or not the one that its report tells of."""
    path = folder / "report.json"
    try:
        report = json.loads(path.read_bytes())
        told = report["files"]["pieces.jsonl"]
        good = report["ok"] is True and isinstance(report["ledger"]["series"], dict)
        _ = report["run"], report["reprint"], report["inputs"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CallerError.one(
            str(path), "is not the report of a run with series", "name the folder of a run"
        ) from error
    if not good:
        raise CallerError.one(str(path), "this run did not come to a good end; its pieces were not to be printed")
    for file in (folder / "pieces.jsonl", reads):
        if not file.is_file():
            raise CallerError.one(str(file), "is no file")
    if told != sha256_of(folder / "pieces.jsonl"):
        raise CallerError.one(str(folder / "pieces.jsonl"), "is not the file that report.json names")
    loaded = load_job(job if job is not None else job_beside(folder, report["inputs"]))
    return Recorder(folder, report, loaded, desk, sha256_of(reads))


def _number(known: Sequence[Stretch], index: int) -> Number:
    """What is told of a number of this run so far."""
    at = bisect_right(known, index, key=attrgetter("first")) - 1
    there = at >= 0 and known[at].last >= index
    return Number.of(known[at].entries if there else ())


#: Kind, index, and which copy it is about.
_New = tuple[str, int, str]


def _events(index: int, fates: Sequence[str], number: Number, run: str) -> Iterator[_New]:
    """What is new of one number: the copy that was wanted, and those printed once too often."""
    for nth, fate in enumerate(fates, 1):
        extra = str(nth) if nth > 1 else ""
        copy = CopyName(run, extra)
        if extra and copy not in number.made:
            yield EXTRA, index, extra
        if fate and number.fates.get(copy) != fate:
            yield fate, index, extra


def _joined(events: Sequence[_New]) -> Iterator[tuple[str, int, int, str]]:
    """Neighbours of which the same is told, as ranges."""
    begun: tuple[str, int, int, str] | None = None
    for kind, index, extra in events:
        if begun is not None and (begun[0], begun[3]) == (kind, extra) and begun[2] + 1 == index:
            begun = (kind, begun[1], index, extra)
            continue
        if begun is not None:
            yield begun
        begun = (kind, index, index, extra)
    if begun is not None:
        yield begun
