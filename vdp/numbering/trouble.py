"""What a database says when it cannot, told to the person who can do something about it.

Not here: what the ledger itself refuses (`ledger`).
"""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, SQLAlchemyError

from vdp.errors import CallerError

#: SQLite's result names by their beginnings, and PostgreSQL's SQLSTATEs by theirs; the first that fits is told.
_SQLITE = (
    ("SQLITE_BUSY", "another process has held the ledger locked for {timeout:g} s", "wait until it is done, run again"),
    (
        "SQLITE_LOCKED",
        "another process has held the ledger locked for {timeout:g} s",
        "wait until it is done, run again",
    ),
    ("SQLITE_FULL", "the disk is full: nothing was written", "make room, then run again: the numbers stay the same"),
    ("SQLITE_READONLY", "the ledger cannot be written", "make the file and its folder writable"),
    ("SQLITE_CANTOPEN", "the ledger cannot be opened", "check that its folder exists and may be written"),
    ("SQLITE_PERM", "the ledger cannot be opened", "check that the file may be read"),
    ("SQLITE_NOTADB", "this file is not a ledger", ""),
    ("SQLITE_CORRUPT", "the ledger's file is damaged", "restore it from a copy, then audit it"),
    ("SQLITE_IOERR", "the disk fails: nothing was written", "check the disk, then run again"),
)
_POSTGRESQL = (
    ("55P03", "another process has held the ledger locked for {timeout:g} s", "wait until it is done, run again"),
    ("53", "the database server is out of disk space, memory or connections: nothing was written", ""),
    ("25006", "the ledger cannot be written: the database is read-only", ""),
    ("42501", "this database user lacks a right that the ledger needs", ""),
    ("58P01", "the database server lacks the extension btree_gist", "install the server's contrib package"),
    ("0A000", "the database server lacks the extension btree_gist", "install the server's contrib package"),
    ("28", "the database refuses this user or password", ""),
    ("3D000", "there is no such database", "create it first"),
    ("57P", "the database server was shut down", "run again: the numbers stay the same"),
)
#: Serialization failure, deadlock: nothing was written, and a second try may pass.
_AGAIN = ("40001", "40P01")


def worth_another_try(error: SQLAlchemyError) -> bool:
    """Whether the database undid the work because of another writer."""
    return isinstance(error, IntegrityError) or _state(error) in _AGAIN


def told(error: SQLAlchemyError, shown: str, timeout: float) -> CallerError:
    """The database's error as the caller's; `shown` names the ledger without its password."""
    if not isinstance(error, DBAPIError):
        return CallerError.one(f"ledger {shown}", " ".join(str(error).split()))
    origin = error.orig
    if isinstance(origin, sqlite3.Error):
        name, table = getattr(origin, "sqlite_errorname", "") or "", _SQLITE
    else:
        name, table = _state(error), _POSTGRESQL
    for begins, message, mend in table:
        if name.startswith(begins):
            return CallerError.one(f"ledger {shown}", message.format(timeout=timeout) + _because(origin), mend)
    if not name and isinstance(error, OperationalError):
        return CallerError.one(f"ledger {shown}", "the database server cannot be reached" + _because(origin))
    return CallerError.one(f"ledger {shown}", "the database refuses" + _because(origin))


def _state(error: SQLAlchemyError) -> str:
    return getattr(getattr(error, "orig", None), "sqlstate", None) or ""


def _because(origin: BaseException | None) -> str:
    lines = str(origin).strip().splitlines()
    return f" ({lines[0]})" if lines else ""
