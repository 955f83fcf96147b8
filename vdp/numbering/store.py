"""The database behind the ledger: where it is, how it is opened, and one writer at a time.

Lives here: places, engines, transactions, migrations.  Not here: what is written (`ledger`), tables (`schema`).
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from vdp.errors import CallerError
from vdp.numbering.schema import REVISION, VERSION_TABLE
from vdp.numbering.trouble import told, worth_another_try

T = TypeVar("T")

ENVIRONMENT = "VDP_LEDGER"
FILE_NAME = "ledger.sqlite"
#: How often a write is tried that another writer made the database undo.
TRIES = 5
#: The advisory lock that writers of a PostgreSQL ledger hold; any constant ("vdp ledg" in ASCII).
_LOCK = 0x766470206C656467
#: Alembic keeps its current migration in the module: one at a time in a process.
_MIGRATING = threading.Lock()


def ledger_place(folder: Path, said: str | None, environ: Mapping[str, str]) -> str:
    """Where the ledger of a job in `folder` is: what VDP_LEDGER names, else what the job says, else a file beside it.

    A path that the job says is relative to its folder.
    """
    if from_outside := environ.get(ENVIRONMENT):
        return from_outside
    return said if said and "://" in said else str(folder / (said or FILE_NAME))


class NoLedger(CallerError):
    """A ledger that was only to be read is not there."""


class Store:
    """A ledger's database, open.  `timeout` in seconds bounds the wait for other writers and for a connection."""

    def __init__(self, where: str | Path, *, write: bool, timeout: float) -> None:
        url = _url(where)
        self.shown = (url.database or "") if url.drivername == "sqlite" else url.render_as_string(hide_password=True)
        self.timeout = timeout
        self.dialect = "sqlite" if url.drivername == "sqlite" else "postgresql"
        self._engine = self._sqlite(url, write) if self.dialect == "sqlite" else self._postgresql(url, write)
        self._prepare(write)

    # -- transactions ------------------------------------------------------------------------------------------------

    def write(self, work: Callable[[Connection], T]) -> T:
        """What `work` gives, in one transaction that no other writer is inside of; all of it is stored or nothing.

        Work that the database undid because of another writer is done again, a few times.
        """
        for left in reversed(range(TRIES)):
            try:
                with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
                    self._lock(connection)
                    return work(connection)
            except SQLAlchemyError as error:
                if not left or not worth_another_try(error):
                    raise told(error, self.shown, self.timeout) from error
        raise AssertionError

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A transaction to read in."""
        try:
            with self._engine.connect() as connection, connection.begin():
                yield connection
        except SQLAlchemyError as error:
            raise told(error, self.shown, self.timeout) from error

    def close(self) -> None:
        """Lets go of the database; connections are closed after each transaction anyway."""
        self._engine.dispose()

    def _lock(self, connection: Connection) -> None:
        """SQLite's BEGIN IMMEDIATE is the lock; on PostgreSQL it is one of the application's, since locking the table
        would need the right to change it."""
        if self.dialect == "postgresql":
            milliseconds = max(1, round(self.timeout * 1000))
            connection.execute(text(f"SET LOCAL lock_timeout = {milliseconds}"))
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})

    # -- opening -----------------------------------------------------------------------------------------------------

    def _sqlite(self, url: URL, write: bool) -> Engine:
        path = Path(url.database or "").absolute()
        if path.is_dir():
            raise CallerError.one(f"ledger {path}", "this is a folder", "name a file in it")
        if not write and not path.exists():
            raise NoLedger.one(f"ledger {path}", "there is no such file")
        uri = URL.create(
            "sqlite", database=f"file:{quote(str(path))}", query={"mode": "rwc" if write else "ro", "uri": "true"}
        )
        engine = create_engine(uri, poolclass=NullPool, connect_args={"timeout": self.timeout})

        @event.listens_for(engine, "connect")
        def set_up(connection: Any, _record: Any) -> None:
            # The driver's own BEGIN comes too late to lock; and a commit must be on the disk when it returns.
            connection.isolation_level = None
            for pragma in ("synchronous = EXTRA", "trusted_schema = OFF", "recursive_triggers = ON"):
                connection.execute(f"PRAGMA {pragma}")

        @event.listens_for(engine, "begin")
        def begin(connection: Connection) -> None:
            writes = connection.get_execution_options().get("writes", False)
            connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

        return engine

    def _postgresql(self, url: URL, write: bool) -> Engine:
        if find_spec("psycopg") is None:
            mend = "pip install 'vdp[postgres]'"
            raise CallerError.one(f"ledger {self.shown}", "the PostgreSQL driver is not installed", mend)
        arguments: dict[str, Any] = {"connect_timeout": max(2, math.ceil(self.timeout)), "application_name": "vdp"}
        engine = create_engine(url, poolclass=NullPool, connect_args=arguments)
        return engine if write else engine.execution_options(postgresql_readonly=True)

    def _prepare(self, write: bool) -> None:
        """Brings the tables to this program's version, or says why not."""
        with self.read() as connection:
            found = _revision(connection)
            if found is None and self.dialect == "sqlite" and inspect(connection).get_table_names():
                raise CallerError.one(f"ledger {self.shown}", "this database is not a ledger", "name another file")
        if found == REVISION:
            return
        if found is not None and found > REVISION:
            raise CallerError.one(
                f"ledger {self.shown}",
                f"its version, {found}, is newer than this program's, {REVISION}",
                "use a newer vdp",
            )
        if not write:
            raise NoLedger.one(f"ledger {self.shown}", "this database holds no ledger")
        self.write(migrate)


def _url(where: str | Path) -> URL:
    if isinstance(where, Path) or "://" not in where:
        return URL.create("sqlite", database=str(Path(where).absolute()))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        raise CallerError.one("ledger", "this is not the URL of a database", _FORMS) from None
    kind = url.drivername.partition("+")[0]
    if kind == "sqlite" and url.database:
        return URL.create("sqlite", database=str(Path(url.database).absolute()))
    if kind in {"postgresql", "postgres"}:
        return url.set(drivername="postgresql+psycopg")
    raise CallerError.one("ledger", f"a ledger cannot be kept in '{url.drivername}'", _FORMS)


_FORMS = "name a file, or write postgresql://USER@HOST/DATABASE"


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    found: str | None = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608  a constant
    return found


def migrate(connection: Connection) -> None:
    from alembic import command  # noqa: PLC0415  a fifth of a second, needed once in a ledger's life
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    with _MIGRATING:
        command.upgrade(config, REVISION)
