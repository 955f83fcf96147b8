"""The ledger: which numbers were given to which run, and what became of them.  It only grows.

Lives here: events and questions.  Not here: which numbers a run gets (`allot`), the database (`store`), the chain's
links and their proof (`entry`, `chain`), what a number looks like (`series`), how copies are
reckoned up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import ColumnElement, Connection

from vdp.errors import CallerError, Fault, Finding, OurBug
from vdp.numbering.allot import Allotment, Claim, Taken, allot, claim, foresee, take
from vdp.numbering.chain import Ranges, judge
from vdp.numbering.entry import ALLOCATED, KINDS, STARTED, Entry, Event, Head
from vdp.numbering.guards import broken_guards
from vdp.numbering.rows import Pen, head, many, next_index, one, ranges
from vdp.numbering.schema import ENTRIES as T
from vdp.numbering.series import Series
from vdp.numbering.store import Store

#: The detail that names a reprint.
REPRINT = "reprint"
#: Seconds that a ledger waits for other writers.
TIMEOUT = 30.0


def open_ledger(
    where: str | Path,
    *,
    operator: str,
    now: Callable[[], datetime],
    write: bool = True,
    timeout: float = TIMEOUT,
) -> Ledger:
    """The ledger in a SQLite file (made when absent) or in PostgreSQL by URL.

    `operator` and the aware time that `now` gives go into each entry.  Without `write` nothing is made or changed, and
    a ledger that is not there is refused.  Raises CallerError for what cannot be opened.
    """
    if write and not _sayable(operator):
        raise CallerError.one("operator", "whoever makes the run is named in the ledger; there is no name", "state one")
    return Ledger(Store(where, write=write, timeout=timeout), operator, now)


class Ledger:
    """An open ledger.  Every method is one transaction: all of it is stored, or nothing.  Raises CallerError for a
    ledger that is locked, full, read-only, out of reach or damaged."""

    def __init__(self, store: Store, operator: str, now: Callable[[], datetime]) -> None:
        self._store, self._operator, self._now = store, operator, now

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._store.close()

    @property
    def shown(self) -> str:
        """How messages name the ledger, without a password."""
        return self._store.shown

    # -- adding ------------------------------------------------------------------------------------------------------

    def allocate(self, series: Series, count: int, *, run: str, job: str) -> int:
        """The 0-based index of the first of `count` numbers for `run`; see `allocate_all`."""
        return self.allocate_all([(series, count)], run=run, job=job).first(series.name)

    def allocate_all(self, wants: Sequence[tuple[Series, int]], *, run: str, job: str) -> Allotment:
        """The next numbers of each series, in one transaction; the same run is given the same numbers again.

        Raises CallerError when a series is exhausted, or its terms are not those that it was started with: nothing is
        allotted then, in any series.
        """
        if not wants or not all(count > 0 for _, count in wants):
            raise OurBug("a run asks for one number or more")
        _named(run, job)
        return self._store.write(lambda connection: allot(connection, self._pen(), wants, run, job))

    def claim(self, series: Series, indexes: Iterable[int], *, run: str, job: str) -> Claim:
        """Exactly the numbers with these 0-based indexes, which the records brought along; else as `allocate_all`.

        Raises CallerError that names numbers given to other runs.
        """
        wanted = tuple(indexes)
        if not wanted or len(set(wanted)) < len(wanted) or not all(0 <= i < series.capacity for i in wanted):
            raise OurBug("a run claims one number or more of its series, each once")
        _named(run, job)
        return self._store.write(lambda connection: claim(connection, self._pen(), series, wanted, run, job))

    def take(
        self,
        counted: Sequence[tuple[Series, int]],
        named: Sequence[tuple[Series, Sequence[int]]],
        *,
        run: str,
        job: str,
        expected: Mapping[str, int],
        inputs: str,
    ) -> Taken:
        """Everything that a run needs, in one transaction: the next numbers of the counted series, exactly the indexes
        of the named ones (each once).  The same run is given the same numbers again.

        `expected` are the indexes at which the caller takes the counted series to begin; `inputs` as in `foresee`.
        Raises NumbersMoved where they begin elsewhere, and CallerError as `allocate_all` and `claim`.
        """
        if not (counted or named) or not all(count > 0 for _, count in counted) or not all(each for _, each in named):
            raise OurBug("a run asks for one number or more")
        _named(run, job)
        return self._store.write(
            lambda connection: take(connection, self._pen(), counted, named, run, job, expected, inputs)
        )

    def append(self, events: Iterable[Event]) -> tuple[Entry, ...]:
        """Adds events in their order, and gives their entries; one whose `once` was told before is not added again.

        Raises CallerError with every event that is about numbers never allotted.
        """
        return self.record(events)[0]

    def record(
        self, events: Iterable[Event], wants: Sequence[tuple[Series, int]] = (), *, run: str = "", job: str = ""
    ) -> tuple[tuple[Entry, ...], Allotment | None]:
        """Events, and then the next numbers that `run` wants, in one transaction; as `append` and `allocate_all`.

        Raises CallerError also when an occasion was told before by another reprint than the detail names.
        """
        told = tuple(events)
        occasions = [event.once for event in told if event.once is not None]
        if len(set(occasions)) < len(occasions):
            raise OurBug("one occasion is told twice at once")
        for event in told:
            if event.kind not in KINDS or event.kind in {STARTED, ALLOCATED} or event.first > event.last:
                raise OurBug(f"the ledger takes no event like {event}")
            if not all(map(_sayable, (*event.detail.values(), event.run or "-", event.job or "-"))):
                raise CallerError.one("ledger", f"{event.kind}: the details hold unprintable or no characters")

        def work(connection: Connection) -> tuple[tuple[Entry, ...], Allotment | None]:
            entries = self._append(connection, told)
            return entries, allot(connection, self._pen(), wants, run, job) if wants else None

        return self._store.write(work)

    # -- asking ------------------------------------------------------------------------------------------------------

    def head(self) -> Head:
        """The last entry's place and hash."""
        with self._store.read() as connection:
            return head(connection)

    def entries(self) -> Iterator[Entry]:
        """All of the chain, in order."""
        with self._store.read() as connection:
            yield from many(connection)

    def series(self) -> dict[str, Entry]:
        """The entry that each series was started with, by name; its detail holds the terms."""
        return {entry.series: entry for entry in self._select(T.c.kind == STARTED)}

    def ranges(self, series: str) -> tuple[Entry, ...]:
        """The allocations of a series, by number."""
        found = self._select(T.c.kind == ALLOCATED, T.c.series == series)
        return tuple(sorted(found, key=lambda entry: entry.first))

    def given(self, series: str, run: str) -> Ranges:
        """The numbers of a series that a run was given."""
        given = Ranges()
        for entry in self.ranges(series):
            if entry.run == run:
                given.add(entry.first, entry.last)
        return given

    def of_run(self, run: str) -> tuple[Entry, ...]:
        """Everything told of a run, in order."""
        return self._select(T.c.run == run)

    def history(self, series: str, index: int) -> tuple[Entry, ...]:
        """Everything told of one number, its allocation first; empty for a number that was never allotted."""
        return self._select(T.c.series == series, T.c.kind != STARTED, T.c.first <= index, T.c.last >= index)

    def foresee(self, names: Iterable[str], inputs: str) -> dict[str, int]:
        """The 0-based index that a run of these `inputs` (a hash of everything but pictures) would begin with in each
        series; `take` knows for certain."""
        with self._store.read() as connection:
            return foresee(connection, names, inputs)

    def left(self, series: Series) -> int:
        """How many numbers of a series are not allotted yet."""
        with self._store.read() as connection:
            return series.capacity - next_index(connection, series.name)

    def verify_chain(self, known: Iterable[Head] = ()) -> list[Finding]:
        """Everything wrong with the ledger: guards, links, ranges, events, heads `known` from seals."""
        with self._store.read() as connection:
            missing = broken_guards(connection)
        findings = [
            Finding("ledger-guard", f"ledger {self.shown}", f"{name} is missing, switched off or altered")
            for name in missing
        ]
        try:
            findings += judge(self.entries(), known)
        except (ValueError, TypeError, ArithmeticError) as error:
            findings.append(Finding("ledger-entry", f"ledger {self.shown}", f"an entry cannot be read: {error}"))
        return findings

    # -- inside a transaction ----------------------------------------------------------------------------------------

    def _pen(self) -> Pen:
        return Pen(self._operator, _time(self._now()))

    def _append(self, connection: Connection, events: tuple[Event, ...]) -> tuple[Entry, ...]:
        faults: list[Fault] = []
        taken: dict[str, Ranges] = {}
        earlier: dict[str, Entry] = {}
        fresh: list[Event] = []
        for event in events:
            if event.once is not None and (known := one(connection, T.c.once == event.once)):
                if (known.kind, known.series, known.first, known.last) != (
                    event.kind, event.series, event.first, event.last,
                ):  # fmt: skip
                    raise OurBug(f"two different events were told as the one occasion '{event.once}'")
                if known.details().get(REPRINT) != event.detail.get(REPRINT):
                    faults.append(_elsewhere(event, known))
                earlier[event.once] = known
                continue
            if event.series not in taken:
                taken[event.series] = ranges(connection, event.series)
            if not taken[event.series].hold(event.first, event.last):
                numbers = str(event.first) if event.first == event.last else f"{event.first} … {event.last}"
                message = f"{event.kind}: the number with index {numbers} was never allotted"
                faults.append(Fault(f"series {event.series}", message))
            fresh.append(event)
        if faults:
            raise CallerError(dict.fromkeys(faults))
        added = iter(self._pen().write(connection, fresh))
        return tuple(earlier[e.once] if e.once in earlier else next(added) for e in events)

    def _select(self, *conditions: ColumnElement[bool]) -> tuple[Entry, ...]:
        with self._store.read() as connection:
            return tuple(many(connection, *conditions))


def _time(now: datetime) -> str:
    if now.tzinfo is None:
        raise OurBug("the ledger's time has no time zone")
    return now.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _elsewhere(event: Event, known: Entry) -> Fault:
    """A copy is made again once: what is wrong with the one that took its place is that one's."""
    reprint = known.details().get(REPRINT, "")
    message = f"the copy of {event.detail.get('serial', event.first)} was made again before, in reprint {reprint[:12]}"
    return Fault(f"series {event.series}", message, "name the folder of that reprint, if its copy is spoiled as well")


def _named(run: str, job: str) -> None:
    if not _sayable(run):
        raise OurBug("a run has a name")
    if not _sayable(job):
        raise CallerError.one("job", f"the ledger cannot hold the name '{job}'", "use printable characters")


def _sayable(text: str) -> bool:
    """Whether every database and JSON hold the text as it is."""
    return bool(text.strip()) and text.isprintable() and len(text) <= 4000
