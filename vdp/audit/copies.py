"""The reads of a line, in the order in which they came, put together to the copies that passed its cameras.

Lives here: which reads are of one printed copy.  Not here: what becomes of copies and pieces (`reconcile`), files.

Reads come copy by copy: the side that is read first opens a copy, and the other side joins it.  A line whose cameras
stand apart tells copies itself (`Seen.copy`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

Kind = Literal["read", "hand", "stop", "restart", "sample", "spoiled", "counter"]
KINDS: tuple[Kind, ...] = ("read", "hand", "stop", "restart", "sample", "spoiled", "counter")
Side = Literal["front", "back"]
SIDES: tuple[Side, ...] = ("front", "back")


class Seen(NamedTuple):
    """A line of the reads: what happened and the code; "" for a side, lane or copy that the line does not tell."""

    line: int
    kind: Kind
    code: str = ""
    side: str = ""
    lane: str = ""
    copy: str = ""


class Place(NamedTuple):
    """Where a piece lies: all counted from 1; without sheets everything is one lane of one roll, a frame a piece."""

    roll: int
    frame: int
    lane: int


class Made(NamedTuple):
    """A piece: its number, its serials, what each side's codes say, and where it lies."""

    piece: int
    serials: tuple[str, ...]
    front: frozenset[str]
    back: frozenset[str]
    place: Place

    def codes(self, side: Side) -> frozenset[str]:
        return self.front if side == "front" else self.back


@dataclass(slots=True)
class Copy:
    """One printed copy: the pieces that its front and its back belong to, as far as they were read.

    `stretch` counts the restarts before it; `taken` says why it was taken out; `read` are sides and codes that cameras
    read, with a code of "" where a person told of it.
    """

    stretch: int
    front: Made | None = None
    back: Made | None = None
    taken: Literal["", "sample", "spoiled"] = ""
    read: tuple[tuple[Side, str], ...] = ()

    @property
    def owner(self) -> Made:
        """The piece that it is a copy of: its front's."""
        owner = self.front if self.front is not None else self.back
        if owner is None:
            raise AssertionError
        return owner

    @property
    def wrong(self) -> bool:
        """Whether front and back belong to different pieces."""
        return self.front is not None and self.back is not None and self.front is not self.back

    def piece(self, side: Side) -> Made | None:
        return self.front if side == "front" else self.back

    def add(self, side: Side, piece: Made, code: str) -> None:
        if side == "front":
            self.front = piece
        else:
            self.back = piece
        self.read = (*self.read, (side, code))


class Stranger(NamedTuple):
    """A read that is of no copy, and why."""

    seen: Seen
    why: str


class Codes:
    """Which piece a code is of.  A code that several pieces have tells nothing, and is passed over."""

    def __init__(self, made: Sequence[Made]) -> None:
        self._of: dict[str, tuple[Made | None, tuple[Side, ...]]] = {}
        for piece in made:
            for side in SIDES:
                for code in piece.codes(side):
                    self._put(code, piece, (side,))
            for serial in piece.serials:  # printed in figures too, on either side
                self._put(serial, piece, SIDES)
        told = {sides[0] for piece, sides in self._of.values() if piece is not None and len(sides) == 1}
        both = {side for piece in made for side in SIDES if piece.codes(side) & set(piece.serials)}
        #: The sides that carry codes which tell pieces apart.
        self.sides: tuple[Side, ...] = tuple(side for side in SIDES if side in told | both) or ("front",)

    def _put(self, code: str, piece: Made, sides: tuple[Side, ...]) -> None:
        known = self._of.get(code)
        if known is None:
            self._of[code] = piece, sides
        elif known[0] is piece:
            self._of[code] = piece, tuple(side for side in SIDES if side in known[1] or side in sides)
        else:
            self._of[code] = None, ()

    def find(self, seen: Seen) -> tuple[Made, tuple[Side, ...]] | Stranger | None:
        """The piece and the sides that the read may be of; None for a code that says nothing."""
        piece, sides = self._of.get(seen.code) or self._of.get(_bare(seen.code)) or (None, None)
        if sides is None:
            return Stranger(seen, "is of no piece of this run")
        if piece is None:
            return None
        if seen.side:
            kept = tuple(side for side in sides if side == seen.side)
            return (piece, kept) if kept else Stranger(seen, f"is a code of piece {piece.piece}'s other side")
        return piece, sides


def _bare(code: str) -> str:
    """Without the symbology identifier (ISO/IEC 15424: "]", a letter, a digit) that readers may put first."""
    return code[3:] if code.startswith("]") else code


class Passed(NamedTuple):
    """Everything that passed: copies in order, `blind` reads that gave no code, copies `counted` by the press itself
    (None where it told no count)."""

    copies: list[Copy]
    strangers: list[Stranger]
    stops: int
    blind: int
    counted: int | None


def put_together(codes: Codes, seen: Iterable[Seen]) -> Passed:
    """Reads → copies."""
    reads = list(seen)
    line = _Line(codes, _leading(codes, reads))
    for one in reads:
        line.take(one)
    return Passed(line.copies, line.strangers, line.stops, line.blind, line.counted)


def _leading(codes: Codes, reads: Iterable[Seen]) -> Side:
    """The side that is read first of each copy, by what most neighbours in the reads say."""
    votes = 0
    before: dict[str, tuple[Made, Side]] = {}
    for one in reads:
        found = codes.find(one) if one.kind == "read" and one.code else None
        if found is None or isinstance(found, Stranger):
            continue
        piece, sides = found
        was = before.get(one.lane)
        if was is not None and was[0] is piece and was[1] != sides[0]:
            votes += 1 if was[1] == "front" else -1
        before[one.lane] = piece, sides[0]
    return "front" if votes >= 0 else "back"


class _Line:
    def __init__(self, codes: Codes, leads: Side) -> None:
        self.copies: list[Copy] = []
        self.strangers: list[Stranger] = []
        self.stops = 0
        self.blind = 0
        self.counted: int | None = None
        self._codes, self._leads = codes, leads
        self._stretch = 0
        self._open: dict[str, Copy] = {}
        self._named: dict[str, Copy] = {}
        self._of: dict[int, list[Copy]] = {}

    def take(self, one: Seen) -> None:
        if one.kind == "stop":
            self.stops += 1
        elif one.kind == "restart":
            self._stretch += 1
            self._open.clear()
        elif one.kind == "counter":
            self.counted = (self.counted or 0) + int(one.code)
        elif not one.code:
            self.blind += 1
        else:
            self._read(one)

    def _read(self, one: Seen) -> None:
        found = self._codes.find(one)
        if isinstance(found, Stranger):
            self.strangers.append(found)
        elif found is not None and one.kind == "read":
            self._by_camera(one, found[0], found[1][0])
        elif found is not None and one.kind == "hand":
            self._by_hand(*found)
        elif found is not None:
            self._taken(one, found[0])

    def _by_camera(self, one: Seen, piece: Made, side: Side) -> None:
        copy = self._named.get(one.copy) if one.copy else self._open.get(one.lane)
        if copy is None or not self._joins(copy, one, piece, side):
            copy = self._new()
            self._open[one.lane] = copy
            if one.copy:
                self._named[one.copy] = copy
        self._add(copy, side, piece, one.code)

    def _joins(self, copy: Copy, one: Seen, piece: Made, side: Side) -> bool:
        if (side, one.code) in copy.read:
            return False
        have = copy.piece(side)
        if have is not None:
            return have is piece
        # The side that leads may come late of its own copy; the other one joins whatever came before it.
        return bool(one.copy) or side != self._leads or copy.owner is piece

    def _by_hand(self, piece: Made, sides: tuple[Side, ...]) -> None:
        """A person has it in hand: it completes the copy that lacks the side, or is a copy that no camera saw."""
        for side in sides:
            live = [copy for copy in self._of.get(piece.piece, []) if not copy.taken]
            if any(copy.piece(side) is piece and not copy.wrong for copy in live):
                continue
            copy = next((copy for copy in live if copy.piece(side) is None), None) or self._new()
            self._add(copy, side, piece, "")

    def _taken(self, one: Seen, piece: Made) -> None:
        """Out of several copies of a piece the bad one is taken, or else the one that came last."""
        live = [copy for copy in self._of.get(piece.piece, []) if not copy.taken]
        named = self._named.get(one.copy) if one.copy else None
        bad = [copy for copy in live if copy.wrong or any(copy.piece(side) is None for side in self._codes.sides)]
        copy = named or next(reversed(bad or live), None)
        if copy is None:
            copy = self._new()
            self._add(copy, "front", piece, "")
        copy.taken = "sample" if one.kind == "sample" else "spoiled"

    def _new(self) -> Copy:
        copy = Copy(self._stretch)
        self.copies.append(copy)
        return copy

    def _add(self, copy: Copy, side: Side, piece: Made, code: str) -> None:
        copy.add(side, piece, code)
        known = self._of.setdefault(piece.piece, [])
        if not any(each is copy for each in known):
            known.append(copy)
