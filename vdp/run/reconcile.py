"""`vdp reconcile`: a run folder against the reads of the line; tables for the floor, the customer and reprinting.

Not here: the judgement (`vdp.audit.reconcile`), reading files (`reads`), what the ledger is told (`recorded`).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vdp.audit.copies import Made, Side
from vdp.audit.reconcile import Reconciled, Status, reconcile
from vdp.errors import Finding
from vdp.run.folder import prepare, put
from vdp.run.reads import read_made, read_seen
from vdp.run.screen import Screen

STATUS, AGAIN_LIST, TABLE = "status.csv", "reprint.csv", "reconcile.csv"
MOST_SHOWN = 40


@dataclass(slots=True)
class Told:
    """What it came to; `findings` for everything that is not good; `recorded` entries of the ledger, None where it was
    not told."""

    folder: str
    found: Reconciled
    series: tuple[str, ...]
    again: list[str]
    findings: list[Finding]
    files: list[str] = field(default_factory=list)
    recorded: int | None = None

    @property
    def ok(self) -> bool:
        return not self.findings

    def to_json(self) -> str:
        told: dict[str, Any] = {
            "ok": self.ok,
            "pieces": len(self.found.status),
            "sides": list(self.found.sides),
            "statuses": self.found.statuses(),
            "numbers": self.found.numbers(),
            "copies": self.found.copies(),
            "stops": self.found.stops,
            "blind": self.found.blind,
            "reprint": self.again,
            "files": self.files,
            "recorded": self.recorded,
            "findings": [finding.as_json() for finding in self.findings],
        }
        return json.dumps(told, ensure_ascii=False) + "\n"

    def as_text(self) -> str:
        statuses = ", ".join(f"{count:,} {status.replace('_', ' ')}" for status, count in self.found.statuses().items())
        lines = [
            f"{self.folder}: {len(self.found.status):,} pieces, read on {' and '.join(self.found.sides)}",
            f"  pieces    {statuses}; {self.found.stops} press stops, {self.found.blind} reads without a code",
            f"  numbers   {summed(self.found.numbers(), 'allocated')}",
            f"  copies    {summed(self.found.copies(), 'printed')}",
            f"  reprint   {len(self.again):,} pieces",
        ]
        lines += [f"  {f.code}  {f.where}: {f.message}" for f in self.findings[:MOST_SHOWN]]
        if len(self.findings) > MOST_SHOWN:
            lines.append(f"  … and {len(self.findings) - MOST_SHOWN:,} more")
        if self.recorded is not None:
            lines.append(f"  ledger    {self.recorded:,} entries told")
        if self.files:
            lines.append(f"  files     {', '.join(self.files)}")
        lines.append("  everything was read once, in its place" if self.ok else "  see the findings")
        return "\n".join(lines) + "\n"


def summed(told: dict[str, int], total: str) -> str:
    """An equation of an account in words."""
    return f"{told[total]:,} {total} = " + " + ".join(f"{count:,} {key}" for key, count in told.items() if key != total)


def reconcile_run(
    folder: Path,
    reads: Path,
    *,
    out: Path | None,
    finished: bool,
    screen: Screen,
    sides: tuple[Side, ...] = (),
    record: Callable[[Sequence[Made], Reconciled], tuple[int, list[Finding]]] | None = None,
) -> Told:
    """`record` tells the ledger; it gives the count of new entries, and what the ledger says against the reads.

    Raises CallerError for what is no run folder, and with every line of the reads that cannot be understood.
    """
    with screen.step("reading", None, "pieces") as tell:
        both = [each for nth, each in enumerate(read_made(folder), 1) if tell(nth) is None]
    pieces = [piece for piece, _ in both]
    with screen.step("reading", None, "reads") as tell:
        seen = read_seen(reads, tell)
    found = reconcile(pieces, seen, finished=finished, sides=sides)
    where = {piece.piece: _where(piece, placed=placed) for piece, placed in both}
    first = {piece.piece: piece.serials[0] if piece.serials else str(piece.piece) for piece in pieces}
    told = Told(
        str(folder),
        found,
        _series(folder),
        [first[piece] for piece in found.again()],
        [*_findings(found, where, reads.name)],
    )
    if record is not None:
        told.recorded, against = record(pieces, found)
        told.findings += against
    if out is not None:
        _put(out, told, both)
    return told


_SAID: dict[Status, str] = {
    "missing": "it was never read",
    "double": "more than one copy of it was read: all but one must be taken out",
    "out_of_order": "it came earlier or later than the order of the press",
    "wrong_back": "front and back belong to different pieces",
    "unread": "a side of it was never read: look at it, and tell the code with event hand, or spoiled",
    "spoiled": "the line took it out",
    "sample": "it was kept as a sample",
    "outstanding": "it has not come off the press yet",
}


def _findings(found: Reconciled, where: dict[int, str], reads: str) -> Iterator[Finding]:
    for piece, status in found.status.items():
        if status in _SAID:
            yield Finding(f"line-{status.replace('_', '-')}", where[piece], _SAID[status])
    for seen, why in found.strangers:
        yield Finding("line-stranger", f"{reads}, line {seen.line}", f"'{seen.code[:80]}' {why}")
    if found.counted is not None and found.counted != found.accounted:
        message = f"the press counted {found.counted:,} copies, {found.accounted:,} are accounted for"
        yield Finding("line-account", reads, message)


def _where(piece: Made, *, placed: bool) -> str:
    place = piece.place
    at = f", roll {place.roll} frame {place.frame} lane {place.lane}" if placed else ""
    return f"piece {piece.piece}, {piece.serials[0] if piece.serials else 'without a serial'}{at}"


def _series(folder: Path) -> tuple[str, ...]:
    """Names of the serials, as the first line has them."""
    with (folder / "pieces.jsonl").open("rb") as file:
        line = file.readline()
    return tuple(json.loads(line)["serials"]) if line.strip() else ()


# -- tables ------------------------------------------------------------------------------------------------------------


def _put(out: Path, told: Told, both: Sequence[tuple[Made, bool]]) -> None:
    prepare(out)
    head = ["serial", "status", "piece", "roll", "frame", "lane", "good", "to take out", *told.series[1:]]
    again = set(told.found.again())
    rows = {piece.piece: _row(told.found, piece, placed=placed) for piece, placed in both}
    tables: dict[str, Iterable[Sequence[str]]] = {
        STATUS: [head, *rows.values()],
        AGAIN_LIST: [head, *(row for piece, row in rows.items() if piece in again)],
        TABLE: _account(told),
    }
    for name, table in tables.items():
        put_csv(out / name, table)
        told.files.append(str(out / name))


def _row(found: Reconciled, piece: Made, *, placed: bool) -> list[str]:
    """`to take out`: copies of it that lie among the good ones and must not stay there."""
    number = piece.piece
    status, fates = found.status[number], found.fates[number]
    place = map(str, piece.place) if placed else ("", "", "")
    serial, *others = piece.serials or (str(number),)
    return [serial, status, str(number), *place, str(fates.count("good")), str(found.stray[number]), *others]


def _account(told: Told) -> Iterator[list[str]]:
    """A line a series: each piece has a number of each."""
    numbers, copies = told.found.numbers(), told.found.copies()
    yield ["series", *(f"numbers {each}" for each in numbers), *(f"copies {each}" for each in copies)]
    for name in told.series or ("",):
        yield [name, *map(str, numbers.values()), *map(str, copies.values())]


def put_csv(path: Path, table: Iterable[Sequence[str]]) -> None:
    """Writes it whole.  Raises CallerError when it cannot be written."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows(table)
    put(path, text.getvalue().encode())
