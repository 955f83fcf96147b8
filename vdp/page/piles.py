"""Lanes and stacks as drawings in which any place can be pointed at: what is drawn where, what a place stands for.

Lives here: boxes and numbers.  Not here: screens (`webbing`), the order (`vdp.press`), telling a piece.

A pile is a lane of the roll, or a stack: so many `places`, alike, one below the other.  The nth (from 0) stands for
`first` + n × `step`: a frame of the lane, or a piece of the stack; from the `live`th on it is a blank.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from vdp.press.order import Stack
from vdp.verify.sheetplan import RollPlan

#: Sizes in px of a lane (at most this wide, at least `NARROW`, together `ACROSS`), a stack, and the gap between them.
LANE, STACK, GAP = (132, 480), (168, 112), 10
ACROSS, NARROW = 800, 48
#: Room for the numbers of frames left of the lanes, and for a heading above.
MARGIN, HEAD = 62, 24
#: A lane from this width on is called in words; numbers stand in bands of this height and more.
WORDY, TALL = 108, 15
#: Places of a stack, at most, that are told apart by lines.
MOST_LINES = 28


class Pile(NamedTuple):
    """`words` name it, `query` and `name` make an address of a place of it; `empty` are bands without pieces, as top
    and height; `labels` are written into it, `bands` are lines across it, each with its height and a number below."""

    words: str
    box: tuple[int, int, int, int]
    name: str
    query: str
    first: int
    step: int
    places: int
    live: int
    empty: tuple[tuple[float, float], ...] = ()
    labels: tuple[str, ...] = ()
    bands: tuple[tuple[float, str], ...] = ()

    @property
    def last(self) -> int:
        """What its lowest place stands for."""
        return self.first + (self.places - 1) * self.step


class Drawing(NamedTuple):
    """`marks` are numbers beside the piles, each with its height; `size` in px."""

    label: str
    size: tuple[int, int]
    piles: tuple[Pile, ...]
    marks: tuple[tuple[float, str], ...] = ()


class Stretch(NamedTuple):
    """Frames that are drawn as one band, and the first piece on each lane's places (0 for none)."""

    first: int
    pieces: tuple[int, ...]


def draw_lanes(
    roll: RollPlan, lanes: Sequence[tuple[int, int]], first: int, last: int, stretches: Sequence[Stretch]
) -> Drawing:
    """The frames `first` to `last` of a roll, leading edge above, in bands of stretches."""
    high, count = LANE[1], last - first + 1
    wide = max(NARROW, min(LANE[0], (ACROSS - MARGIN) // len(lanes) - GAP))

    def down(frame: int) -> float:
        return HEAD + high * (frame - first) / count

    ends = ((first, roll.leader), (roll.frames - roll.trailer + 1, last))
    empty = tuple(
        (down(max(begin, first)), down(min(end, last) + 1) - down(max(begin, first)))
        for begin, end in ends
        if max(begin, first) <= min(end, last)
    )
    tall: list[Stretch] = []
    for stretch in stretches:
        if not tall or down(stretch.first) - down(tall[-1].first) >= TALL:
            tall.append(stretch)
    piles = tuple(
        Pile(
            f"Lane {lane}, place {along}",
            (MARGIN + at * (wide + GAP), HEAD, wide, high),
            "frame",
            f"roll={roll.roll}&lane={lane}&along={along}",
            first,
            1,
            count,
            count,
            empty,
            (f"Lane {lane}, place {along}" if wide >= WORDY else f"{lane}/{along}",),
            tuple((down(each.first), f"{each.pieces[at]:,}" if each.pieces[at] else "") for each in tall),
        )
        for at, (lane, along) in enumerate(lanes)
    )
    marks = tuple((down(each.first), f"{each.first:,}") for each in tall)
    size = (MARGIN + len(lanes) * (wide + GAP), HEAD + high + 12)
    return Drawing(f"Roll {roll.roll}, frames {first:,} to {last:,}", size, piles, marks)


def draw_block(stacks: Sequence[Stack], label: Callable[[int], str]) -> Drawing:
    """The stacks of one block as they lie on the frame, leading edge above; `label` is what a piece is called."""
    wide, high = STACK
    piles = []
    for number, stack in enumerate(stacks, 1):
        x, y = (stack.lane - 1) * (wide + GAP), HEAD + max(0, stack.along - 1) * (high + GAP + HEAD)
        count = len(stack.pieces) + stack.blanks
        foot = high * stack.blanks / count
        said = f"Stack {number}: lane {stack.lane}{f', place {stack.along}' if stack.along else ''}"
        ends = (label(stack.pieces[0]), label(stack.pieces[-1])) if stack.pieces else ("blank",)
        empty = ((y + high - foot, foot),) if stack.blanks else ()
        first, step = (stack.pieces.start, stack.pieces.step)
        lines = tuple((y + high * nth / count, "") for nth in range(1, count)) if count <= MOST_LINES else ()
        piles.append(
            Pile(
                said,
                (x, y, wide, high),
                "piece",
                "",
                first,
                step,
                count,
                len(stack.pieces),
                empty,
                (said, *ends),
                lines,
            )
        )
    across = max(pile.box[0] for pile in piles) + wide
    down = max(pile.box[1] for pile in piles) + high
    return Drawing(f"Block {stacks[0].block:,}, leading edge above", (across, down + 6), tuple(piles))
