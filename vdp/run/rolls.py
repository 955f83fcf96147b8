"""A job's paper, printed rolls and presses: how many frames a roll holds, how the run is shared out, what it uses.

Not here: the arithmetic (`press.stock`, `press.parts`), the frame itself (`run.web`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from vdp.errors import CallerError, Fault, Finding, OurBug
from vdp.job.load import Job
from vdp.job.stock import PressModel, RollsModel
from vdp.job.web import WebModel
from vdp.press.order import Order, arrange
from vdp.press.parts import Ends, Part, Run, run_of, share_out, whole, whole_frames
from vdp.press.stock import Paper, RollLimits, Usage, frames_a_roll, gsm, metres, pages_a_minute, roll_warnings, usage
from vdp.press.web import Web
from vdp.press.winding import Winding, leading_edge
from vdp.units import points

METRES_PER_FOOT = 0.3048


def refuse_idle(job: Job) -> None:
    """Raises CallerError with every section of rolls and presses that could not be kept."""
    faults = [*_faults(job)]
    if faults:
        raise CallerError(faults)


def _faults(job: Job) -> Iterator[Fault]:
    model = job.model
    told = {"rolls": model.rolls, "press": model.press, "presses": model.presses, "packing": model.packing}
    if model.web is None:
        for key, said in told.items():
            if said:
                message = f"'{key}' says how sheets are printed, and the job has no section 'web'"
                yield Fault(job.where("job", key), message, "say how the pieces lie on the web, or leave it out")
        return
    if model.press is not None and model.presses:
        yield Fault(job.where("job", "press"), "there are 'press' and 'presses'", "state the presses in one of them")
    if model.press is not None and model.press.rolls is not None:
        message = "one press has the rolls of the job"
        yield Fault(job.where("job", "press", "rolls"), message, "move 'rolls' out of 'press'")
    sections: list[tuple[tuple[str, ...], RollsModel | None]] = [(("rolls",), model.rolls)]
    sections += [(("presses", name, "rolls"), press.rolls) for name, press in model.presses.items()]
    edge = leading_edge(model.web.turn, model.web.rewound)
    for keys, rolls in sections:
        if rolls is None:
            continue
        limited = [name for name in ("diameter", "kilograms") if getattr(rolls, name) is not None]
        if limited and model.stock is None:
            message = f"{' and '.join(limited)} of a roll cannot be kept: the paper is not stated"
            yield Fault(job.where("job", *keys), message, "say stock: {caliper: …, gsm: …, diameter: …, core: …}")
        if rolls.leads is not None and rolls.leads != edge:
            message = (
                f"the {rolls.leads} of the front is to come off first, and with turn: {model.web.turn} and "
                f"rewound: {str(model.web.rewound).lower()} the {edge} does"
            )
            yield Fault(job.where("job", *keys), message, "change 'rewound' or 'turn' of the web")


# -- what a roll is ----------------------------------------------------------------------------------------------------


def paper_of(job: Job, web: Web) -> Paper | None:
    """The job's paper; None where it says nothing of it."""
    stock = job.model.stock
    if stock is None:
        return None
    grams = stock.gsm if stock.gsm is not None else gsm(stock.pounds or 0.0, stock.basis or "text")
    return Paper(points(web.width, job.model.resolution), stock.caliper, grams, stock.diameter, stock.core)


def winding_of(job: Job, press: str = "") -> Winding:
    """How the rolls of a press come off, for a job that has a web."""
    web, rolls = job.model.web, rolls_said(job, press)
    if web is None:
        raise OurBug("a job without a web winds no rolls")
    face, way = (rolls.face, rolls.winds) if rolls is not None else (None, None)
    return Winding(web.rewound, leading_edge(web.turn, web.rewound), face, way)


def rolls_said(job: Job, press: str) -> RollsModel | None:
    """What the job says of the rolls of a press, "" for the only one."""
    own = job.model.presses[press].rolls if press else None
    return own if own is not None else job.model.rolls


def press_said(job: Job, press: str) -> PressModel | None:
    return job.model.presses[press] if press else job.model.press


def ends_of(job: Job, web: Web, press: str = "") -> Ends:
    """Frames of specimens: whole ones, at least as long as the job says."""
    rolls, said, frame = rolls_said(job, press), press_said(job, press), _frame(job, web)
    leader, trailer = (rolls.leader, rolls.trailer) if rolls is not None else (0.0, 0.0)
    lengths = (said.make_ready if said is not None else 0.0, leader, trailer)
    return Ends(*(whole_frames(length, frame) for length in lengths))


def limits_of(job: Job, web: Web, press: str = "") -> RollLimits | None:
    """What a printed roll may be, with its ends in whole frames; None where the job says nothing of it.

    Make-ready is no part of it: it is torn off before the roll is begun."""
    rolls, stock = rolls_said(job, press), job.model.stock
    if rolls is None:
        return None
    core = rolls.core if rolls.core is not None else stock.core if stock is not None else 0.0
    ends, frame = ends_of(job, web, press), _frame(job, web)
    limits = RollLimits(core, rolls.length, rolls.diameter, rolls.kilograms)
    return replace(limits, leader=ends.leader * frame, trailer=ends.trailer * frame)


def _frame(job: Job, web: Web) -> float:
    return points(web.frame, job.model.resolution)


def _most(job: Job, web: Web, press: str) -> int | None:
    """The most frames a printed roll may hold under the job's limits; None where there is none."""
    limits = limits_of(job, web, press)
    if limits is None:
        return None
    own = ("presses", press, "rolls") if press and job.model.presses[press].rolls is not None else ("rolls",)
    return frames_a_roll(limits, paper_of(job, web), _frame(job, web), job.where("job", *own))


# -- how the run is shared out -----------------------------------------------------------------------------------------


def run_for(job: Job, said: WebModel, web: Web, pieces: int) -> Run:
    """The order of that many pieces on the job's presses."""
    where = job.where("job", "web")
    order = partial(_order, said, where=where)
    if not job.model.presses:
        return whole(order(pieces, _most(job, web, "")), ends_of(job, web))
    most = {press: _most(job, web, press) for press in job.model.presses}
    ends = {press: ends_of(job, web, press) for press in job.model.presses}
    # A block of the orders that have none is a frame: it may end a press's part as it may end a roll.
    block = web.places * (said.height if said.order == "blocks" and said.height is not None else 1)
    full = {press: order(pieces, most[press]).roll_frames for press in most}
    takes = [_minutes(job, web, press, ends[press], full[press], block // web.places) for press in most]
    shares = share_out(-(-pieces // block), takes)
    parts, left = [], pieces
    for press, blocks in zip(most, shares, strict=True):
        own = min(blocks * block, left)
        if own:
            parts.append((press, order(own, most[press]), ends[press]))
        left -= own
    return run_of(parts)


def _minutes(job: Job, web: Web, press: str, ends: Ends, full: int, height: int) -> Callable[[int], float]:
    """How long a press takes for so many blocks of `height` frames, `full` frames a roll."""
    speed, frame = job.model.presses[press].speed, metres(_frame(job, web))

    def takes(blocks: int) -> float:
        frames = blocks * height
        rolls = -(-frames // full)
        return (frames + rolls * (ends.leader + ends.trailer) + ends.ready) * frame / speed if blocks else 0.0

    return takes


def _order(said: WebModel, pieces: int, most: int | None, *, where: str) -> Order:
    return order_of(said, pieces, where, most)


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


def roll_cautions(job: Job, web: Web, run: Run) -> Iterator[Finding]:
    """Printed rolls that are larger than the job allows, since it says how many frames they have, and idle presses."""
    frame, paper = _frame(job, web), paper_of(job, web)
    for part in run.parts:
        limits = limits_of(job, web, part.press)
        if limits is not None:
            most = max(part.order.frames_on(roll) for roll in range(1, part.order.rolls + 1))
            for said in roll_warnings(limits, paper, most, frame):
                yield Finding("roll-large", job.where("job", "rolls"), said)
    used = {part.press for part in run.parts}
    for press in job.model.presses:
        if press not in used:
            yield Finding("press-idle", job.where("job", "presses", press), f"press '{press}' gets nothing to print")


def pages_of(job: Job, web: Web, press: str) -> float | None:
    """Pages (sides of pieces) that a press prints a minute; None where its speed is not stated."""
    said = press_said(job, press)
    if said is None:
        return None
    return pages_a_minute(said.speed / METRES_PER_FOOT, _frame(job, web), across=web.places, sides=2)


# -- what it uses ------------------------------------------------------------------------------------------------------


def usage_of(job: Job, web: Web, part: Part) -> Usage | None:
    """Paper and time of a part; None where the job does not say its paper and its press."""
    paper, press = paper_of(job, web), press_said(job, part.press)
    if paper is None or press is None:
        return None
    frame, ends = _frame(job, web), part.ends
    return usage(
        part.order.frames,
        part.order.rolls,
        frame,
        paper,
        press.speed,
        job.where("job", "stock"),
        ends=(ends.leader + ends.trailer) * frame,
        make_ready=ends.ready * frame,
    )
