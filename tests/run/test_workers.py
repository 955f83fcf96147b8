"""Many processes: the same bytes, and a worker that dies loses its chunk only."""

from __future__ import annotations

import importlib
import os
import signal
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tests.small import BACK, FRONT, write_job
from vdp.errors import CallerError
from vdp.run import workers as room
from vdp.run.cluster import Cluster
from vdp.run.intake import take_in
from vdp.run.make import book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import open_job

#: The module: the package's own name for it is the function.
making = importlib.import_module("vdp.run.make")


def compose(path: Path, folder: Path, workers: int, far: Cluster | None = None) -> tuple[bytes, bytes]:
    """pieces.pdf and pieces.jsonl of a job."""
    folder.mkdir()
    opened = open_job(path, None, {})
    intake = take_in(opened.plan, opened.table, Numbers(opened.job, opened.series, {}))
    book = book_of(intake.plan, opened.table, intake.pieces, {})
    told: list[int] = []
    header = opened.table.header
    made = make(
        intake.plan, intake.accepted(), book, folder, workers=workers, header=header, tell=told.append, cluster=far
    )
    assert (made.pieces, told[-1]) == (intake.pieces, intake.pieces)
    assert made.symbols == 3 * intake.pieces
    assert {file.name for file in folder.iterdir()} == {"pieces.pdf", "pieces.jsonl"}
    return (folder / "pieces.pdf").read_bytes(), (folder / "pieces.jsonl").read_bytes()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    rows = "".join(f"Name {n} {'αβγδ'[n % 4]},{'en' if n % 3 else 'el'}\n" for n in range(150))
    return write_job(tmp_path / "job", layout=FRONT + BACK, records="name,lang\n" + rows)


def test_chunks_of_one_two_and_five_workers_are_one_file(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "CHUNK", 32)
    one = compose(job, tmp_path / "1", 1)
    assert compose(job, tmp_path / "2", 2) == one
    assert compose(job, tmp_path / "5", 5) == one


def _dying(marks: Path, job: Path, records: Path, header: tuple[str, ...]) -> None:
    """Begins a worker that is killed as it begins, as many times as there are files in `marks`."""
    for mark in marks.iterdir():
        try:
            mark.unlink()
        except FileNotFoundError:
            continue
        os.kill(os.getpid(), signal.SIGKILL)
    room._open(job, records, header)


def doom(monkeypatch: pytest.MonkeyPatch, marks: Path, deaths: int) -> None:
    """Lets that many workers die."""
    marks.mkdir()
    for number in range(deaths):
        (marks / str(number)).write_bytes(b"")
    begin = ProcessPoolExecutor

    def started(workers: int, context: Any, _: Any, told: tuple[Path, Path, tuple[str, ...]]) -> Any:
        return begin(workers, context, _dying, (marks, *told))

    monkeypatch.setattr(room, "ProcessPoolExecutor", started)
    monkeypatch.setattr(making, "CHUNK", 32)


def test_a_worker_that_dies_loses_its_chunk_only(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = compose(job, tmp_path / "1", 1)
    doom(monkeypatch, tmp_path / "marks", 1)
    assert compose(job, tmp_path / "2", 2) == one
    assert not list((tmp_path / "marks").iterdir())


def test_workers_that_keep_dying_are_said_and_leave_nothing(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    doom(monkeypatch, tmp_path / "marks", 100)
    monkeypatch.setattr(room, "MOST_DEATHS", 1)
    with pytest.raises(CallerError, match="worker processes died 2 times"):
        compose(job, tmp_path / "2", 2)
    assert list((tmp_path / "2").iterdir()) == []


def test_small_says_the_same_in_fewer_bytes(job: Path, tmp_path: Path) -> None:
    fast = compose(job, tmp_path / "fast", 1)
    text = job.read_text(encoding="utf-8")
    job.write_text(text + "compression: small\n", encoding="utf-8")
    small = compose(job, tmp_path / "small", 1)
    assert len(small[0]) < len(fast[0])
    assert small[1] == fast[1]
