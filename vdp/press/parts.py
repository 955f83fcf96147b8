"""The whole run: one part for each press, one after the other, with what is printed before and after live frames.

Lives here: numbers of pieces, rolls, blocks and frames counted over all parts, and how a run is split so that its
presses end together.  Not here: the order within a part (`order`), what stands on frames (`frames`).

A frame has one number, from 1 on each roll, counted from the first that is printed: specimens of make-ready and
leader count, so that the number on the slug line, in the frame's code, in a piece's place and in the file agree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal, NamedTuple

from vdp.errors import CallerError
from vdp.press.order import Kind, Order, Place, Span, Stack

#: A length stated as so many frames gives so many, whatever its rounding.
_EXACT = 1e-9


class Ends(NamedTuple):
    """Frames of specimens: `ready` before the first roll of a press, `leader` and `trailer` on every roll."""

    ready: int = 0
    leader: int = 0
    trailer: int = 0


def whole_frames(length: float, frame: float) -> int:
    """The fewest frames that are as long as a stated length; both in one unit."""
    return ceil(length / frame - _EXACT)


class Part(NamedTuple):
    """What one press prints: `order` of its own pieces, which follow `before` pieces, `rolls` rolls and `blocks` blocks
    of earlier parts.  `press` is its name, "" where the job names none."""

    press: str
    order: Order
    ends: Ends
    before: int
    rolls: int
    blocks: int


@dataclass(frozen=True, slots=True)
class Run:
    """Parts that follow each other; made by `run_of` and `whole`.  Pieces and rolls are counted from 1 over the run."""

    parts: tuple[Part, ...]

    # -- what all parts share -----------------------------------------------------------------------------------------

    @property
    def kind(self) -> Kind:
        return self.parts[0].order.kind

    @property
    def lanes(self) -> int:
        return self.parts[0].order.lanes

    @property
    def along(self) -> int:
        return self.parts[0].order.along

    @property
    def height(self) -> int:
        """Frames of a full block."""
        return self.parts[0].order.height

    @property
    def stack(self) -> Literal["place", "lane"]:
        return self.parts[0].order.stack

    @property
    def rewound(self) -> bool:
        return self.parts[0].order.rewound

    # -- counts -------------------------------------------------------------------------------------------------------

    @property
    def pieces(self) -> int:
        return sum(part.order.pieces for part in self.parts)

    @property
    def frames(self) -> int:
        """Live frames, which carry pieces and blanks."""
        return sum(part.order.frames for part in self.parts)

    @property
    def specimens(self) -> int:
        """Frames that carry specimens."""
        return sum(self.lead(roll) + self.tail(roll) for roll in range(1, self.rolls + 1))

    @property
    def rolls(self) -> int:
        return sum(part.order.rolls for part in self.parts)

    @property
    def blanks(self) -> int:
        return sum(part.order.blanks for part in self.parts)

    @property
    def blocks(self) -> int:
        return sum(part.order.blocks for part in self.parts)

    def frames_on(self, roll: int) -> int:
        """Live frames of a roll.  Raises CallerError for a roll that the run has not."""
        part = self.part_of(roll)
        return part.order.frames_on(roll - part.rolls)

    def lead(self, roll: int) -> int:
        """Frames of specimens before the first live one: a press's first roll begins with its make-ready."""
        part = self.part_of(roll)
        return part.ends.leader + (part.ends.ready if roll == part.rolls + 1 else 0)

    def tail(self, roll: int) -> int:
        """Frames of specimens after the last live one."""
        return self.part_of(roll).ends.trailer

    def part_of(self, roll: int) -> Part:
        """Raises CallerError for a roll that the run has not."""
        for part in self.parts:
            if part.rolls < roll <= part.rolls + part.order.rolls:
                return part
        raise CallerError.one("order", f"there is no roll {roll}: they are 1 to {self.rolls}")

    # -- where pieces are ---------------------------------------------------------------------------------------------

    def place_of(self, piece: int) -> Place:
        """Where piece 1..`pieces` is.  Raises CallerError for a piece that the run has not."""
        for part in self.parts:
            if part.before < piece <= part.before + part.order.pieces:
                place = part.order.place_of(piece - part.before)
                roll = place.roll + part.rolls
                return place._replace(roll=roll, frame=place.frame + self.lead(roll))
        raise CallerError.one("order", f"there is no piece {piece}: they are 1 to {self.pieces}")

    def specimen_at(self, place: Place) -> bool:
        """Whether a place is on a frame of specimens.  Raises CallerError for a place that the run has not."""
        live, lead = self.frames_on(place.roll), self.lead(place.roll)
        every = lead + live + self.tail(place.roll)
        if not 1 <= place.frame <= every:
            raise CallerError.one("order", f"there is no frame {place.frame}: they are 1 to {every}")
        return not lead < place.frame <= lead + live

    def piece_at(self, place: Place) -> int | None:
        """The piece at a place, None for a blank or a specimen.  Raises CallerError for a place that there is not."""
        part = self.part_of(place.roll)
        specimen, lead = self.specimen_at(place), self.lead(place.roll)
        own = place._replace(roll=place.roll - part.rolls, frame=1 if specimen else place.frame - lead)
        piece = part.order.piece_at(own)  # asked of a specimen too, for a lane that there is not
        return None if piece is None or specimen else piece + part.before

    def on_frame(self, roll: int, frame: int) -> list[int | None]:
        """Pieces of a live frame (1 is the first live one), row by row from the leading edge; None for blanks."""
        part = self.part_of(roll)
        held = part.order.on_frame(roll - part.rolls, frame)
        return [None if piece is None else piece + part.before for _, piece in held]

    def stacks(self, roll: int) -> Iterator[Stack]:
        """As `Order.stacks`, with pieces, rolls and blocks of the whole run."""
        part = self.part_of(roll)
        for stack in part.order.stacks(roll - part.rolls):
            own = stack.pieces
            pieces = range(own.start + part.before, own.stop + part.before, own.step)
            yield stack._replace(roll=roll, block=stack.block + part.blocks, pieces=pieces)

    def spans(self) -> list[Span]:
        """For every roll and lane: least and greatest piece, how many, how many blanks."""
        found = []
        for part in self.parts:
            for span in part.order.spans():
                first, last = (number and number + part.before for number in (span.first, span.last))
                found.append(span._replace(roll=span.roll + part.rolls, first=first, last=last))
        return found


#: What stacks can be drawn and packed from.
Arranged = Order | Run


def whole(order: Order, ends: Ends = Ends()) -> Run:  # noqa: B008  a tuple of numbers, frozen
    """A run of one part."""
    return Run((Part("", order, ends, 0, 0, 0),))


def run_of(parts: Sequence[tuple[str, Order, Ends]]) -> Run:
    """Parts in the order given, each with its press's name."""
    found: list[Part] = []
    before = rolls = blocks = 0
    for press, order, ends in parts:
        found.append(Part(press, order, ends, before, rolls, blocks))
        before, rolls, blocks = before + order.pieces, rolls + order.rolls, blocks + order.blocks
    return Run(tuple(found))


def share_out(blocks: int, minutes: Sequence[Callable[[int], float]]) -> list[int]:
    """How many of `blocks` each press prints so that the last to end ends as early as can be.

    `minutes` tells of each press how long it takes for so many blocks, 0 for none, and never less for more.  A block
    at a time goes to the press that would then be done first: no other way ends earlier, since a press takes the longer
    the more it has.  Of several alike the first is taken.
    """
    given = [0] * len(minutes)
    done = [takes(1) for takes in minutes]
    for _ in range(blocks):
        least = min(range(len(minutes)), key=lambda at: (done[at], at))
        given[least] += 1
        done[least] = minutes[least](given[least] + 1)
    return given
