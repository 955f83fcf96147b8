"""Serials of several runs held against one another: form, check characters, the number each piece must have, gaps,
doubles, and reprints against what they are reprints of.

Fed with one line after another, reprints before what they repeat (`in_order`).  Not here: reading folders
(`vdp.run.sealed`), the ledger (`vdp.run.traced`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from vdp.audit.claims import Claims, Given
from vdp.audit.several import Several
from vdp.errors import Finding

#: Bits of a sighting that hold the place in its folder.
_PLACE = 40
#: What a reprint shares with what it repeats: under other numbers the record, else everything.
_RECORD = ("row", "language")
_LINE = (*_RECORD, "serials", "sha256")


class Span(NamedTuple):
    """The numbers of one series in one folder: first and last serial in the order of the pieces, the 0-based indexes
    from the lowest to the highest (None where only a key tells), and how many."""

    series: str
    first: str
    last: str
    lowest: int | None
    highest: int | None
    pieces: int


@dataclass(slots=True)
class _Folder:
    """One folder in the reading."""

    name: str
    claims: Claims | None
    several: Several
    pieces: int = 0
    ends: dict[str, list[str]] = field(default_factory=dict)
    indexes: dict[str, list[int]] = field(default_factory=dict)

    def where(self, line: Mapping[str, Any]) -> str:
        return f"{self.name}, piece {line['piece']}"

    def number(self, claims: Claims | None, series: str, serial: str, place: int, line: Mapping[str, Any]) -> None:
        """Form and check characters of a serial; whether it is the number that this piece must have."""
        self.ends.setdefault(series, [serial, serial])[1] = serial
        given = claims.series.get(series) if claims is not None else None
        if given is None or claims is None:
            return
        nth, fault = given.terms.read(serial)
        if fault:
            self.several.tell("audit-serial-check", self.where(line), f"{series} {serial}: {fault}")
        if nth is None:
            return
        self.indexes.setdefault(series, []).append(nth)
        if not given.column and nth != (due := claims.index(series, place)):
            message = f"{series} {serial} is number {_said(given, nth)}, and the run was given {_said(given, due)}"
            self.several.tell("audit-serial-range", self.where(line), message)

    def spans(self) -> Iterator[Span]:
        for series, (first, last) in self.ends.items():
            indexes = self.indexes.get(series)
            low, high = (min(indexes), max(indexes)) if indexes else (None, None)
            yield Span(series, first, last, low, high, self.pieces)


def in_order(claims: Sequence[Claims | None]) -> list[int]:
    """The places of the folders in the order in which they must be read: later copies before earlier ones."""
    depth = [0 if each is None or each.copied is None else each.copied.copy for each in claims]
    return sorted(range(len(depth)), key=lambda at: -depth[at])


class Register:
    """Every serial of the folders that were read.  `serials` counts those on pieces, `copies` those of them that are
    reprints under the same number."""

    def __init__(self) -> None:
        self.serials = 0
        self.copies = 0
        self._folders: list[_Folder] = []
        self._seen: dict[str, dict[str, int]] = {}
        self._more: dict[tuple[str, str], list[int]] = {}
        self._wanted: dict[str, dict[int, tuple[_Folder, Mapping[str, Any]]]] = {}

    @property
    def unique(self) -> int:
        return sum(map(len, self._seen.values()))

    @property
    def runs(self) -> dict[str, Claims]:
        """The runs that were read, by name."""
        return {each.claims.run: each.claims for each in self._folders if each.claims is not None}

    def folder(self, name: str, claims: Claims | None) -> Callable[[int, Mapping[str, Any]], None]:
        """Begins a folder; gives what takes its pieces."""
        at, held = len(self._folders), _Folder(name, claims, Several(name))
        self._folders.append(held)

        def take(place: int, line: Mapping[str, Any]) -> None:
            self._take(at, held, place, line)

        return take

    def spans(self, name: str) -> tuple[Span, ...]:
        """What one folder's numbers are, by series."""
        return tuple(span for each in self._folders if each.name == name for span in each.spans())

    def indexes(self, name: str, series: str) -> list[int]:
        """The indexes of one folder's numbers; empty where only a key tells them."""
        return next((each.indexes.get(series, []) for each in self._folders if each.name == name), [])

    def unseen(self) -> Iterator[str]:
        """Stretches between the numbers of these runs that none of them has, a sentence a series."""
        spans: dict[str, list[tuple[int, int]]] = {}
        given: dict[str, Given] = {}
        for held in self._folders:
            for span in held.spans():
                name = span.series
                one = held.claims.series.get(name) if held.claims is not None else None
                if one is not None and not one.column and span.lowest is not None and span.highest is not None:
                    kept_as = one.kept_as or name
                    spans.setdefault(kept_as, []).append((span.lowest, span.highest))
                    given[kept_as] = one
        for name, found in spans.items():
            stretches, ends = list[str](), -1
            for low, high in sorted(found):
                if 0 <= ends < low - 1:
                    stretches.append(f"{_said(given[name], ends + 1)} to {_said(given[name], low - 1)}")
                ends = max(ends, high)
            if stretches:
                more = f" and {len(stretches) - 5} more stretches" if len(stretches) > 5 else ""
                yield f"series {name}: numbers {', '.join(stretches[:5])}{more} are of no run given"

    # -- one piece ---------------------------------------------------------------------------------------------------

    def _take(self, at: int, held: _Folder, place: int, line: Mapping[str, Any]) -> None:
        held.pieces += 1
        claims = held.claims
        if claims is not None and line["serials"].keys() != claims.series.keys():
            message = "it has not one serial of each series of the run"
            held.several.tell("audit-serial-check", held.where(line), message)
        for series, serial in line["serials"].items():
            self.serials += 1
            held.number(claims, series, serial, place, line)
            self._sight(at, held, series, serial, place, line)
        if claims is not None and (claims.copied is not None or self._wanted):
            self._repeat(held, claims, line)

    def _sight(self, at: int, held: _Folder, series: str, serial: str, place: int, line: Mapping[str, Any]) -> None:
        sighting = at << _PLACE | place
        before = self._seen.setdefault(series, {}).setdefault(serial, sighting)
        if held.claims is not None and held.claims.same_numbers:
            self.copies += 1
        if before == sighting:
            return
        others = self._more.setdefault((series, serial), [before])
        for other in others:
            twin = self._folders[other >> _PLACE]
            if other >> _PLACE == at or not _copies(held.claims, twin.claims):
                there = f"{twin.name}, line {other & ((1 << _PLACE) - 1)}"
                held.several.tell("audit-serial-twice", held.where(line), f"{series} {serial} is also {there}")
                break
        others.append(sighting)

    # -- reprints ----------------------------------------------------------------------------------------------------

    def _repeat(self, held: _Folder, claims: Claims, line: Mapping[str, Any]) -> None:
        """What later copies say of this piece, against this piece."""
        asked = self._wanted.get(claims.run)
        if asked and (again := asked.pop(line["piece"], None)) is not None:
            later, told = again
            same = later.claims is not None and later.claims.same_numbers
            unlike = [key for key in (_LINE if same else _RECORD) if told[key] != line[key]]
            if unlike:
                message = f"{', '.join(unlike)} differ from those of {held.where(line)}, which it repeats"
                later.several.tell("audit-reprint-wrong", f"{later.name}, piece {line['piece']}", message)
        if claims.copied is not None:
            kept = {key: line[key] for key in _LINE}
            self._wanted.setdefault(claims.copied.of, {})[line["piece"]] = (held, kept)

    # -- the end -----------------------------------------------------------------------------------------------------

    def findings(self) -> Iterator[Finding]:
        """Everything that was found, folder by folder, when all were read."""
        runs = self.runs
        for run, asked in self._wanted.items():
            for piece, (later, _) in asked.items() if run in runs else ():
                message = f"the run that it repeats, {run[:12]}…, has no such piece"
                later.several.tell("audit-reprint-wrong", f"{later.name}, piece {piece}", message)
        for held in self._folders:
            if held.claims is not None:
                self._gaps(held, held.claims)
                self._chain(held, held.claims, runs)
            yield from held.several.all()

    def _gaps(self, held: _Folder, claims: Claims) -> None:
        for name, given in claims.series.items():
            if held.pieces < given.count:
                stretch = (
                    "" if given.column or given.terms.shuffled else _stretch(claims, name, held.pieces, given.count)
                )
                message = (
                    f"series {name}: {given.count:,} numbers were allotted, {held.pieces:,} are on pieces{stretch}"
                )
                held.several.tell("audit-serial-gap", held.name, message)
            elif held.pieces > given.count:
                message = f"series {name}: {given.count:,} numbers were allotted, and there are {held.pieces:,} pieces"
                held.several.tell("audit-serial-range", held.name, message)

    def _chain(self, held: _Folder, claims: Claims, runs: Mapping[str, Claims]) -> None:
        """A reprint against the run that it says it repeats."""
        copied = claims.copied
        source = runs.get(copied.of) if copied is not None else None
        if copied is None or source is None:
            return
        due = (source.origin, source.copy + 1) if copied.numbers == "same" else (claims.run, 1)
        if (copied.origin, copied.copy) != due:
            message = (
                f"it says copy {copied.copy} of run {copied.origin[:12]}…, and should say {due[1]} of {due[0][:12]}…"
            )
            held.several.tell("audit-reprint-wrong", held.name, message)


def _copies(one: Claims | None, other: Claims | None) -> bool:
    """Whether two folders may have the same number: as different copies of one first printing."""
    return one is not None and other is not None and one.origin == other.origin and one.copy != other.copy


def _said(given: Given, index: int) -> str:
    return str(given.terms.start + index * given.terms.step)


def _stretch(claims: Claims, series: str, pieces: int, count: int) -> str:
    given = claims.series[series]
    first, last = (_said(given, claims.index(series, place)) for place in (pieces + 1, count))
    return f"; number {first} is on none" if first == last else f"; numbers {first} to {last} are on none"
