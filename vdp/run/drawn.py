"""The files of `vdp plan`: the stacks as a picture, the table of rolls and lanes, the test frame; each whole or not.

Not here: what is in them (`planned`, `press`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

import resvg_py

from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.press.drawing import draw_stacks
from vdp.press.testframe import draw_test_frame
from vdp.press.testpage import print_test_frame
from vdp.run.folder import prepare, put
from vdp.run.planned import HEAD, STACKS, Planned
from vdp.run.web import Laid

#: Pixels a drawn SVG unit in the PNG.
ZOOM = 2
SPANS, STACKED = "plan.csv", "stacks.csv"


def draw_plan(planned: Planned, job: Job, laid: Laid, out: Path, *, test_frame: bool) -> None:
    """Writes the files into `out`, and tells `planned` of them.  Raises CallerError where that cannot be done."""
    prepare(out)
    svg = draw_stacks(planned.run, planned.title, lambda piece: planned.serials.get(piece) or str(piece))
    files = {"stacks.svg": svg, "stacks.png": picture_of(svg, job), SPANS: _table(HEAD, planned.spans())}
    files[STACKED] = _table(STACKS, planned.stacks())
    if test_frame:
        plan, title = laid.plan, f"{planned.title}: test frame"
        svg = draw_test_frame(plan.web, plan.backs, plan.heads, title)
        files |= {"test-frame.svg": svg, "test-frame.png": picture_of(svg, job)}
        files["test-frame.pdf"] = print_test_frame(plan.web, plan.backs, plan.heads, title, job_faces(job)["sans"].path)
    for name, data in files.items():
        put(out / name, data)
        planned.files.append(name)
    planned.folder = str(out)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    table = io.StringIO()
    csv.writer(table).writerows([head, *rows])
    return table.getvalue().encode()


def picture_of(svg: bytes, job: Job) -> bytes:
    """A drawing of ours as a PNG."""
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg.decode("utf-8"),
            zoom=ZOOM,
            skip_system_fonts=True,
            font_files=[str(job_faces(job)[face].path) for face in ("sans", "sans-bold")],
            sans_serif_family="Noto Sans",
        )
    )
