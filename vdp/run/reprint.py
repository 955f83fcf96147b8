"""`vdp reprint`: spoiled pieces of a run made once more, as a run folder of just those pieces, and counted.

Each piece comes out as it was (`same_number`), or under the next number of its series while the spoiled one is voided
(`replacement_series`).  The ledger hears first what became of the copies (where no line told it) and that they are
made again, and last that they were made good; a reprint that was cut off goes on where it was.  Not here: choosing
pieces (`spoiled`), the run's folder (`source`).
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vdp.audit.account import CopyName, Number
from vdp.audit.manifest import read_lines
from vdp.compose.fit import fit
from vdp.compose.piece import Accepted
from vdp.errors import CallerError, Fault, OurBug, RowRefused
from vdp.numbering.chain import Ranges
from vdp.numbering.entry import AGAIN, Entry, Event, Head
from vdp.numbering.ledger import REPRINT, Ledger
from vdp.records.setaside import write_set_aside
from vdp.run.clock import Stopwatch
from vdp.run.desk import Desk, ledger_of
from vdp.run.folder import FILES, clear, held, prepare, present, sha256_of
from vdp.run.intake import Intake
from vdp.run.make import book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened
from vdp.run.reporting import put_report, put_report_pdf
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.sheets import lay_sheets
from vdp.run.source import Source, open_source
from vdp.run.specimen import specimen_for
from vdp.run.spoiled import Wish, chosen
from vdp.run.web import lay_out
from vdp.verify.judge import verify_folder

#: The entries of one spoiled number.
_REPLACED = "replacement_series"


@dataclass(frozen=True, slots=True)
class Reprint:
    """A reprint that the ledger knows.  `lines` are those of the source's manifest, `indexes` the numbers' places in
    their series, by series, in the same order; `firsts` where replacement numbers begin, empty for the same numbers."""

    run: str
    source: Source
    lines: Sequence[Mapping[str, Any]]
    indexes: Mapping[str, Sequence[int]]
    head: Head
    second: str
    firsts: Mapping[str, int]

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
        series = {
            name: {**given, "first": self.firsts.get(name, given["first"]), "count": len(self.lines)}
            for name, given in self.source.report["ledger"]["series"].items()
        }
        return {"head": {"seq": self.head.seq, "hash": self.head.hash}, "series": series}


def reprint(
    folder: Path,
    wish: Wish,
    *,
    second: str,
    out: Path | None,
    job: Path | None,
    records: Path | None,
    desk: Desk,
    screen: Screen,
) -> Result:
    """Makes the pieces again into a folder of their own (beside the run's by default).

    Raises CallerError for the caller's mistakes: a piece that was never issued, a copy that was made good before, a
    run that did not end well, inputs that have changed.
    """
    watch = Stopwatch()
    _two_people(second, desk)
    source = open_source(folder, job, records, desk.environ)
    lines = chosen(folder, wish)
    with ledger_of(source.job, desk) as ledger:
        if ledger is None:
            raise OurBug("a job with series has a ledger")
        name = _name(source, lines)
        target = out if out is not None else folder.absolute().parent / f"{folder.absolute().name}-reprint-{name[:8]}"
        if target.resolve() == folder.resolve():
            raise CallerError.one(str(target), "is the folder of the first printing", "choose another --out")
        prepare(target)
        with held(target):
            clear(target, [*FILES, *present(target)])
            made = _recorded(source, wish, lines, name, second.strip(), ledger)
            return _make(made, target, ledger, screen, watch)


def _two_people(second: str, desk: Desk) -> None:
    if not second.strip():
        raise CallerError.one("--second", "a reprint needs a second person, and none is named", "write --second NAME")
    if second.strip().casefold() == desk.operator.strip().casefold():
        message = f"'{second}' is the operator: the second person is another"
        raise CallerError.one("--second", message, "name the operator with --operator, the other with --second")


def _name(source: Source, lines: Sequence[Mapping[str, Any]]) -> str:
    """The reprint's identity: the copy that it makes good, the pieces, and what becomes of their numbers."""
    said = [REPRINT, source.run, source.job.model.spoiled, [line["piece"] for line in lines]]
    return hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()


# -- the ledger --------------------------------------------------------------------------------------------------------


def _recorded(
    source: Source, wish: Wish, lines: Sequence[Mapping[str, Any]], name: str, second: str, ledger: Ledger
) -> Reprint:
    """The copies are spoiled, missing or kept, and made again; with replacement numbers they are voided, and these
    allotted: all in one transaction."""
    replaced = source.job.model.spoiled == _REPLACED
    indexes = _indexes(source, lines)
    _issued(source, lines, indexes, ledger)
    columns = [each for each, given in source.report["ledger"]["series"].items() if given["column"]]
    if replaced and columns:
        message = "its numbers come from the records, so no next number can replace a spoiled one"
        mend = "run the replacements as a list of their own"
        raise CallerError(Fault(f"series {each}", message, mend) for each in columns)
    detail = {REPRINT: name, "second": second, "copy": str(source.copy)}
    events = [
        *_fates(source, wish, lines, indexes, ledger),
        *_told(AGAIN, source.run, source, lines, indexes, detail),
    ]
    wants = []
    if replaced:
        events += _told("voided", source.run, source, lines, indexes, detail)
        wants = [(source.series[each], len(lines)) for each in indexes]
    entries, allotment = ledger.record(events, wants, run=name, job=source.job.model.job)
    head = max([entry.head for entry in entries] + ([allotment.head] if allotment is not None else []))
    firsts = {each: allotment.first(each) for each in indexes} if allotment is not None else {}
    begun = next(entry for entry in entries if entry.kind == AGAIN)
    return Reprint(name, source, lines, indexes, head, begun.details()["second"], firsts)


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
            known = Number.of(ledger.history(name, index)).fates.get(wanted, "good")
            if known == "good":
                said = {"piece": str(line["piece"]), "serial": line["serials"][name]}
                kind = wish.fate(line["serials"].values())
                yield Event(kind, name, index, index, source.run, source.job.model.job, said)


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
        given = Ranges()
        for entry in ledger.ranges(name):
            if entry.run == source.origin:
                given.add(entry.first, entry.last)
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
            yield Event(kind, name, index, index, run, source.job.model.job, said, f"{kind}/{run}/{name}/{index}")


def _made_good(made: Reprint, folder: Path, ledger: Ledger) -> tuple[Entry, ...]:
    """Told last: the pieces are there, verified."""
    source, detail = made.source, {REPRINT: made.run, "second": made.second, "copy": str(made.copy)}
    if not made.replaced:
        return ledger.append(_told("made_good", made.run, source, made.lines, made.indexes, detail))
    events = []
    again = list(read_lines(folder / "pieces.jsonl"))
    for event, line in zip(
        _told("replaced", made.run, source, made.lines, made.indexes, {REPRINT: made.run, "second": made.second}),
        again * len(made.indexes),
        strict=True,
    ):
        events.append(replace(event, detail={**event.detail, "by": line["serials"][event.series]}))
    for name, first in made.firsts.items():
        issued = {"pieces": sha256_of(folder / "pieces.jsonl"), REPRINT: made.run}
        last = first + len(made.lines) - 1
        once = f"issued/{made.run}/{name}/{first}"
        events.append(Event("issued", name, first, last, made.run, source.job.model.job, issued, once))
    return ledger.append(events)


# -- the folder --------------------------------------------------------------------------------------------------------


def _make(made: Reprint, folder: Path, ledger: Ledger, screen: Screen, watch: Stopwatch) -> Result:
    source = made.source
    opened = Opened(source.job, source.table, source.plan, source.series)
    records = _records(made)
    numbers = Numbers(source.job, source.series, made.firsts)
    intake = Intake(source.plan, source.table, numbers, records=len(records), pieces=len(records))
    intake.languages = Counter(source.job.language_of(record.values) for record in records)
    intake.ends = (dict(records[0].serials), dict(records[-1].serials))
    write_set_aside(folder / "set_aside.csv", source.table.header, [])
    with watch("compose"), screen.step("composing", len(records), "pieces") as tell:
        book = book_of(source.plan, source.table, len(records), made.firsts)
        book = replace(book, identity=bytes.fromhex(made.run))
        done = make(source.plan, records, book, folder, workers=1, header=source.table.header, tell=tell)
        _same(made, folder)
    laid, sheets = lay_out(source.job, len(records)), None
    if laid is not None:
        with watch("sheets"), screen.step("laying", laid.frames, "frames") as tell:
            again = 0 if made.replaced else made.copy - 1
            sheets = lay_sheets(folder, book, laid, source.job, tell, again, specimen_for(intake, laid))
    put_report(folder, opened, intake, done, None, reprint=made, sheets=sheets)
    with watch("verify"), screen.step("verifying", 2 * len(records), "pages") as tell:
        verdict = verify_folder(folder, source.job, source.table, progress=tell)
    good = not verdict.findings
    if good:
        _made_good(made, folder, ledger)
    put_report(folder, opened, intake, done, verdict, reprint=made, sheets=sheets)
    with watch("report"):
        put_report_pdf(folder, opened, intake, verdict, None, None)
    return Result(
        ok=good,
        title=f"{source.job.model.job}: reprint of {len(records)} pieces of {source.folder}",
        records=len(records),
        pieces=len(records),
        symbols_expected=verdict.symbols_expected,
        symbols_decoded=verdict.symbols_decoded,
        serials=verdict.serials,
        serials_unique=verdict.serials_unique,
        findings=list(verdict.findings),
        files=present(folder),
        folder=str(folder),
        seconds=watch.seconds,
        told=[("numbers", line) for line in _summary(made, records)],
        last="every check passed, and the ledger has it" if good else "do not print: see the findings",
    )


def _records(made: Reprint) -> list[Accepted]:
    """The rows of the pieces, read again, with the serials of the first printing or those that replace them."""
    source = made.source
    lines = {line["row"]: (place, line) for place, line in enumerate(made.lines)}
    numbers = Numbers(source.job, source.series, made.firsts)
    records = []
    for row in source.table.rows():
        if row.row not in lines:
            continue
        place, line = lines[row.row]
        serials = numbers.of(place, row.values, row.row) if made.replaced else line["serials"]
        if made.replaced:
            _fits(made, row.values, serials, row.row)
        records.append(Accepted(line["piece"] - 1, row.row, row.values, serials))
    if len(records) != len(made.lines):
        raise CallerError.one(source.table.shown, "does not have the rows of these pieces")
    return records


def _fits(made: Reprint, values: Mapping[str, str], serials: Mapping[str, str], row: int) -> None:
    """A number that replaces another may need a larger symbol, which the run's sizes do not have."""
    source = made.source
    try:
        needs = fit(
            source.plan, source.job.context(values, serials, row), lambda path: source.plan.pictures[path]
        ).needs
        small = [name for name, need in needs.items() if need > source.plan.needs[name]]
    except RowRefused as refused:
        small = list(refused.reasons)
    if small:
        message = f"cannot be set with replacement number {', '.join(serials.values())}: {'; '.join(small)}"
        raise CallerError.one(f"row {row}", message, "run it as a list of its own")


def _same(made: Reprint, folder: Path) -> None:
    """Raises CallerError unless each piece has the very content of the first printing."""
    if made.replaced:
        return
    again = read_lines(folder / "pieces.jsonl")
    unlike = [str(old["piece"]) for old, new in zip(made.lines, again, strict=True) if old["sha256"] != new["sha256"]]
    if unlike:
        clear(folder, FILES)
        message = f"pieces {', '.join(unlike[:5])} do not come out as they were printed; nothing was made"
        mend = "fonts or libraries differ from those of the run: make the reprint where the run was made"
        raise CallerError.one(str(made.source.folder), message, mend)


def _summary(made: Reprint, records: Sequence[Accepted]) -> Iterator[str]:
    for name in made.indexes:
        first, last = records[0].serials[name], records[-1].serials[name]
        which = first if len(records) == 1 else f"{first} … {last}"
        if made.replaced:
            yield f"{name} {which} (new, the spoiled numbers are voided)"
        else:
            yield f"{name} {which} (copy {made.copy} of each)"
