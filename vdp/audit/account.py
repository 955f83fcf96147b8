"""The account of a ledger: what became of every number and of every copy, by series and run.

Numbers: allocated = good + replaced + voided + missing + outstanding.  Copies: printed = good + retained + awaiting
destruction + destroyed + missing.  A number is good when a copy of it was seen whole on the line; made and not yet seen
is outstanding, and its copy `unseen`.  What was made and what became of it are counted from different entries, so that
an account that does not balance is found.

Not here: the ledger itself (`vdp.numbering`), what the line saw (`reconcile`).
"""

from __future__ import annotations

from bisect import insort
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from operator import attrgetter
from typing import Any, NamedTuple

from vdp.errors import Finding
from vdp.numbering.entry import AGAIN, ALLOCATED, EXTRA, STARTED, Entry

#: What is told of a copy; what was told last holds.
FATES = ("good", "missing", "retained", "spoiled")
#: Entries that a copy was made.
_MADE = ("issued", "made_good", EXTRA)
NUMBERS = ("allocated", "good", "replaced", "voided", "missing", "outstanding")
COPIES = ("printed", "good", "retained", "awaiting destruction", "destroyed", "missing")


class CopyName(NamedTuple):
    """A copy of a number: the run that made it, and which one too many it is ("" of the one that was wanted)."""

    run: str
    extra: str


@dataclass(slots=True)
class Number:
    """What is told of one number: `made` copies in order, the fate of each that has one, copies `destroyed` by run,
    `gone` is replaced, voided or "", copies made `again` by the reprint's name."""

    made: list[CopyName] = field(default_factory=list)
    fates: dict[CopyName, str] = field(default_factory=dict)
    destroyed: Counter[str] = field(default_factory=Counter)
    again: dict[CopyName, str] = field(default_factory=dict)
    gone: str = ""

    @classmethod
    def of(cls, entries: Iterable[Entry]) -> Number:
        """Entries of one number, in order."""
        number = cls()
        for entry in entries:
            number._take(entry)
        return number

    def _take(self, entry: Entry) -> None:
        if entry.kind in _MADE or entry.kind in FATES or entry.kind == AGAIN:
            details = entry.details()
            name = CopyName(entry.run, details.get(EXTRA, ""))
            if entry.kind in _MADE:
                self.made.append(name)
            elif entry.kind == AGAIN:
                self.again[name] = details.get("reprint", "")
            else:
                self.fates[name] = entry.kind
        elif entry.kind == "destroyed":
            self.destroyed[entry.run] += 1
        elif entry.kind == "replaced" or (entry.kind == "voided" and not self.gone):
            self.gone = entry.kind

    @property
    def became(self) -> str:
        """One of `NUMBERS` but the first."""
        if self.gone:
            return self.gone
        if "good" in self.fates.values():
            return "good"
        wanted = [name for name in self.made if not name.extra]
        return "missing" if wanted and self.fates.get(wanted[-1]) == "missing" else "outstanding"

    def awaiting(self) -> Counter[str]:
        """Spoiled copies that were not destroyed, by run; less than none where more were destroyed than spoiled."""
        left = Counter(name.run for name, fate in self.fates.items() if fate == "spoiled")
        left.subtract(self.destroyed)
        return left


class Stretch(NamedTuple):
    """Numbers `first` … `last` (0-based indexes) of which the very same is told."""

    first: int
    last: int
    entries: tuple[Entry, ...]


def stretches(entries: Iterable[Entry]) -> Iterator[Stretch]:
    """Entries of one series → stretches, by number."""
    told = [entry for entry in entries if entry.kind != STARTED]
    begins: dict[int, list[Entry]] = defaultdict(list)
    ends: dict[int, list[Entry]] = defaultdict(list)
    for entry in told:
        begins[entry.first].append(entry)
        ends[entry.last + 1].append(entry)
    open_now: list[Entry] = []
    for at, after in pairwise(sorted(begins.keys() | ends.keys())):
        for entry in ends.get(at, ()):
            open_now.remove(entry)
        for entry in begins.get(at, ()):
            insort(open_now, entry, key=attrgetter("seq"))
        if open_now:
            yield Stretch(at, after - 1, tuple(open_now))


@dataclass(slots=True)
class Account:
    """Of one series and run: numbers that the run was given, and copies that it made.  `unseen` copies were made, and
    nothing is told of them yet; `over` were destroyed and never spoiled."""

    series: str
    run: str
    job: str = ""
    numbers: Counter[str] = field(default_factory=Counter)
    copies: Counter[str] = field(default_factory=Counter)
    unseen: int = 0
    over: int = 0

    def findings(self) -> Iterator[Finding]:
        """Where it does not balance."""
        where = f"series {self.series}, run {self.run[:12]}"
        for what, keys, told in (("numbers", NUMBERS, self.numbers), ("copies", COPIES, self.copies)):
            rest = sum(told[key] for key in keys[1:])
            if told[keys[0]] != rest:
                message = f"{told[keys[0]]:,} {what} {keys[0]}, {rest:,} accounted for"
                yield Finding("ledger-account", where, message)
        if self.over:
            yield Finding("ledger-account", where, f"more copies were destroyed than were spoiled: {self.over:,}")

    def as_dict(self) -> dict[str, Any]:
        """For JSON: every part of both equations, nothings too."""
        numbers = {key: self.numbers[key] for key in NUMBERS}
        copies = {key: self.copies[key] for key in COPIES}
        return {"series": self.series, "run": self.run, "numbers": numbers, "copies": copies, "unseen": self.unseen}

    def add(self, other: Account) -> None:
        self.numbers.update(other.numbers)
        self.copies.update(other.copies)
        self.unseen += other.unseen
        self.over += other.over


def accounts(entries: Iterable[Entry]) -> list[Account]:
    """The accounts of a ledger's entries (in order of `seq`), by series, and within one in the order of the runs."""
    by_series: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_series[entry.series].append(entry)
    return [account for name, told in sorted(by_series.items()) for account in _of_series(name, told)]


def _of_series(series: str, entries: Sequence[Entry]) -> Iterator[Account]:
    by_run: dict[str, Account] = {}
    for entry in entries:
        if entry.kind in (ALLOCATED, *_MADE) and entry.run not in by_run:
            by_run[entry.run] = Account(series, entry.run, entry.job)
        if entry.kind == ALLOCATED:
            by_run[entry.run].numbers["allocated"] += entry.count
    for stretch in stretches(entries):
        owner = next((entry.run for entry in stretch.entries if entry.kind == ALLOCATED), "")
        number, count = Number.of(stretch.entries), stretch.last - stretch.first + 1
        by_run.setdefault(owner, Account(series, owner)).numbers[number.became] += count
        for name in number.made:
            known = name in number.fates
            by_run[name.run].copies["printed"] += count * known
            by_run[name.run].unseen += count * (not known)
        awaiting = number.awaiting()
        for name, fate in number.fates.items():
            if fate != "spoiled":
                by_run.setdefault(name.run, Account(series, name.run)).copies[fate] += count
        for run, left in awaiting.items():
            account = by_run.setdefault(run, Account(series, run))
            account.copies["awaiting destruction"] += count * left
            account.over += count * max(0, -left)  # of this very number: what awaits of others makes up for nothing
            account.copies["destroyed"] += count * number.destroyed[run]
    yield from by_run.values()
