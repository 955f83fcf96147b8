"""Whether a ledger's entries hold together: judged from the entries alone, trusting no constraint of the database.

Not here: whether the database's own guards are in place (`guards`).
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Iterable, Iterator
from types import MappingProxyType
from typing import NamedTuple

from vdp.errors import Finding
from vdp.numbering.entry import ALLOCATED, GENESIS, KINDS, STARTED, Entry, Head, SenselessEntry

CODES = MappingProxyType(
    {
        "ledger-entry": "an entry of the ledger is not what its hash says, or cannot be read",
        "ledger-chain": "an entry of the ledger does not follow the one before it",
        "ledger-overlap": "numbers were allotted twice",
        "ledger-unissued": "the ledger tells something of numbers that were never allotted",
        "ledger-head": "a state of the ledger that was attested elsewhere is not in it",
        "ledger-guard": "the database no longer refuses changes of the ledger or double numbers by itself",
    }
)


class Ranges:
    """Numbers allotted in a series, as ranges that do not meet."""

    def __init__(self) -> None:
        self._ranges: list[tuple[int, int]] = []

    def add(self, first: int, last: int) -> tuple[int, int] | None:
        """Takes a range, or gives the one that it meets and leaves things as they are."""
        if met := self.meeting(first, last):
            return met[-1]
        insort(self._ranges, (first, last))
        return None

    def meeting(self, first: int, last: int) -> list[tuple[int, int]]:
        """The ranges that have numbers of `first` … `last`."""
        end = begin = bisect_right(self._ranges, last, key=lambda taken: taken[0])
        while begin and self._ranges[begin - 1][1] >= first:
            begin -= 1
        return self._ranges[begin:end]

    def hold(self, first: int, last: int) -> bool:
        """Whether all of `first` … `last` is allotted."""
        while first <= last:
            at = bisect_right(self._ranges, first, key=lambda taken: taken[0])
            if not at or self._ranges[at - 1][1] < first:
                return False
            first = self._ranges[at - 1][1] + 1
        return True


def judge(entries: Iterable[Entry], known: Iterable[Head] = ()) -> list[Finding]:
    """Everything wrong with a ledger's entries, given in order of `seq`.

    `known` are heads attested elsewhere (in seals): without one, entries cut off at the end leave no trace.
    """
    findings: list[Finding] = []
    attested = {head for head in known if head.seq}
    before = Head(0, GENESIS)
    told = _Told({}, {}, set())
    for entry in entries:
        where = f"ledger entry {entry.seq}"
        findings.extend(_link(entry, before, where))
        findings.extend(_numbers(entry, told, where))
        before = entry.head
        attested.discard(before)
    for seq, wanted in sorted(attested):
        message = f"an attested head has hash {wanted} at entry {seq}, this ledger has not; it ends at {before.seq}"
        findings.append(Finding("ledger-head", f"ledger entry {seq}", message))
    return findings


class _Told(NamedTuple):
    """What the entries so far say: numbers allotted and size by series, and occasions."""

    taken: dict[str, Ranges]
    sizes: dict[str, int]
    occasions: set[str]


def _numbers(entry: Entry, told: _Told, where: str) -> Iterator[Finding]:
    """The entry against what was allotted before it."""
    if entry.once is not None:
        if entry.once in told.occasions:
            yield Finding("ledger-overlap", where, f"the occasion '{entry.once}' is told a second time")
        told.occasions.add(entry.once)
    taken = told.taken.setdefault(entry.series, Ranges())
    numbers = f"series {entry.series}: {entry.first} … {entry.last}"
    if entry.kind == STARTED:
        if entry.series in told.sizes:
            yield Finding("ledger-overlap", where, f"series {entry.series} is started a second time")
        told.sizes.setdefault(entry.series, entry.last)
    elif entry.kind == ALLOCATED:
        if met := taken.add(entry.first, entry.last):
            yield Finding("ledger-overlap", where, f"{numbers} meets {met[0]} … {met[1]}")
        if entry.last > told.sizes.get(entry.series, -1):
            yield Finding("ledger-unissued", where, f"{numbers} is more than the series has")
    elif not taken.hold(entry.first, entry.last):
        yield Finding("ledger-unissued", where, f"{numbers} is {entry.kind}, and was never allotted")


def _link(entry: Entry, before: Head, where: str) -> Iterator[Finding]:
    """The entry against its own hash, and against the one before it as that is stored: one change, one finding."""
    try:
        computed = entry.computed()
    except ValueError as error:
        yield Finding("ledger-entry", where, f"the entry cannot be hashed: {error}")
    else:
        if computed != entry.hash:
            yield Finding("ledger-entry", where, f"the entry has hash {computed}, and says {entry.hash}")
        elif fault := _senseless(entry):
            yield Finding("ledger-entry", where, f"the entry is hashed, and {fault}")
    if entry.kind not in KINDS:
        yield Finding("ledger-entry", where, f"the entry is of no known kind: '{entry.kind}'")
    if entry.seq != before.seq + 1:
        yield Finding("ledger-chain", where, f"it comes after entry {before.seq}: entries are missing or too many")
    elif entry.previous != before.hash:
        yield Finding("ledger-chain", where, f"it follows an entry of hash {entry.previous}, not {before.hash}")


def _senseless(entry: Entry) -> str:
    """Why an entry, though its hash is right, is none that the ledger would take; empty for one that is."""
    if entry.first > entry.last:
        return f"its numbers end before they begin: {entry.first} … {entry.last}"
    try:
        entry.details()
    except SenselessEntry as error:
        return error.faults[0].message
    return ""
