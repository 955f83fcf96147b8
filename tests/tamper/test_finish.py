"""Glue zones and counterfoils of finished pieces: every deed is found, and artwork counts like everything else."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest
from reportlab.pdfgen.canvas import Canvas

from tests.small import JOB, LIST, write_job
from tests.tamper.finish_cases import FINISH_CASES, FinishCase
from vdp.job.load import load_job
from vdp.run import run_job
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.verify.judge import verify_folder
from vdp.verify.verdict import Verdict

LAYOUT = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {name: number, number: voucher, box: [4 mm, 6 mm, 30 mm, 5 mm], face: mono, size: 9 pt}
  - {name: stub, number: voucher, box: [45 mm, 6 mm, 14 mm, 5 mm], face: mono, size: 7 pt}
  - {name: bars, barcode: datamatrix, data: "{{ series.voucher }}", at: [6 mm, 16 mm], x: 0.508 mm}
back:
  - {name: word, text: "Thanks, {{ name }}", box: [4 mm, 6 mm, 40 mm, 6 mm], size: 9 pt}
  - {name: hidden, text: "GENUINE", box: [4 mm, 14 mm, 40 mm, 6 mm], size: 9 pt, plate: Clear}
"""
FINISH = """\
finish:
  glue: [{side: back, area: [0, 33 mm, 60 mm, 7 mm]}]
  perforations: [{at: 44 mm, direction: down}]
  counterfoils: [{series: voucher, parts: [[0, 0, 44 mm, 33 mm], [44 mm, 0, 16 mm, 33 mm]]}]
"""


def run(home: Path, layout: str) -> Result:
    path = write_job(home, job=JOB, layout=layout, records=LIST)
    return run_job(path, records=None, out=home / "out", workers=1, screen=Screen(io.StringIO()))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("finish") / "job"
    assert run(home, LAYOUT + FINISH).findings == []
    return home


def judged(home: Path) -> Verdict:
    return verify_folder(home / "out", load_job(home / "job.yaml"))


def test_an_untouched_run_gives_nothing_and_tells_what_was_checked(made: Path) -> None:
    verdict = judged(made)
    assert verdict.findings == []
    told = {check.what: (check.count, check.good) for check in verdict.checks}
    assert told["Glue zones bare"] == ("1 on 3 pieces", True)
    assert told["Counterfoils"] == ("2 parts of 3 pieces", True)


@pytest.mark.parametrize("case", FINISH_CASES, ids=lambda case: case.title)
def test_a_deed_is_found(case: FinishCase, made: Path, tmp_path: Path) -> None:
    home = Path(shutil.copytree(made, tmp_path / "job"))
    case.deed(home / "out")
    assert {finding.code for finding in judged(home).findings} == case.gives


def test_artwork_on_glue_is_found_by_its_pixels(tmp_path: Path) -> None:
    """No item of the layout lies there, so nothing but the finished pages can tell."""
    canvas = Canvas(str(_home(tmp_path) / "art.pdf"), pagesize=(60 / 25.4 * 72, 40 / 25.4 * 72))
    canvas.setFillColorCMYK(0.3, 0, 0, 0)
    canvas.rect(50, 5, 60, 12, stroke=0, fill=1)
    canvas.save()
    layout = LAYOUT.replace("back:\n", "back:\n  - {name: ground, art: art.pdf}\n") + FINISH
    job = JOB + "artwork: {accept: [art-bleed, art-no-trim, art-font]}\n"
    path = write_job(tmp_path, job=job, layout=layout, records=LIST)
    result = run_job(path, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
    assert {finding.code for finding in result.findings} == {"glue-printed"}
    assert len(result.findings) == 3
    assert "glue zone 1 has 30 % of ink" in result.findings[0].message


def _home(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder
