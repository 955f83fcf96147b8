"""A Dask cluster of two processes makes the same file as one core, and survives the loss of one of them."""

from __future__ import annotations

import importlib
import json
import os
import pickle
import signal
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.run.test_workers import compose
from tests.small import BACK, FRONT, write_job
from vdp import cli
from vdp.errors import CallerError, Fault
from vdp.run import cluster as room
from vdp.run.cluster import reached
from vdp.run.workers import Done

making = importlib.import_module("vdp.run.make")


@pytest.fixture(scope="module")
def dask() -> Iterator[Any]:
    """Two processes of one thread each.  Dask warns of ports and closing sockets, which are not ours to mend."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from distributed import LocalCluster

        with LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
        ) as local:
            yield local


@pytest.fixture
def job(tmp_path: Path) -> Path:
    rows = "".join(f"Name {n} {'αβγδ'[n % 4]},{'en' if n % 3 else 'el'}\n" for n in range(150))
    return write_job(tmp_path / "job", layout=FRONT + BACK, records="name,lang\n" + rows)


pytestmark = pytest.mark.filterwarnings("ignore")


def test_two_processes_of_a_cluster_make_the_same_file(
    job: Path, tmp_path: Path, dask: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "CHUNK", 32)
    one = compose(job, tmp_path / "1", 1)
    with reached(dask.scheduler_address) as far:
        assert far is not None
        assert far.size == 2
        assert compose(job, tmp_path / "far", 1, far) == one


def test_a_run_by_words_composes_and_verifies_there(
    job: Path, tmp_path: Path, dask: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["run", str(job), "--json", "--out"]
    told = []
    for more in ([str(tmp_path / "here")], [str(tmp_path / "far"), "--cluster", dask.scheduler_address]):
        with pytest.raises(SystemExit) as ended:
            cli.main([*words, *more])
        assert ended.value.code == 0
        told.append(json.loads(capsys.readouterr().out))
    assert told[0]["symbols_decoded"] == told[1]["symbols_decoded"] == 450
    for name in ("pieces.pdf", "pieces.jsonl", "report.json"):
        assert (tmp_path / "far" / name).read_bytes() == (tmp_path / "here" / name).read_bytes()


def test_a_process_that_dies_loses_its_chunk_only(
    job: Path, tmp_path: Path, dask: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "CHUNK", 32)
    one = compose(job, tmp_path / "1", 1)
    victim = next(iter(dask.workers.values())).pid
    take = room.FarCrew.take
    killed: list[int] = []

    def taking(self: room.FarCrew, number: int) -> Done:
        if not killed:
            os.kill(victim, signal.SIGKILL)
            killed.append(victim)
        return take(self, number)

    monkeypatch.setattr(room.FarCrew, "take", taking)
    with reached(dask.scheduler_address) as far:
        assert compose(job, tmp_path / "far", 1, far) == one
    assert killed


def test_a_machine_with_other_files_or_fonts_is_refused(
    job: Path, tmp_path: Path, dask: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = room.fingerprint
    monkeypatch.setattr(room, "fingerprint", lambda plan, task: {**seen(plan, task), "face sans": "another"})
    with reached(dask.scheduler_address) as far, pytest.raises(CallerError, match="unlike this one in: face sans"):
        compose(job, tmp_path / "far", 1, far)


def test_nobody_there(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "PATIENCE", 1)
    with pytest.raises(CallerError, match="no scheduler answers"), reached("tcp://127.0.0.1:1"):
        pass
    with pytest.raises(CallerError, match="no scheduler answers"), reached("not an address"):
        pass


def test_no_worker_there(monkeypatch: pytest.MonkeyPatch) -> None:
    from distributed import LocalCluster

    monkeypatch.setattr(room, "PATIENCE", 1)
    with (
        LocalCluster(n_workers=0, processes=True, dashboard_address=None, host="127.0.0.1") as local,
        pytest.raises(CallerError, match="no worker"),
        reached(local.scheduler_address),
    ):
        pass


def test_dask_is_an_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(CallerError, match="not installed"), reached("tcp://127.0.0.1:8786"):
        pass


def test_faults_survive_the_way_back_from_a_worker() -> None:
    error = CallerError([Fault("job.yaml:3:1", "is wrong", "mend it"), Fault("b", "too")])
    again = pickle.loads(pickle.dumps(error))  # noqa: S301  our own bytes
    assert again.faults == error.faults
    assert str(again) == str(error)
