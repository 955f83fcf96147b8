"""The first ledger: one table of entries that can only grow, by the next link, without overlap.

Everything is written out here and imports nothing of the program: a migration says what was, not what is.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

DIGITS = 60


def upgrade() -> None:
    dialect = op.get_context().dialect.name
    number = sa.Numeric(DIGITS, 0) if dialect == "postgresql" else sa.String(DIGITS)
    op.create_table(
        "ledger_entries",
        sa.Column("seq", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, autoincrement=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("series", sa.Text, nullable=False),
        sa.Column("first", number, nullable=False),
        sa.Column("last", number, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("run", sa.Text, nullable=False),
        sa.Column("operator", sa.Text, nullable=False),
        sa.Column("time", sa.Text, nullable=False),
        sa.Column("detail", sa.Text, nullable=False),
        sa.Column("once", sa.Text),
        sa.Column("previous", sa.String(64), nullable=False, unique=True),
        sa.Column("hash", sa.String(64), nullable=False, unique=True),
        sa.CheckConstraint("first <= last AND seq > 0 AND length(hash) = 64", "entries_sound"),
    )
    op.create_index("entries_once", "ledger_entries", ["once"], unique=True)
    op.create_index("entries_by_run", "ledger_entries", ["run"])
    op.create_index("entries_by_number", "ledger_entries", ["series", "first"])
    for name, columns, kind, unique in (
        ("entries_started_once", ["series"], "started", True),
        ("entries_by_allocation", ["series", "first"], "allocated", False),
    ):
        where = sa.text(f"kind = '{kind}'")
        op.create_index(name, "ledger_entries", columns, unique=unique, postgresql_where=where, sqlite_where=where)
    for statement in POSTGRESQL if dialect == "postgresql" else SQLITE:
        op.execute(sa.text(statement))


# SQLite has no range constraints.  Existing ranges are disjoint, so only the one that begins last before the new one's
# end can meet it.  INSERT OR REPLACE deletes without asking a DELETE trigger: entries_next leaves nothing to replace.
SQLITE = (
    """
    CREATE TRIGGER entries_overlap BEFORE INSERT ON ledger_entries WHEN NEW.kind = 'allocated' BEGIN
        SELECT RAISE(ABORT, 'ledger: these numbers are allotted already') WHERE NEW.first <= (
            SELECT last FROM ledger_entries WHERE kind = 'allocated' AND series = NEW.series AND first <= NEW.last
            ORDER BY first DESC LIMIT 1);
        SELECT RAISE(ABORT, 'ledger: the series does not have these numbers') WHERE NOT EXISTS (
            SELECT 1 FROM ledger_entries WHERE kind = 'started' AND series = NEW.series AND last >= NEW.last);
    END
    """,
    """
    CREATE TRIGGER entries_next BEFORE INSERT ON ledger_entries BEGIN
        SELECT RAISE(ABORT, 'ledger: this is not the next entry')
        WHERE NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM ledger_entries)
           OR NEW.previous IS NOT coalesce(
              (SELECT hash FROM ledger_entries ORDER BY seq DESC LIMIT 1), hex(zeroblob(32)))
           OR EXISTS (SELECT 1 FROM ledger_entries WHERE hash = NEW.hash OR once = NEW.once)
           OR EXISTS (SELECT 1 FROM ledger_entries
              WHERE kind = 'started' AND NEW.kind = 'started' AND series = NEW.series);
    END
    """,
    """
    CREATE TRIGGER entries_kept BEFORE UPDATE ON ledger_entries BEGIN
        SELECT RAISE(ABORT, 'ledger: an entry is never changed');
    END
    """,
    """
    CREATE TRIGGER entries_stay BEFORE DELETE ON ledger_entries BEGIN
        SELECT RAISE(ABORT, 'ledger: an entry is never deleted');
    END
    """,
)

POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    """
    ALTER TABLE ledger_entries ADD CONSTRAINT entries_overlap
    EXCLUDE USING gist (series WITH =, numrange(first, last, '[]') WITH &&) WHERE (kind = 'allocated')
    """,
    """
    CREATE FUNCTION ledger_next() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF NEW.seq IS DISTINCT FROM (SELECT coalesce(max(seq), 0) + 1 FROM ledger_entries)
           OR NEW.previous IS DISTINCT FROM coalesce(
              (SELECT hash FROM ledger_entries ORDER BY seq DESC LIMIT 1), repeat('0', 64))
        THEN RAISE EXCEPTION 'ledger: this is not the next entry' USING ERRCODE = 'integrity_constraint_violation';
        END IF;
        IF NEW.kind = 'allocated' AND NOT EXISTS (
           SELECT 1 FROM ledger_entries WHERE kind = 'started' AND series = NEW.series AND last >= NEW.last)
        THEN RAISE EXCEPTION 'ledger: the series does not have these numbers' USING ERRCODE = 'check_violation';
        END IF;
        RETURN NEW;
    END $$
    """,
    """
    CREATE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'ledger: an entry is never changed or deleted' USING ERRCODE = 'restrict_violation';
    END $$
    """,
    "CREATE TRIGGER entries_next BEFORE INSERT ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_next()",
    "CREATE TRIGGER entries_kept BEFORE UPDATE ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_refuse()",
    "CREATE TRIGGER entries_stay BEFORE DELETE ON ledger_entries FOR EACH ROW EXECUTE FUNCTION ledger_refuse()",
    "CREATE TRIGGER entries_whole BEFORE TRUNCATE ON ledger_entries EXECUTE FUNCTION ledger_refuse()",
    # Also where a session calls itself a replica, which would pass ordinary triggers by.
    *(
        f"ALTER TABLE ledger_entries ENABLE ALWAYS TRIGGER {name}"
        for name in ("entries_next", "entries_kept", "entries_stay", "entries_whole")
    ),
)
