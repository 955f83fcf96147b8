"""Overprinting a mark by mark: process ink knocks out what lies under it, unless the layout says that it overprints."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.small import BACK, JOB, write_job
from tests.small import FRONT as USUAL
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.run import run_job
from vdp.run.screen import Screen
from vdp.verify.coverage import Tints, plate_tints

#: A cyan ground, black boxes on it, and Clear over all; the last item goes back to plain black.
FRONT = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {box: [0, 0, 60 mm, 40 mm], colour: [80, 0, 0, 0]}
  - {box: [10 mm, 10 mm, 10 mm, 10 mm], overprint: true}
  - {box: [10 mm, 25 mm, 10 mm, 10 mm], plate: Clear}
  - {box: [30 mm, 10 mm, 10 mm, 10 mm]}
  - {name: hello, text: "{{ name }}", box: [45 mm, 2 mm, 14 mm, 6 mm], size: 8 pt, overprint: true}
"""


def run(tmp_path: Path) -> Path:
    job = write_job(tmp_path, layout=FRONT + BACK)
    result = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    return tmp_path / "out" / "pieces.pdf"


def at(plane: Tints, x: float, y: float, dpi: float) -> float:
    """A tint at a place in mm from the trim's upper left."""
    return float(plane[round(y / 25.4 * dpi), round(x / 25.4 * dpi)])


def test_black_overprints_where_it_is_told_to(tmp_path: Path) -> None:
    tints, _ = plate_tints(run(tmp_path), 1, ("Clear",), 100)
    cyan, black = tints["Cyan"], tints["Black"]
    assert at(cyan, 5, 5, 100) == pytest.approx(0.8, abs=0.01)
    assert (at(black, 15, 15, 100), at(black, 35, 15, 100)) == (1, 1)
    assert at(cyan, 15, 15, 100) == pytest.approx(0.8, abs=0.01)
    assert at(cyan, 35, 15, 100) == 0
    assert at(cyan, 15, 30, 100) == pytest.approx(0.8, abs=0.01)
    # Under the name, which overprints, the ground is whole.
    corner = cyan[round(2 / 25.4 * 100) : round(8 / 25.4 * 100), round(45 / 25.4 * 100) : round(59 / 25.4 * 100)]
    assert corner.min() > 0.78


def test_specimens_overprint_as_pieces_do(tmp_path: Path) -> None:
    # On a side without a spot plate, what lets process ink overprint is all that a specimen's form has of its kind.
    web = (
        "web: {width: 156 mm, lanes: 2, gutter: 6 mm, bleed: 2 mm, order: across,\n"
        "  margins: {left: 10 mm, right: 10 mm, head: 10 mm, foot: 11 mm}}\n"
        "rolls: {leader: 70 mm}\n"
    )
    layout = USUAL.replace("face: mono, size: 9 pt", "face: mono, size: 9 pt, overprint: true") + BACK
    job = write_job(tmp_path, job=JOB + web, layout=layout)
    result = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
    assert (result.ok, result.findings) == (True, [])


def test_ghostscript_separates_it_the_same(tmp_path: Path, need: Callable[[str], str]) -> None:
    path = run(tmp_path)
    command = [need("gs"), "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=tiffsep", "-r100", "-dLastPage=1"]
    subprocess.run([*command, "-o", str(tmp_path / "s%d.tif"), str(path)], check=True, capture_output=True)
    with Image.open(tmp_path / "s1(Cyan).tif") as picture:
        cyan = 1 - np.asarray(picture, np.float32) / np.float32(255)
    bleed = 2
    assert at(cyan, 15 + bleed, 15 + bleed, 100) == pytest.approx(0.8, abs=0.02)
    assert at(cyan, 35 + bleed, 15 + bleed, 100) == 0


@pytest.mark.parametrize("ink", ["colour: [0, 0, 0, 0]", "tint: 0"])
def test_white_that_overprints_is_refused(ink: str, tmp_path: Path) -> None:
    layout = FRONT.replace(
        "{box: [30 mm, 10 mm, 10 mm, 10 mm]}", "{box: [0, 0, 9 mm, 9 mm], overprint: true, " + ink + "}"
    )
    with pytest.raises(CallerError, match="vanishes"):
        load_job(write_job(tmp_path, layout=layout + BACK))
