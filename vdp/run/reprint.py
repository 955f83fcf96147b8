"""`vdp reprint`: spoiled pieces of a run made once more, as a run folder of just those pieces, and counted.

Each piece comes out as it was (`same_number`), or under the next number of its series while the spoiled one is voided
(`replacement_series`).  The ledger hears first what became of the copies (where no line told it) and that they are
made again, and last that they were made good; a reprint that was cut off goes on where it was.  Not here: choosing
pieces (`spoiled`), the run's folder (`source`), what the ledger is told (`amends`).
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from vdp.audit.manifest import read_lines
from vdp.compose.fit import fit
from vdp.compose.piece import Accepted
from vdp.errors import CallerError, OurBug, RowRefused
from vdp.numbering.ledger import REPRINT, Ledger
from vdp.records.setaside import write_set_aside
from vdp.run.amends import Reprint, record_reprint, tell_made_good
from vdp.run.clock import Stopwatch
from vdp.run.desk import Desk, ledger_of, person
from vdp.run.folder import FILES, clear, held, prepare, present
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
        prepare(target, run=True)
        with held(target):
            clear(target, [*FILES, *present(target)])
            made = record_reprint(source, wish, lines, name, second.strip(), ledger, desk.environ)
            return _make(made, target, ledger, screen, watch)


def _two_people(second: str, desk: Desk) -> None:
    if not second.strip():
        raise CallerError.one("--second", "a reprint needs a second person, and none is named", "write --second NAME")
    if person(second) == person(desk.operator):
        message = f"'{second}' is the operator: the second person is another"
        raise CallerError.one("--second", message, "name the operator with --operator, the other with --second")


def _name(source: Source, lines: Sequence[Mapping[str, Any]]) -> str:
    """The reprint's identity: the copy that it makes good, the pieces, and what becomes of their numbers."""
    said = [REPRINT, source.run, source.job.model.spoiled, [line["piece"] for line in lines]]
    return hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()


# -- the folder --------------------------------------------------------------------------------------------------------


def _make(made: Reprint, folder: Path, ledger: Ledger, screen: Screen, watch: Stopwatch) -> Result:
    source = made.source
    opened = Opened(made.job, source.table, source.plan, made.series, source.report.get("approval"))
    records = _records(made)
    numbers = Numbers(made.job, made.series, made.firsts)
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
        tell_made_good(made, folder, ledger)
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
    numbers = Numbers(made.job, made.series, made.firsts)
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
