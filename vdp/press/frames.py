"""Frames in printing order, each with what stands in its places.

Lives here: how a run's order becomes frames.  Not here: the order (`order`), where places lie (`web`, `laying`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from vdp.press.backs import Backs, Heads
from vdp.press.framecode import CodeKind, FrameName
from vdp.press.order import Order
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
    `leader` and the last `trailer` frames carry specimens."""

    number: int
    count: int
    frames: Iterable[Frame]
    leader: int = 0
    trailer: int = 0


def rolls_of(order: Order, leader: int = 0, trailer: int = 0, reprint: int = 0) -> list[Roll]:
    """The rolls of a run, each with frames of specimens before and after its own; the first printed is frame 1.

    `reprint` is how often all of it was printed again."""
    rolls = []
    for roll in range(1, order.rolls + 1):
        count = order.frames_on(roll) + leader + trailer
        rolls.append(Roll(roll, count, _frames(order, roll, leader, trailer, reprint), leader, trailer))
    return rolls


def _frames(order: Order, roll: int, leader: int, trailer: int, reprint: int) -> Iterator[Frame]:
    specimens = (SPECIMEN,) * (order.lanes * order.along)
    live = order.frames_on(roll)
    for frame in range(1, leader + live + trailer + 1):
        name = FrameName(roll, frame, reprint)
        if not leader < frame <= leader + live:
            yield Frame(name, specimens, "SPECIMEN")
            continue
        pieces = (piece - 1 if piece is not None else BLANK for _, piece in order.on_frame(roll, frame - leader))
        yield Frame(name, tuple(pieces))
