"""The triggers and constraints by which the database itself keeps the ledger, and whether they are still there.

Whoever owns the database can take them off; that they are off, or do something else under their old name, is found.
"""

from __future__ import annotations

import re
from functools import cache

from sqlalchemy import Connection, create_engine, text

from vdp.numbering.schema import ENTRIES

_SQLITE = "SELECT name, sql FROM sqlite_master WHERE tbl_name = :entries AND sql IS NOT NULL"
_POSTGRESQL = """
    SELECT tgname, pg_get_triggerdef(oid, true) FROM pg_trigger
    WHERE tgrelid = CAST(:entries AS regclass) AND tgenabled = 'A'
    UNION SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint
    WHERE conrelid = CAST(:entries AS regclass) AND convalidated
    UNION SELECT relname, pg_get_indexdef(indexrelid) FROM pg_class JOIN pg_index ON indexrelid = pg_class.oid
    WHERE indrelid = CAST(:entries AS regclass) AND indisvalid
    UNION SELECT proname, prosrc FROM pg_proc WHERE oid IN (
        SELECT tgfoid FROM pg_trigger WHERE tgrelid = CAST(:entries AS regclass))
"""
#: What each guard's definition must hold on PostgreSQL, white space aside; the functions' bodies are compared whole.
_TELLING = {
    "entries_overlap": "EXCLUDE USING gist (series WITH =, numrange(first, last, '[]'",
    "entries_next": "BEFORE INSERT ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_next()",
    "entries_kept": "BEFORE UPDATE ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_refuse()",
    "entries_stay": "BEFORE DELETE ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_refuse()",
    "entries_whole": "BEFORE TRUNCATE ON ledger_entries FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse()",
    "entries_once": "CREATE UNIQUE INDEX entries_once",
    "entries_started_once": "CREATE UNIQUE INDEX entries_started_once",
}


def broken_guards(connection: Connection) -> list[str]:
    """Names of the guards that are missing, switched off or altered, in order of name."""
    if connection.dialect.name == "sqlite":
        expected = _pristine()
        found = _definitions(connection, _SQLITE)
        return sorted(name for name, definition in expected.items() if found.get(name) != definition)
    found = _definitions(connection, _POSTGRESQL)
    wrong = {name for name, telling in _TELLING.items() if telling not in " ".join(found.get(name, "").split())}
    return sorted(wrong | {name for name, body in _bodies().items() if found.get(name) != body})


def _definitions(connection: Connection, query: str) -> dict[str, str]:
    rows = connection.execute(text(query), {"entries": ENTRIES.name})
    return {str(row[0]): str(row[1]) for row in rows}


@cache
def _pristine() -> dict[str, str]:
    """What a new SQLite ledger is made of."""
    from vdp.numbering.store import migrate  # noqa: PLC0415  the store imports no guards; this keeps it so

    engine = create_engine("sqlite://")
    try:
        with engine.connect() as connection, connection.begin():
            migrate(connection)
            return _definitions(connection, _SQLITE)
    finally:
        engine.dispose()


@cache
def _bodies() -> dict[str, str]:
    """The functions of a new PostgreSQL ledger."""
    from vdp.numbering.migrations.versions.ledger_0001 import POSTGRESQL  # noqa: PLC0415  it loads alembic

    found = (re.search(r"CREATE FUNCTION (\w+)\(\).*?\$\$(.*)\$\$", statement, re.S) for statement in POSTGRESQL)
    return {match[1]: match[2] for match in found if match}
