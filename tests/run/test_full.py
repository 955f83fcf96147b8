"""Disks that fill up and files that may not grow: a clear refusal, nothing half given out, and the same bytes after."""

from __future__ import annotations

import gc
import io
import resource
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.permissions import permissions_hold
from tests.small import write_job
from vdp.errors import CallerError
from vdp.numbering.ledger import open_ledger
from vdp.run import run_job
from vdp.run.desk import Desk
from vdp.run.result import Result
from vdp.run.screen import Screen

NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
PIECES = 30
RECORDS = "name,lang\n" + "".join(f"Guest{n},en\n" for n in range(PIECES))


def run(job: Path) -> Result:
    desk = Desk("anna", lambda: NOW, {})
    return run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=desk)


def files(job: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (job.parent / "out").iterdir()}


def kinds(job: Path) -> list[str]:
    with open_ledger(job.parent / "ledger.sqlite", operator="x", now=lambda: NOW) as ledger:
        assert ledger.verify_chain() == []
        assert [(entry.first, entry.last) for entry in ledger.ranges("voucher")] in ([], [(0, PIECES - 1)])
        return [entry.kind for entry in ledger.entries()]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The files of a run that had all the room that it wanted, in another folder."""
    job = write_job(tmp_path_factory.mktemp("whole"), records=RECORDS)
    assert run(job).ok
    return files(job)


@contextmanager
def small_disk(folder: Path) -> Iterator[Callable[[str], None]]:
    """A file system of its own, and what gives it another size; skips where none may be mounted."""

    def mount(*said: str) -> None:
        done = subprocess.run(["mount", *said, str(folder)], capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"no file system may be mounted here, so no disk filled up: {done.stderr.strip()}")

    folder.mkdir()
    mount("-t", "tmpfs", "-o", "size=20m", "tmpfs")
    try:
        yield lambda size: mount("-o", f"remount,size={size}")
    finally:
        gc.collect()  # a refusal that was looked at may hold files open
        subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize(
    ("size", "where", "reached"),
    [
        ("40k", "ledger.sqlite", []),
        ("104k", "pieces.pdf", ["started", "allocated"]),
        ("164k", "ledger.sqlite", ["started", "allocated"]),
        ("208k", "report.pdf", ["started", "allocated", "issued"]),
    ],
)
def test_a_disk_fills_up_and_is_given_room(
    size: str, where: str, reached: list[str], tmp_path: Path, whole: dict[str, bytes]
) -> None:
    with small_disk(tmp_path / "disk") as resize:
        job = write_job(tmp_path / "disk/job", records=RECORDS)
        resize(size)
        with pytest.raises(CallerError) as caught:
            run(job)
        (fault,) = caught.value.faults
        assert where in fault.where
        assert "disk is full" in fault.message or "No space left" in fault.message
        resize("20m")
        assert kinds(job) == reached
        assert not (job.parent / "out" / where).exists()
        assert run(job).ok
        due = ["started", "allocated", *(["recovered"] if reached[-1:] == ["allocated"] else []), "issued"]
        assert kinds(job) == due
        assert files(job) == whole


@pytest.mark.parametrize(("most", "where"), [(20_000, "ledger.sqlite"), (62_000, "report.pdf")])
def test_files_that_may_not_grow(most: int, where: str, tmp_path: Path, whole: dict[str, bytes]) -> None:
    """A limit of the process or a quota, which any user may have: files end at `most` bytes."""
    job = write_job(tmp_path / "job", records=RECORDS)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        with pytest.raises(CallerError) as caught:
            run(job)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert where in caught.value.faults[0].where
    assert not (job.parent / "out" / where).exists()
    assert run(job).ok
    assert files(job) == whole


def test_a_ledger_that_may_only_be_read(tmp_path: Path) -> None:
    folder = tmp_path
    job = write_job(folder, records=RECORDS)
    assert run(job).ok
    before = kinds(job)
    (folder / "ledger.sqlite").chmod(0o444)
    (folder / "list.csv").write_text(RECORDS + "Zoe,en\n")
    with permissions_hold(), pytest.raises(CallerError) as caught:
        run(job)
    assert "ledger" in caught.value.faults[0].where
    assert "cannot be" in caught.value.faults[0].message
    assert kinds(job) == before


def test_a_folder_that_may_only_be_read(tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    job = write_job(folder, records=RECORDS)
    folder.chmod(0o555)
    with permissions_hold(), pytest.raises(CallerError) as caught:
        run(job)
    folder.chmod(0o755)
    assert str(folder) in caught.value.faults[0].where
    assert sorted(path.name for path in folder.iterdir()) == ["job.yaml", "layout.yaml", "list.csv"]
