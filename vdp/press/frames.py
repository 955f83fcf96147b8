"""Frames in printing order, each with what stands in its places.

Lives here: how a run's order becomes frames.  Not here: the order (`order`), where places lie (`web`, `laying`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from vdp.press.backs import Backs, Heads
from vdp.press.framecode import CodeKind, FrameName
from vdp.press.parts import Run
from vdp.press.printmarks import MARK_KINDS, Line, MarkKind
from vdp.press.web import Web

#: Keys of forms that stand where no live piece does.
BLANK, SPECIMEN = "blank", "specimen"


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """What all sheets of a run share.  `marks` are the kinds of marks printed, `lines` folds and perforations of a
    piece as it lies on the web."""

    web: Web
    backs: Backs = "mirrored"
    heads: Heads = "head_to_head"
    marks: frozenset[MarkKind] = frozenset(MARK_KINDS)
    code: CodeKind = "datamatrix"
    lines: tuple[Line, ...] = ()


class Frame(NamedTuple):
    """`pieces`, row by row from the leading edge: 0-based indices, or keys of forms.  `note` goes on the slug line."""

    name: FrameName
    pieces: tuple[int | str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll: its number from 1, how many frames it has, and the frames themselves, to be taken once.  The first
    `leader` and the last `trailer` frames carry specimens; `ready` of the leader's are make-ready.  `press` prints it.
    """

    number: int
    count: int
    frames: Iterable[Frame]
    leader: int = 0
    trailer: int = 0
    ready: int = 0
    press: str = ""


def rolls_of(run: Run, reprint: int = 0) -> list[Roll]:
    """The rolls of a run, each with frames of specimens before and after its own; the first printed is frame 1.

    `reprint` is how often all of it was printed again."""
    rolls = []
    for number in range(1, run.rolls + 1):
        lead, tail, part = run.lead(number), run.tail(number), run.part_of(number)
        roll = Roll(number, run.frames_on(number) + lead + tail, (), lead, tail, lead - part.ends.leader, part.press)
        rolls.append(replace(roll, frames=_frames(run, roll, reprint)))
    return rolls


def _frames(run: Run, roll: Roll, reprint: int) -> Iterator[Frame]:
    specimens = (SPECIMEN,) * (run.lanes * run.along)
    for frame in range(1, roll.count + 1):
        name = FrameName(roll.number, frame, reprint)
        if not roll.leader < frame <= roll.count - roll.trailer:
            yield Frame(name, specimens, "MAKE-READY SPECIMEN" if frame <= roll.ready else "SPECIMEN")
            continue
        held = run.on_frame(roll.number, frame - roll.leader)
        yield Frame(name, tuple(piece - 1 if piece is not None else BLANK for piece in held))
