"""Areas of plates and total coverage: worked by hand, and against Ghostscript's separations at 600 dpi."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

from tests.verify.preflight.artful import BLEED, TRIM, spot, write_art
from vdp.verify.coverage import measure, page_coverage, plate_tints
from vdp.verify.doubt import Unreadable
from vdp.verify.inks import PROCESS

ART = Path(__file__).parents[2] / "layouts/ferry_pass/art"
#: Dots per inch of the separations.
FINE = 600


def half(cyan: float, magenta: float, yellow: float, black: float) -> bytes:
    """The left half of the trim in one colour."""
    left, bottom, width, height = BLEED, BLEED, TRIM[0] / 2, TRIM[1]
    return b"%g %g %g %g k %f %f %f %f re f " % (cyan, magenta, yellow, black, left, bottom, width, height)


def test_areas_by_hand(tmp_path: Path) -> None:
    covered = page_coverage(write_art(tmp_path / "a.pdf", half(0.5, 0.25, 0, 1)), 1, ())
    due = {"Cyan": 25, "Magenta": 12.5, "Yellow": 0, "Black": 50}
    assert covered.areas == pytest.approx(due, abs=0.3)
    assert covered.mean == pytest.approx(87.5, abs=0.6)
    assert covered.most == pytest.approx(175, abs=1)
    assert covered.where[0] < TRIM[0] / 2


def test_a_spot_counts_when_it_is_said_to(tmp_path: Path) -> None:
    def add(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        page.obj.Resources.ColorSpace.S = spot(pdf, "Clear")

    content = half(0, 0, 0, 1) + b"/Over gs /S cs 1 scn " + b"%f %f %f %f re f" % (BLEED, BLEED, *TRIM)
    path = write_art(tmp_path / "a.pdf", content, add)
    plain = page_coverage(path, 1, ("Clear",))
    assert plain.areas["Clear"] == pytest.approx(100, abs=0.3)
    assert plain.most == pytest.approx(100, abs=0.5)
    both = page_coverage(path, 1, ("Clear",), counted=(*PROCESS, "Clear"))
    assert both.most == pytest.approx(200, abs=0.5)


def test_the_thickest_place_is_where_it_is(tmp_path: Path) -> None:
    at = (BLEED + 200, BLEED + 100)
    covered = page_coverage(write_art(tmp_path / "a.pdf", b"1 1 1 1 k %f %f 6 6 re f" % at), 1, ())
    assert covered.most == pytest.approx(400, abs=2)
    left, bottom, right, top = covered.where
    assert at[0] - 1 < left < right < at[0] + 7
    assert at[1] - 1 < bottom < top < at[1] + 7


def test_a_hairline_crossing_is_no_puddle(tmp_path: Path) -> None:
    lines = b"1 1 1 1 K 0.3 w 50 20 m 50 150 l S 20 60 m 150 60 l S"
    assert page_coverage(write_art(tmp_path / "a.pdf", lines), 1, ()).most < 100


def test_a_page_smaller_than_the_patch() -> None:
    tints = {plate: np.ones((2, 3), np.float32) for plate in PROCESS}
    covered = measure(tints, (0, 0, 1, 0.5), PROCESS, 300)
    assert (covered.most, covered.mean) == (400, 400)


def test_what_cannot_be_judged_is_said(tmp_path: Path) -> None:
    with pytest.raises(Unreadable):
        page_coverage(write_art(tmp_path / "a.pdf", b"/Half gs 0 0 0 1 k 0 0 50 50 re f"), 1, ())
    with pytest.raises(Unreadable, match="no page 3"):
        page_coverage(tmp_path / "a.pdf", 3, ())


@pytest.mark.parametrize("side", ["front", "back"])
def test_areas_agree_with_ghostscript(side: str, need: Callable[[str], str], tmp_path: Path) -> None:
    """Within 0.3 percentage points on every plate; Ghostscript's tiffsep device at 600 dpi is the other judge."""
    path = ART / f"{side}.pdf"
    command = [need("gs"), "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=tiffsep", f"-r{FINE}"]
    subprocess.run([*command, "-o", str(tmp_path / "s%d.tif"), str(path)], check=True, capture_output=True)
    _, trim = plate_tints(path, 1, (), 72)
    with pikepdf.open(path) as pdf:
        top = float(pdf.pages[0].mediabox[3])
    rows = slice(round((top - trim[3]) * FINE / 72), round((top - trim[1]) * FINE / 72))
    columns = slice(round(trim[0] * FINE / 72), round(trim[2] * FINE / 72))
    mine = page_coverage(path, 1, ()).areas
    theirs = {}
    for plate in PROCESS:
        with Image.open(tmp_path / f"s1({plate}).tif") as picture:
            theirs[plate] = float((255 - np.asarray(picture)[rows, columns].astype(float)).mean() / 255 * 100)
    assert max(theirs.values()) > 5
    assert mine == pytest.approx(theirs, abs=0.3)
