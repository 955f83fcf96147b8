"""Words that every record has and words of a record's own, broken into lines together.

Lives here: stretches of pieces, greedy lines over several of them, and what constant words come to in a line, kept and
made one.  Not here: which words are constant (`wording`), lines of a text that is read whole (`rows`).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate, chain, groupby, pairwise
from operator import attrgetter
from typing import TypeVar

from vdp.marks import Glyphs, Letters, Spelled, Stretch
from vdp.text.kept import Kept
from vdp.text.piece import Piece
from vdp.text.rows import order

#: Places in constant words kept, twice over (see `kept`): lines begin and end where they will.
_PLACES = 256

_width_of = attrgetter("width")

#: A line: glyphs from left to right, its text, and its width in thousandths of an em.
Row = tuple[tuple[Stretch, ...], str, float]


class Cut:
    """Some pieces in a row as they stand in a line, with what a piece has: glyphs from left to right, `width` in
    thousandths of an em, `levels` of the first and the last glyph in the order of the text.  Of `united` ones,
    stretches that can be one are one."""

    __slots__ = ("_ending", "_pieces", "_united", "glyphs", "levels", "text", "width")

    def __init__(self, pieces: Sequence[Piece], *, united: bool = False) -> None:
        self._pieces = pieces
        self._united = united
        self._ending: Cut | None = None
        levels = [piece.levels for piece in pieces]
        mixed = any(levels)
        self.levels = (_level(pieces[0], 0), _level(pieces[-1], -1)) if mixed else ()
        glyphs = order([*pieces], mixed)
        self.glyphs = tuple(chain.from_iterable(map(_one, _runs(glyphs)))) if united else glyphs
        self.text = "".join([piece.text for piece in pieces])
        self.width: float = sum([piece.width for piece in pieces])

    @property
    def ending(self) -> Cut:
        """The same at the end of a line."""
        if self._ending is None:
            *before, last = self._pieces
            self._ending = Cut([*before, last.ending], united=self._united)
        return self._ending


#: What stands in a line.
Part = Piece | Cut


class Rest:
    """What follows where a line has ended among some words: lines that are full, and what begins the next one, if
    anything does.  Compared by identity: it keys caches."""

    __slots__ = ("_ended", "part", "rows")

    def __init__(self, rows: Sequence[Row], part: Cut | None) -> None:
        self.rows = rows
        self.part = part
        self._ended: Sequence[Row] | None = None

    def ended(self) -> Sequence[Row]:
        """All lines where nothing follows the words."""
        if self._ended is None:
            self._ended = self.rows if self.part is None else (*self.rows, _row_of(self.part.ending))
        return self._ended


class Words(Cut):
    """One piece at least, which may be divided."""

    __slots__ = ("_sums",)

    def __init__(self, pieces: Sequence[Piece], *, united: bool = False) -> None:
        super().__init__(pieces, united=united)
        #: `_sums[i]` is the width of the first i pieces.
        self._sums = list(accumulate(map(_width_of, pieces), initial=0.0))

    def stop(self, at: int, room: float) -> int:
        """Where a line ends that begins at a place and cannot hold all that follows: as many pieces as fit with the
        spaces after them, and one more if it fits without."""
        limit = self._sums[at] + room
        stop = max(at, bisect_right(self._sums, limit, at, len(self._pieces)) - 1)
        fits: bool = self._sums[stop] + self._pieces[stop].ending.width <= limit
        return stop + fits

    def head(self, stop: int) -> Cut:
        """The pieces before a place."""
        return Cut(self._pieces[:stop], united=self._united)

    def rest(self, at: int, room: float) -> Rest | None:
        """The pieces from a place on; None where one is wider than the room."""
        end = len(self._pieces)
        rows: list[Row] = []
        while self._sums[end] - self._sums[at] > room:
            stop = self.stop(at, room)
            if stop == at:
                return None
            rows.append(_row_of(Cut(self._pieces[at:stop], united=self._united).ending))
            at = stop
        return Rest(rows, Cut(self._pieces[at:], united=self._united) if at < end else None)


class Constant(Words):
    """Words that come again in every record."""

    __slots__ = ("_heads", "_rests")

    def __init__(self, pieces: Sequence[Piece]) -> None:
        super().__init__(pieces, united=True)
        self._heads: Kept[int, Cut] = Kept(super().head, _PLACES)
        rest = super().rest
        self._rests: Kept[tuple[int, float], Rest | None] = Kept(lambda where: rest(*where), _PLACES)

    def head(self, stop: int) -> Cut:
        return self._heads[stop]

    def rest(self, at: int, room: float) -> Rest | None:
        return self._rests[at, room]


def broken(parts: Iterable[Part], room: float, *, rtl: bool) -> tuple[list[Row], Rest | None] | None:
    """Greedy lines up to the last that ends among words, and what follows there if nothing but these words does.  None
    where a piece is wider than the room with its spaces, or all of the text has to be looked at."""
    rows: list[Row] = []
    line: list[Part] = []
    # Widths of the line, and of all of it but its last part.
    used = before = 0.0
    rest: Rest | None = None
    for part in parts:
        if rest is not None:
            rows += rest.rows
            line, used = ([], 0.0) if rest.part is None else ([rest.part], rest.part.width)
            rest = None
        if used + part.width <= room:
            line.append(part)
            before = used
            used += part.width
            continue
        begun: list[Part] = []
        if isinstance(part, Words):
            stop = part.stop(0, room - used)
            rest = part.rest(stop, room)
            if rest is None:
                return None
            if stop:
                line.append(part.head(stop))
                before = used
        elif part.width > room:
            return None
        elif used + part.ending.width <= room:
            line.append(part)
            before = used
        else:
            begun.append(part)
        row = _row(line, before, room, rtl=rtl)
        if row is None:
            return None
        rows.append(row)
        line, used = begun, part.width if begun else 0.0
    if line:
        row = _row(line, before, room, rtl=rtl)
        if row is None:
            return None
        rows.append(row)
    return rows, rest


def _row(line: list[Part], before: float, room: float, *, rtl: bool) -> Row | None:
    """A line of parts, with the width of all before the last; None where it is wider than the room, or where two parts
    keep their order as one in text from right to left."""
    last = line[-1].ending
    if len(line) == 1:
        return _row_of(last) if last.width <= room else None
    if rtl:
        for one, other in pairwise(line):
            if _level(one, -1) > 1 and _level(other, 0) > 1:
                return None
    if before + last.width > room:
        return None
    line[-1] = last
    glyphs: list[Stretch] = []
    for part in reversed(line) if rtl else line:
        glyphs += part.glyphs
    return tuple(glyphs), "".join([part.text for part in line]), before + last.width


def _row_of(part: Part) -> Row:
    return part.glyphs, part.text, part.width


_T = TypeVar("_T")


def _all(parts: Iterable[tuple[_T, ...]]) -> tuple[_T, ...]:
    return tuple(chain.from_iterable(parts))


def _level(part: Part, at: int) -> int:
    return part.levels[at] if part.levels else 0


def _runs(glyphs: Sequence[Stretch]) -> list[list[Stretch]]:
    """Stretches side by side that can be made one."""
    return [[*group] for _, group in groupby(glyphs, _sort)]


def _sort(part: Stretch) -> tuple[Letters | None, str, bool]:
    return (part.letters if isinstance(part, Spelled) else None), part.face, part.rtl


def _one(parts: list[Stretch]) -> list[Stretch]:
    """One stretch in place of several of one sort, from left to right."""
    first = parts[0]
    if len(parts) == 1:
        return parts
    text = "".join([part.text for part in (reversed(parts) if first.rtl else parts)])
    width = sum(map(_width_of, parts))
    if isinstance(first, Spelled):
        return [Spelled(first.letters, text, width)]
    bare = not any(part.offsets for part in parts)
    return [
        Glyphs(
            face=first.face,
            gids=_all(part.gids for part in parts),
            advances=_all(part.advances for part in parts),
            natural=_all(part.natural for part in parts),
            offsets=() if bare else _all(part.offsets or ((0.0, 0.0),) * len(part.gids) for part in parts),
            clusters=_all(part.clusters for part in parts),
            width=width,
            text=text,
            rtl=first.rtl,
        )
    ]
