"""What a line's cameras saw against what a run made: every piece gets one status, every copy one fate.

Lives here: the judgement over the copies that passed.  Not here: which reads are of one copy (`copies`), files, the
ledger.

What was not read is never good: a piece is good when one copy of it was read on every side that carries codes, front
and back of one piece.  A press that stops and starts again some frames back prints pieces twice: the second copy must
be taken out.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from vdp.audit.copies import Codes, Copy, Made, Place, Seen, Side, Stranger, put_together

Status = Literal[
    "good", "out_of_order", "double", "wrong_back", "unread", "spoiled", "sample", "missing", "outstanding"
]
#: What becomes of a copy; "" of one that a person must look at, since a side of it was never read.
Fate = Literal["good", "retained", "spoiled", "missing", ""]


@dataclass(slots=True)
class Reconciled:
    """`status` by piece; `fates` of its copies by piece, that of the copy which counts first (none: outstanding);
    `stray` copies by piece, which still lie among the good ones and must be taken out."""

    sides: tuple[Side, ...]
    status: dict[int, Status] = field(default_factory=dict)
    fates: dict[int, tuple[Fate, ...]] = field(default_factory=dict)
    stray: Counter[int] = field(default_factory=Counter)
    strangers: list[Stranger] = field(default_factory=list)
    stops: int = 0
    blind: int = 0
    counted: int | None = None

    def again(self) -> list[int]:
        """Pieces of which no good copy is left and none can be looked at."""
        return [piece for piece, fates in self.fates.items() if fates and fates[0] not in ("good", "")]

    def statuses(self) -> dict[str, int]:
        """Pieces by status; they add up to all pieces."""
        return dict(sorted(Counter(self.status.values()).items()))

    def numbers(self) -> dict[str, int]:
        """allocated = good + missing + outstanding, in numbers."""
        firsts = Counter(fates[0] if fates else "" for fates in self.fates.values())
        good, missing = firsts["good"], firsts["missing"]
        return {
            "allocated": len(self.status),
            "good": good,
            "missing": missing,
            "outstanding": firsts[""] + firsts["spoiled"] + firsts["retained"],
        }

    def copies(self) -> dict[str, int]:
        """printed = good + retained + awaiting destruction + missing + unread, in copies.  `printed` is the press's own
        count where it told one, else everything that was seen or must have been there."""
        told = Counter(fate for fates in self.fates.values() for fate in fates)
        return {
            "printed": sum(told.values()) if self.counted is None else self.counted,
            "good": told["good"],
            "retained": told["retained"],
            "awaiting destruction": told["spoiled"],
            "missing": told["missing"],
            "unread": told[""],
        }

    @property
    def accounted(self) -> int:
        """Copies that became something."""
        return sum(count for what, count in self.copies().items() if what != "printed")


def reconcile(
    made: Sequence[Made], seen: Iterable[Seen], *, finished: bool = True, sides: tuple[Side, ...] = ()
) -> Reconciled:
    """`finished`: the whole run is off the press; else what comes after the last read of its lane is outstanding, not
    missing.  `sides` that the line has cameras for: by default all that carry codes which tell pieces apart."""
    codes = Codes(made)
    passed = put_together(codes, seen)
    due = sides or codes.sides
    found = Reconciled(due, strangers=passed.strangers, stops=passed.stops, blind=passed.blind, counted=passed.counted)
    own: dict[int, list[Copy]] = defaultdict(list)
    furthest: dict[int, Place] = {}
    for copy in passed.copies:
        place = copy.owner.place
        own[copy.owner.piece].append(copy)
        furthest[place.lane] = max(place, furthest.get(place.lane, place))
    late = _late(passed.copies)
    for piece in made:
        gone_by = finished or piece.place < furthest.get(piece.place.lane, piece.place)
        status, fates = _judged(piece, own.get(piece.piece, []), due, gone_by=gone_by)
        found.status[piece.piece] = "out_of_order" if status == "good" and piece.piece in late else status
        found.fates[piece.piece] = fates
        found.stray[piece.piece] = fates.count("spoiled") - sum(
            copy.taken == "spoiled" for copy in own.get(piece.piece, [])
        )
    return found


def _judged(
    piece: Made, copies: Sequence[Copy], due: tuple[Side, ...], *, gone_by: bool
) -> tuple[Status, tuple[Fate, ...]]:
    """A piece by its copies: of several whole ones the first is good, the others are one too many."""
    if not copies:
        return ("missing", ("missing",)) if gone_by else ("outstanding", ())
    live = [copy for copy in copies if not copy.taken]
    wrong = sum(copy.wrong for copy in live)
    whole = sum(all(copy.piece(side) is piece for side in due) and not copy.wrong for copy in live)
    partly = len(live) - wrong - whole
    taken: list[Fate] = ["retained" if copy.taken == "sample" else "spoiled" for copy in copies if copy.taken]
    first: list[Fate] = ["good"] if whole else [""] if partly else []
    surplus: list[Fate] = ["spoiled"] * (len(live) - len(first))
    fates = (*first, *taken, *surplus)
    status: Status
    if wrong:
        status = "wrong_back"
    elif len(live) > 1:
        status = "double"
    elif live:
        status = "good" if whole else "unread"
    else:
        status = "sample" if all(fate == "retained" for fate in taken) else "spoiled"
    return status, fates


def _late(copies: Sequence[Copy]) -> set[int]:
    """Pieces that came out of the order of the press: the fewest without which each lane's order holds, from one
    restart to the next.  Only a piece's first copy counts: a second one is double already."""
    lanes: dict[tuple[int, int], list[Made]] = defaultdict(list)
    known: set[int] = set()
    for copy in copies:
        if copy.owner.piece not in known and copy.read and copy.read[0][1]:
            known.add(copy.owner.piece)
            lanes[copy.stretch, copy.owner.place.lane].append(copy.owner)
    return {piece.piece for order in lanes.values() for piece in _astray(order)}


def _astray(order: Sequence[Made]) -> Iterator[Made]:
    """All that is not in the longest rising part of `order` (by patience sorting)."""
    tops: list[Place] = []
    ends: list[int] = []
    before: list[int] = []
    for at, piece in enumerate(order):
        pile = bisect_left(tops, piece.place)
        before.append(ends[pile - 1] if pile else -1)
        tops[pile : pile + 1] = [piece.place]
        ends[pile : pile + 1] = [at]
    kept: set[int] = set()
    at = ends[-1] if ends else -1
    while at >= 0:
        kept.add(at)
        at = before[at]
    yield from (piece for at, piece in enumerate(order) if at not in kept)
