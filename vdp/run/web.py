"""A job's section ``web`` against its pieces: the web laid out, the run on it, and each piece's place.

Not here: the arithmetic (`press`), rolls and presses (`run.rolls`), the sheets (`run.sheets`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from vdp.errors import Finding
from vdp.job.load import Job
from vdp.job.web import WebModel
from vdp.press.framecode import measure_code
from vdp.press.frames import SheetPlan
from vdp.press.order import Place
from vdp.press.parts import Run
from vdp.press.printmarks import MarksWanted, plan_marks
from vdp.press.web import Wanted, Web, lay_web
from vdp.run.finishing import lines_of
from vdp.run.rolls import refuse_idle, roll_cautions, run_for

PlaceOf = Callable[[int], Place | None]


class Laid(NamedTuple):
    """The sheets of a run: how they look, and which piece goes where.  `apart`: a file a roll.  `cautions` are warnings
    of its rolls and presses."""

    plan: SheetPlan
    run: Run
    apart: bool
    cautions: tuple[Finding, ...] = ()

    @property
    def frames(self) -> int:
        """All frames that are printed, specimens included."""
        return self.run.frames + self.run.specimens


def lay_out(job: Job, pieces: int) -> Laid | None:
    """None for a job without a web.  Raises CallerError with the figures of what does not fit, marks included."""
    refuse_idle(job)
    said, where = job.model.web, job.where("job", "web")
    if said is None:
        return None
    dpi = job.model.resolution
    web = web_of(said, job.layout.trim, job.layout.bleed, dpi, where)
    plan = SheetPlan(web, said.backs, said.heads, frozenset(said.marks), said.code, lines_of(job))
    wanted = MarksWanted(plan.marks, tuple(job.model.spots), measure_code(plan.code, dpi).box, plan.lines)
    plan_marks(web, wanted, plan.backs, where)
    run = run_for(job, said, web, pieces)
    return Laid(plan, run, said.apart or bool(job.model.presses), tuple(roll_cautions(job, web, run)))


def places_of(job: Job, pieces: int) -> PlaceOf:
    """The place of the piece with a 0-based index; None for a job without a web."""
    said = job.model.web
    if said is None:
        return lambda _: None
    where = job.where("job", "web")
    web = web_of(said, job.layout.trim, job.layout.bleed, job.model.resolution, where)
    run = run_for(job, said, web, pieces)
    return lambda index: run.place_of(index + 1)


def web_of(said: WebModel, trim: tuple[float, float], bleed: float, dpi: int, where: str) -> Web:
    """The web for pieces of that trim and bleed, in points."""
    wanted = Wanted(
        said.width,
        said.lanes,
        printable=said.printable,
        along=said.along,
        gutter=said.gutter,
        along_gutter=said.along_gutter,
        frame=said.frame,
        bleed=said.bleed,
        turn=said.turn,
        margins=(said.margins.left, said.margins.right, said.margins.head, said.margins.foot),
    )
    return lay_web(wanted, trim, bleed, dpi, where)
