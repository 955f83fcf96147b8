"""The web with its lanes and stacks: a roll, a stretch of it, a frame; every place tells its piece.

Lives here: how a run's places become screens that can be walked by clicks or keys.
Not here: the order (`vdp.press`), drawings (`piles`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from itertools import groupby, pairwise
from typing import Any, NamedTuple

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from vdp.errors import CallerError
from vdp.page.entering import form_of, house_of, inside, wants_part, word
from vdp.page.opened import Run, Slot
from vdp.page.piles import Drawing, Stretch, draw_block, draw_lanes
from vdp.page.screens import SMALL
from vdp.page.shelf import Place
from vdp.press.drawing import draw_stacks
from vdp.run.web import Laid, lay_out
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine
from vdp.verify.sheetplan import RollPlan, SheetPlan, read_sheet_plan

#: Stretches that a roll or a stretch is drawn in.
STRETCHES = 24


class Cell(NamedTuple):
    """A stretch of a lane: the piece on its first and on its last frame (0 where there is none, and what it `says`)."""

    lane: int
    along: int
    first: int
    last: int
    says: str


class Shown(NamedTuple):
    """A place as it is drawn, in dots from the frame's upper left: its box, and the picture's own box and turn."""

    lane: int
    along: int
    box: tuple[int, int, int, int]
    picture: tuple[float, float, float, float]
    turn: str
    line: PieceLine | None
    says: str


class Block(NamedTuple):
    """A block's stacks as they are drawn; `before` and `after` are its neighbours on the roll, 0 for none."""

    number: int
    all: int
    before: int
    after: int
    drawn: Drawing


@inside
async def web(request: Request) -> Response:
    """A roll from its first live frame to its last, or a stretch of it; down to single frames."""
    house = house_of(request)
    slot, run = await house.run(request)
    plan = plan_of(run)
    if plan is None:
        return house.show(request, "no_web.html", {"slot": slot, "run": run, "here": "web"})
    rolls = {roll.roll: roll.frames for roll in plan.rolls}
    roll = _number(request, "roll", min(rolls))
    if roll not in rolls:
        raise HTTPException(404, "This run has no such roll.")
    on = next(one for one in plan.rolls if one.roll == roll)
    live = (on.leader + 1, on.frames - on.trailer)
    first = min(rolls[roll], max(1, _number(request, "from", live[0])))
    last = min(rolls[roll], max(first, _number(request, "to", live[1])))
    lanes = sorted({(cell.lane, cell.along) for cell in plan.cells})
    stretches = _stretches(run, plan, roll, first, last)
    told = {
        "slot": slot,
        "run": run,
        "here": "web",
        "rolls": rolls,
        "roll": roll,
        "live": live,
        "first": first,
        "last": last,
        "lanes": lanes,
        "stretches": stretches,
        "drawn": draw_lanes(
            on,
            lanes,
            first,
            last,
            [Stretch(each["first"], tuple(cell.first for cell in each["cells"])) for each in stretches],
        ),
        "block": _block(slot, run, roll, _number(request, "block", 0)),
    }
    return house.show(request, "web.html", told)


@inside
async def frame(request: Request) -> Response:
    """One frame as it lies on the press, each place with its piece."""
    house = house_of(request)
    slot, run = await house.run(request)
    plan, roll, number = plan_of(run), int(request.path_params["roll"]), int(request.path_params["frame"])
    on = next((one for one in plan.rolls if one.roll == roll), None) if plan is not None else None
    if plan is None or on is None or not 1 <= number <= on.frames:
        raise HTTPException(404, "This run has no such frame.")
    side = "back" if request.query_params.get("side") == "back" else "front"
    places = []
    for cell in plan.cells:
        nth = run.shelf.places.get(Place(roll, number, cell.lane, cell.along))
        x, y, width, height = plan.side(cell.trim, int(side == "back"))
        box = (x, plan.size[1] - y - height, width, height)
        line = run.shelf.line(nth) if nth is not None else None
        places.append(
            Shown(
                cell.lane,
                cell.along,
                box,
                *_turned(box, plan.behind if side == "back" else plan.turn),
                line,
                _empty(on, number),
            )
        )
    told = {
        "slot": slot,
        "run": run,
        "here": "web",
        "size": plan.size,
        "places": places,
        "roll": roll,
        "frame": number,
        "frames": on.frames,
        "side": side,
        "small": SMALL,
    }
    return house.show(request, "frame.html", told)


@inside
async def place(request: Request) -> Response:
    """What lies at a place that was typed: roll, frame, lane, place along."""
    house = house_of(request)
    slot, run = await house.run(request)
    said = word(await form_of(request), "place")
    numbers = [int(number) for number in re.findall(r"\d{1,9}", said)]
    nth = (
        run.shelf.places.get(Place(*numbers, *(() if len(numbers) == 4 else (1,)))) if len(numbers) in (3, 4) else None
    )
    if nth is None:
        raise HTTPException(404, "No piece lies there. Say roll, frame, lane and place along, such as 1/20/3/2.")
    return RedirectResponse(f"/run/{slot.number}/piece/{run.shelf.line(nth).piece}", 303)


@inside
async def tell(request: Request) -> Response:
    """What lies at a place that was pointed at: `piece`, or `roll`, `frame`, `lane` and `along`."""
    house = house_of(request)
    slot, run = await house.run(request)
    piece = _number(request, "piece", 0)
    at = Place(*(_number(request, name, 0) for name in Place._fields))
    nth = run.shelf.nth_of(piece) if piece else run.shelf.places.get(at)
    line = run.shelf.line(nth) if nth is not None else None
    if not wants_part(request):
        if line is None:
            raise HTTPException(404, "No piece lies there.")
        return RedirectResponse(f"/run/{slot.number}/piece/{line.piece}", 303)
    on = next((one for one in getattr(plan_of(run), "rolls", ()) if one.roll == at.roll), None)
    empty = _empty(on, at.frame) if on is not None else "blank"
    says = (
        "A specimen: it has no number of the series." if empty == "specimen" else "A blank: nothing is printed there."
    )
    stacked = _stacked(laid_of(slot, run), line) if line is not None else ""
    told = {"slot": slot, "run": run, "line": line, "says": says, "stacked": stacked, "small": SMALL, "here": "web"}
    return house.show(request, "told.html", told)


@inside
async def stacks(request: Request) -> Response:
    """The stacks of the whole run as they are cut, drawn by `vdp.press.drawing`."""
    slot, run = await house_of(request).run(request)
    laid = laid_of(slot, run)
    if laid is None:
        raise HTTPException(404, "The stacks of this run are not known.")
    return Response(draw_stacks(laid.run, slot.title, _labels(run)), media_type="image/svg+xml")


def laid_of(slot: Slot, run: Run) -> Laid | None:
    """How the job lays the run out; None where the job is not at hand, has no web, or is another run's by now."""
    if slot.job is None or run.shelf.report.sheets is None:
        return None
    try:
        laid = lay_out(slot.job, run.shelf.report.pieces)
    except CallerError:
        return None
    sound = laid is not None and len(run.shelf) == laid.run.pieces and laid.run.place_of(1) == run.shelf.line(0).place
    return laid if sound else None


def _labels(run: Run) -> Callable[[int], str]:
    """What a piece is called: its first serial, else its number."""
    return lambda piece: next(iter(run.shelf.line(piece - 1).serials.values()), str(piece))


def _block(slot: Slot, run: Run, roll: int, asked: int) -> Block | None:
    """The block that is asked for, or the first of the roll; None where stacks are not known."""
    laid = laid_of(slot, run)
    if laid is None or not 1 <= roll <= laid.run.rolls:
        return None
    blocks = {number: list(group) for number, group in groupby(laid.run.stacks(roll), key=lambda stack: stack.block)}
    number = asked if asked in blocks else min(blocks)
    before, after = (near if near in blocks else 0 for near in (number - 1, number + 1))
    return Block(number, laid.run.blocks, before, after, draw_block(blocks[number], _labels(run)))


def _stacked(laid: Laid | None, line: PieceLine) -> str:
    """Where a piece is in the stacks, in words."""
    if laid is None or line.place is None:
        return ""
    of_block: dict[int, int] = {}
    for stack in laid.run.stacks(line.place[0]):
        of_block[stack.block] = of_block.get(stack.block, 0) + 1
        if line.piece in stack.pieces:
            depth = stack.pieces.index(line.piece) + 1
            return f"block {stack.block:,}, stack {of_block[stack.block]}, number {depth:,} of {len(stack.pieces):,}"
    return ""


def _turned(box: tuple[int, int, int, int], turn: int) -> tuple[tuple[float, float, float, float], str]:
    """A picture's box before it is turned (counterclockwise, as PDF turns) about the middle of its place."""
    x, y, width, height = box
    across, down = (height, width) if turn % 180 else (width, height)
    middle = (x + width / 2, y + height / 2)
    turned = f"rotate({-turn} {middle[0]:g} {middle[1]:g})" if turn else ""
    return (middle[0] - across / 2, middle[1] - down / 2, across, down), turned


def plan_of(run: Run) -> SheetPlan | None:
    """The sheets of a run; None for a run without."""
    if run.shelf.report.sheets is None:
        return None
    try:
        return read_sheet_plan(run.shelf.report.sheets, run.shelf.report.resolution)
    except Unreadable as doubt:
        raise HTTPException(422, f"What the report says of its sheets cannot be read: {doubt}.") from doubt


def _stretches(run: Run, plan: SheetPlan, roll: int, first: int, last: int) -> list[dict[str, Any]]:
    """The frames from first to last, cut into as many stretches as are drawn and where a block ends; each with its
    lanes."""
    lanes = sorted({(cell.lane, cell.along) for cell in plan.cells})
    step = max(1, -(-(last - first + 1) // STRETCHES))
    on = next(one for one in plan.rolls if one.roll == roll)
    ends = {on.leader + 1, on.frames - on.trailer + 1} & {*range(first, last + 1)}
    begins = sorted({*range(first, last + 1, step)} | ends | _jumps(run, roll, first, last, *lanes[0]))
    found = []
    for begin, after in zip(begins, [*begins[1:], last + 1], strict=True):
        cells = []
        for lane, along in lanes:
            held = [run.shelf.places.get(Place(roll, at, lane, along)) for at in range(begin, after)]
            lines = [nth for nth in held if nth is not None]
            held_by = (run.shelf.line(lines[0]).piece, run.shelf.line(lines[-1]).piece) if lines else (0, 0)
            cells.append(Cell(lane, along, *held_by, _empty(on, begin)))
        found.append({"first": begin, "last": after - 1, "cells": cells})
    return found


def _empty(roll: RollPlan, frame: int) -> str:
    """What a place without a piece is."""
    return "specimen" if not roll.leader < frame <= roll.frames - roll.trailer else "blank"


def _jumps(run: Run, roll: int, first: int, last: int, lane: int, along: int) -> set[int]:
    """Frames on which a lane goes on with other numbers than the next: where blocks begin.  Not where so many do that
    it is the order of the run."""
    held = [run.shelf.places.get(Place(roll, at, lane, along)) for at in range(first, last + 1)]
    steps = [None if one is None or two is None else two - one for one, two in pairwise(held)]
    usual = Counter(steps).most_common(1)
    if not usual:
        return set()
    jumps = {first + at for at, step in enumerate(steps, 1) if step not in (None, usual[0][0])}
    return jumps if len(jumps) <= STRETCHES else set()


def _number(request: Request, name: str, default: int) -> int:
    text = request.query_params.get(name, "")
    return int(text) if re.fullmatch(r"\d{1,9}", text) else default
