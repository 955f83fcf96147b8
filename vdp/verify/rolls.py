"""Rolls and presses as the job asks for them, worked out by itself: how long a roll may be, where specimens run, how
the run is shared out, and with that each piece's place.

Lives here: arithmetic of lengths, rolls and minutes.  Not here: the order within a part (`stacks`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import islice

from vdp.job.load import Job
from vdp.job.stock import PressModel, RollsModel, StockModel
from vdp.job.web import WebModel
from vdp.units import mm
from vdp.verify.manifest import PieceLine
from vdp.verify.sheetplan import SheetPlan
from vdp.verify.stacks import Place, knife

#: Minutes that are none: rounding of sums.
_SAME = 1e-6


class Asked:
    """What the job says of one press, "" for the only one; lengths in points, `frame` that of a frame."""

    def __init__(self, job: Job, web: WebModel, press: str, frame: float) -> None:
        model = job.model
        own: PressModel | None = model.presses.get(press) if press else model.press
        rolls: RollsModel | None = own.rolls if own is not None and press and own.rolls is not None else model.rolls
        self.frame = frame
        self.speed = 0.0 if own is None else own.metres_a_minute or (own.feet_a_minute or 0.0) * 12 * 25.4 / 1000
        self.ready = self._frames(own.make_ready if own is not None else 0.0)
        self.leader = self._frames(rolls.leader if rolls is not None else 0.0)
        self.trailer = self._frames(rolls.trailer if rolls is not None else 0.0)
        self.most = None if rolls is None else self._most(rolls, model.stock, web)

    def _frames(self, length: float) -> int:
        """The fewest whole frames that are as long."""
        return -math.floor(-length / self.frame + 1e-9)

    def _most(self, rolls: RollsModel, stock: StockModel | None, web: WebModel) -> int | None:
        """Frames that a printed roll may hold: by length, by the area of its end face over the paper's thickness, by
        weight; leader and trailer are part of it.  None where the job limits nothing."""
        allowed = [rolls.length] if rolls.length is not None else []
        if stock is not None:
            core = rolls.core if rolls.core is not None else stock.core
            if rolls.diameter is not None:
                allowed.append(math.pi / 4 * (rolls.diameter**2 - core**2) / stock.caliper)
            if rolls.kilograms is not None:
                allowed.append(rolls.kilograms * 1000 / _grams(stock) / (mm(web.width) / 1000) * 1000 * 72 / 25.4)
        if not allowed:
            return None
        ends = (self.leader + self.trailer) * self.frame
        return math.floor((min(allowed) - ends) / self.frame * (1 + 1e-12))

    def minutes(self, web: WebModel, frames: int) -> float:
        """How long the press runs for so many live frames."""
        if not frames:
            return 0.0
        full = _full(web, self.most) or frames
        rolls = math.ceil(frames / full)
        metres = mm((frames + rolls * (self.leader + self.trailer) + self.ready) * self.frame) / 1000
        return metres / self.speed


def _full(web: WebModel, most: int | None) -> int | None:
    """Frames of a full roll, None where one roll holds everything."""
    if web.roll_frames is not None:
        most = web.roll_frames
    if most is None or web.order != "blocks" or web.height is None:
        return most
    return most - most % web.height or most


def _grams(stock: StockModel) -> float:
    """Grams a square metre; pounds are those of 500 basic sheets, in square inches (TAPPI and common practice)."""
    if stock.gsm is not None:
        return stock.gsm
    inches = {"text": 25 * 38, "bond": 17 * 22, "cover": 20 * 26, "index": 25.5 * 30.5, "tag": 24 * 36}
    return (stock.pounds or 0.0) * 453.59237 / (500 * inches[stock.basis or "text"] * 0.0254**2)


def places(job: Job, web: WebModel, plan: SheetPlan) -> Iterator[Place]:
    """Where every place of the run is, part by part, in the order in which cut stacks are put together: rolls counted
    over the whole run, frames from the first that is printed.  Blanks at the end of a part are left out."""
    frame, before = plan.size[1] * 72 / plan.dpi, 0
    for press, pieces in plan.parts:
        asked = Asked(job, web, press, frame)
        rolls = 0
        for roll, at, lane, along in islice(knife(web, pieces, asked.most), pieces):
            lead = asked.leader + (asked.ready if roll == 1 else 0)
            rolls = max(rolls, roll)
            yield before + roll, at + lead, lane, along
        before += rolls


def misplaced(job: Job, web: WebModel, plan: SheetPlan, pieces: Iterator[PieceLine]) -> Iterator[tuple[int, str]]:
    """Pieces that the job's order puts elsewhere than pieces.jsonl does, with a message."""
    for piece, due in zip(pieces, places(job, web, plan), strict=False):
        if piece.place is not None and piece.place != due:
            roll, frame, lane, along = due
            has = "roll {}, frame {}, lane {}, place {}".format(*piece.place)
            yield piece.piece, f"it is in {has}; the job's order puts it in {roll}, {frame}, {lane}, {along}"


def roll_differences(job: Job, web: WebModel, plan: SheetPlan, pieces: int) -> Iterator[str]:
    """Where rolls and presses are not what the job asks for."""
    frame, parts = plan.size[1] * 72 / plan.dpi, plan.parts
    if sum(count for _, count in parts) != pieces:
        yield f"its parts have {sum(count for _, count in parts)} pieces, the run has {pieces}"
        return
    named = [press for press, _ in parts]
    due = [press for press in job.model.presses if press in named] if job.model.presses else [""]
    if named != due:
        yield f"it was printed on {', '.join(named) or 'no press'}"
        return
    rolls = iter(plan.rolls)
    for press, count in parts:
        asked = Asked(job, web, press, frame)
        whole = _live_frames(web, count)
        full = _full(web, asked.most) or whole
        for number, start in enumerate(range(0, whole, full)):
            roll = next(rolls, None)
            ready = 0 if number else asked.ready
            live = min(full, whole - start)
            wanted = (live, asked.leader + ready, asked.trailer, ready, press)
            if roll is None or (roll.live, roll.leader, roll.trailer, roll.ready, roll.press) != wanted:
                yield (
                    f"roll {number + 1}{f' of press {press}' if press else ''} must have {live} live frames, "
                    f"{wanted[1]} frames of specimens before and {asked.trailer} after them"
                )
                return
    if next(rolls, None) is not None:
        yield f"there are {len(plan.rolls)} rolls, more than the job asks for"
    if job.model.presses:
        yield from _unequal(job, web, parts, frame)


def _unequal(job: Job, web: WebModel, parts: Sequence[tuple[str, int]], frame: float) -> Iterator[str]:
    """Parts of broken blocks, and presses that would end earlier if a block went from one to another."""
    block = web.lanes * web.along * (web.height or 1)
    broken = [press for press, count in parts[:-1] if count % block]
    if broken:
        yield f"the part of press {', '.join(broken)} is not whole blocks of {block} numbers"
    counts = dict(parts)
    blocks = {press: math.ceil(counts.get(press, 0) / block) for press in job.model.presses}
    asked = {press: Asked(job, web, press, frame) for press in blocks}
    height = web.height or 1
    ends = {press: asked[press].minutes(web, many * height) for press, many in blocks.items()}
    last = max(ends, key=lambda press: ends[press])
    for press, many in blocks.items():
        sooner = asked[press].minutes(web, (many + 1) * height)
        if press != last and sooner < ends[last] - _SAME:
            yield f"press {last} ends after {ends[last]:.1f} minutes, and a block of it on {press} after {sooner:.1f}"


def _live_frames(web: WebModel, pieces: int) -> int:
    """Frames that pieces and blanks fill."""
    frames = math.ceil(pieces / (web.lanes * web.along))
    if web.order == "blocks" and web.fill == "block" and web.height is not None:
        frames = math.ceil(frames / web.height) * web.height
    return frames
