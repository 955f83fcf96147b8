"""Entries in and out of the ledger's table, inside a transaction that the caller holds.

Not here: who may add what (`allot`, `ledger`), transactions (`store`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, Row, insert, literal_column, select

from vdp.numbering.chain import Ranges
from vdp.numbering.entry import ALLOCATED, GENESIS, Entry, Event, Head, canonical
from vdp.numbering.schema import ENTRIES as T

#: Rows read at once.
_BATCH = 2000


class Pen(NamedTuple):
    """Who writes, and when, as the entries say it."""

    operator: str
    time: str

    def write(self, connection: Connection, events: Iterable[Event]) -> list[Entry]:
        """Links the events to the head, stores them, and gives the links."""
        seq, before = head(connection)
        made: list[Entry] = []
        for seq, event in enumerate(events, seq + 1):  # noqa: B020  counts on from the head
            link = Entry(
                seq, event.kind, event.series, event.first, event.last, event.job, event.run,
                self.operator, self.time, canonical(event.detail), event.once, before,
            )  # fmt: skip
            before = link.computed()
            made.append(replace(link, hash=before))
        if made:
            rows = [{column.name: getattr(entry, column.name) for column in T.columns} for entry in made]
            connection.execute(insert(T), rows)
        return made


def head(connection: Connection) -> Head:
    """The last entry's place and hash."""
    row = connection.execute(select(T.c.seq, T.c.hash).order_by(T.c.seq.desc()).limit(1)).first()
    return Head(0, GENESIS) if row is None else Head(*row)


def one(connection: Connection, *conditions: ColumnElement[bool]) -> Entry | None:
    """The first entry of which all holds."""
    row = connection.execute(select(T).where(*conditions).order_by(T.c.seq).limit(1)).first()
    return None if row is None else _entry(row)


def last_of(connection: Connection, *conditions: ColumnElement[bool]) -> Entry | None:
    """The last entry of which all holds."""
    row = connection.execute(select(T).where(*conditions).order_by(T.c.seq.desc()).limit(1)).first()
    return None if row is None else _entry(row)


def many(connection: Connection, *conditions: ColumnElement[bool]) -> Iterator[Entry]:
    """All entries of which all holds, in order, a few at a time."""
    query = select(T).where(*conditions).order_by(T.c.seq)
    with connection.execute(query, execution_options={"yield_per": _BATCH}) as rows:
        yield from map(_entry, rows)


def next_index(connection: Connection, series: str) -> int:
    """The index after the highest that is allotted in a series, which is in the range that begins last: none meet."""
    query = select(T.c.last).where(T.c.kind == literal_column(f"'{ALLOCATED}'"), T.c.series == series)
    last = connection.execute(query.order_by(T.c.first.desc()).limit(1)).scalar()
    return 0 if last is None else last + 1


def ranges(connection: Connection, series: str) -> Ranges:
    """Everything that is allotted in a series."""
    query = select(T.c.first, T.c.last).where(T.c.kind == ALLOCATED, T.c.series == series)
    taken = Ranges()
    for first, last in connection.execute(query.order_by(T.c.first)):
        taken.add(first, last)
    return taken


def _entry(row: Row[tuple[object, ...]]) -> Entry:
    return Entry(**row._mapping)  # noqa: SLF001  SQLAlchemy's public name for a row as a mapping
