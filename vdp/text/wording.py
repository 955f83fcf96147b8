"""A wording whose words between the fields are known beforehand, in one voice.

Lives here: the words that every record has, judged once, and how a record's values come between them.  Not here: what
is made of the paragraph (`fit`), words themselves (`voice`).  Filling in gives the pieces that reading the whole text
gives, or None where only the whole text can tell.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from itertools import chain
from operator import attrgetter
from typing import NamedTuple

from vdp.errors import RowRefused
from vdp.text.bidi import find_levels
from vdp.text.breaks import BREAK_SPACES, SOFT_HYPHEN, split_paragraphs
from vdp.text.kept import Kept
from vdp.text.passage import Constant, Cut, Part, Words
from vdp.text.piece import Piece
from vdp.text.voice import Voice

#: Fewer words than this between the fields are not worth it.
_WORTH = 4

#: By what part the width of a value may differ beside other text from what it is alone: kerning at its ends.
_PLAY = 0.1

_width_of = attrgetter("width")


class Extent(NamedTuple):
    """Of a filled paragraph, in thousandths of an em: no more than its width, and than that of its widest piece."""

    width: float
    widest: float

    def fits(self, room: float, lines: int) -> bool:
        """Whether it surely fits in so many lines: each but the last is longer than the room less the widest piece."""
        return self.widest <= room and (self.width <= room or self.width / (room - self.widest + 1e-9) + 1 <= lines)


class _Slot(NamedTuple):
    """Where a value stands: what of the literals belongs to its first and its last word, whether it ends the paragraph,
    and the words after it."""

    tail: str
    head: str
    closing: bool
    words: tuple[Constant, ...]


class _Own(NamedTuple):
    """A chunk that has some of a record's value: that of the value from `start` to `stop`, with what stands before and
    after it, and its levels."""

    value: int
    start: int
    stop: int
    before: str
    after: str
    levels: bytes

    def chunk(self, values: Sequence[str]) -> tuple[str, bytes]:
        """The chunk of a record with these values."""
        return f"{self.before}{values[self.value][self.start : self.stop]}{self.after}", self.levels


class _Signs(dict[int, str]):
    """Code point → a character that the bidirectional algorithm treats alike: a letter for letters, a digit for digits,
    itself for all others.  Bounded by the characters there are."""

    def __missing__(self, code: int) -> str:
        char = chr(code)
        sign = self[code] = _ALIKE.get(unicodedata.bidirectional(char), char)
        return sign


_ALIKE = {"L": "a", "R": "\u05d0", "AL": "\u0627", "EN": "0"}
_SIGNS = _Signs()

#: Values whose reach is kept, of each field: the first, since of some fields none ever comes again, and it costs less
#: to forget none than to keep them.
_MET = 256

#: Layouts kept for a wording, twice over (see `kept`).
_LAYOUTS = 256


class Wording:
    """Literals around fields: `literals[0]`, a value, `literals[1]`, …, `literals[-1]`."""

    def __init__(self, voice: Voice, literals: Sequence[str]) -> None:
        self._voice = voice
        self._parts: list[tuple[str, list[Piece], str]] = []
        first, *middle, last = literals[0], *literals[1:-1], literals[-1].rstrip(BREAK_SPACES + SOFT_HYPHEN)
        #: Whether the last word is a value's, with what of the last literal follows it.
        self._open = " " not in last
        every = "".join(literals)
        self.usable = (
            len(literals) > 1
            and every.count(" ") >= _WORTH
            and split_paragraphs(every) == [every]
            and SOFT_HYPHEN not in every
            and all(" " in literal for literal in (*([first] if first else []), *middle))
        )
        self._literals = (*literals[:-1], last)
        self._layouts: Kept[tuple[str, ...], tuple[Constant | list[_Own], ...] | None] = Kept(self._lay_out, _LAYOUTS)
        self._shared: Kept[tuple[tuple[str, bytes], ...], Constant] = Kept(self._share, _LAYOUTS)
        self._alone: Kept[tuple[str, bytes], Part | None] = Kept(self._stand, _LAYOUTS)
        if not self.usable:
            return
        try:
            self._compile(first, middle, last)
        except RowRefused:
            # Told for each record, with its reasons.
            self.usable = False
            return
        pieces = [piece for _, words, _ in self._parts for piece in words]
        self._width = sum(map(_width_of, pieces))
        self._widest = max(map(_width_of, pieces), default=0.0)
        self.usable = self._width != math.inf
        constants: list[tuple[Constant, ...]] = [()] * len(literals)
        if self.usable and not voice.rtl:
            constants = [(Constant(words),) if words else () for _, words, _ in self._parts]
        self._first = constants[0]
        self._slots = [
            _Slot(before[2], after[0], self._open and after is self._parts[-1], words)
            for before, after, words in zip(self._parts, self._parts[1:], constants[1:], strict=False)
        ]

        self._met: list[dict[str, float]] = [{} for _ in self._slots]

    def _compile(self, first: str, middle: Sequence[str], last: str) -> None:
        """What of each literal belongs to the word before it, its own words, what belongs to the word after it."""
        for nth, literal in enumerate((first, *middle, last)):
            head, space, rest = literal.partition(" ")
            if nth == 0:
                head, rest = "", literal
            if nth == len(middle) + 1:
                self._parts.append((head, self._words(rest, closing=True) if space else [], ""))
                continue
            words, space, tail = rest.rpartition(" ")
            self._parts.append((head, self._words(words, closing=False) if space else [], tail))

    def _words(self, text: str, *, closing: bool) -> list[Piece]:
        # From right to left only their widths are wanted.
        if self._voice.rtl and text:
            return self._voice.read(text if closing else f"{text} ").pieces
        return self._voice.pieces_of(text, closing=closing)

    def fill(self, values: Sequence[str]) -> Sequence[Part] | None:
        """The words of a record's paragraph."""
        voice = self._voice
        if voice.rtl:
            return self._fill_rtl(values)
        found: list[Part] = [*self._first]
        for value, (tail, head, closing, words) in zip(values, self._slots, strict=True):
            if not value.isprintable():
                return None
            text = f"{tail}{value}{head}"
            found += voice.pieces_of(text, closing=True) if closing else voice.spaced(text)
            found += words
        return found

    def _fill_rtl(self, values: Sequence[str]) -> Sequence[Part] | None:
        """The same from right to left."""
        layout = self._layouts[tuple([value.translate(_SIGNS) for value in values])]
        if layout is None:
            return None
        found: list[Part] = []
        for part in layout:
            words: Part | None
            if isinstance(part, Constant):
                words = part
            elif len(part) == 1:
                words = self._alone[part[0].chunk(values)]
            else:
                words = self._stood([own.chunk(values) for own in part])
            if words is None:
                return None
            found.append(words)
        return found

    def _stand(self, chunk: tuple[str, bytes]) -> Part | None:
        """What a chunk comes to in a line; None where that depends on its neighbours."""
        return self._stood([chunk])

    def _stood(self, chunks: Sequence[tuple[str, bytes]]) -> Part | None:
        """The same of chunks that follow one another."""
        pieces: list[Piece] = []
        for chunk in chunks:
            own = self._voice.pieces_alone(chunk)
            if own is None:
                return None
            pieces += own
        if len(pieces) > 1:
            return Words(pieces)
        return pieces[0] if len(pieces[0].glyphs) < 2 else Cut(pieces)

    def _lay_out(self, signs: tuple[str, ...]) -> tuple[Constant | list[_Own], ...] | None:
        """What follows from the classes of the values' characters; None where a value's neighbours matter for more."""
        if not all(map(str.isprintable, signs)):
            return None
        text = woven(self._literals, signs)
        levels, base = find_levels(text, self._voice.rtl)
        if not base:
            return None
        whose = self._whose(signs)
        layout: list[Constant | list[_Own]] = []
        known: list[tuple[str, bytes]] = []
        owns: list[_Own] = []
        at = 0
        for chunk, level in self._voice.chunks(text, levels):
            start, at = at, at + len(chunk)
            touched = [(place, *whose[place]) for place in range(start, at) if place in whose]
            if not touched:
                if not self._voice.stands_alone(chunk):
                    return None
                known.append((chunk, level))
                owns = []
                continue
            if known:
                layout.append(self._shared[tuple(known)])
                known = []
            if not owns:
                layout.append(owns)
            (first, nth, begin), (last, other, end) = touched[0], touched[-1]
            if nth != other:
                return None
            owns.append(_Own(nth, begin, end + 1, text[start:first], text[last + 1 : at], level))
        return (*layout, self._shared[tuple(known)]) if known else tuple(layout)

    def _whose(self, values: Sequence[str]) -> dict[int, tuple[int, int]]:
        """Place in the text → which value stands there, and the place in it."""
        whose: dict[int, tuple[int, int]] = {}
        at = 0
        for nth, (literal, value) in enumerate(zip(self._literals, (*values, ""), strict=True)):
            at += len(literal)
            whose |= {at + place: (nth, place) for place in range(len(value))}
            at += len(value)
        return whose

    def _share(self, chunks: tuple[tuple[str, bytes], ...]) -> Constant:
        """Words that stand between values of many layouts."""
        return Constant([*chain.from_iterable(map(self._voice.pieces_at, chunks))])

    def measure(self, values: Sequence[str], *, closely: bool) -> Extent | None:
        """How far a record's paragraph may reach; less far, and later told, `closely`.  Raises RowRefused."""
        width = longest = 0.0
        for value, (tail, head, _, _), met in zip(values, self._slots, self._met, strict=True):
            reach = None if closely else met.get(value)
            if reach is None:
                if not value.isprintable():
                    return None
                reach = self._voice.reach(f"{tail}{value}{head} ", closely=closely)
                if reach is None:
                    return None
                if len(met) < _MET:
                    met[value] = reach
            width += reach
            longest = max(longest, reach)
        return Extent(self._width + (1 + _PLAY) * width, max(self._widest, (1 + _PLAY) * longest))


def woven(literals: Sequence[str], values: Sequence[str]) -> str:
    """Literals with the values between them."""
    return "".join(chain.from_iterable(zip(literals, (*values, ""), strict=True)))
