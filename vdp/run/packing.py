"""packing.csv and labels.pdf: what goes into which band and carton, for the table where it is packed.

Not here: counting off (`press.packing`).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from reportlab import rl_config
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.press.packing import Band, bands
from vdp.press.parts import Run
from vdp.run.folder import put
from vdp.run.rolls import winding_of

TABLE, LABELS = "packing.csv", "labels.pdf"
HEAD = ("carton", "band", "roll", "first", "first_serial", "last", "last_serial", "pieces", "exceptions", "comes_off")
#: A label, in millimetres.
SIZE = (105.0, 74.0)


class Packed(NamedTuple):
    """A band with the serials of its ends."""

    band: Band
    first: str
    last: str

    @property
    def exceptions(self) -> str:
        """What the packer must know."""
        said = [] if self.band.consecutive else ["numbers do not run on"]
        if self.band.blanks:
            said.append(f"{self.band.blanks} blanks below the last piece: take them out")
        return "; ".join(said)


def put_packing(folder: Path, job: Job, run: Run) -> None:
    """Writes both files for a job that says how it is packed."""
    said = job.model.packing
    if said is None:
        return
    counted = list(bands(run, said.band, said.carton))
    ends = {piece for band in counted for piece in (band.pieces[0], band.pieces[-1])}
    serials = _serials(folder / "pieces.jsonl", ends)
    packed = [Packed(band, serials[band.pieces[0]], serials[band.pieces[-1]]) for band in counted]
    table = io.StringIO()
    writer = csv.writer(table)
    writer.writerow(HEAD)
    for one in packed:
        band = one.band
        ends_of = (band.pieces[0], one.first, band.pieces[-1], one.last, len(band.pieces))
        comes = winding_of(job, run.part_of(band.roll).press).said
        writer.writerow([band.carton, band.number, band.roll, *ends_of, one.exceptions, comes])
    put(folder / TABLE, table.getvalue().encode())
    put(folder / LABELS, _labels(job, run, packed))


def _serials(path: Path, wanted: set[int]) -> dict[int, str]:
    """The first series' serial of each piece wanted."""
    found = {}
    with path.open("rb") as lines:
        for number, line in enumerate(lines, 1):
            if number in wanted:
                found[number] = next(iter(json.loads(line)["serials"].values()), "")
    return found


def _labels(job: Job, run: Run, packed: Sequence[Packed]) -> bytes:
    """A label a carton: its bands, first and last serial, pieces, exceptions, how its roll comes off, and the first
    serial to scan."""
    rl_config.invariant = 1
    rl_config.useA85 = 0
    face = job_faces(job)["sans"].path
    pdfmetrics.registerFont(TTFont("Label", face))
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(SIZE[0] * mm, SIZE[1] * mm), invariant=1)
    canvas.setTitle(f"{job.model.job}: labels")
    cartons = [list(group) for _, group in groupby(packed, key=lambda one: one.band.carton)]
    for carton in cartons:
        first, last = carton[0], carton[-1]
        pieces = sum(len(one.band.pieces) for one in carton)
        lines = [
            (9, job.model.job),
            (22, f"Carton {first.band.carton} of {len(cartons)}"),
            (10, f"bands {first.band.number} to {last.band.number} · {pieces} pieces"),
            (13, f"{first.first} – {last.last}"),
            (6, f"roll {first.band.roll}: {winding_of(job, run.part_of(first.band.roll).press).said}"),
            *((8, f"band {one.band.number}: {one.exceptions}") for one in carton if one.exceptions),
        ]
        down = (SIZE[1] - 6) * mm
        for size, text in lines[:8]:
            down -= size * 1.1
            canvas.setFont("Label", size)
            canvas.drawString(8 * mm, down, text)
            down -= size * 0.4
        if first.first.isascii() and first.first:
            symbol = Code128(first.first, barHeight=11 * mm, barWidth=0.33 * mm, quiet=True, humanReadable=False)
            symbol.drawOn(canvas, 4 * mm, 6 * mm)
        canvas.showPage()
    canvas.save()
    return out.getvalue()
