"""What a reprint tells the ledger: before, what became of the copies and that they are made again; after, that they
were made good, or which numbers stand for those given up.

Each copy can be made again once.  Not here: choosing pieces (`spoiled`), making them (`reprint`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vdp.audit.account import CopyName, Number
from vdp.audit.manifest import read_lines
from vdp.errors import CallerError, Fault
from vdp.job.load import Job
from vdp.job.replacing import replacing
from vdp.numbering.entry import AGAIN, Entry, Event, Head
from vdp.numbering.ledger import REPRINT, Ledger
from vdp.numbering.series import Series
from vdp.plan.numbering import numbering_of
from vdp.run.folder import sha256_of
from vdp.run.source import Source
from vdp.run.spoiled import Wish

#: What a job says of spoiled numbers.
_REPLACED = "replacement_series"


@dataclass(frozen=True, slots=True)
class Reprint:
    """A reprint that the ledger knows.  `lines` are those of the source's manifest, `indexes` the numbers' places in
    their series, by series, in the same order; `firsts` where replacement numbers begin, empty for the same numbers.
    `job` and `series` are those of the numbers that are printed now."""

    run: str
    source: Source
    lines: Sequence[Mapping[str, Any]]
    indexes: Mapping[str, Sequence[int]]
    head: Head
    second: str
    firsts: Mapping[str, int]
    job: Job
    series: Mapping[str, Series]

    @property
    def copy(self) -> int:
        return self.source.copy + 1

    @property
    def replaced(self) -> bool:
        return bool(self.firsts)

    def as_json(self) -> dict[str, Any]:
        """For report.json."""
        return {
            "of": self.source.run,
            "origin": self.run if self.replaced else self.source.origin,
            "copy": 1 if self.replaced else self.copy,
            "numbers": "replaced" if self.replaced else "same",
            "second": self.second,
            "pieces": [line["piece"] for line in self.lines],
        }

    def ledger_json(self) -> dict[str, Any]:
        """As the whole run's, with this reprint's head."""
        series = {}
        for name, given in self.source.report["ledger"]["series"].items():
            series[name] = {**given, "count": len(self.lines)}
            if self.replaced:
                series[name] |= {"first": self.firsts[name], "column": False, "terms": self.series[name].terms()}
                if self.series[name].name != name:
                    series[name]["kept_as"] = self.series[name].name
        return {"head": {"seq": self.head.seq, "hash": self.head.hash}, "series": series}


def record_reprint(
    source: Source,
    wish: Wish,
    lines: Sequence[Mapping[str, Any]],
    name: str,
    second: str,
    ledger: Ledger,
    environ: Mapping[str, str],
) -> Reprint:
    """The copies are spoiled, missing or kept, and made again; with replacement numbers they are voided, and these
    allotted: all in one transaction.  `environ` may hold the keys of these."""
    replaced = source.job.model.spoiled == _REPLACED
    indexes = _indexes(source, lines)
    _issued(source, lines, indexes, ledger)
    job = replacing(source.job) if replaced else source.job
    series = numbering_of(job, environ) if replaced else source.series
    columns = [name for name in series if job.model.series[name].column is not None]
    if replaced and columns:
        message = "its numbers come from the records, so no next number can replace a spoiled one"
        mend = "name a replacement in the series, or run the replacements as a list of their own"
        raise CallerError(Fault(f"series {each}", message, mend) for each in columns)
    detail = {REPRINT: name, "second": second, "copy": str(source.copy)}
    events = [
        *_fates(source, wish, lines, indexes, ledger),
        *_told(AGAIN, source.run, source, lines, indexes, detail),
    ]
    wants = []
    if replaced:
        events += _told("voided", source.run, source, lines, indexes, detail)
        wants = [(series[each], len(lines)) for each in indexes]
    entries, allotment = ledger.record(events, wants, run=name, job=source.job.model.job)
    head = max([entry.head for entry in entries] + ([allotment.head] if allotment is not None else []))
    firsts = {each: allotment.first(series[each].name) for each in indexes} if allotment is not None else {}
    begun = next(entry for entry in entries if entry.kind == AGAIN)
    return Reprint(name, source, lines, indexes, head, begun.details()["second"], firsts, job, series)


def _fates(
    source: Source,
    wish: Wish,
    lines: Sequence[Mapping[str, Any]],
    indexes: Mapping[str, Sequence[int]],
    ledger: Ledger,
) -> Iterator[Event]:
    """What became of each copy, where the ledger says nothing of it yet, or that it was good."""
    wanted = CopyName(source.run, "")
    for name, numbers in indexes.items():
        for line, index in zip(lines, numbers, strict=True):
            kept_as = source.series[name].name
            known = Number.of(ledger.history(kept_as, index)).fates.get(wanted, "good")
            if known == "good":
                said = {"piece": str(line["piece"]), "serial": line["serials"][name]}
                kind = wish.fate(line["serials"].values())
                yield Event(kind, kept_as, index, index, source.run, source.job.model.job, said)


def _indexes(source: Source, lines: Sequence[Mapping[str, Any]]) -> dict[str, list[int]]:
    places = {line["piece"]: place for place, line in enumerate(read_lines(source.folder / "pieces.jsonl"))}
    return {
        name: [source.index(name, line, places[line["piece"]]) for line in lines]
        for name in source.report["ledger"]["series"]
    }


def _issued(
    source: Source, lines: Sequence[Mapping[str, Any]], indexes: Mapping[str, Sequence[int]], ledger: Ledger
) -> None:
    """Raises CallerError unless the ledger gave every number to this very run."""
    faults = []
    for name, numbers in indexes.items():
        given = ledger.given(source.series[name].name, source.origin)
        for line, index in zip(lines, numbers, strict=True):
            if not given.hold(index, index):
                message = f"the ledger {ledger.shown} never gave {line['serials'][name]} to this run"
                faults.append(Fault(f"series {name}", message, "is it the ledger of this run?"))
    if faults:
        raise CallerError(faults)


def _told(
    kind: str,
    run: str,
    source: Source,
    lines: Sequence[Mapping[str, Any]],
    indexes: Mapping[str, Sequence[int]],
    detail: Mapping[str, str],
) -> Iterator[Event]:
    """One event for each number; that of a copy can be told once."""
    for name, numbers in indexes.items():
        for line, index in zip(lines, numbers, strict=True):
            said = {**detail, "piece": str(line["piece"]), "serial": line["serials"][name]}
            kept_as = source.series[name].name
            once = f"{kind}/{run}/{kept_as}/{index}"
            yield Event(kind, kept_as, index, index, run, source.job.model.job, said, once)


def tell_made_good(made: Reprint, folder: Path, ledger: Ledger) -> tuple[Entry, ...]:
    """Told last: the pieces are there, verified."""
    source, detail = made.source, {REPRINT: made.run, "second": made.second, "copy": str(made.copy)}
    if not made.replaced:
        return ledger.append(_told("made_good", made.run, source, made.lines, made.indexes, detail))
    events = []
    by = [line["serials"] for line in read_lines(folder / "pieces.jsonl")]
    stand_in = [serials[name] for name in made.indexes for serials in by]
    detail = {REPRINT: made.run, "second": made.second}
    told = _told("replaced", made.run, source, made.lines, made.indexes, detail)
    for event, serial in zip(told, stand_in, strict=True):
        events.append(replace(event, detail={**event.detail, "by": serial}))
    for name, first in made.firsts.items():
        issued = {"pieces": sha256_of(folder / "pieces.jsonl"), REPRINT: made.run}
        last = first + len(made.lines) - 1
        kept_as = made.series[name].name
        once = f"issued/{made.run}/{kept_as}/{first}"
        events.append(Event("issued", kept_as, first, last, made.run, source.job.model.job, issued, once))
    return ledger.append(events)
