"""A job's section ``web`` against its pieces: the web laid out, the order, and each piece's place.

Not here: the arithmetic (`press`), the sheets (`run.sheets`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from vdp.job.load import Job
from vdp.job.web import WebModel
from vdp.press.framecode import measure_code
from vdp.press.frames import SheetPlan
from vdp.press.order import Order, Place, arrange
from vdp.press.printmarks import MarksWanted, plan_marks
from vdp.press.stock import Paper, RollLimits, Usage, frames_a_roll, gsm, usage
from vdp.press.web import Wanted, Web, lay_web
from vdp.run.finishing import lines_of
from vdp.units import points

PlaceOf = Callable[[int], Place | None]


class Laid(NamedTuple):
    """The sheets of a run: how they look, and which piece goes where."""

    plan: SheetPlan
    order: Order
    apart: bool


def lay_out(job: Job, pieces: int) -> Laid | None:
    """None for a job without a web.  Raises CallerError with the figures of what does not fit, marks included."""
    said, where = job.model.web, job.where("job", "web")
    if said is None:
        return None
    dpi = job.model.resolution
    web = web_of(said, job.layout.trim, job.layout.bleed, dpi, where)
    plan = SheetPlan(web, said.backs, said.heads, frozenset(said.marks), said.code, lines_of(job))
    wanted = MarksWanted(plan.marks, tuple(job.model.spots), measure_code(plan.code, dpi).box, plan.lines)
    plan_marks(web, wanted, plan.backs, where)
    return Laid(plan, order_of(said, pieces, where, roll_frames(job, web)), said.apart)


def places_of(job: Job, pieces: int) -> PlaceOf:
    """The place of the piece with a 0-based index; None for a job without a web."""
    said = job.model.web
    if said is None:
        return lambda _: None
    where = job.where("job", "web")
    most = None
    if job.model.rolls is not None and job.model.stock is not None:
        most = roll_frames(job, web_of(said, job.layout.trim, job.layout.bleed, job.model.resolution, where))
    order = order_of(said, pieces, where, most)
    return lambda index: order.place_of(index + 1)


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


def paper_of(job: Job, web: Web) -> Paper | None:
    """The job's paper; None where it says nothing of it."""
    stock = job.model.stock
    if stock is None:
        return None
    grams = stock.gsm if stock.gsm is not None else gsm(stock.pounds or 0.0, stock.basis or "text")
    return Paper(points(web.width, job.model.resolution), stock.caliper, grams, stock.diameter, stock.core)


def limits_of(job: Job) -> RollLimits | None:
    """What a printed roll may be; None where the job says nothing of it."""
    rolls, stock = job.model.rolls, job.model.stock
    if rolls is None:
        return None
    core = rolls.core if rolls.core is not None else stock.core if stock is not None else 0.0
    return RollLimits(core, rolls.length, rolls.diameter, rolls.kilograms, rolls.leader, rolls.trailer)


def usage_of(job: Job, laid: Laid) -> Usage | None:
    """Paper and time of a run; None where the job does not say its paper and its press."""
    paper, press, limits = paper_of(job, laid.plan.web), job.model.press, limits_of(job)
    if paper is None or press is None:
        return None
    return usage(
        laid.order.frames,
        laid.order.rolls,
        points(laid.plan.web.frame, job.model.resolution),
        paper,
        press.speed,
        job.where("job", "stock"),
        ends=limits.leader + limits.trailer if limits is not None else 0.0,
        make_ready=press.make_ready,
    )


def roll_frames(job: Job, web: Web) -> int | None:
    """The most frames a printed roll may hold under the job's limits; None where there is none, or they need a paper
    that is not stated."""
    limits, paper = limits_of(job), paper_of(job, web)
    if limits is None or paper is None:
        return None
    return frames_a_roll(limits, paper, points(web.frame, job.model.resolution), job.where("job", "rolls"))


def order_of(said: WebModel, pieces: int, where: str, most: int | None = None) -> Order:
    """The order of that many pieces; `most` frames a roll by what a roll may be, unless the job says how many."""
    return arrange(
        pieces,
        said.lanes,
        said.along,
        said.order,
        height=said.height,
        stack=said.stack,
        roll_frames=said.roll_frames if said.roll_frames is not None else _whole(said, most),
        rewound=said.rewound,
        fill=said.fill,
        where=where,
    )


def _whole(said: WebModel, most: int | None) -> int | None:
    """A roll ends with a block."""
    if most is None or said.order != "blocks" or said.height is None:
        return most
    return most // said.height * said.height or most
