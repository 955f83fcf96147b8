"""Runs held against the ledgers that gave them numbers: chains, the heads that were sealed, the numbers each run has,
reprints as told.

Not here: which ledger knows a run, what one says and what several say of one another (`ledgers`), a chain's own
judgement (`vdp.numbering.chain`), what the runs say of one another (`vdp.audit.register`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace

from vdp.audit.account import Account
from vdp.audit.claims import Claims, Given
from vdp.audit.register import Register
from vdp.errors import Finding
from vdp.numbering.chain import Ranges
from vdp.numbering.entry import AGAIN, ALLOCATED, Entry, Head
from vdp.numbering.ledger import open_ledger
from vdp.run.desk import Desk
from vdp.run.ledgers import UNREADABLE, Book, homes_of, overlaps, read_book
from vdp.run.sealed import Sealed
from vdp.run.sealing import DATA

#: Why copies are made again.
_FATES = ("spoiled", "missing", "retained")
#: What is counted of the runs given, and how it is called.
_LABELS = {
    "issued": "issued",
    "spoiled": "spoiled",
    "missing": "missing",
    "retained": "kept as samples",
    "made_good": "made good",
    "replaced": "replaced",
    "voided": "voided",
    "destroyed": "destroyed",
}


@dataclass(slots=True)
class Traced:
    """What the ledgers came to; `shown` are their names; `figures`, `accounts` and `unchecked` as in an audit."""

    shown: tuple[str, ...]
    entries: int = 0
    findings: list[Finding] = field(default_factory=list)
    figures: list[tuple[str, str]] = field(default_factory=list)
    accounts: list[Account] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)


def trace(places: Sequence[str], sealed: Sequence[Sealed], register: Register, desk: Desk) -> Traced:
    """Raises CallerError for a ledger that cannot be opened."""
    with ExitStack() as opened:
        ledgers = [
            opened.enter_context(
                open_ledger(place, operator=desk.operator, now=desk.now, write=False, timeout=desk.timeout)
            )
            for place in dict.fromkeys(places)
        ]
        books = [read_book(ledger, sealed) for ledger in ledgers]
        homes, found = homes_of(books, sealed)
        traced = Traced(tuple(book.shown for book in books), sum(book.entries for book in books))
        for ledger, book in zip(ledgers, books, strict=True):
            own = [each for each, home in zip(sealed, homes, strict=True) if home is book]
            broken = ledger.verify_chain(_heads(own))
            several = f"{book.shown}: " if len(books) > 1 else ""
            traced.findings += [replace(each, where=several + each.where) for each in broken]
    traced.findings += found
    for book in books:
        try:
            own = [each for each, home in zip(sealed, homes, strict=True) if home is book and book.readable]
            judged = [each for one in own if one.claims is not None for each in _run(one, one.claims, book, register)]
            traced.findings += judged
        except UNREADABLE:
            book.readable = False
        if not book.readable:
            traced.unchecked.append(f"what ledger {book.shown} knows of these numbers: its entries cannot be read")
            continue
        traced.findings += [Finding("audit-reprint-unrecorded", book.shown, message) for message in book.loose]
        traced.findings += [Finding("audit-person", book.shown, message) for message in book.alone]
        traced.findings += [finding for account in book.accounts for finding in account.findings()]
        traced.accounts += book.accounts
        if book.unattested:
            entries = "1 entry" if book.unattested == 1 else f"{book.unattested:,} entries"
            traced.unchecked.append(
                f"what follows the last sealed head in ledger {book.shown}, {entries}: cut off, no seal would tell"
            )
    traced.findings += overlaps(books)
    _sum_up(traced, [book for book in books if book.readable], register)
    return traced


def _heads(sealed: Sequence[Sealed]) -> list[Head]:
    """The heads that runs attest: without them, entries cut off at the end leave no trace."""
    return sorted({head for each in sealed for head in each.heads})


# -- one run -----------------------------------------------------------------------------------------------------------


def _run(each: Sealed, claims: Claims, told: Book, register: Register) -> Iterator[Finding]:
    name, where = claims.run, str(each.folder)
    for message in _terms(claims, told):
        yield Finding("audit-ledger-differs", where, message)
    if claims.copied is not None:
        for message in _reprint(each, claims, told, register):
            yield Finding("audit-reprint-unrecorded", where, message)
    if claims.same_numbers or not claims.series:
        return
    own = told.runs.get(name, [])
    for message in _allotted(claims, own, each):
        yield Finding("audit-ledger-differs", where, message)
    for series in claims.series:
        ranges = Ranges()
        kept_as = claims.kept_as(series)
        for entry in own:
            if entry.kind == ALLOCATED and entry.series == kept_as:
                ranges.add(entry.first, entry.last)
        yield from _numbers(where, kept_as, claims.series[series], ranges, own, register.indexes(where, series))


def _terms(claims: Claims, told: Book) -> Iterator[str]:
    for name, given in claims.series.items():
        series = claims.kept_as(name)
        started = told.series.get(series)
        if started is None:
            yield f"the ledger has no series {series}"
        elif started.details() != given.terms.said:
            yield f"series {series} was started in the ledger with other terms"


def _allotted(claims: Claims, own: Sequence[Entry], each: Sealed) -> Iterator[str]:
    """Whose the numbers are, since when, and that the pieces were told as made."""
    allotted = [entry for entry in own if entry.kind == ALLOCATED]
    if not allotted:
        yield f"the ledger gave no numbers to run {claims.run}"
        return
    if jobs := {entry.job for entry in allotted} - {claims.job}:
        yield f"the ledger gave its numbers to the job '{min(jobs)}', not to '{claims.job}'"
    if others := {entry.series for entry in allotted} - set(map(claims.kept_as, claims.series)):
        yield f"the ledger gave it numbers of series {', '.join(sorted(others))}, of which it tells nothing"
    if claims.ledger is not None and claims.ledger.seq < max(entry.seq for entry in allotted):
        yield f"it attests entry {claims.ledger.seq}, before its numbers were allotted"
    pieces = each.seal.private.get(DATA) if each.seal is not None else claims.files.get(DATA)
    for series in map(claims.kept_as, claims.series):
        made = [entry for entry in own if entry.kind == "issued" and entry.series == series]
        if not made:
            yield f"the ledger does not have its pieces as made (series {series})"
        elif {entry.details().get("pieces") for entry in made} != {pieces}:
            yield f"the ledger has other pieces of it as made: the SHA-256 of {DATA} differs (series {series})"


def _numbers(
    where: str, series: str, given: Given, ranges: Ranges, own: Sequence[Entry], indexes: Sequence[int]
) -> Iterator[Finding]:
    """The numbers on the pieces against those that the ledger gave to the run."""
    entries = [entry for entry in own if entry.kind == ALLOCATED and entry.series == series]
    allotted = sum(entry.count for entry in entries)
    if entries and (min(entry.first for entry in entries), allotted) != (given.first, given.count):
        message = (
            f"series {series}: the ledger gave it {allotted:,} numbers from index {min(e.first for e in entries)}, "
            f"the run tells of {given.count:,} from {given.first}"
        )
        yield Finding("audit-ledger-differs", where, message)
    if not entries or not indexes:
        return
    strange = sorted({index for index in indexes if not ranges.hold(index, index)})
    if strange:
        message = f"series {series}: {len(strange):,} pieces have numbers that the ledger did not give to this run"
        yield Finding("audit-ledger-differs", where, f"{message}; the first has index {strange[0]}")
    lacking = allotted - (len(set(indexes)) - len(strange))
    if lacking:
        message = f"series {series}: {lacking:,} numbers that the ledger gave to this run are on none of its pieces"
        yield Finding("audit-serial-gap", where, message)


def _reprint(each: Sealed, claims: Claims, told: Book, register: Register) -> Iterator[str]:
    """The events that a reprint leaves: copies made again, and made good or given up for others."""
    events = told.reprints.get(claims.run, [])
    if claims.copied is None or not events:
        yield f"the ledger knows no reprint {claims.run}"
        return
    if others := {entry.details().get("second", "") for entry in events if entry.kind == AGAIN} - {claims.second}:
        yield f"the ledger names {', '.join(sorted(others))} as the second person, the run {claims.second}"
    same = claims.same_numbers
    of_source, of_own = ((AGAIN,), "made_good") if same else ((AGAIN, "voided"), "replaced")
    for series, given in claims.series.items():
        due = _due(each, claims, series, given, register) if same else None
        for kind, run in [*((kind, claims.copied.of) for kind in of_source), (of_own, claims.run)]:
            # What is replaced may have been a replacement itself, and kept under that name.
            names = {series, claims.kept_as(series)}
            found = [e for e in events if (e.kind, e.run) == (kind, run) and e.series in names]
            count = sum(entry.count for entry in found)
            # Spread out only when there are no more than pieces: a false entry may tell of any number of copies.
            if count != each.pieces or (due is not None and _spread(found) != due):
                yield (
                    f"series {series}: the ledger has {count:,} copies as {kind}, "
                    f"the reprint {each.pieces:,} pieces; they must be the same"
                )
        again = [e for e in events if (e.kind, e.series) == (AGAIN, series)]
        fates = [e for e in told.runs.get(claims.copied.of, []) if e.kind in _FATES and e.series == series]
        single = {(fate.first, fate.last) for fate in fates}
        wide = [fate for fate in fates if fate.count > 1]
        lost = [
            e
            for e in again
            if (e.first, e.last) not in single and not any(w.first <= e.first and e.last <= w.last for w in wide)
        ]
        if lost:
            count = sum(entry.count for entry in lost)
            yield f"series {series}: {count:,} copies were made again and never told as spoiled or missing"


def _spread(entries: Sequence[Entry]) -> set[int]:
    return {index for entry in entries for index in range(entry.first, entry.last + 1)}


def _due(each: Sealed, claims: Claims, series: str, given: Given, register: Register) -> set[int] | None:
    """The indexes of the numbers on the pieces; None where only a key tells them."""
    if not given.column:
        return {claims.index(series, place) for place in range(1, each.pieces + 1)}
    return set(register.indexes(str(each.folder), series)) or None


# -- all of them -------------------------------------------------------------------------------------------------------


def _sum_up(traced: Traced, books: Sequence[Book], register: Register) -> None:
    runs: Mapping[str, Claims] = register.runs
    counts = {kind: sum(book.kinds[kind] for book in books) for kind in _LABELS}
    shown = ", ".join(f"{count:,} {_LABELS[kind]}" for kind, count in counts.items() if count)
    if books:
        ledger = "ledger" if len(books) == 1 else "ledgers"
        traced.figures.append((f"By the {ledger}, of these runs", shown or "nothing"))
    absent = sorted({name for book in books for name in book.reprints if name not in runs})
    if absent:
        named = ", ".join(name[:12] + "…" for name in absent[:3])
        traced.unchecked.append(f"reprints of these runs that the ledger knows, {len(absent)} ({named}): not given")
    given = {claims.kept_as(series) for claims in runs.values() for series in claims.series}
    others = {run for book in books for series in given for run in book.owners.get(series, ())} - runs.keys()
    others -= {claims.origin for claims in runs.values()}
    if others:
        traced.unchecked.append(f"other runs that have numbers of these series, {len(others)} by the ledger: not given")
