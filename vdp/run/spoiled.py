"""Which pieces of a run are meant: by serial, by a range of serials, or by their places on the rolls.

Not here: what is done with them (`reprint`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from vdp.audit.manifest import read_lines
from vdp.errors import CallerError, Fault

#: A part of a place in words: what, and its numbers ("120-131, 140", "120 to 131").
_PART = re.compile(r"(roll|frame|lane)s?\s*(\d+(?:\s*(?:-|–|to)\s*\d+)?(?:\s*,\s*\d+(?:\s*(?:-|–|to)\s*\d+)?)*)")
_SPAN = re.compile(r"(\d+)(?:\s*(?:-|–|to)\s*(\d+))?")
_BETWEEN = re.compile(r"[\s,]*(?:of|on|in|and)?[\s,]*")
_EXAMPLE = 'write, for example, "roll 2 frames 120-131 lane 1"'


class Place(NamedTuple):
    """A stretch of the web in words, and the numbers that each part allows (none: all)."""

    said: str
    parts: Mapping[str, tuple[tuple[int, int], ...]]

    def holds(self, place: Mapping[str, Any]) -> bool:
        return all(
            any(first <= int(place[part]) <= last for first, last in spans) for part, spans in self.parts.items()
        )


def read_place(said: str) -> Place:
    """ "roll 2 frames 120-131 lane 1" → Place.  Raises CallerError."""
    parts: dict[str, tuple[tuple[int, int], ...]] = {}
    rest = said.lower()
    while match := _PART.search(rest):
        before = rest[: match.start()]
        if match[1] in parts or not _BETWEEN.fullmatch(before):
            break
        spans = [(int(first), int(last or first)) for first, last in _SPAN.findall(match[2])]
        parts[match[1]] = tuple(spans)
        rest = rest[match.end() :]
    backward = any(first > last for spans in parts.values() for first, last in spans)
    if rest.strip() or backward or "roll" not in parts:
        raise CallerError.one(f"--place '{said}'", "is no place on a roll", _EXAMPLE)
    return Place(said, parts)


@dataclass(frozen=True, slots=True)
class Wish:
    """What the operator named.  `span` is the first and the last serial of a stretch in the run's own order; `listed`
    says of serials what became of their copies (see `FATES`), which else are spoiled."""

    serials: tuple[str, ...] = ()
    span: tuple[str, str] | None = None
    places: tuple[Place, ...] = ()
    listed: Mapping[str, str] = field(default_factory=dict)

    def fate(self, serials: Iterable[str]) -> str:
        """What became of the copy of a piece with these serials."""
        return next((self.listed[each] for each in serials if each in self.listed), "spoiled")


#: The statuses of `vdp reconcile` that ask for a piece to be made again, and what the ledger calls them.
FATES: Mapping[str, str] = MappingProxyType(
    {"spoiled": "spoiled", "wrong_back": "spoiled", "missing": "missing", "sample": "retained"}
)


def read_list(path: Path) -> dict[str, str]:
    """A list to reprint, as `vdp reconcile` writes it: column `serial`, and `status` where something else than spoiled.

    Raises CallerError with every line that cannot be understood, or that names a piece which needs no reprint.
    """
    listed: dict[str, str] = {}
    faults: list[Fault] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            table = csv.DictReader(file, strict=True)
            if "serial" not in (table.fieldnames or ()):
                raise CallerError.one(path.name, "has no column 'serial'", "give the reprint.csv of vdp reconcile")
            for row in table:
                serial, status = row["serial"] or "", row.get("status") or "spoiled"
                where = f"{path.name}, line {table.line_num}"
                if not serial:
                    faults.append(Fault(where, "names no serial"))
                elif status not in FATES:
                    message = f"'{serial}' is '{status}': only what is {', '.join(FATES)} is made again"
                    faults.append(Fault(where, message, "give the reprint.csv of vdp reconcile"))
                else:
                    listed[serial] = FATES[status]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise CallerError.one(str(path), f"cannot be read: {error}", "give a CSV file in UTF-8") from error
    if not listed and not faults:
        raise CallerError.one(path.name, "names no piece: there is nothing to make again")
    if faults:
        raise CallerError(faults)
    return listed


def chosen(folder: Path, wish: Wish) -> list[dict[str, Any]]:
    """The manifest's lines of the pieces that are meant, in order.

    Raises CallerError with everything that the run does not have.
    """
    kept: list[dict[str, Any]] = []
    found: set[str] = set()
    inside = False
    placed = True
    named = {*wish.serials, *wish.listed}
    for line in read_lines(folder / "pieces.jsonl"):
        own = set(line["serials"].values())
        found |= own & {*named, *(wish.span or ())}
        begins = wish.span is not None and wish.span[0] in own
        inside = inside or begins
        place = line["place"]
        placed = placed and place is not None
        there = place is not None and any(each.holds(place) for each in wish.places)
        if inside or there or own & named:
            kept.append(line)
        if wish.span is not None and wish.span[1] in own:
            if not inside:
                raise _backward(wish.span)
            inside = False
    faults = [*_unknown(wish, found), *_nowhere(wish, kept, placed)]
    if faults:
        raise CallerError(faults)
    if inside and wish.span is not None:
        raise _backward(wish.span)
    if not kept:
        raise CallerError.one(
            "vdp reprint", "no piece is named", "name pieces with --serial, --range, --place or --list"
        )
    return kept


def _unknown(wish: Wish, found: set[str]) -> Iterator[Fault]:
    for serial in dict.fromkeys((*wish.serials, *wish.listed, *(wish.span or ()))):
        if serial not in found:
            yield Fault(f"serial {serial}", "was never issued in this run", "is it the right run folder?")


def _nowhere(wish: Wish, kept: Sequence[Mapping[str, Any]], placed: bool) -> Iterator[Fault]:
    for place in wish.places:
        where = f"--place '{place.said}'"
        if not placed:
            yield Fault(where, "the pieces of this run have no places: they were not laid on sheets", "name serials")
        elif not any(place.holds(line["place"]) for line in kept):
            yield Fault(where, "no piece lies there")


def _backward(span: tuple[str, str]) -> CallerError:
    return CallerError.one(
        f"--range {span[0]} {span[1]}", "ends before it begins in this run", "name the first one first"
    )
