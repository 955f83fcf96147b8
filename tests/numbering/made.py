"""Series and ledgers as the tests of this room make them, and the raw way to their databases."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg

from vdp.numbering.ledger import Ledger, open_ledger
from vdp.numbering.series import Series

#: The clock of the tests stands still.
TIME = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)


def series(name: str = "pass", **changes: Any) -> Series:
    plain: dict[str, Any] = {"prefix": "FP-", "start": 1, "step": 1, "width": 6, "suffix": "", "check": "luhn"}
    return Series(name, **(plain | changes))


def opened(place: str | Path, **changes: Any) -> Ledger:
    plain: dict[str, Any] = {"operator": "anna", "now": lambda: TIME, "timeout": 20.0}
    return open_ledger(place, **(plain | changes))


class Raw:
    """A database as somebody meets it who does not use the ledger's code."""

    def __init__(self, connection: sqlite3.Connection | psycopg.Connection[Any]) -> None:
        self.connection = connection

    def __call__(self, statement: str, *values: object) -> list[Any]:
        if isinstance(self.connection, sqlite3.Connection):
            return self.connection.execute(statement.replace("%s", "?"), values).fetchall()
        cursor = self.connection.execute(statement.encode(), values)
        return cursor.fetchall() if cursor.description else []

    def unguard(self) -> None:
        """Takes off every trigger, as the database's owner can."""
        if isinstance(self.connection, sqlite3.Connection):
            for (name,) in self("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
                self(f"DROP TRIGGER {name}")
        else:
            self("ALTER TABLE ledger_entries DISABLE TRIGGER ALL")
            self("ALTER TABLE ledger_entries DROP CONSTRAINT IF EXISTS entries_overlap")


@contextmanager
def raw(place: str) -> Iterator[Raw]:
    """A connection on which each statement is a transaction of its own."""
    if "://" in place:
        with closing(psycopg.connect(place, autocommit=True)) as connection:
            yield Raw(connection)
    else:
        with closing(sqlite3.connect(place, isolation_level=None)) as file:
            yield Raw(file)
