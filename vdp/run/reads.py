"""A line's reads out of a CSV file, and the pieces of a run folder as a line can see them.

Not here: what the reads mean (`vdp.audit.copies`).
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from vdp.audit.copies import KINDS, SIDES, Made, Place, Seen
from vdp.audit.manifest import read_lines
from vdp.errors import CallerError, Fault

#: Events that are about one code.
_OF_A_CODE = ("hand", "sample", "spoiled")
_COLUMNS = "columns are code, and where the line tells them side, event, lane, copy"
_DESTROYED = "two witnesses tell of a destruction, with vdp ledger destroy"
#: Faults that are told of one file.
_MOST = 40


def read_made(folder: Path) -> Iterator[tuple[Made, bool]]:
    """The pieces of a run, and whether each lies on sheets.  Raises CallerError for what is no run folder."""
    path = folder / "pieces.jsonl"
    if not path.is_file():
        raise CallerError.one(str(folder), "is not a run folder: it has no pieces.jsonl", "name the folder of a run")
    for nth, line in enumerate(read_lines(path), 1):
        try:
            yield _made(line, nth), line["place"] is not None
        except (KeyError, TypeError, AttributeError) as error:
            raise CallerError.one(f"{path.name}, line {nth}", f"is no piece's line: {error!r}") from error


def _made(line: Mapping[str, Any], nth: int) -> Made:
    sides: tuple[set[str], set[str]] = (set(), set())
    for symbol in line["symbols"]:
        sides[(symbol["page"] - 1) % 2].add(symbol["data"])
    place = line["place"]
    where = Place(1, nth, 1) if place is None else Place(place["roll"], place["frame"], place["lane"])
    return Made(line["piece"], tuple(line["serials"].values()), frozenset(sides[0]), frozenset(sides[1]), where)


def read_seen(path: Path, tell: Callable[[int], None]) -> list[Seen]:
    """The reads, in order.  Raises CallerError with every line that cannot be understood."""
    found: list[Seen] = []
    faults: list[Fault] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            table = csv.DictReader(file, strict=True)
            if "code" not in (table.fieldnames or ()):
                raise CallerError.one(path.name, "has no column 'code'", _COLUMNS)
            for row in table:
                one = _seen(row, table.line_num, path.name)
                if isinstance(one, Fault):
                    faults.append(one)
                else:
                    found.append(one)
                tell(len(found))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        mend = "give the camera's reads as CSV in UTF-8"
        raise CallerError.one(str(path), f"cannot be read: {error}", mend) from error
    if len(faults) > _MOST:
        faults[_MOST:] = [Fault(path.name, f"and {len(faults) - _MOST} more lines that cannot be understood")]
    if faults:
        raise CallerError(faults)
    return found


def _seen(row: dict[str, Any], line: int, name: str) -> Seen | Fault:
    where = f"{name}, line {line}"
    if None in row or None in row.values():
        return Fault(where, "has more or fewer values than the header has columns")
    kind, side = row.get("event", "").strip() or "read", row.get("side", "").strip()
    code = row["code"]
    if kind not in KINDS:
        mend = _DESTROYED if kind == "destroyed" else ""
        return Fault(where, f"'{kind}' is no event: {', '.join(KINDS)}", mend)
    if side not in ("", *SIDES):
        return Fault(where, f"'{side}' is no side: front or back")
    if kind in _OF_A_CODE and not code:
        return Fault(where, f"{kind} says no code", "write the code or the serial of the piece")
    if kind == "counter" and not (code.isascii() and code.isdigit()):
        return Fault(where, f"'{code}' is no count", "write the press's count of copies into the column code")
    return Seen(line, kind, code, side, row.get("lane", "").strip(), row.get("copy", "").strip())
