"""Small type found on finished pages: printed and reversed out, in any direction, on any plate."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.small import BACK, FRONT, write_job
from vdp.run import run_job
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.verify.judge import verify_folder
from vdp.verify.loupe import loupe_views

MORE = """\
  - {name: rev, microtext: "{{ name }}", box: [4 mm, 6 mm, 20 mm, 1 mm], size: 2 pt, reversed: true}
  - {name: up, microtext: "{{ series.voucher }}", box: [56 mm, 4 mm, 1 mm, 30 mm], size: 1.2 pt, turn: 90}
  - {name: down, microtext: "{{ name }}", box: [2 mm, 4 mm, 1 mm, 10 mm], size: 1.5 pt, turn: 270, plate: Clear}
  - {name: white, text: "{{ name }}", box: [30 mm, 6 mm, 20 mm, 2 mm], size: 3 pt, colour: [0, 0, 0, 0]}
"""
LOSSY = """\
  - {name: tiny, microtext: "{{ name }}", box: [4 mm, 8 mm, 9 mm, 1 mm], face: mono, size: 0.7 pt, losses: accept}
"""


def made(folder: Path, more: str) -> Result:
    job = write_job(folder, layout=FRONT + BACK + more, records="name,lang\nAnna,en\nBo,en\n")
    return run_job(job, records=None, out=folder / "out", workers=1, screen=Screen(io.StringIO()))


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sound")
    result = made(folder, MORE)
    assert result.ok, result.findings
    return folder / "out"


def test_the_thinnest_letter_of_a_run_is_told_and_shown(sound: Path) -> None:
    verdict = verify_folder(sound)
    assert verdict.ok
    place = verdict.thinnest
    assert place is not None
    assert (place.text, place.base, round(place.size, 3), place.plate) == ("n", "NotoSans-Regular", 1.0, "Black")
    told = json.loads((sound / "report.json").read_text("utf-8"))["thinnest"]
    assert (told["stroke_dots"], told["side"], told["piece"]) == (place.stroke, "back", 1)
    views = loupe_views(sound / "pieces.pdf", ("Clear",), place, 1200)
    drawn, dots = (np.array(Image.open(io.BytesIO(png))) for _, png in views)
    assert drawn.shape == dots.shape
    assert set(np.unique(dots)) == {0, 255}
    assert 0.02 < (dots == 0).mean() < 0.5
    assert loupe_views(sound / "pieces.pdf", ("Clear",), place._replace(piece=9), 1200) == []
    assert loupe_views(sound / "pieces.pdf", ("Clear",), place._replace(plate="Colour"), 1200) == []


def test_two_processes_tell_the_same(sound: Path) -> None:
    one, two = verify_folder(sound), verify_folder(sound, workers=2)
    assert one.thinnest == two.thinnest
    assert one.checks == two.checks


def test_losses_are_findings_unless_the_layout_accepts_them_at_that_size(tmp_path: Path) -> None:
    result = made(tmp_path, LOSSY)
    assert result.ok, result.findings
    assert "type-lossy" in {warning.code for warning in result.warnings}
    out = tmp_path / "out"
    assert verify_folder(out).ok
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["losses_accepted"] == [[0.7, 0.7]]
    (out / "report.json").write_text(json.dumps(report | {"losses_accepted": [[0.9, 1.1]]}), "utf-8")
    findings = verify_folder(out).findings
    assert {finding.code for finding in findings} == {"type-broken"}
    assert all(" of IBMPlexMono-Regular at 0.70 pt: " in finding.message for finding in findings)
