"""A small PDF/VT-1 file made by a run of its own, and a way to spoil a copy of it."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
from PIL import Image

from tests.small import BACK, FRONT, JOB, write_job
from tests.verify.preflight.artful import write_art
from vdp.run import run_job
from vdp.run.screen import Screen

PRESS = Path(__file__).parents[3] / "layouts/ferry_pass/art/press.icm"
ART = "front:\n  - {art: art.pdf, box: [0, 0, 60 mm, 40 mm]}\n"
IMAGE = "  - {name: view, image: view.png, box: [4 mm, 27 mm, 10 mm, 10 mm]}\n"


def make_pieces(folder: Path) -> Path:
    """pieces.pdf of three pieces with artwork, a picture, fonts and a spot, for the demo's press profile."""
    layout = FRONT.replace("front:\n", ART) + BACK + IMAGE
    job = write_job(folder, layout=layout, job=JOB + "colour: {profile: press.icm}\npart_fields: [lang]\n")
    (folder / "press.icm").write_bytes(PRESS.read_bytes())
    write_art(folder / "art.pdf", b"0.1 0 0 0 k 10 2 20 5 re f")
    Image.fromarray(np.full((120, 120), 200, np.uint8)).save(folder / "view.png")
    result = run_job(job, records=None, out=folder / "out", workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    return folder / "out" / "pieces.pdf"


def spoiled(path: Path, into: Path, change: Callable[[pikepdf.Pdf], None]) -> Path:
    """A copy with a change made to it."""
    with pikepdf.open(path) as pdf:
        change(pdf)
        pdf.save(into, fix_metadata_version=False)
    return into
