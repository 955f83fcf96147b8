"""Artwork judged as part of a check and of a run: what it is blamed for stops it, unless the job accepts it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.commands import ended
from tests.job.test_postscript import EPS
from tests.small import BACK, FRONT, JOB, write_job
from tests.verify.preflight.artful import write_art

TRIM = "trim: [100 mm, 60 mm]\nbleed: 3 mm\n"
LAYOUT = TRIM + FRONT.split("\n", 2)[2].replace("front:\n", "front:\n  - {name: ground, art: art.pdf}\n") + BACK


def test_a_hairline_stops_a_job_until_it_is_accepted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=LAYOUT)
    write_art(tmp_path / "art.pdf", b"0.05 w 60 60 m 120 60 l S")
    for command in ("check", "run"):
        code, told = ended([command, str(job)], capsys)
        assert code == 1
        (finding,) = told["findings"]
        assert finding["code"] == "art-hairline"
        assert finding["where"] == "art.pdf, page 1, 21.2 … 42.3 mm from the left, 21.2 … 21.2 mm from the bottom"
    assert not (tmp_path / "out" / "pieces.pdf").exists()
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert report["findings"][0]["code"] == "art-hairline"
    job.write_text(JOB + "artwork: {accept: [art-hairline]}\n")
    code, told = ended(["run", str(job)], capsys)
    assert code == 0
    assert [warning["code"] for warning in told["warnings"] if warning["code"].startswith("art-")] == ["art-hairline"]


def test_art_that_no_check_could_judge_stops_a_job_before_it_takes_numbers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write_job(tmp_path, layout=LAYOUT)
    write_art(tmp_path / "art.pdf", b"/Half gs 0 0 0 1 k 60 60 60 20 re f")
    for command in ("check", "run"):
        code, told = ended([command, str(job)], capsys)
        assert code == 1
        assert [finding["code"] for finding in told["findings"]] == ["art-not-judged"]
        assert "flatten the artwork" in told["findings"][0]["message"]
    code, told = ended(["ledger", "list", str(job)], capsys)
    assert told["entries"] == []


def test_a_press_profile_that_is_none_is_told_by_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, job=JOB + "colour: {rgb: convert}\n")
    assert "needs the 'profile'" in ended(["check", str(job)], capsys)[1]["findings"][0]["message"]
    write_job(tmp_path, job=JOB + "colour: {rgb: convert, profile: press.icm}\n")
    (tmp_path / "press.icm").write_bytes(b"no profile")
    code, told = ended(["check", str(job)], capsys)
    assert (code, "is not an ICC profile" in told["findings"][0]["message"]) == (2, True)


def test_faults_of_numbers_and_of_the_list_are_told_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = JOB.replace("check: damm", "check: damm, shuffled: true, key: env:NO_SUCH_KEY")
    code, told = ended(["check", str(write_job(tmp_path, job=text, records=""))], capsys)
    assert code == 2
    said = " ".join(finding["message"] for finding in told["findings"])
    assert "NO_SUCH_KEY" in said
    assert "the list is empty" in said


def test_a_picture_that_cannot_be_used_says_the_way_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    item = "  - {name: view, image: view.png, box: [4 mm, 27 mm, 10 mm, 10 mm]}\n"
    job = write_job(tmp_path, layout=FRONT + item + BACK)
    Image.new("RGB", (300, 300)).save(tmp_path / "view.png")
    assert ended(["run", str(job)], capsys)[0] == 1
    aside = (tmp_path / "out" / "set_aside.csv").read_text(encoding="utf-8")
    assert "view: view.png: is in RGB (convert it to CMYK, or set 'rgb: convert' and a 'profile'" in aside


def test_places_are_shown_when_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, layout=LAYOUT)
    write_art(tmp_path / "art.pdf", b"0.05 w 60 60 m 120 60 l S")
    shown = tmp_path / "shown"
    shown.mkdir()
    (shown / "art-99-old.png").write_bytes(b"old")
    _, told = ended(["check", str(job), "--pictures", str(shown)], capsys)
    assert "(see art-01-art-hairline.png)" in told["findings"][0]["message"]
    assert [path.name for path in shown.iterdir()] == ["art-01-art-hairline.png"]
    (tmp_path / "file").write_bytes(b"")
    code, _ = ended(["check", str(job), "--pictures", str(tmp_path / "file")], capsys)
    assert code == 2


def test_pictures_of_records_need_pixels(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    item = "  - {name: view, image: view.png, box: [4 mm, 27 mm, 10 mm, 10 mm]}\n"
    job = write_job(tmp_path, layout=FRONT + BACK + item)
    for pixels, due in ((50, "art-picture-coarse"), (80, "art-picture-soft"), (120, None)):
        Image.fromarray(np.zeros((pixels, pixels), np.uint8)).save(tmp_path / "view.png")
        _, told = ended(["check", str(job)], capsys)
        codes = [said["code"] for said in (*told["findings"], *told["warnings"])]
        assert [code for code in codes if code.startswith("art-")] == ([due] if due else [])


def test_eps_artwork_is_composed_and_verified(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], need: Callable[[str], str]
) -> None:
    need("gs")
    layout = (FRONT + BACK).replace("front:\n", "front:\n  - {name: ground, art: art.eps, box: [0, 0, 60 mm, 40 mm]}\n")
    job = write_job(tmp_path, layout=layout)
    (tmp_path / "art.eps").write_text(
        EPS.replace("0 0 0 1 setcmykcolor 10 10 100 50", "0.1 0 0 0 setcmykcolor 10 2 20 5")
    )
    code, told = ended(["run", str(job)], capsys)
    assert (code, told["findings"]) == (0, [])
    code, told = ended(["verify", str(tmp_path / "out"), "--job", str(job)], capsys)
    assert (code, told["findings"]) == (0, [])
