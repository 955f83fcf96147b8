"""Spoilage counted to its end: reprints, destruction before two witnesses, and an account that balances."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli
from vdp.job.load import load_job
from vdp.numbering.entry import Event
from vdp.run.account import _copies, _numbers
from vdp.run.desk import desk_of, ledger_of

DESTROY = ["--batch", "B7", "--method", "shredded", "--date", "2027-03-09"]
SEEN = ["--witness", "A. Marsh", "--witness", "B. Ito"]


def ended(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    with pytest.raises(SystemExit) as caught:
        cli.main([*words, "--json"])
    assert isinstance(caught.value.code, int)
    return caught.value.code, json.loads(capsys.readouterr().out)


def made(folder: Path, capsys: pytest.CaptureFixture[str], more: str = "") -> tuple[str, list[str]]:
    """A job that was run, and its serials."""
    job = str(write_job(folder, layout=FRONT + BACK, job=JOB + more))
    assert ended(["run", job], capsys)[0] == 0
    lines = (folder / "out" / "pieces.jsonl").read_text().splitlines()
    return job, [json.loads(line)["serials"]["voucher"] for line in lines]


def told(job: str, capsys: pytest.CaptureFixture[str]) -> tuple[dict[str, int], dict[str, int]]:
    code, found = ended(["ledger", "account", job], capsys)
    assert (code, found["findings"]) == (0, [])
    (only,) = found["entries"]
    return only["numbers"], only["copies"]


def test_spoiled_made_good_and_destroyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, serials = made(tmp_path, capsys)
    numbers, copies = told(job, capsys)
    assert numbers == {"allocated": 3, "good": 3, "replaced": 0, "voided": 0, "missing": 0, "outstanding": 0}
    assert copies["printed"] == copies["good"] == 3
    again = ["reprint", str(tmp_path / "out"), "--serial", serials[1], "--second", "B. Ito"]
    assert ended(again, capsys)[0] == 0
    numbers, copies = told(job, capsys)
    assert numbers["good"] == 3
    assert (copies["printed"], copies["good"], copies["awaiting destruction"]) == (4, 3, 1)
    assert ended(["ledger", "destroy", job, serials[1], *DESTROY, *SEEN], capsys)[0] == 0
    assert ended(["ledger", "destroy", job, serials[1], *DESTROY, *SEEN], capsys)[0] == 0  # told again, counted once
    _, copies = told(job, capsys)
    assert (copies["awaiting destruction"], copies["destroyed"]) == (0, 1)
    _, history = ended(["ledger", "history", job, serials[1]], capsys)
    assert [entry["kind"] for entry in history["entries"]][-1] == "destroyed"
    assert "A. Marsh; B. Ito" in history["entries"][-1]["detail"]


def test_a_spoiled_number_may_be_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, serials = made(tmp_path, capsys, "spoiled: replacement_series\n")
    again = ["reprint", str(tmp_path / "out"), "--serial", serials[0], "--second", "B. Ito"]
    assert ended(again, capsys)[0] == 0
    numbers, copies = told(job, capsys)
    assert (numbers["allocated"], numbers["good"], numbers["replaced"]) == (4, 3, 1)
    assert (copies["printed"], copies["good"], copies["awaiting destruction"]) == (4, 3, 1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--witness", "A. Marsh"], "2 witnesses, not 1"),
        (["--witness", "A. Marsh", "--witness", "a. marsh "], "2 witnesses, not 1"),
        (SEEN, "no spoiled copy"),
    ],
)
def test_a_destruction_that_cannot_be_is_refused(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, serials = made(tmp_path, capsys)
    code, found = ended(["ledger", "destroy", job, serials[0], *DESTROY, *words], capsys)
    assert code == 2
    assert any(said in finding["message"] for finding in found["findings"])
    _, copies = told(job, capsys)
    assert copies["destroyed"] == 0


def test_a_day_that_is_none_and_a_number_never_issued(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, serials = made(tmp_path, capsys)
    words = ["--batch", "B7", "--method", " ", "--date", "yesterday", *SEEN]
    _, found = ended(["ledger", "destroy", job, serials[0], *words], capsys)
    assert {"says nothing", "'yesterday' is no date"} <= {f["message"].split(" (")[0] for f in found["findings"]}
    other = write_job(tmp_path / "other", job=JOB.replace("start: 7", "start: 900"))
    assert ended(["run", str(other)], capsys)[0] == 0
    line = (other.parent / "out" / "pieces.jsonl").read_text().splitlines()[0]
    far = json.loads(line)["serials"]["voucher"]
    _, found = ended(["ledger", "destroy", job, far, *DESTROY, *SEEN], capsys)
    assert any("never issued" in finding["message"] for finding in found["findings"])


def test_an_account_that_does_not_balance_is_a_finding(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, _ = made(tmp_path, capsys)
    loaded = load_job(Path(job))
    with ledger_of(loaded, desk_of("tester")) as ledger:
        assert ledger is not None
        # A copy that is missing and a number that is void say two things of one number.
        ledger.append([Event("voided", "voucher", 0, 0, "r", "Small")])
        entries = list(ledger.entries())
    assert _numbers(entries)["voided"] == 1
    copies = _copies(entries)
    assert copies["printed"] != sum(count for key, count in copies.items() if key != "printed")
    code, found = ended(["ledger", "account", job], capsys)
    assert (code, [finding["code"] for finding in found["findings"]]) == (1, ["ledger-account"])
