"""`vdp reconcile`: a run folder against the reads of the line; tables for the floor, the customer and reprinting.

Not here: the judgement (`vdp.audit.reconcile`).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vdp.audit.manifest import read_lines
from vdp.audit.reconcile import AGAIN, KINDS, Made, Reconciled, Seen, reconcile
from vdp.errors import CallerError, Fault, Finding
from vdp.run.folder import prepare

STATUS, AGAIN_LIST, TABLE = "status.csv", "reprint.csv", "reconcile.csv"


@dataclass(slots=True)
class Told:
    """What it came to; `findings` for everything that is not good."""

    folder: str
    found: Reconciled
    again: list[str]
    findings: list[Finding]
    files: list[str]

    @property
    def ok(self) -> bool:
        return not self.findings

    def to_json(self) -> str:
        told: dict[str, Any] = {
            "ok": self.ok,
            "pieces": len(self.found.status),
            "numbers": self.found.numbers(),
            "copies": dict(sorted(self.found.copies.items())),
            "stops": self.found.stops,
            "reprint": self.again,
            "files": self.files,
            "findings": [finding.as_json() for finding in self.findings],
        }
        return json.dumps(told, ensure_ascii=False) + "\n"

    def as_text(self) -> str:
        numbers = " + ".join(f"{count:,} {status}" for status, count in self.found.numbers().items())
        copies = ", ".join(f"{count:,} {what}" for what, count in sorted(self.found.copies.items()))
        lines = [
            f"{self.folder}: {len(self.found.status):,} pieces",
            f"  numbers  {numbers}",
            f"  copies   {copies}; {self.found.stops} press stops",
            f"  reprint  {len(self.again):,} pieces",
        ]
        lines += [f"  {f.code}  {f.where}: {f.message}" for f in self.findings[:40]]
        if self.files:
            lines.append(f"  files    {', '.join(self.files)}")
        lines.append("  everything was read once, in its place" if self.ok else "  see the findings")
        return "\n".join(lines) + "\n"


def reconcile_run(folder: Path, reads: Path, *, out: Path | None, finished: bool) -> Told:
    """Raises CallerError for what is no run folder, and with every line of the reads that cannot be understood."""
    pieces = list(_made(folder))
    found = reconcile(pieces, _seen(reads), finished=finished)
    serial = {piece.piece: piece.serials[0] if piece.serials else str(piece.piece) for piece in pieces}
    again = [serial[piece] for piece, status in found.status.items() if status in AGAIN]
    findings = [
        Finding(f"line-{status.replace('_', '-')}", f"piece {piece}, {serial[piece]}", _SAID[status])
        for piece, status in found.status.items()
        if status in _SAID
    ]
    findings += [
        Finding("line-stranger", f"{reads.name}, line {one.line}", f"'{one.code[:80]}' is of no piece of this run")
        for one in found.strangers
    ]
    told = Told(str(folder), found, again, findings, [])
    if out is not None:
        _put(out, told, serial)
    return told


_SAID = {
    "missing": "it was never read",
    "double": "it was read twice: one copy must be taken out",
    "out_of_order": "it came earlier or later than the order of the press",
    "wrong_back": "front and back belong to different pieces",
    "spoiled": "the line took it out",
    "sample": "it was kept as a sample",
    "outstanding": "it has not come off the press yet",
}


def _made(folder: Path) -> Iterator[Made]:
    path = folder / "pieces.jsonl"
    if not path.is_file():
        raise CallerError.one(str(folder), "is not a run folder: it has no pieces.jsonl", "name the folder of a run")
    for number, line in enumerate(read_lines(path)):
        sides: tuple[set[str], set[str]] = (set(), set())
        for symbol in line["symbols"]:
            sides[(symbol["page"] - 1) % 2].add(symbol["data"])
        place = line.get("place")
        order = number if not place else (place["roll"] * 10**9 + place["frame"] * 10**4)
        yield Made(line["piece"], tuple(line["serials"].values()), frozenset(sides[0]), frozenset(sides[1]), order)


def _seen(path: Path) -> Iterator[Seen]:
    """The reads, in order: columns `code`, and where the camera tells them `side` and `event`."""
    faults: list[Fault] = []
    found: list[Seen] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            table = csv.DictReader(file)
            if "code" not in (table.fieldnames or ()):
                raise CallerError.one(path.name, "has no column 'code'", "columns are code, side, event")
            for line, row in enumerate(table, 2):
                kind, side = (row.get("event") or "read").strip(), (row.get("side") or "").strip()
                code = row["code"] or ""
                if kind not in KINDS:
                    faults.append(Fault(f"{path.name}, line {line}", f"'{kind}' is no event: {', '.join(KINDS)}"))
                elif side not in ("", "front", "back"):
                    faults.append(Fault(f"{path.name}, line {line}", f"'{side}' is no side: front or back"))
                else:
                    found.append(Seen(line, kind, code, side))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise CallerError.one(
            str(path), f"cannot be read: {error}", "give the camera's reads as CSV in UTF-8"
        ) from error
    if faults:
        raise CallerError(faults)
    yield from found


def _put(out: Path, told: Told, serial: dict[int, str]) -> None:
    prepare(out)
    rows: dict[str, list[list[str]]] = {
        STATUS: [["serial", "status"], *([serial[piece], status] for piece, status in told.found.status.items())],
        AGAIN_LIST: [["serial"], *([each] for each in told.again)],
        TABLE: [
            ["account", "count"],
            *([f"numbers {status}", str(count)] for status, count in told.found.numbers().items()),
            *([f"copies {what}", str(count)] for what, count in sorted(told.found.copies.items())),
        ],
    }
    for name, table in rows.items():
        with (out / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(table)
        told.files.append(str(out / name))
