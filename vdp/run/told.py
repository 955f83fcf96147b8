"""`vdp ledger`: what the ledger tells of its series, of one number, of itself; and whether a serial is genuine.

Nothing here writes.  Not here: the ledger (`vdp.numbering`), reprints (`reprint`).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from vdp.errors import CallerError, Fault, Finding
from vdp.job.load import Job, load_job
from vdp.job.replacing import replacing
from vdp.numbering.entry import KINDS, Entry, Head
from vdp.numbering.ledger import Ledger, open_ledger
from vdp.numbering.series import Series
from vdp.numbering.store import ledger_place
from vdp.plan.numbering import numbering_of
from vdp.run.desk import desk_of
from vdp.run.result import Result


@contextmanager
def _opened(job: Job | None, place: str | None) -> Iterator[Ledger]:
    """The ledger named, or the job's, to read."""
    desk = desk_of()
    if place is None and job is None:
        raise CallerError.one("vdp ledger", "no ledger is named", "name a job, or --ledger PLACE")
    if place is None and job is not None:
        place = ledger_place(job.folder, job.model.ledger, desk.environ)
    with open_ledger(str(place), operator=desk.operator, now=desk.now, write=False, timeout=desk.timeout) as ledger:
        yield ledger


def told_list(path: Path | None, place: str | None, only: str | None, *, events: bool) -> Result:
    """Each series with its ranges; with `events` every entry."""
    job = load_job(path) if path is not None else None
    rows: list[tuple[str, str]] = []
    listed: list[dict[str, Any]] = []
    with _opened(job, place) as ledger:
        shown, head = ledger.shown, ledger.head()
        started = {name: entry for name, entry in ledger.series().items() if only in (None, name)}
        if only is not None and not started:
            raise CallerError.one(f"ledger {shown}", f"it has no series '{only}'")
        for name, entry in sorted(started.items()):
            ranges = ledger.ranges(name)
            given = sum(each.count for each in ranges)
            rows.append((name, f"{given:,} of {entry.count:,} numbers allotted, {entry.count - given:,} left"))
            if not events:
                listed += map(asdict, ranges)
                rows += [("", _line(each)) for each in ranges]
        for entry in ledger.entries() if events else ():
            if only in (None, entry.series):
                listed.append(asdict(entry))
                rows.append(("", _line(entry)))
    return Result(
        ok=True,
        title=f"ledger {shown}",
        told=rows,
        entries=listed,
        last=f"head: entry {head.seq}, SHA-256 {head.hash}",
    )


def told_history(path: Path, serial: str, place: str | None, only: str | None) -> Result:
    """Everything told of one serial.  Not ok when it was never issued."""
    job = load_job(path)
    series, index = read_serial(job, serial, only)
    with _opened(job, place) as ledger:
        entries = ledger.history(series.name, index)
    never = f"number {series.number(index)} of series {series.name} was never issued"
    findings = [] if entries else [Finding("ledger-unissued", f"serial {serial}", never)]
    return Result(
        ok=bool(entries),
        title=f"{serial}: number {series.number(index)} of series {series.name}",
        told=[("", _line(entry)) for entry in entries],
        entries=[asdict(entry) for entry in entries],
        findings=findings,
        last=KINDS[entries[-1].kind] if entries else "",
    )


def told_check(path: Path, serial: str, only: str | None) -> Result:
    """Whether a serial can be one of the job's.  Not ok, with the reasons, when it cannot."""
    job = load_job(path)
    try:
        series, index = read_serial(job, serial, only)
    except CallerError as error:
        findings = [Finding("serial-check", fault.where, fault.message) for fault in error.faults]
        return Result(ok=False, title=serial, findings=findings, entries=[], last="not genuine")
    held = "form, check characters and authenticity code" if series.code else "form and check characters"
    return Result(
        ok=True, title=serial, entries=[], last=f"genuine by {held}: number {series.number(index)} of {series.name}"
    )


def told_verify(path: Path | None, place: str | None, runs: Sequence[Path]) -> Result:
    """Everything wrong with a ledger, held against the heads that run folders attest."""
    job = load_job(path) if path is not None else None
    known = [_attested(run) for run in runs]
    with _opened(job, place) as ledger:
        findings = ledger.verify_chain(known)
        shown, head = ledger.shown, ledger.head()
    return Result(
        ok=not findings,
        title=f"ledger {shown}",
        findings=findings,
        told=[("entries", f"{head.seq:,}, the last of SHA-256 {head.hash}")],
        entries=[],
        last="the chain holds" if not findings else "the ledger cannot be relied on: see the findings",
    )


def _attested(run: Path) -> Head:
    try:
        head = json.loads((run / "report.json").read_bytes())["ledger"]["head"]
        return Head(int(head["seq"]), str(head["hash"]))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CallerError.one(str(run / "report.json"), "attests no state of a ledger", "name a run folder") from error


def read_serial(job: Job, serial: str, only: str | None) -> tuple[Series, int]:
    """The series and the index of a serial.  Raises CallerError with what every series says against it."""
    environ = desk_of().environ
    made = {series.name: series for each in (job, replacing(job)) for series in numbering_of(each, environ).values()}
    if only is not None and only not in made:
        raise CallerError.one("--series", f"the job has no series '{only}'", f"it has {', '.join(made) or 'none'}")
    faults: list[Fault] = []
    found: list[tuple[Series, int]] = []
    for name, series in made.items():
        if only not in (None, name):
            continue
        try:
            found.append((series, series.parse(serial)))
        except CallerError as error:
            faults.extend(error.faults)
    if len(found) > 1:
        names = ", ".join(series.name for series, _ in found)
        raise CallerError.one(f"serial {serial}", f"may be one of {names}", "say which with --series")
    if not found:
        raise CallerError(faults or CallerError.one(str(job.path), "the job has no series").faults)
    return found[0]


def _line(entry: Entry) -> str:
    numbers = f"{entry.first + 1:,}" if entry.count == 1 else f"{entry.first + 1:,} … {entry.last + 1:,}"
    said = ", ".join(
        f"{key} {value if len(value) < 64 else value[:12]}"
        for key, value in entry.details().items()
        if key not in ("inputs", "pieces")
    )
    more = f" ({said})" if said and entry.kind != "started" else ""
    run = f", run {entry.run[:12]}" if entry.run else ""
    return f"{entry.seq} {entry.time} {entry.kind} {entry.series} no. {numbers}{run}, by {entry.operator}{more}"
