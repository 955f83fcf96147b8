"""What a line's cameras saw against what a run made: every piece gets one status, every copy is counted.

Lives here: the judgement over reads in the order in which they came.  Not here: files, the ledger.

A piece that was not read is never good.  A press that stops and starts again some frames back prints pieces twice: the
second sighting makes them double, and one copy must be taken out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

Kind = Literal["read", "stop", "restart", "sample", "spoiled", "destroyed"]
KINDS: tuple[Kind, ...] = ("read", "stop", "restart", "sample", "spoiled", "destroyed")
Status = Literal["good", "missing", "double", "out_of_order", "wrong_back", "spoiled", "sample", "outstanding"]
#: Statuses that ask for a piece to be made again.
AGAIN: tuple[Status, ...] = ("missing", "wrong_back", "spoiled", "sample")


class Seen(NamedTuple):
    """A line of the reads: what happened, the code, the side it was read on ("" where the camera does not say)."""

    line: int
    kind: Kind
    code: str = ""
    side: str = ""


class Made(NamedTuple):
    """A piece: its number, its serials, what each side's codes say, and where it lies in the order off the press."""

    piece: int
    serials: tuple[str, ...]
    front: frozenset[str]
    back: frozenset[str]
    order: int


@dataclass(slots=True)
class Reconciled:
    """`status` by piece; `copies` counted; `strangers` are reads that belong to no piece, by line."""

    status: dict[int, Status] = field(default_factory=dict)
    copies: Counter[str] = field(default_factory=Counter)
    strangers: list[Seen] = field(default_factory=list)
    stops: int = 0

    def numbers(self) -> dict[str, int]:
        """Pieces by status; they add up to all pieces."""
        return dict(sorted(Counter(self.status.values()).items()))


def reconcile(made: Sequence[Made], seen: Iterable[Seen], *, finished: bool = True) -> Reconciled:
    """`finished`: the whole run is off the press; else what comes after the last read is outstanding, not missing."""
    found = Reconciled()
    owner = _owners(made)
    fronts: Counter[int] = Counter()
    backs: Counter[int] = Counter()
    wrong: set[int] = set()
    late: set[int] = set()
    said: dict[int, Status] = {}
    before: Made | None = None
    furthest = -1
    restarted = False
    for one in seen:
        if one.kind in ("stop", "restart"):
            found.stops += one.kind == "stop"
            restarted = restarted or one.kind == "restart"
            continue
        piece = owner.get((one.side, one.code)) or owner.get(("", one.code))
        if piece is None:
            found.strangers.append(one)
            continue
        if one.kind != "read":
            found.copies[one.kind] += 1
            if one.kind in ("sample", "spoiled"):
                said[piece.piece] = one.kind
            continue
        if one.side == "back":
            backs[piece.piece] += 1
            if before is not None and before.piece != piece.piece:
                wrong |= {before.piece, piece.piece}
            continue
        fronts[piece.piece] += 1
        if piece.order < furthest and not restarted and fronts[piece.piece] == 1:
            late.add(piece.piece)
        furthest = max(furthest, piece.order)
        before = piece
    found.copies["printed"] = sum(fronts.values())
    for piece in made:
        found.status[piece.piece] = _status(piece, fronts, wrong, late, said, furthest, finished=finished)
    found.copies["good"] = sum(status in ("good", "out_of_order", "double") for status in found.status.values())
    found.copies["extra"] = sum(count - 1 for count in fronts.values() if count > 1)
    return found


def _owners(made: Sequence[Made]) -> dict[tuple[str, str], Made]:
    owner: dict[tuple[str, str], Made] = {}
    for piece in made:
        for side, codes in (("front", piece.front), ("back", piece.back)):
            for code in codes:
                owner[side, code] = piece
                owner.setdefault(("", code), piece)
        for serial in piece.serials:
            for side in ("", "front", "back"):
                owner.setdefault((side, serial), piece)
    return owner


def _status(
    piece: Made,
    fronts: Mapping[int, int],
    wrong: set[int],
    late: set[int],
    said: Mapping[int, Status],
    furthest: int,
    *,
    finished: bool,
) -> Status:
    number = piece.piece
    if number in said and fronts.get(number, 0) < 2:  # a second copy may still be good
        return said[number]
    if not fronts.get(number, 0):
        return "missing" if finished or piece.order < furthest else "outstanding"
    if number in wrong:
        return "wrong_back"
    if fronts[number] > 1 and number not in said:
        return "double"
    return "out_of_order" if number in late else "good"
