"""Audits of runs that have several ledgers: each job's own, each machine's, a copy, one that was never told."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.commands import ended
from tests.numbering.conftest import Server, postgres
from tests.run.test_audit import LAYOUT, SERIES, again, made
from tests.small import JOB, LIST, write_job
from tests.tamper.sealed import DESK, QUIET
from vdp.run import run_job
from vdp.run.sealing import seal_run

__all__ = ["postgres"]

OTHER = "{prefix: W, start: 1, width: 5, check: luhn}"


def audited(
    homes: list[Path], ledgers: list[Path], capsys: pytest.CaptureFixture[str], *more: Path
) -> tuple[dict[str, Any], set[str]]:
    """All runs of the homes (they were sealed with the first one's key), and their findings' codes."""
    folders = [str(home / name) for home in homes for name in ("out", "again") if (home / name).is_dir()]
    words = ["audit", *folders, *map(str, more), "--key", str(homes[0] / "press.key.public"), "--no-decode"]
    _, told = ended([*words, *(word for place in ledgers for word in ("--ledger", str(place)))], capsys)
    return told, {finding["code"] for finding in told["findings"]}


def same_key(one: Path, other: Path) -> None:
    """Seals the other's runs with the first one's key."""
    for folder in (other / "out", other / "again"):
        if folder.is_dir():
            for name in ("seal.json", "pieces.public.jsonl", "pieces.salts"):
                (folder / name).unlink(missing_ok=True)
            seal_run(folder, one / "press.key")


@pytest.fixture
def jobs(tmp_path: Path) -> list[Path]:
    """Two jobs, each with its own ledger beside it; the first has a reprint."""
    one, other = made(tmp_path / "one", SERIES["counted"]), made(tmp_path / "other", OTHER, records=LIST)
    again(one, "again", 1)
    same_key(one, other)
    return [one, other]


def ledgers_of(jobs: list[Path]) -> list[Path]:
    return [home / "ledger.sqlite" for home in jobs]


def test_each_run_is_told_of_by_its_own_ledger(jobs: list[Path], capsys: pytest.CaptureFixture[str]) -> None:
    ledgers = ledgers_of(jobs)
    for order in (ledgers, ledgers[::-1], [*ledgers, ledgers[0]]):
        told, codes = audited(jobs, order, capsys)
        assert codes == set(), told["findings"]
        assert sorted(told["audited"]["ledgers"]) == sorted(map(str, ledgers))
        assert told["figures"]["By the ledgers, of these runs"] == "7 issued, 1 spoiled, 1 made good"
        (check,) = (check for check in told["checks"] if "ledgers" in check["what"])
        assert (check["what"], check["count"]) == ("2 ledgers", "9 entries")
    # One ledger alone is that of every run: the other job is not in it.
    assert audited(jobs, ledgers[:1], capsys)[1] == {"audit-ledger-differs", "ledger-head"}


def test_a_run_that_none_of_the_ledgers_knows(
    jobs: list[Path], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    third = made(tmp_path / "third", SERIES["letters"])
    same_key(jobs[0], third)
    told, codes = audited([*jobs, third], ledgers_of(jobs), capsys)
    assert codes == {"audit-ledger-differs"}
    (finding,) = told["findings"]
    assert (finding["where"], "none of the ledgers tells of it" in finding["message"]) == (str(third / "out"), True)


def test_a_ledger_cut_off_is_found_among_several(jobs: list[Path], capsys: pytest.CaptureFixture[str]) -> None:
    """The run is still known by the numbers that it was given; the reprint's head is gone."""
    with closing(sqlite3.connect(jobs[0] / "ledger.sqlite")) as store, store:
        for (name,) in store.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            store.execute(f'DROP TRIGGER "{name}"')
        store.execute("DELETE FROM ledger_entries WHERE seq > 3")
    told, codes = audited(jobs, ledgers_of(jobs), capsys)
    assert codes == {"ledger-guard", "audit-ledger-differs"}
    guards = [finding for finding in told["findings"] if finding["code"] == "ledger-guard"]
    assert all(finding["where"].startswith(f"{jobs[0] / 'ledger.sqlite'}: ") for finding in guards)
    assert [f["where"] for f in told["findings"] if f["code"] == "audit-ledger-differs"] == [str(jobs[0] / "again")]


def test_a_copy_of_a_ledger_is_found(jobs: list[Path], capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """As if a machine had gone on with a copy: it may have given the same numbers out once more."""
    copy = tmp_path / "copy.sqlite"
    shutil.copy(jobs[0] / "ledger.sqlite", copy)
    told, codes = audited(jobs, [*ledgers_of(jobs), copy], capsys)
    assert codes == {"audit-ledger-differs", "ledger-overlap"}
    assert {f["where"] for f in told["findings"] if f["code"] == "audit-ledger-differs"} == {
        str(jobs[0] / "out"), str(jobs[0] / "again"),
    }  # fmt: skip


def test_two_machines_that_gave_the_same_numbers_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each by a ledger of its own: the runs show the same serials; the ledgers tell of it even without them."""
    rows = LIST.replace("Anna", "Zoe")
    one, other = made(tmp_path / "one", SERIES["counted"]), made(tmp_path / "other", SERIES["counted"], records=rows)
    same_key(one, other)
    told, codes = audited([one, other], ledgers_of([one, other]), capsys)
    assert codes == {"audit-serial-twice", "ledger-overlap"}
    told, codes = audited([one], ledgers_of([one, other]), capsys)
    assert codes == {"ledger-overlap"}
    (finding,) = told["findings"]
    assert "series voucher: both gave out numbers with indexes 0 … 2" in finding["message"]


def test_a_ledger_that_cannot_be_read_among_several(jobs: list[Path], capsys: pytest.CaptureFixture[str]) -> None:
    with closing(sqlite3.connect(jobs[0] / "ledger.sqlite")) as store, store:
        for (name,) in store.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            store.execute(f'DROP TRIGGER "{name}"')
        store.execute("UPDATE ledger_entries SET detail = '[' WHERE kind IN ('again', 'started')")
    told, codes = audited(jobs, ledgers_of(jobs), capsys)
    assert {"ledger-guard", "ledger-entry"} <= codes
    assert any("its entries cannot be read" in said for said in told["not_checked"])
    assert json.dumps(told).count("none of the ledgers") == 0


def test_a_server_and_a_file(
    tmp_path: Path, postgres: Server, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One job's numbers come from PostgreSQL, the other's from a file; what is filed holds no password."""
    one = made(tmp_path / "one", OTHER, records=LIST)
    place = postgres.new()
    monkeypatch.setenv("VDP_LEDGER", place)
    job = write_job(tmp_path / "two", layout=LAYOUT)
    assert ended(["run", str(job), "--key", str(one / "press.key")], capsys)[0] == 0
    line = (tmp_path / "two/out/pieces.jsonl").read_text("utf-8").splitlines()[1]
    serial = json.loads(line)["serials"]["voucher"]
    words = ["reprint", str(tmp_path / "two/out"), "--serial", serial, "--second", "B. Ito", "--out"]
    key = ["--key", str(one / "press.key")]
    assert ended([*words, str(tmp_path / "two/again"), *key], capsys)[0] == 0
    words = ["audit", *map(str, (one / "out", tmp_path / "two/out", tmp_path / "two/again")), "--no-decode"]
    words += ["--key", str(one / "press.key.public"), "--out", str(tmp_path / "filed")]
    secret = place.replace("vdp@", "vdp:hidden@")
    code, told = ended([*words, "--ledger", str(one / "ledger.sqlite"), "--ledger", secret], capsys)
    assert (code, told["findings"]) == (0, [])
    assert [account["copies"]["awaiting destruction"] for account in told["accounts"]] == [0, 1, 0]
    assert "vdp:***@" in (tmp_path / "filed/audit.json").read_text("utf-8")
    assert "hidden" not in (tmp_path / "filed/audit.json").read_text("utf-8")


def test_a_run_without_numbers_needs_no_ledger(
    jobs: list[Path], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    layout = LAYOUT.replace("{{ series.voucher }}/", "")
    layout = "".join(line for line in layout.splitlines(keepends=True) if "number: voucher" not in line)
    path = write_job(tmp_path / "bare", job=JOB.split("series:")[0], layout=layout)
    assert run_job(path, records=None, out=None, workers=1, screen=QUIET, desk=DESK).ok
    seal_run(tmp_path / "bare/out", jobs[0] / "press.key")
    assert audited([*jobs, tmp_path / "bare"], ledgers_of(jobs), capsys)[1] == set()
