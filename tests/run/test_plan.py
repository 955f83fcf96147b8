"""`vdp plan`: what it says of places is what the run does; paper and time by hand; the stacks drawn."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from tests.commands import ended
from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli

WEB = """\
web: {width: 200 mm, lanes: 2, along: 1, gutter: 6 mm, bleed: 2 mm, order: blocks, height: 4, fill: block,
  margins: {left: 16 mm, right: 16 mm, head: 16 mm, foot: 16 mm}}
stock: {caliper: 0.1 mm, gsm: 100, diameter: 1000 mm, core: 70 mm}
press: {metres_a_minute: 30, make_ready: 10000 mm}
"""
ROWS = "name,lang\n" + "".join(f"Guest {n},en\n" for n in range(1, 20))


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
    assert (code, told["files"]) == (0, ["stacks.svg", "stacks.png", "plan.csv", "stacks.csv"])
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


def test_stacks_are_listed_with_their_ends_and_blanks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "drawn"
    _, told = ended(["plan", make(tmp_path), "--out", str(out)], capsys)
    with (out / "stacks.csv").open(newline="") as table:
        rows = list(csv.DictReader(table))
    assert rows == told["stacks"]
    # Blocks of four frames of two lanes, filled up: 19 pieces are stacks of 4 4, 4 4, 3 0.
    assert [(row["block"], row["stack"], row["pieces"], row["blanks"]) for row in rows] == [
        *(("1", "1", "4", "0"), ("1", "2", "4", "0"), ("2", "1", "4", "0"), ("2", "2", "4", "0")),
        *(("3", "1", "3", "1"), ("3", "2", "0", "4")),
    ]
    with pytest.raises(SystemExit):
        cli.main(["plan", make(tmp_path)])
    text = capsys.readouterr().out
    assert f"17 {rows[4]['first_serial']}" in text
    assert text.count("\n     1      3 ") == 2


def test_rows_that_a_run_would_refuse_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for rule, does in (("stop", "stops and composes nothing"), ("continue", "sets them aside")):
        job = (
            JOB.replace("  recipient: [name]\n", "  fields: {name: {length: [1, 8]}}\n") + f"set_aside: {rule}\n" + WEB
        )
        path = write_job(tmp_path / rule, layout=FRONT + BACK, job=job, records=ROWS + "Nobody in particular,en\n")
        code, told = ended(["plan", str(path)], capsys)
        assert (code, told["set_aside"], told["pieces"]) == (0, 1, 19)
        assert told["refused"][-1]["row"] == 21
        assert "name" in told["refused"][-1]["reason"]
        assert [warning["code"] for warning in told["warnings"]] == ["rows-set-aside"]
        assert does in told["warnings"][0]["message"]
        with pytest.raises(SystemExit):
            cli.main(["plan", str(path)])
        assert "row 21 cannot be set: " in capsys.readouterr().out


def test_plates_are_measured_on_composed_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A field of 60 × 4 mm at 40 % cyan on fronts of 60 × 40 mm: 4 % of a front, 2 % of both sides."""
    plates = ended(["plan", make(tmp_path)], capsys)[1]["plates"]
    assert plates["Cyan"]["percent"] == pytest.approx(2, abs=0.05)
    both = 19 * 2 * 0.06 * 0.04
    assert plates["Cyan"]["square_metres"] == pytest.approx(0.02 * both, rel=0.03)
    assert plates["Cyan"]["grams"] == pytest.approx(0.02 * both * 5, rel=0.03)  # 0.5 mg/cm² of solid
    assert plates["Magenta"]["percent"] == 0
    without = ended(["plan", make(tmp_path, "toner: {sample: 0}\n")], capsys)[1]
    assert (without["plates"], without["plates_from"]) == ({}, "")


def test_the_test_frame_is_printed_in_true_size(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As cut from paper: behind F 1.1 comes B 1.1, and with `as_front` the back's page has the front's places."""
    for backs, first in (("mirrored", "B 2.1"), ("as_front", "B 1.1")):
        path = make(tmp_path / backs).replace("job.yaml", "job.yaml")
        text = Path(path).read_text("utf-8").replace("lanes: 2,", f"lanes: 2, backs: {backs},")
        Path(path).write_text(text, "utf-8")
        code, told = ended(["plan", path, "--test-frame", "--out", str(tmp_path / backs / "p")], capsys)
        assert code == 0
        assert told["files"][-3:] == ["test-frame.svg", "test-frame.png", "test-frame.pdf"]
        document = pypdfium2.PdfDocument(tmp_path / backs / "p" / "test-frame.pdf")
        width, height = document[0].get_size()
        assert width == pytest.approx(200 / 25.4 * 72, abs=0.1)
        assert height == pytest.approx(told["frame_mm"] / 25.4 * 72, abs=0.1)
        left = [page.get_textpage().get_text_bounded(left=0, right=width / 2).split() for page in document]
        assert "F 1.1" in " ".join(left[0])
        assert first in " ".join(left[1])


def test_a_test_frame_needs_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, told = ended(["plan", make(tmp_path), "--test-frame"], capsys)
    assert (code, told["findings"][0]["message"]) == (2, "it is drawn into a folder, and none is named (add --out DIR)")


def test_a_place_says_which_along(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = make(tmp_path)
    assert ended(["plan", job, "--place", "1/1/1"], capsys)[1]["found"][0]["along"] == 1
    Path(job).write_text(Path(job).read_text("utf-8").replace("along: 1,", "along: 2, along_gutter: 6 mm,"), "utf-8")
    code, told = ended(["plan", job, "--place", "1/1/1"], capsys)
    assert code == 2
    assert told["findings"][0]["message"] == "'1/1/1' is 2 places along the frame (write 1/1/1/1 or 1/1/1/2)"


@pytest.mark.parametrize(
    ("change", "words", "said"),
    [
        (None, ["--serial", "V0000"], "no serial 'V0000' (its numbers run from V"),
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
