"""`vdp plan`: what it says of places is what the run does; paper and time by hand; the stacks drawn."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli

WEB = """\
web: {width: 200 mm, lanes: 2, along: 1, gutter: 6 mm, bleed: 2 mm, order: blocks, height: 4, fill: block,
  margins: {left: 16 mm, right: 16 mm, head: 16 mm, foot: 16 mm}}
stock: {caliper: 0.1 mm, gsm: 100, diameter: 1000 mm, core: 70 mm}
press: {metres_a_minute: 30, make_ready: 10000 mm}
"""
ROWS = "name,lang\n" + "".join(f"Guest {n},en\n" for n in range(1, 20))


def ended(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    with pytest.raises(SystemExit) as caught:
        cli.main([*words, "--json"])
    assert isinstance(caught.value.code, int)
    return caught.value.code, json.loads(capsys.readouterr().out)


def make(folder: Path, more: str = "") -> str:
    return str(write_job(folder, layout=FRONT + BACK, job=JOB + WEB + more, records=ROWS))


def test_the_run_does_what_the_plan_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = make(tmp_path)
    code, told = ended(["plan", job], capsys)
    assert (code, told["pieces"], told["blanks"], told["frames"], told["blocks"]) == (0, 19, 5, 12, 3)
    assert ended(["run", job], capsys)[0] == 0
    lines = [json.loads(line) for line in (tmp_path / "out" / "pieces.jsonl").read_text().splitlines()]
    serials = [line["serials"]["voucher"] for line in lines]
    asked = [word for serial in serials for word in ("--serial", serial)]
    _, told = ended(["plan", job, *asked], capsys)  # the same run has the same numbers
    due = {line["serials"]["voucher"]: line["place"] for line in lines}
    assert {one["asked"]: {key: one[key] for key in ("roll", "frame", "lane", "along")} for one in told["found"]} == due
    for line in lines:
        place = line["place"]
        text = "{roll}/{frame}/{lane}/{along}".format(**place)
        code, told = ended(["plan", job, "--place", text], capsys)
        assert told["found"][0]["serial"].startswith(f"piece {line['piece']} ")


def test_rolls_end_where_the_limits_say_and_at_a_blocks_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = make(tmp_path)
    _, told = ended(["plan", plain], capsys)
    frame = told["frame_mm"]
    limited = make(tmp_path, f"rolls: {{length: {9.5 * frame:.3f} mm, core: 70 mm}}\n")
    _, told = ended(["plan", limited], capsys)
    assert told["rolls"] == 2
    assert [(span["roll"], span["pieces"]) for span in told["spans"]] == [
        ("1", "8"),
        ("1", "8"),
        ("2", "3"),
        ("2", "0"),
    ]
    code, run = ended(["run", limited], capsys)
    assert (code, run["findings"]) == (0, [])
    code, again = ended(["verify", str(tmp_path / "out"), "--job", limited], capsys)
    assert (code, again["findings"]) == (0, [])


def test_paper_and_time_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, told = ended(["plan", make(tmp_path, "rolls: {leader: 2000 mm, trailer: 1000 mm}\n")], capsys)
    frame = told["frame_mm"]
    specimens = math.ceil(2000 / frame) + math.ceil(1000 / frame) + math.ceil(10000 / frame)
    assert told["specimen_frames"] == specimens
    length = (12 + specimens) * frame / 1000
    assert told["paper"]["minutes"] == pytest.approx(length / 30, rel=1e-6)
    assert told["paper"]["kilograms"] == pytest.approx(length * 0.2 * 0.1, rel=1e-3)
    assert told["paper"]["delivered"] == 1


def test_pages_a_minute_as_published(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """100 ft/min with frames of 12 in, two pages across, both sides: 400 pages/min (STANDARDS.md §5, computed)."""
    said = WEB.replace("metres_a_minute: 30", "feet_a_minute: 100").replace("lanes: 2,", "lanes: 2, frame: 12 in,")
    job = write_job(tmp_path, layout=FRONT + BACK, job=JOB + said, records=ROWS)
    assert ended(["plan", str(job)], capsys)[1]["presses"][0]["pages_a_minute"] == 400


def test_pounds_and_feet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    metric = ended(["plan", make(tmp_path / "a")], capsys)[1]["paper"]
    said = WEB.replace("gsm: 100", "pounds: 67.57, basis: text").replace(
        "metres_a_minute: 30", "feet_a_minute: 98.4252"
    )
    job = write_job(tmp_path / "b", layout=FRONT + BACK, job=JOB + said, records=ROWS)
    imperial = ended(["plan", str(job)], capsys)[1]["paper"]
    assert imperial["kilograms"] == pytest.approx(metric["kilograms"], rel=1e-3)
    assert imperial["minutes"] == pytest.approx(metric["minutes"], rel=1e-4)


def test_stacks_are_drawn_with_their_serials(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "drawn"
    code, told = ended(["plan", make(tmp_path), "--out", str(out)], capsys)
    assert (code, told["files"]) == (0, ["stacks.svg", "stacks.png", "plan.csv"])
    svg = (out / "stacks.svg").read_text()
    first = told["spans"][0]["first_serial"]
    assert first in svg
    with Image.open(io.BytesIO((out / "stacks.png").read_bytes())) as picture:
        assert picture.size[0] > 800
        # Words are really there: the title's line has dark pixels (a missing face would leave it white).
        title = np.asarray(picture.convert("L"))[60:100, 56:300]
        assert title.min() < 80
    with (out / "plan.csv").open(newline="") as table:
        assert next(csv.DictReader(table))["first_serial"] == first


@pytest.mark.parametrize(
    ("change", "words", "said"),
    [
        (None, ["--serial", "V0000"], "no serial 'V0000'"),
        (None, ["--place", "1/1"], "is no place"),
        (None, ["--place", "1/1/9/1"], "lane"),
        ("web", [], "no section 'web'"),
        ("gsm: 100", [], "pounds mean nothing"),
        ("metres_a_minute: 30, ", [], "state the speed once"),
    ],
)
def test_what_cannot_be_planned_is_said(
    change: str | None, words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = JOB + (
        WEB
        if change is None
        else ""
        if change == "web"
        else WEB.replace(change, "pounds: 50" if "gsm" in change else "")
    )
    job = write_job(tmp_path, layout=FRONT + BACK, job=text, records=ROWS)
    code, told = ended(["plan", str(job), *words], capsys)
    assert code == 2
    assert any(said in finding["message"] for finding in told["findings"]), told["findings"]
