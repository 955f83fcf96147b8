"""`vdp reconcile` by its words: tables for the floor and the customer, and reads that cannot be understood."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.commands import ended
from vdp import cli


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """A run folder as far as it is looked at."""
    folder = tmp_path / "out"
    folder.mkdir()
    with (folder / "pieces.jsonl").open("w") as file:
        for n in range(1, 5):
            symbols = [{"page": 2 * n - 1, "data": f"F{n}"}, {"page": 2 * n, "data": f"B{n}"}]
            place = {"roll": 1, "frame": n, "lane": 1, "along": 1}
            serials = {"voucher": f"S{n}", "meter": f"M{n}"}
            file.write(json.dumps({"piece": n, "serials": serials, "symbols": symbols, "place": place}) + "\n")
    return folder


def reads(folder: Path, text: str) -> str:
    (folder / "reads.csv").write_text(text)
    return str(folder / "reads.csv")


GOOD = "code,side,event\n" + "".join(f"F{n},front,\nB{n},back,\n" for n in range(1, 5))


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_everything_read(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["reconcile", str(run), "--reads", reads(tmp_path, GOOD + "4,,counter\n")]
    code, told = ended(words, capsys)
    assert (code, told["findings"], told["statuses"]) == (0, [], {"good": 4})
    with pytest.raises(SystemExit):
        cli.main(words)
    assert "4 allocated = 4 good + 0 missing + 0 outstanding" in capsys.readouterr().out


def test_tables_for_floor_and_customer(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = GOOD.replace("F2,front,\nB2,back,\n", "") + ",,restart\nF4,front,\nB4,back,\nzz,front,\n6,,counter\n"
    floor = tmp_path / "floor"
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, bad), "--out", str(floor)], capsys)
    found = [(finding["code"], finding["where"]) for finding in told["findings"]]
    assert (code, found) == (
        1,
        [
            ("line-missing", "piece 2, S2, roll 1 frame 2 lane 1"),
            ("line-double", "piece 4, S4, roll 1 frame 4 lane 1"),
            ("line-stranger", "reads.csv, line 11"),
            ("line-account", "reads.csv"),
        ],
    )
    assert told["findings"][-1]["message"] == "the press counted 6 copies, 5 are accounted for"
    told = rows(floor / "status.csv")
    assert told[1] == {
        "serial": "S2", "status": "missing", "piece": "2", "roll": "1", "frame": "2", "lane": "1",
        "good": "0", "to take out": "0", "meter": "M2",
    }  # fmt: skip
    assert (told[3]["status"], told[3]["good"], told[3]["to take out"]) == ("double", "1", "1")
    assert [row["serial"] for row in rows(floor / "reprint.csv")] == ["S2"]
    account = rows(floor / "reconcile.csv")
    assert [row["series"] for row in account] == ["voucher", "meter"]
    for row in account:
        assert (row["numbers allocated"], row["numbers good"], row["numbers missing"]) == ("4", "3", "1")
        assert (row["copies printed"], row["copies awaiting destruction"], row["copies missing"]) == ("6", "1", "1")


def test_unread_sides_are_told(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["reconcile", str(run), "--reads", reads(tmp_path, "code\nF1\nF2\nF3\nF4\n")]
    code, told = ended(words, capsys)
    assert (code, told["statuses"], told["reprint"]) == (1, {"unread": 4}, [])
    assert {finding["code"] for finding in told["findings"]} == {"line-unread"}
    assert ended([*words, "--side", "front"], capsys)[0] == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("serial\nS1\n", "no column 'code'"),
        ("code,event\nF1,jam\n", "'jam' is no event"),
        ("code,event\nF1,destroyed\n", "two witnesses"),
        ("code,side\nF1,top\n", "'top' is no side"),
        ("code,side\nF1\n", "more or fewer values"),
        ("code,side\nF1,front,9\n", "more or fewer values"),
        ("code,event\n,spoiled\n", "spoiled says no code"),
        ("code,event\n-3,counter\n", "'-3' is no count"),
        ('code\n"F1\n', "cannot be read"),
    ],
)
def test_reads_that_cannot_be_understood(
    text: str, said: str, run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, text)], capsys)
    assert code == 2
    assert said in told["findings"][0]["message"]


def test_every_line_that_cannot_be_understood_is_told(
    run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "code,event\n" + "F1,jam\n" * 50
    _, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, text)], capsys)
    assert told["findings"][0]["where"] == "reads.csv, line 2"
    assert told["findings"][-1]["message"] == "and 10 more lines that cannot be understood"


def test_what_is_no_run(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["reconcile", str(tmp_path), "--reads", reads(tmp_path, "code\n")]
    assert ended(words, capsys)[0] == 2
    assert ended(["reconcile", str(run), "--reads", str(tmp_path / "absent.csv")], capsys)[0] == 2
    (run / "pieces.jsonl").write_text('{"piece": 1}\n')
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, "code\n")], capsys)
    assert (code, told["findings"][0]["where"]) == (2, "pieces.jsonl, line 1")
    (run / "pieces.jsonl").unlink()
    (tmp_path / "floor").write_text("")
    (run / "pieces.jsonl").write_text("")
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, "code\n")], capsys)
    assert (code, told["pieces"]) == (0, 0)
