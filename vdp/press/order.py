"""Piece number ⇄ place on the rolls: the arithmetic of lanes, blocks, roll breaks, rewound rolls and blanks.

Lives here: the mapping and its tables.  Not here: where a place lies on the frame (`web`), drawing (`drawing`).

Pieces, rolls, frames, lanes and places along the frame are counted from 1; frames start again on every roll.

*Coming off* is the order in which frames meet the knife: as printed, or from a rewound roll the other way round, the
last frame and within it the last place first.  The kinds of order, along the frames as they come off:

- ``across``: piece 1 in lane 1, piece 2 in lane 2, and so on; then the next place along, then the next frame.
- ``lanes``: lane 1 holds the first pieces of the whole run, lane 2 the next, and so on.
- ``blocks``: a block is `height` frames; within it each stack is consecutive, and the next block goes on from there.

`stack` says what the knife makes one stack of: ``place`` – sheets of one frame are piled, then cut, and every place of
the frame is a stack; ``lane`` – the web is slit and cut in line, and every lane is a stack of all its places.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from vdp.errors import CallerError, Fault

Kind = Literal["across", "lanes", "blocks"]


class Place(NamedTuple):
    """Where a piece is; all from 1.  `frame` counts from the first one printed on its roll."""

    roll: int
    frame: int
    lane: int
    along: int


class Stack(NamedTuple):
    """A stack as it is cut: `pieces` in the order they come off, then `blanks`.

    `along` is 0 where a stack holds all places of its lane; `block` counts over the whole run.
    """

    roll: int
    block: int
    lane: int
    along: int
    pieces: range
    blanks: int


class Span(NamedTuple):
    """What a lane of a roll holds: its least and greatest piece (0 when it is all blank), pieces and blanks."""

    roll: int
    lane: int
    first: int
    last: int
    pieces: int
    blanks: int


@dataclass(frozen=True, slots=True)
class Order:
    """A run laid out; made by `arrange`, which proves the figures sound.

    `height` is the frames of a full block (across: 1; lanes: the whole run), `frames` those of the run,
    `roll_frames` those of a full roll, always whole blocks (across and lanes: any frame may end a roll).
    """

    kind: Kind
    pieces: int
    lanes: int
    along: int
    height: int
    stack: Literal["place", "lane"]
    frames: int
    roll_frames: int
    rewound: bool

    @property
    def rolls(self) -> int:
        return -(-self.frames // self.roll_frames)

    @property
    def blanks(self) -> int:
        """Places of the last block that carry no piece."""
        return self.frames * self.lanes * self.along - self.pieces

    @property
    def blocks(self) -> int:
        return -(-self.frames // self.height)

    def frames_on(self, roll: int) -> int:
        """Frames of one roll.  Raises CallerError for a roll that the run has not."""
        self._within("roll", roll, self.rolls)
        return min(self.roll_frames, self.frames - (roll - 1) * self.roll_frames)

    def place_of(self, piece: int) -> Place:
        """Where piece 1..`pieces` is.  Raises CallerError for a piece that the run has not."""
        self._within("piece", piece, self.pieces)
        frame, lane, along = self._off(piece - 1)
        roll, at = divmod(frame, self.roll_frames)
        if self.rewound:
            at, along = self.frames_on(roll + 1) - 1 - at, self.along - 1 - along
        return Place(roll + 1, at + 1, lane + 1, along + 1)

    def piece_at(self, place: Place) -> int | None:
        """The piece at a place, None for a blank.  Raises CallerError for a place that the run has not."""
        self._within("frame", place.frame, self.frames_on(place.roll))
        self._within("lane", place.lane, self.lanes)
        self._within("place along the frame", place.along, self.along)
        at, along = place.frame - 1, place.along - 1
        if self.rewound:
            at, along = self.frames_on(place.roll) - 1 - at, self.along - 1 - along
        index = self._index((place.roll - 1) * self.roll_frames + at, place.lane - 1, along)
        return index + 1 if index < self.pieces else None

    def on_frame(self, roll: int, frame: int) -> list[tuple[Place, int | None]]:
        """A frame's places, row by row from the leading edge, each with its piece or None for a blank."""
        places = (
            Place(roll, frame, lane, along) for along in range(1, self.along + 1) for lane in range(1, self.lanes + 1)
        )
        return [(place, self.piece_at(place)) for place in places]

    def stacks(self, roll: int) -> Iterator[Stack]:
        """The stacks of a roll, block by block as they come off, each block lane by lane.

        A block of order `across` is here the whole roll, of `lanes` the part of the run that is on it.
        """
        start, end = (roll - 1) * self.roll_frames, (roll - 1) * self.roll_frames + self.frames_on(roll)
        step = self.height if self.kind == "blocks" else end - start
        for frame in range(start, end, step):
            deep = min(step, end - frame)
            block = frame // self.height if self.kind == "blocks" else roll - 1
            for lane in range(self.lanes):
                for along in range(self.along) if self.stack == "place" else (0,):
                    height = deep if self.stack == "place" else deep * self.along
                    first = self._index(frame, lane, along)
                    apart = self._apart
                    whole = range(first + 1, first + 1 + height * apart, apart)
                    live = range(whole.start, min(whole.stop, self.pieces + 1), apart)
                    printed = self.along - along if self.rewound else along + 1
                    named = printed if self.stack == "place" else 0
                    yield Stack(roll, block + 1, lane + 1, named, live, height - len(live))

    def spans(self) -> list[Span]:
        """For every roll and lane: least and greatest piece, how many, how many blanks."""
        found: list[Span] = []
        for roll in range(1, self.rolls + 1):
            of_lane: dict[int, list[Stack]] = {}
            for stack in self.stacks(roll):
                of_lane.setdefault(stack.lane, []).append(stack)
            for lane, stacks in of_lane.items():
                live = [stack.pieces for stack in stacks if stack.pieces]
                first = min((pieces[0] for pieces in live), default=0)
                last = max((pieces[-1] for pieces in live), default=0)
                count = sum(len(pieces) for pieces in live)
                found.append(Span(roll, lane, first, last, count, sum(stack.blanks for stack in stacks)))
        return found

    @property
    def _apart(self) -> int:
        """How far the piece numbers of neighbours in a stack lie apart."""
        if self.kind != "across":
            return 1
        return self.lanes * self.along if self.stack == "place" else self.lanes

    def _off(self, index: int) -> tuple[int, int, int]:
        """Piece index → frame of the run, lane, place along, as they come off; all from 0."""
        a_frame = self.lanes * self.along
        if self.kind == "across":
            frame, rest = divmod(index, a_frame)
            along, lane = divmod(rest, self.lanes)
            return frame, lane, along
        block, rest = divmod(index, self.height * a_frame)
        deep = min(self.height, self.frames - block * self.height)
        lane, rest = divmod(rest, deep * self.along)
        along, layer = divmod(rest, deep) if self.stack == "place" else divmod(rest, self.along)[::-1]
        return block * self.height + layer, lane, along

    def _index(self, frame: int, lane: int, along: int) -> int:
        """The inverse of `_off`."""
        a_frame = self.lanes * self.along
        if self.kind == "across":
            return frame * a_frame + along * self.lanes + lane
        block, layer = divmod(frame, self.height)
        deep = min(self.height, self.frames - block * self.height)
        within = along * deep + layer if self.stack == "place" else layer * self.along + along
        return block * self.height * a_frame + lane * deep * self.along + within

    @staticmethod
    def _within(name: str, number: int, most: int) -> None:
        if not 1 <= number <= most:
            raise CallerError.one("order", f"there is no {name} {number}: they are 1 to {most}")


def arrange(
    pieces: int,
    lanes: int,
    along: int,
    kind: Kind,
    *,
    height: int | None = None,
    stack: Literal["place", "lane"] = "place",
    roll_frames: int | None = None,
    rewound: bool = False,
    fill: Literal["frame", "block"] = "frame",
    where: str = "order",
) -> Order:
    """Lay `pieces` out in the stated order.

    `height`: frames of a block, for ``blocks`` and only there.  `roll_frames`: the most frames a roll may have, None
    for one roll; with blocks, rolls end at a block's end.  `rewound`: the finishing line takes the last printed frame
    first.  `fill`: the last block is only as high as the pieces need, blanks filling its frames (``frame``), or it is
    as high as any other (``block``).  Raises CallerError with every fault.
    """
    faults = [Fault(where, message) for message in _out_of_reason(pieces, lanes, along, kind, height, roll_frames)]
    if faults:
        raise CallerError(faults)
    frames = -(-pieces // (lanes * along))
    if kind == "blocks" and height is not None:
        block = height
        frames = -(-frames // height) * height if fill == "block" else frames
        on_a_roll = frames if roll_frames is None else roll_frames // height * height
    else:
        block = 1 if kind == "across" else frames
        on_a_roll = frames if roll_frames is None else roll_frames
    return Order(kind, pieces, lanes, along, block, stack, frames, on_a_roll, rewound)


def _out_of_reason(
    pieces: int, lanes: int, along: int, kind: Kind, height: int | None, roll_frames: int | None
) -> Iterator[str]:
    numbers = {"pieces": pieces, "lanes": lanes, "along": along, "height": height, "roll_frames": roll_frames}
    small = {name: number for name, number in numbers.items() if number is not None and number < 1}
    yield from (f"'{name}' is {number}: at least 1" for name, number in small.items())
    if kind not in ("across", "lanes", "blocks"):
        yield f"'{kind}' is no order: across, lanes or blocks"
    elif kind == "blocks" and height is None:
        yield "blocks need the height of a stack, in frames: write height: 250"
    elif kind != "blocks" and height is not None:
        yield f"a height belongs to blocks, not to the order '{kind}'"
    if kind == "blocks" and not small and height is not None and roll_frames is not None and roll_frames < height:
        yield f"a roll of {roll_frames} frames cannot hold a block of {height}: a roll ends at a block's end"
