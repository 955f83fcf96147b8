"""What a job's section ``web`` asks of the sheets, worked out by itself: the order of pieces and the lie of places.

Lives here: the knife played through piece by piece, and sizes held against the job's.  Not here: what is on a sheet,
rolls and presses (`rolls`).
"""

from __future__ import annotations

from collections.abc import Iterator

from vdp.job.load import Job
from vdp.job.web import WebModel
from vdp.units import dots
from vdp.verify.sheetplan import Cell, SheetPlan

Place = tuple[int, int, int, int]


def knife(web: WebModel, pieces: int, most: int | None = None) -> Iterator[Place]:
    """Roll, live frame, lane and place along the frame of every place in the order in which cut stacks are piled.

    `most` frames fit on a roll by what a roll may be; a job that says how many is followed instead.
    """
    limit = web.roll_frames if web.roll_frames is not None else most
    frames = -(-pieces // (web.lanes * web.along))
    height = web.height if web.order == "blocks" and web.height is not None else frames
    if web.order == "blocks" and web.fill == "block":
        frames = -(-frames // height) * height
    full = frames if limit is None else limit
    if web.order == "blocks" and limit is not None:
        full = full - full % height or limit

    def coming(frame: int) -> tuple[int, int]:
        """Roll and printed frame of the 0-based frame that comes off."""
        roll, at = divmod(frame, full)
        on_it = min(full, frames - roll * full)
        return roll + 1, on_it - at if web.rewound else at + 1

    places = list(range(web.along, 0, -1) if web.rewound else range(1, web.along + 1))
    lanes = range(1, web.lanes + 1)
    if web.order == "across":
        for frame in range(frames):
            yield from ((*coming(frame), lane, along) for along in places for lane in lanes)
        return
    for start in range(0, frames, height):
        block = range(start, min(start + height, frames))
        for lane in lanes:
            if web.stack == "place":
                yield from ((*coming(frame), lane, along) for along in places for frame in block)
            else:
                yield from ((*coming(frame), lane, along) for frame in block for along in places)


def differences(job: Job, plan: SheetPlan) -> Iterator[str]:
    """Where the sheets are not what the job asks for."""
    web, dpi = job.model.web, job.model.resolution
    if web is None:
        yield "the job has no web, and the run has sheets"
        return
    trim = (dots(job.layout.trim[0], dpi), dots(job.layout.trim[1], dpi))
    size = trim if web.turn in (0, 180) else trim[::-1]
    gutters = (dots(web.gutter, dpi), dots(web.along_gutter, dpi))
    edge = dots(web.bleed, dpi)
    if plan.size[0] != dots(web.width, dpi) or (web.frame is not None and plan.size[1] != dots(web.frame, dpi)):
        yield f"a frame is {plan.size[0]} × {plan.size[1]} dots"
    if plan.bleed != dots(job.layout.bleed, dpi):
        yield f"a piece's bleed is {plan.bleed} dots"
    turns = (web.turn, (-web.turn + (180 if web.heads == "head_to_foot" else 0)) % 360)
    if (plan.turn, plan.behind) != turns or plan.mirrored != (web.backs == "mirrored"):
        yield f"fronts are turned by {plan.turn}, backs by {plan.behind}, mirrored: {plan.mirrored}"
    by_place = {(cell.lane, cell.along): cell for cell in plan.cells}
    due = {(lane, along) for lane in range(1, web.lanes + 1) for along in range(1, web.along + 1)}
    if set(by_place) != due or len(plan.cells) != len(due):
        yield f"there are {len(plan.cells)} places, not {web.lanes} lanes × {web.along}"
        return
    first = by_place[1, 1]
    for (lane, along), cell in by_place.items():
        corner = (
            first.trim[0] + (lane - 1) * (size[0] + gutters[0]),
            first.trim[1] - (along - 1) * (size[1] + gutters[1]),
        )
        if cell.trim != (*corner, *size) or not _bleeds(cell, edge, gutters):
            yield f"lane {lane}, place {along} is at {cell.trim} with its bleed to {cell.area}"
    yield from _margins(web, plan, dpi)


def _bleeds(cell: Cell, edge: int, gutters: tuple[int, int]) -> bool:
    """A place bleeds by the web's bleed, or not at all where it touches its neighbour."""
    x, y, width, height = cell.trim
    left, low, wide, high = cell.area
    across, along = {edge, min(edge, gutters[0] // 2)}, {edge, min(edge, gutters[1] // 2)}
    return {x - left, left + wide - x - width} <= across and {y - low, low + high - y - height} <= along


def _margins(web: WebModel, plan: SheetPlan, dpi: int) -> Iterator[str]:
    """Margins outside the outermost bleeds, within what the press reaches."""
    printable = plan.size[0] if web.printable is None else dots(web.printable, dpi)
    rim = (plan.size[0] - printable) // 2
    areas = [cell.area for cell in plan.cells]
    has = {
        "left": min(area[0] for area in areas) - rim,
        "right": rim + printable - max(area[0] + area[2] for area in areas),
        "head": plan.size[1] - max(area[1] + area[3] for area in areas),
        "foot": min(area[1] for area in areas),
    }
    # Every size is rounded to dots by itself, and margins take what that adds up to.
    slack = {"left": web.lanes, "right": web.lanes, "head": web.along, "foot": web.along}
    for name, room in has.items():
        if room < dots(getattr(web.margins, name), dpi) - slack[name] - 1:
            yield f"the {name} margin is {room} dots"
