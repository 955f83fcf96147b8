"""What ledgers tell of the runs of an audit: each read once, which of several knows a run, numbers that two gave out.

Jobs and machines may have ledgers of their own; a run must be told of by one of them, and by one alone.  Not here: a
run against its ledger (`traced`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from vdp.audit.account import Account, accounts
from vdp.errors import Finding
from vdp.numbering.chain import Ranges
from vdp.numbering.entry import AGAIN, ALLOCATED, STARTED, Entry, Head, SenselessEntry
from vdp.numbering.ledger import REPRINT, Ledger
from vdp.run.desk import person
from vdp.run.sealed import Sealed

#: What entries raise that `verify_chain` tells of.
UNREADABLE = (SenselessEntry, ValueError, TypeError, ArithmeticError)
#: People who must have seen a destruction.
WITNESSES = 2
#: Events that a reprint leaves in the ledger.
_COPIES = (AGAIN, "voided", "made_good", "replaced")


@dataclass(slots=True, eq=False)
class Book:
    """What one ledger tells: `series` by the entries that began them, `runs` that were asked for and what they repeat,
    `reprints` by the reprint's name, `owners` of numbers by series, `ranges` allotted by series, the `heads` asked for
    that it has, what too few people saw (`alone`), copies that came of no reprint (`loose`), the `accounts` of the
    runs that were asked for.  Of one that is not `readable` nothing can be known."""

    shown: str
    entries: int = 0
    readable: bool = True
    series: dict[str, Entry] = field(default_factory=dict)
    runs: dict[str, list[Entry]] = field(default_factory=lambda: defaultdict(list))
    reprints: dict[str, list[Entry]] = field(default_factory=lambda: defaultdict(list))
    owners: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    ranges: dict[str, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    kinds: Counter[str] = field(default_factory=Counter)
    heads: set[Head] = field(default_factory=set)
    alone: list[str] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)
    accounts: list[Account] = field(default_factory=list)

    @property
    def unattested(self) -> int:
        """Entries after the last head that a seal attests."""
        return self.entries - max((head.seq for head in self.heads), default=0)

    def knows(self, run: str) -> bool:
        return run in self.runs or run in self.reprints


def read_book(ledger: Ledger, sealed: Sequence[Sealed]) -> Book:
    """Never raises for what entries hold."""
    book = Book(ledger.shown)
    claims = [each.claims for each in sealed if each.claims is not None]
    wanted = {each.run for each in claims} | {each.copied.of for each in claims if each.copied is not None}
    heads = {head for each in sealed for head in each.heads}
    series = {each.kept_as(name) for each in claims for name in each.series}
    told: list[Entry] = []
    try:
        for entry in ledger.entries():
            book.entries += 1
            _take(book, entry, wanted, heads)
            if entry.series in series:
                told.append(entry)
        given = {each.run for each in claims}
        book.accounts += [account for account in accounts(told) if account.run in given]
        book.loose += _loose(told)
    except UNREADABLE:
        book.readable = False
    return book


def _take(book: Book, entry: Entry, wanted: set[str], heads: set[Head]) -> None:
    if entry.head in heads:
        book.heads.add(entry.head)
    if entry.kind == STARTED:
        book.series.setdefault(entry.series, entry)
    elif entry.kind == ALLOCATED:
        book.owners[entry.series].add(entry.run)
        book.ranges[entry.series].append((entry.first, entry.last))
    if entry.run in wanted:
        book.runs[entry.run].append(entry)
        book.kinds[entry.kind] += entry.count
        if entry.kind in _COPIES and (name := entry.details().get(REPRINT)):
            book.reprints[name].append(entry)
        if message := _alone(entry):
            book.alone.append(f"entry {entry.seq}, series {entry.series}: {message}")


def _loose(told: Sequence[Entry]) -> Iterator[str]:
    """Copies that were made good, or replaced, and that no reprint was begun of."""
    begun = {_occasion(entry) for entry in told if entry.kind == AGAIN}
    for entry in told:
        if entry.kind in ("made_good", "replaced") and _occasion(entry) not in begun:
            yield f"entry {entry.seq}, series {entry.series}: {entry.kind}, and no reprint was begun of it"


def _occasion(entry: Entry) -> tuple[str, str, int, int]:
    return (entry.details().get(REPRINT, ""), entry.series, entry.first, entry.last)


def _alone(entry: Entry) -> str:
    """Who is missing beside the operator; empty where enough people are named."""
    if entry.kind == AGAIN:
        second = person(entry.details().get("second", ""))
        return "" if second and second != person(entry.operator) else "a reprint that names no second person"
    if entry.kind == "destroyed":
        people = {person(name) for name in entry.details().get("witnesses", "").split(";")} - {""}
        return "" if len(people) >= WITNESSES else f"a destruction that names {len(people)} witnesses, not {WITNESSES}"
    return ""


def homes_of(books: Sequence[Book], sealed: Sequence[Sealed]) -> tuple[list[Book | None], list[Finding]]:
    """The ledger of each run, None of one that no ledger knows; and what is wrong with that.

    One ledger by itself is that of every run: what it does not know is found when they are compared.
    """
    if len(books) == 1:
        return [books[0]] * len(sealed), []
    homes: list[Book | None] = []
    findings = []
    for each in sealed:
        found = [] if each.claims is None else [book for book in books if book.knows(each.claims.run)]
        if len(found) > 1:
            named = " and ".join(book.shown for book in found)
            message = f"{len(found)} of the ledgers tell of it, {named}: a copy, or numbers given by two"
            findings.append(Finding("audit-ledger-differs", str(each.folder), message))
        found = found or [book for book in books if book.heads & each.heads]
        found = found or [book for book in books if not book.readable]
        if not found and each.heads:
            message = "none of the ledgers tells of it, nor has the head that it attests"
            findings.append(Finding("audit-ledger-differs", str(each.folder), message))
        homes.append(found[0] if found else None)
    return homes, findings


def overlaps(books: Sequence[Book]) -> Iterator[Finding]:
    """Numbers of one series, of the same terms, that two ledgers gave out: they look the same when they are printed."""
    for one, other in combinations(books, 2):
        for series in sorted(one.ranges.keys() & other.ranges.keys()):
            if series not in one.series or not _alike(one.series[series], other.series.get(series)):
                continue
            taken = Ranges()
            for first, last in one.ranges[series]:
                taken.add(first, last)
            met = [(first, last) for first, last in sorted(other.ranges[series]) if taken.meeting(first, last)]
            if met:
                first, last = met[0]
                theirs = taken.meeting(first, last)[0]
                message = (
                    f"series {series}: both gave out numbers with indexes {max(first, theirs[0])} … "
                    f"{min(last, theirs[1])}; {len(met)} of the latter's ranges meet the former's"
                )
                yield Finding("ledger-overlap", f"{one.shown} and {other.shown}", message)


def _alike(one: Entry, other: Entry | None) -> bool:
    return other is not None and one.detail == other.detail
