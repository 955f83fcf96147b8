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
