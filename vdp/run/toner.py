"""Toner of a finished run, from a sample of its pages: area of each plate, grams for the whole run, the thickest place.

Not here: measuring a page (`vdp.verify.coverage`).
"""

from __future__ import annotations

import io
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from vdp.errors import Finding
from vdp.job.load import Job
from vdp.units import mm
from vdp.verify.coverage import Coverage, Tints, leaf_tints, measure, total_of
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.inks import PROCESS
from vdp.verify.tree import open_pdf, pages
from vdp.verify.views import heat

#: Resolution of the measurement, in dpi.
DPI = 150
SEED = 20270115


@dataclass(frozen=True, slots=True)
class Toner:
    """`pages` measured; `areas` in percent of the trim, mean of those pages; `grams` by plate for all pieces; the
    thickest place in percent, with its page and that page as a heat picture (PNG); findings when it is over the job's
    limit or cannot be judged."""

    pages: int
    areas: Mapping[str, float]
    grams: Mapping[str, float]
    mean: float
    most: float
    where: str
    findings: tuple[Finding, ...] = ()
    picture: bytes = b""

    def as_json(self) -> dict[str, Any]:
        return {
            "pages": self.pages,
            "areas": {plate: round(area, 3) for plate, area in self.areas.items()},
            "grams": {plate: round(grams, 2) for plate, grams in self.grams.items()},
            "mean": round(self.mean, 2),
            "most": round(self.most, 1),
            "where": self.where,
        }


def measure_run(folder: Path, job: Job, pieces: int) -> Toner | None:
    """Measures the first piece and others of a seeded sample, as many as the job says; None when it says none."""
    rules = job.model.toner
    if not rules.sample:
        return None
    chosen = sorted({1, pieces, *random.Random(SEED).sample(range(1, pieces + 1), min(pieces, rules.sample))})  # noqa: S311  a sample, no secret
    spots = tuple(job.model.spots)
    counted = (*PROCESS, *(spots if rules.count_spots else ()))
    found: list[tuple[str, Coverage]] = []
    picture, thickest = b"", -1.0
    doubts: list[Finding] = []
    with open_pdf(folder / "pieces.pdf") as pdf:
        for piece in chosen[: max(2, rules.sample)]:
            for side, leaf in enumerate(pages(pdf, 2 * piece - 2, 2 * piece)):
                where = f"piece {piece}, {('front', 'back')[side]}"
                try:
                    with pdf_faults():
                        tints, trim = leaf_tints(pdf, leaf, spots, DPI)
                        covered = measure(tints, trim, counted, DPI)
                    found.append((where, covered))
                    if covered.most > thickest:
                        thickest, picture = covered.most, _heat_picture(tints, counted, rules.limit)
                except Unreadable as doubt:
                    doubts.append(Finding("toner-unknown", where, f"its toner cannot be measured: {doubt}"))
    if not found:
        return Toner(0, {}, {}, 0.0, 0.0, "", tuple(doubts))
    areas = {plate: sum(c.areas[plate] for _, c in found) / len(found) for plate in (*PROCESS, *spots)}
    square_cm = mm(job.layout.trim[0]) * mm(job.layout.trim[1]) / 100
    grams = {
        plate: area / 100 * square_cm * rules.milligrams(plate) / 1000 * 2 * pieces for plate, area in areas.items()
    }
    where, thick = max(found, key=lambda place: place[1].most)
    place = f"{where}, {mm(thick.where[0]):.0f} mm from the left and {mm(thick.where[1]):.0f} mm from the bottom"
    told = Finding("toner-thick", place, f"{thick.most:.0f} % of toner; the job allows {rules.limit:.0f} %")
    over = [told] if thick.most > rules.limit else []
    mean = sum(c.mean for _, c in found) / len(found)
    return Toner(len(found), areas, grams, mean, thick.most, place, (*over, *doubts), picture)


def _heat_picture(tints: Mapping[str, Tints], counted: Sequence[str], limit: float) -> bytes:
    out = io.BytesIO()
    Image.fromarray(heat(total_of(tints, counted), limit)).reduce(2).save(out, "PNG", optimize=False)
    return out.getvalue()
