"""Toner of a run: grams worked by hand, the limit, and pictures of the plates."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.commands import ended
from tests.small import BACK, FRONT, JOB, write_job

#: A trim of 50 × 20 mm with a solid of two plates over all of it, and a small spot.
LAYOUT = """\
trim: [50 mm, 20 mm]
bleed: 0 mm
front:
  - {box: [0, 0, 50 mm, 20 mm], colour: [100, 0, 50, 0]}
back:
  - {text: "{{ series.voucher }}", plate: Clear, box: [4 mm, 4 mm, 40 mm, 10 mm], size: 20 pt}
"""


def test_grams_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=LAYOUT, job=JOB + "toner: {solid: {Cyan: 0.6, Yellow: 0.4}, sample: 3}\n")
    assert ended(["run", str(job)], capsys)[0] == 0
    told = json.loads((tmp_path / "out" / "report.json").read_text())["toner"]
    assert told["pages"] == 6
    # 10 cm² a front, three pieces: 30 cm² × 0.6 mg of cyan, half of that area × 0.4 mg of yellow.
    assert told["grams"]["Cyan"] == pytest.approx(0.018, abs=0.005)
    assert told["areas"]["Cyan"] == pytest.approx(50, abs=0.2)
    assert told["areas"]["Yellow"] == pytest.approx(25, abs=0.3)
    assert 0 < told["areas"]["Clear"] < 10
    assert told["most"] == pytest.approx(150, abs=1)


def test_too_much_condemns_the_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=LAYOUT, job=JOB + "toner: {limit: 140}\n")
    code, told = ended(["run", str(job)], capsys)
    assert code == 1
    (finding,) = told["findings"]
    assert finding["code"] == "toner-thick"
    assert finding["where"].startswith("piece 1, front, ")
    assert ended(["verify", str(tmp_path / "out")], capsys)[0] == 1


def test_spots_count_when_the_job_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = LAYOUT.replace("back:", "  - {box: [0, 0, 50 mm, 20 mm], plate: Clear}\nback:")
    job = write_job(tmp_path, layout=layout, job=JOB + "toner: {limit: 200, count_spots: true}\n")
    code, told = ended(["run", str(job)], capsys)
    assert (code, told["findings"][0]["code"]) == (1, "toner-thick")
    job.write_text(JOB + "toner: {limit: 200}\n")
    assert ended(["run", str(job)], capsys)[0] == 0


def test_no_sample_no_measurement(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=LAYOUT, job=JOB + "toner: {sample: 0}\n")
    assert ended(["run", str(job)], capsys)[0] == 0
    assert json.loads((tmp_path / "out" / "report.json").read_text())["toner"] is None


def test_plates_are_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=FRONT + BACK)
    assert ended(["run", str(job)], capsys)[0] == 0
    code, told = ended(["proof", str(job), "--plates", "--piece", "2", "--dpi", "100"], capsys)
    assert code == 0
    folder = tmp_path / "plates"
    assert sorted(path.name for path in folder.iterdir()) == sorted(map(str, told["files"]))
    with Image.open(folder / "piece-000002-back-Clear.png") as clear:
        assert clear.size == pytest.approx((60 / 25.4 * 100, 40 / 25.4 * 100), abs=1)
        assert np.asarray(clear).min() == 0
    with Image.open(folder / "piece-000002-front-Clear.png") as clear:
        assert np.asarray(clear).min() == 255
    with (folder / "toner.csv").open(newline="") as table:
        rows = list(csv.DictReader(table))
    assert [(row["piece"], row["side"]) for row in rows] == [("2", "front"), ("2", "back")]
    assert float(rows[0]["Cyan"]) > 3


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--plates", "--piece", "9"], "there is no piece 9"),
        (["--plates", "--run", "nowhere"], "is not a run folder"),
        (["--plates", "--run", "{home}"], "is not a run folder"),
        (["--plates", "--pictures", "{home}/job.yaml"], "cannot be used: File exists"),
        (["--plates", "--pictures", "{home}/out/plates"], "lies in a sealed run"),
    ],
)
def test_what_cannot_be_drawn_is_said(
    more: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write_job(tmp_path, layout=FRONT + BACK)
    assert ended(["run", str(job)], capsys)[0] == 0
    (tmp_path / "out" / "seal.json").write_text("{}")
    code, told = ended(["proof", str(job), *(word.format(home=tmp_path) for word in more)], capsys)
    assert code == 2
    assert said in told["findings"][0]["message"]
    assert not (tmp_path / "plates").exists()
