"""Spoilage counted to its end: what the line saw, reprints, destruction before witnesses, accounts that balance."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands import ended
from tests.small import BACK, FRONT, JOB, write_job
from tests.tamper.sealed import put_senseless
from vdp.job.load import load_job
from vdp.numbering.entry import Event
from vdp.run.desk import desk_of, ledger_of

DESTROY = ["--batch", "B7", "--method", "shredded", "--date", "2027-03-09"]
SEEN = ["--witness", "A. Marsh", "--witness", "B. Ito"]
COPIES = ("printed", "good", "retained", "awaiting destruction", "destroyed", "missing")


def serials_of(folder: Path) -> list[str]:
    return [json.loads(line)["serials"]["voucher"] for line in (folder / "pieces.jsonl").read_text().splitlines()]


def made(folder: Path, capsys: pytest.CaptureFixture[str], more: str = "") -> tuple[str, list[str]]:
    """A job that was run, and its serials."""
    job = str(write_job(folder, layout=FRONT + BACK, job=JOB + more))
    assert ended(["run", job], capsys)[0] == 0
    return job, serials_of(folder / "out")


def read(out: Path, codes: list[str], capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    """The line reads both sides of these, and the ledger is told; a code with a colon is an event."""
    lines = ["code,side,event"]
    for code in codes:
        event, _, serial = code.rpartition(":")
        lines += [f"{serial},,{event}"] if event else [f"{serial},front,", f"{serial},back,"]
    reads = out.parent / "reads.csv"
    reads.write_text("\n".join(lines) + "\n")
    return ended(["reconcile", str(out), "--reads", str(reads), "--record", *words], capsys)


def told(job: str, capsys: pytest.CaptureFixture[str]) -> tuple[dict[str, int], tuple[int, ...], int]:
    """Numbers, copies and unseen copies of all runs together."""
    code, found = ended(["ledger", "account", job], capsys)
    assert (code, found["findings"]) == (0, [])
    numbers: dict[str, int] = {}
    for each in found["entries"]:
        for key, count in each["numbers"].items():
            numbers[key] = numbers.get(key, 0) + count
    copies = tuple(sum(each["copies"][key] for each in found["entries"]) for key in COPIES)
    return {k: n for k, n in numbers.items() if n}, copies, sum(each["unseen"] for each in found["entries"])


def test_nothing_is_good_before_the_line_saw_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, serials = made(tmp_path, capsys)
    assert told(job, capsys) == ({"allocated": 3, "outstanding": 3}, (0, 0, 0, 0, 0, 0), 3)
    code, found = read(tmp_path / "out", serials, capsys)
    assert (code, found["recorded"]) == (0, 1)
    assert told(job, capsys) == ({"allocated": 3, "good": 3}, (3, 3, 0, 0, 0, 0), 0)
    assert read(tmp_path / "out", serials, capsys)[1]["recorded"] == 0  # told again, nothing is added


def test_later_reads_mend_what_earlier_ones_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, (one, two, three) = made(tmp_path, capsys)
    read(tmp_path / "out", [one, three], capsys)
    assert told(job, capsys) == ({"allocated": 3, "good": 2, "missing": 1}, (3, 2, 0, 0, 0, 1), 0)
    read(tmp_path / "out", [one, three, f"hand:{two}", f"sample:{one}"], capsys)
    assert told(job, capsys) == ({"allocated": 3, "good": 2, "outstanding": 1}, (3, 2, 1, 0, 0, 0), 0)


def test_spoiled_on_the_line_made_good_read_and_destroyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, (one, two, three) = made(tmp_path, capsys)
    out, floor = tmp_path / "out", tmp_path / "floor"
    # The second was spoiled, a restart printed the first once more, and the third never came.
    words = [one, two, f"spoiled:{two}", "restart:", one]
    code, found = read(out, words, capsys, "--out", str(floor))
    assert (code, found["reprint"]) == (1, [two, three])
    assert told(job, capsys) == (
        {"allocated": 3, "good": 1, "missing": 1, "outstanding": 1}, (4, 1, 0, 2, 0, 1), 0,
    )  # fmt: skip
    again = [
        "reprint",
        str(out),
        "--list",
        str(floor / "reprint.csv"),
        "--second",
        "B. Ito",
        "--out",
        str(tmp_path / "r"),
    ]
    assert ended(again, capsys)[0] == 0
    assert ended(again, capsys)[0] == 0
    # The missing copy was not told as spoiled: nothing of it can be destroyed.
    assert told(job, capsys) == ({"allocated": 3, "good": 1, "outstanding": 2}, (4, 1, 0, 2, 0, 1), 2)
    assert serials_of(tmp_path / "r") == [two, three]
    assert read(tmp_path / "r", [two, three], capsys)[0] == 0
    assert told(job, capsys) == ({"allocated": 3, "good": 3}, (6, 3, 0, 2, 0, 1), 0)
    assert ended(["ledger", "destroy", job, one, two, *DESTROY, *SEEN], capsys)[0] == 0
    assert ended(["ledger", "destroy", job, one, two, *DESTROY, *SEEN], capsys)[0] == 0  # told again, counted once
    assert ended(["ledger", "destroy", job, three, *DESTROY, *SEEN], capsys)[0] == 2
    assert told(job, capsys) == ({"allocated": 3, "good": 3}, (6, 3, 0, 0, 2, 1), 0)
    _, history = ended(["ledger", "history", job, two], capsys)
    kinds = [entry["kind"] for entry in history["entries"]]
    assert kinds == ["allocated", "issued", "spoiled", "again", "made_good", "good", "destroyed"]
    assert "A. Marsh; B. Ito" in history["entries"][-1]["detail"]
    # The missing one turns up: now there are two good copies of it.
    code, found = read(out, [*words, f"hand:{three}"], capsys)
    assert [f["where"] for f in found["findings"] if "made again in reprint" in f["message"]] == [f"piece 3, {three}"]
    table = tmp_path / "account.csv"
    assert ended(["ledger", "account", job, "--csv", str(table)], capsys)[0] == 0
    with table.open(newline="") as file:
        first, second = csv.DictReader(file)
    assert (first["numbers allocated"], first["numbers good"], first["copies printed"]) == ("3", "3", "4")
    assert (second["numbers allocated"], second["copies good"], second["run"] != first["run"]) == ("0", "2", True)


def test_a_reprint_of_what_the_line_never_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, (one, two, three) = made(tmp_path, capsys)
    again = ["reprint", str(tmp_path / "out"), "--serial", two, "--second", "B. Ito", "--out", str(tmp_path / "r")]
    assert ended(again, capsys)[0] == 0
    assert told(job, capsys) == ({"allocated": 3, "outstanding": 3}, (1, 0, 0, 1, 0, 0), 3)
    # The line saw it whole before it was spoiled: it stays spoiled.
    code, found = read(tmp_path / "out", [one, two, three], capsys)
    assert (code, [f["code"] for f in found["findings"]]) == (1, ["line-double"])
    assert told(job, capsys) == ({"allocated": 3, "good": 2, "outstanding": 1}, (3, 2, 0, 1, 0, 0), 1)


def test_a_spoiled_number_may_be_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, (one, two, three) = made(tmp_path, capsys, "spoiled: replacement_series\n")
    again = ["reprint", str(tmp_path / "out"), "--serial", one, "--second", "B. Ito", "--out", str(tmp_path / "r")]
    assert ended(again, capsys)[0] == 0
    assert told(job, capsys) == ({"allocated": 4, "replaced": 1, "outstanding": 3}, (1, 0, 0, 1, 0, 0), 3)
    read(tmp_path / "out", [two, three, f"spoiled:{one}"], capsys)
    read(tmp_path / "r", serials_of(tmp_path / "r"), capsys)
    assert told(job, capsys) == ({"allocated": 4, "replaced": 1, "good": 3}, (4, 3, 0, 1, 0, 0), 0)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("code\nX\n", "no column 'serial'"),
        ("serial\n", "names no piece"),
        ("serial,status\nX,good\n", "'X' is 'good'"),
        ("serial,status\n,spoiled\n", "names no serial"),
        ("serial\nX\n", "was never issued"),
        ('serial\n"X\n', "cannot be read"),
    ],
)
def test_lists_that_cannot_be_reprinted(
    rows: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made(tmp_path, capsys)
    (tmp_path / "list.txt").write_text(rows)
    words = ["reprint", str(tmp_path / "out"), "--list", str(tmp_path / "list.txt"), "--second", "B. Ito"]
    code, found = ended(words, capsys)
    assert code == 2
    assert said in found["findings"][0]["message"]


def test_a_ledger_is_told_of_its_own_runs_only(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, serials = made(tmp_path, capsys)
    out = tmp_path / "out"
    (tmp_path / "ledger.sqlite").rename(tmp_path / "old.sqlite")
    code, found = read(out, serials, capsys)
    assert (code, "never gave" in found["findings"][0]["message"]) == (2, True)
    report = out / "report.json"
    whole = report.read_text()
    for old, new, said in (
        ('"ok": true', '"ok": false', "did not come to a good end"),
        ('"ledger": {', '"was": {', "is not the report of a run"),
        ('"pieces.jsonl": "', '"pieces.jsonl": "0', "is not the file"),
    ):
        report.write_text(whole.replace(old, new))
        code, found = read(out, serials, capsys)
        assert (code, said in found["findings"][0]["message"]) == (2, True)
    report.write_text(whole)
    assert ended(["reconcile", str(out), "--reads", str(tmp_path / "none"), "--record"], capsys)[0] == 2
    assert ended(["reconcile", str(out), "--reads", job, "--record", "--job", str(tmp_path / "none")], capsys)[0] == 2


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
    assert told(job, capsys)[1] == (0, 0, 0, 0, 0, 0)


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


def test_an_entry_that_nobody_can_read_stops_what_needs_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is well chained, so only who reads it sees that no ledger wrote it."""
    job, serials = made(tmp_path, capsys)
    put_senseless(tmp_path / "ledger.sqlite")
    words = [
        "reprint",
        str(tmp_path / "out"),
        "--serial",
        serials[0],
        "--second",
        "B. Ito",
        "--out",
        str(tmp_path / "r"),
    ]
    for command in (["ledger", "account", job], words, ["ledger", "destroy", job, serials[0], *DESTROY, *SEEN]):
        code, found = ended(command, capsys)
        assert (code, found["findings"][0]["where"]) == (2, "ledger entry 4"), found
        assert "vdp ledger verify tells" in found["findings"][0]["message"]
    code, found = ended(["ledger", "verify", job], capsys)
    assert (code, [finding["code"] for finding in found["findings"]]) == (1, ["ledger-entry"])


@pytest.mark.parametrize(
    ("event", "said"),
    [
        (Event("good", "voucher", 0, 0, "r", "Small", {"extra": "2"}), "0 copies printed, 1 accounted for"),
        (Event("destroyed", "voucher", 0, 1, "r", "Small"), "more copies were destroyed than were spoiled"),
    ],
)
def test_an_account_that_does_not_balance_is_a_finding(
    event: Event, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, _ = made(tmp_path, capsys)
    with ledger_of(load_job(Path(job)), desk_of("tester")) as ledger:
        assert ledger is not None
        ledger.append([event])
    code, found = ended(["ledger", "account", job], capsys)
    assert (code, [finding["code"] for finding in found["findings"]]) == (1, ["ledger-account"])
    assert said in found["findings"][0]["message"]
