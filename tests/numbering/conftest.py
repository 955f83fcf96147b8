"""Ledgers to test on: SQLite files, and databases of a PostgreSQL server that is started for the tests."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from vdp.numbering.ledger import Ledger
from vdp.numbering.series import Series

from .made import opened, series

_NUMBERS = count(1)
#: The account that Debian's package makes: the server refuses to run as root.
_ACCOUNT = "postgres"


class Server:
    """A running PostgreSQL in a folder of its own, reached by a socket in it."""

    def __init__(self, folder: Path, programs: Path) -> None:
        self.folder, self._programs = folder, programs
        self._as = ["runuser", "-u", _ACCOUNT, "--"] if os.geteuid() == 0 else []
        self._run("initdb", "-D", str(folder / "data"), "-A", "trust", "-U", "vdp", "-E", "UTF8", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=30"
        self._run("pg_ctl", "-D", str(folder / "data"), "-o", options, "-l", str(folder / "log"), "-w", "start")

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")

    def url(self, database: str) -> str:
        return f"postgresql://vdp@/{database}?host={self.folder}"

    def new(self) -> str:
        """The URL of a new, empty database."""
        name = f"ledger{next(_NUMBERS)}"
        self._run("createdb", "-h", str(self.folder), "-U", "vdp", name)
        return self.url(name)

    def _run(self, program: str, *arguments: str) -> None:
        # Output to a file: a server that inherits a pipe keeps it open for ever.
        with tempfile.TemporaryFile() as said:
            command = [*self._as, str(self._programs / program), *arguments]
            done = subprocess.run(command, stdout=said, stderr=said, cwd=self.folder, check=False)
            said.seek(0)
            assert done.returncode == 0, said.read().decode()


def _programs() -> Path | None:
    """Where initdb and pg_ctl are: on the path, or where Debian's package puts them."""
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    versions = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    return versions[-1].parent if versions else None


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """The server: absent, the tests skip loudly; in CI they fail."""
    programs = _programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is not installed, and CI must have it")
        pytest.skip("PostgreSQL is not installed: the ledger was not tested on it")
    # Not pytest's folder: the server's account may not enter it, and a socket's path is at most 107 bytes.
    folder = Path(tempfile.mkdtemp(prefix="vdp-pg-"))
    try:
        if os.geteuid() == 0:
            account = pwd.getpwnam(_ACCOUNT)
            os.chown(folder, account.pw_uid, account.pw_gid)
        server = Server(folder, programs)
        yield server
        server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a new ledger may be: a file that is not there yet, an empty database."""
    if request.param == "sqlite":
        return str(tmp_path / "ledger.sqlite")
    server: Server = request.getfixturevalue("postgres")
    return server.new()


@pytest.fixture
def ledger(place: str) -> Iterator[Ledger]:
    with opened(place) as made:
        yield made


@pytest.fixture
def plain() -> Series:
    return series()
