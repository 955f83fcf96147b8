"""Words that every record has and words of a record's own, broken into lines together.

Lives here: stretches of pieces, greedy lines over several of them, and what constant words come to in a line, kept and
made one.  Not here: which words are constant (`wording`), lines of a text that is read whole (`rows`).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate, chain, groupby, pairwise
from operator import attrgetter
from typing import NamedTuple, TypeVar

from vdp.marks import Glyphs, Letters, Spelled, Stretch
from vdp.text.kept import Kept
from vdp.text.piece import Piece
from vdp.text.rows import order

#: Cuts kept for a stretch of constant words, twice over (see `kept`): lines begin and end where they will.
_CUTS = 256

_width_of = attrgetter("width")


class Cut(NamedTuple):
    """Some pieces in a row as they stand in a line: glyphs from left to right, `width` in thousandths of an em."""

    glyphs: tuple[Stretch, ...]
    text: str
    width: float


class Words:
    """Pieces that follow one another; `sums[i]` is the width of the first i of them."""

    __slots__ = ("pieces", "sums")

    def __init__(self, pieces: Sequence[Piece]) -> None:
        self.pieces = pieces
        self.sums = list(accumulate(map(_width_of, pieces), initial=0.0))

    def cut(self, where: tuple[int, int, bool]) -> Cut:
        """Pieces from the first place to before the second; whether they end a line."""
        first, last, closing = where
        if last - first == 1:
            piece = self.pieces[first].ending if closing else self.pieces[first]
            if not piece.levels:
                return Cut(piece.glyphs, piece.text, piece.width)
        pieces = [*self.pieces[first:last]]
        if closing:
            pieces[-1] = pieces[-1].ending
        glyphs = order(pieces, any(piece.levels for piece in pieces))
        return Cut(glyphs, "".join([piece.text for piece in pieces]), sum(map(_width_of, pieces)))


class Constant(Words):
    """Words that come again in every record."""

    __slots__ = ("_cuts",)

    def __init__(self, pieces: Sequence[Piece]) -> None:
        super().__init__(pieces)
        self._cuts: Kept[tuple[int, int, bool], Cut] = Kept(self._joined, _CUTS)

    def cut(self, where: tuple[int, int, bool]) -> Cut:
        return self._cuts[where]

    def _joined(self, where: tuple[int, int, bool]) -> Cut:
        cut = super().cut(where)
        return cut._replace(glyphs=tuple(chain.from_iterable(map(_one, _runs(cut.glyphs)))))


#: A line: stretches of words with the places between which it has their pieces.
Span = tuple[Words, int, int]


def lines(parts: Sequence[Words], room: float, most: int) -> list[list[Span]] | None:
    """Greedy lines; None where they are more than `most`, or a piece is wider than the room."""
    found: list[list[Span]] = []
    line: list[Span] = []
    used = 0.0
    for words in parts:
        pieces, sums = words.pieces, words.sums
        at, end = 0, len(pieces)
        while at < end:
            limit = sums[at] + room - used
            if sums[end] <= limit:
                line.append((words, at, end))
                used += sums[end] - sums[at]
                break
            # As many pieces as fit with the spaces after them, and one more if it fits without.
            stop = max(at, bisect_right(sums, limit, at, end) - 1)
            if sums[stop] + pieces[stop].ending.width <= limit:
                stop += 1
            if stop > at:
                line.append((words, at, stop))
            elif not line:
                return None
            found.append(line)
            if len(found) > most:
                return None
            line, used, at = [], 0.0, stop
    if line:
        found.append(line)
    return found if len(found) <= most else None


def joined(line: Sequence[Span], *, rtl: bool) -> Cut | None:
    """A line from left to right; None where words of two stretches keep their order as one in text from right to
    left."""
    *before, (words, first, last) = line
    ending = words.cut((first, last, True))
    if not before:
        return ending
    cuts = [words.cut((first, last, False)) for words, first, last in before]
    cuts.append(ending)
    glyphs, texts, widths = zip(*cuts, strict=True)
    if rtl:
        for (one, _, left), (other, right, _) in pairwise(line):
            if _level(one.pieces[left - 1], -1) > 1 and _level(other.pieces[right], 0) > 1:
                return None
        glyphs = glyphs[::-1]
    return Cut(_all(glyphs), "".join(texts), sum(widths))


_T = TypeVar("_T")


def _all(parts: Iterable[tuple[_T, ...]]) -> tuple[_T, ...]:
    return tuple(chain.from_iterable(parts))


def _level(piece: Piece, at: int) -> int:
    return piece.levels[at] if piece.levels else 0


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
