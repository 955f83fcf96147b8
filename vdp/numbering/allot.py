"""Numbers given to a run: the next ones of its series, or those that its records name.

Everything happens inside one transaction that no other writer is inside of (`store`).  The same run is given the same
numbers again; numbers of a run are never given to another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import Connection

from vdp.errors import CallerError, Fault
from vdp.numbering.entry import ALLOCATED, STARTED, Entry, Event, Head, canonical
from vdp.numbering.rows import Pen, last_of, many, next_index, one, ranges
from vdp.numbering.schema import ENTRIES as T
from vdp.numbering.series import Series

#: How many numbers that were given to others are named in a message.
_NAMED = 5


class NumbersMoved(Exception):
    """A series goes on from another number than the caller counted with; nothing was allotted.  `firsts` are the
    indexes that the run would begin with."""

    def __init__(self, firsts: Mapping[str, int]) -> None:
        super().__init__(f"the numbers begin at {dict(firsts)}")
        self.firsts = dict(firsts)


class Allotment(NamedTuple):
    """What a run was given: its allocation in each series, the chain's head as of the last of them (the one to seal),
    and whether the numbers are `fresh` or those that the same run was given earlier."""

    entries: dict[str, Entry]
    head: Head
    fresh: bool

    def first(self, series: str) -> int:
        """The 0-based index of the run's first number in a series."""
        return self.entries[series].first


class Claim(NamedTuple):
    """The same for numbers that the records named: their ranges in one series."""

    entries: tuple[Entry, ...]
    head: Head
    fresh: bool


class Taken(NamedTuple):
    """What a run was given in all its series, by name; head and `fresh` as in `Allotment`."""

    entries: dict[str, tuple[Entry, ...]]
    head: Head
    fresh: bool


def foresee(connection: Connection, names: Iterable[str], inputs: str) -> dict[str, int]:
    """The 0-based index that a run would begin with in each series: that of the last run of the same `inputs` (a hash
    of everything but the pictures), else the next."""
    told = canonical({"inputs": inputs})
    known: dict[str, int] = {}
    for name in names:
        earlier = last_of(connection, T.c.kind == ALLOCATED, T.c.series == name, T.c.detail == told)
        known[name] = next_index(connection, name) if earlier is None else earlier.first
    return known


def take(
    connection: Connection,
    pen: Pen,
    counted: Sequence[tuple[Series, int]],
    named: Sequence[tuple[Series, Sequence[int]]],
    run: str,
    job: str,
    expected: Mapping[str, int],
    inputs: str,
) -> Taken:
    """The next `count` numbers of each counted series, and exactly the indexes of each named one.

    Raises NumbersMoved when a counted series does not begin at its `expected` index.
    """
    firsts = {}
    for series, _ in counted:
        earlier = _earlier(connection, series, run)
        firsts[series.name] = earlier[0].first if earlier else next_index(connection, series.name)
    if firsts != dict(expected):
        raise NumbersMoved(firsts)
    entries: dict[str, tuple[Entry, ...]] = {}
    heads: list[Head] = []
    fresh = False
    if counted:
        allotted = allot(connection, pen, counted, run, job, {"inputs": inputs})
        entries |= {name: (entry,) for name, entry in allotted.entries.items()}
        heads.append(allotted.head)
        fresh = allotted.fresh
    for series, indexes in named:
        claimed = claim(connection, pen, series, indexes, run, job)
        entries[series.name] = claimed.entries
        heads.append(claimed.head)
        fresh = fresh or claimed.fresh
    return Taken(entries, max(heads), fresh)


def allot(
    connection: Connection,
    pen: Pen,
    wants: Sequence[tuple[Series, int]],
    run: str,
    job: str,
    detail: Mapping[str, str] | None = None,
) -> Allotment:
    """The next `count` numbers of each series, or none in any and a CallerError with every reason."""
    entries: dict[str, Entry] = {}
    faults: list[Fault] = []
    events: list[Event] = []
    for series, count in wants:
        where = f"series {series.name}"
        earlier = _earlier(connection, series, run)
        begin = next_index(connection, series.name)
        left = series.capacity - begin
        if fault := _changed(connection, series):
            faults.append(fault)
        elif earlier and (len(earlier) > 1 or earlier[0].count != count):
            message = f"this very run was given {sum(e.count for e in earlier)} numbers, and now asks for {count}"
            faults.append(Fault(where, message, "it is not the same run"))
        elif earlier:
            entries[series.name] = earlier[0]
        elif count > left:
            message = f"it is exhausted: {left} of its {series.capacity} numbers are left, the run needs {count}"
            faults.append(Fault(where, f"{message}; nothing was allotted", "begin a new series"))
        else:
            events += _start(connection, series)
            once = f"{run}/{series.name}"
            events.append(Event(ALLOCATED, series.name, begin, begin + count - 1, run, job, detail or {}, once))
    if faults:
        raise CallerError(faults)
    entries |= {entry.series: entry for entry in pen.write(connection, events) if entry.kind == ALLOCATED}
    return Allotment(entries, max(entry.head for entry in entries.values()), fresh=bool(events))


def claim(connection: Connection, pen: Pen, series: Series, indexes: Iterable[int], run: str, job: str) -> Claim:
    """Exactly these numbers, or none and a CallerError that names those given to other runs."""
    spans = list(_spans(sorted(indexes)))
    if fault := _changed(connection, series):
        raise CallerError((fault,))
    earlier = _earlier(connection, series, run)
    if earlier:
        if sorted((entry.first, entry.last) for entry in earlier) != spans:
            message = "this very run was given other numbers than it now asks for"
            raise CallerError.one(f"series {series.name}", message, "it is not the same run")
        return Claim(earlier, earlier[-1].head, fresh=False)
    taken = ranges(connection, series.name)
    met = sorted({met for span in spans for met in taken.meeting(*span)})
    if met:
        begins = [first for first, _ in met[:_NAMED]]
        owners = many(connection, T.c.kind == ALLOCATED, T.c.series == series.name, T.c.first.in_(begins))
        shown = "; ".join(_owned(series, entry) for entry in owners)
        more = f"; and {len(met) - _NAMED} more ranges" if len(met) > _NAMED else ""
        message = f"numbers that the records name were given to other runs: {shown}{more}; nothing was allotted"
        raise CallerError.one(f"series {series.name}", message)
    events = [
        *_start(connection, series),
        *(
            Event(ALLOCATED, series.name, first, last, run, job, once=f"{run}/{series.name}/{first}")
            for first, last in spans
        ),
    ]
    made = tuple(entry for entry in pen.write(connection, events) if entry.kind == ALLOCATED)
    return Claim(made, made[-1].head, fresh=True)


def _earlier(connection: Connection, series: Series, run: str) -> tuple[Entry, ...]:
    return tuple(many(connection, T.c.kind == ALLOCATED, T.c.series == series.name, T.c.run == run))


def _start(connection: Connection, series: Series) -> Iterator[Event]:
    if one(connection, T.c.kind == STARTED, T.c.series == series.name) is None:
        once = f"started/{series.name}"
        yield Event(STARTED, series.name, 0, series.capacity - 1, detail=series.terms(), once=once)


def _changed(connection: Connection, series: Series) -> Fault | None:
    """A series whose terms differ from those that it was started with could print a number twice."""
    started = one(connection, T.c.kind == STARTED, T.c.series == series.name)
    terms = series.terms()
    if started is None or started.detail == canonical(terms):
        return None
    before = started.details()
    changed = [
        f"{name} was '{before.get(name, '')}', is '{terms.get(name, '')}'"
        for name in sorted(before.keys() | terms.keys())
        if before.get(name) != terms.get(name)
    ]
    message = f"the ledger has it otherwise: {'; '.join(changed)}"
    return Fault(f"series {series.name}", message, "numbers could meet: give the new series a name of its own")


def _owned(series: Series, entry: Entry) -> str:
    """Whose a range is; its numbers as they are before alphabet, prefix and check."""
    numbers = " … ".join(str(series.number(index)) for index in sorted({entry.first, entry.last}))
    return f"{numbers} to run {entry.run[:12]} of job {entry.job}"


def _spans(indexes: list[int]) -> Iterator[tuple[int, int]]:
    """Sorted numbers, each there once, as ranges."""
    begun = 0
    for at in range(1, len(indexes) + 1):
        if at == len(indexes) or indexes[at] != indexes[at - 1] + 1:
            yield indexes[begun], indexes[at - 1]
            begun = at
