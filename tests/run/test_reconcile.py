"""Reads of a line against a run: each trouble of a press gives its status, and nothing unread is good."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp import cli
from vdp.audit.reconcile import Made, Seen, reconcile

PIECES = [Made(n, (f"S{n}",), frozenset({f"F{n}"}), frozenset({f"B{n}"}), n) for n in range(1, 13)]


def line(*codes: str) -> list[Seen]:
    """Reads: F3 is a front, B3 a back, a word an event without a code, x:F3 an event with one."""
    found = []
    for number, code in enumerate(codes, 2):
        kind, _, name = code.rpartition(":")
        if code in ("stop", "restart"):
            found.append(Seen(number, code))  # type: ignore[arg-type]  # one of the two
        else:
            side = {"F": "front", "B": "back"}.get(name[0], "")
            found.append(Seen(number, kind or "read", name, side))  # type: ignore[arg-type]  # kinds as written
    return found


def both(*numbers: int) -> list[str]:
    return [code for n in numbers for code in (f"F{n}", f"B{n}")]


ALL = range(1, 13)


def statuses(*codes: str, finished: bool = True) -> dict[int, str]:
    found = reconcile(PIECES, line(*codes), finished=finished).status
    return {piece: status for piece, status in found.items() if status != "good"}


def test_a_clean_run_is_good() -> None:
    assert statuses(*both(*ALL)) == {}


@pytest.mark.parametrize(
    ("codes", "due"),
    [
        (both(*(n for n in ALL if n != 5)), {5: "missing"}),
        ([*both(*range(1, 8)), "stop", "restart", *both(*range(6, 13))], {6: "double", 7: "double"}),
        (both(1, 2, 4, 3, *range(5, 13)), {3: "out_of_order"}),
        ([*both(1, 2), "F3", "B4", "F4", "B3", *both(*range(5, 13))], {3: "wrong_back", 4: "wrong_back"}),
        ([*both(*ALL), "spoiled:F7"], {7: "spoiled"}),
        ([*both(*ALL), "sample:S2"], {2: "sample"}),
        ([*both(*ALL), "stop", "restart", *both(7), "spoiled:F7"], {}),
    ],
)
def test_a_trouble_gives_its_status(codes: list[str], due: dict[int, str]) -> None:
    assert statuses(*codes) == due


def test_what_is_still_on_the_press_is_outstanding() -> None:
    assert statuses(*both(1, 2, 4), finished=False) == {3: "missing", **dict.fromkeys(range(5, 13), "outstanding")}
    assert statuses(*both(1, 2, 4)) == dict.fromkeys((3, *range(5, 13)), "missing")


def test_copies_are_counted_and_strangers_told() -> None:
    found = reconcile(PIECES, line(*both(*ALL), "stop", "restart", "F3", "F99", "destroyed:F3"))
    assert (found.copies["printed"], found.copies["extra"], found.copies["destroyed"]) == (13, 1, 1)
    assert [one.code for one in found.strangers] == ["F99"]
    assert found.stops == 1


@settings(max_examples=80, deadline=None)
@given(st.lists(st.sampled_from([*both(*ALL), "stop", "restart"]), max_size=60), st.booleans())
def test_numbers_always_add_up_and_nothing_unread_is_good(codes: list[str], finished: bool) -> None:
    found = reconcile(PIECES, line(*codes), finished=finished)
    assert sum(found.numbers().values()) == len(PIECES)
    for piece, status in found.status.items():
        if f"F{piece}" not in codes:
            assert status in ("missing", "outstanding")


def ended(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    with pytest.raises(SystemExit) as caught:
        cli.main([*words, "--json"])
    assert isinstance(caught.value.code, int)
    return caught.value.code, json.loads(capsys.readouterr().out)


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """A run folder as far as it is looked at."""
    folder = tmp_path / "out"
    folder.mkdir()
    with (folder / "pieces.jsonl").open("w") as file:
        for n in range(1, 5):
            symbols = [{"page": 2 * n - 1, "data": f"F{n}"}, {"page": 2 * n, "data": f"B{n}"}]
            place = {"roll": 1, "frame": n, "lane": 1, "along": 1}
            file.write(json.dumps({"piece": n, "serials": {"s": f"S{n}"}, "symbols": symbols, "place": place}) + "\n")
    return folder


def reads(folder: Path, text: str) -> str:
    (folder / "reads.csv").write_text(text)
    return str(folder / "reads.csv")


def test_by_words(run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = "code,side\n" + "".join(f"F{n},front\nB{n},back\n" for n in range(1, 5))
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, good)], capsys)
    assert (code, told["findings"], told["numbers"]) == (0, [], {"good": 4})
    bad = good.replace("F2,front\nB2,back\n", "") + "zz,front\n"
    floor = tmp_path / "floor"
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, bad), "--out", str(floor)], capsys)
    assert (code, [finding["code"] for finding in told["findings"]]) == (1, ["line-missing", "line-stranger"])
    assert (floor / "reprint.csv").read_text().splitlines() == ["serial", "S2"]
    with (floor / "status.csv").open(newline="") as file:
        assert {row["serial"]: row["status"] for row in csv.DictReader(file)}["S2"] == "missing"
    assert "numbers missing,1" in (floor / "reconcile.csv").read_text()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("serial\nS1\n", "no column 'code'"),
        ("code,event\nF1,jam\n", "'jam' is no event"),
        ("code,side\nF1,top\n", "'top' is no side"),
    ],
)
def test_reads_that_cannot_be_understood(
    text: str, said: str, run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = ended(["reconcile", str(run), "--reads", reads(tmp_path, text)], capsys)
    assert code == 2
    assert said in told["findings"][0]["message"]


def test_what_is_no_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["reconcile", str(tmp_path), "--reads", reads(tmp_path, "code\n")]
    assert ended(words, capsys)[0] == 2
    assert ended(["reconcile", str(tmp_path), "--reads", str(tmp_path / "absent.csv")], capsys)[0] == 2
