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
from vdp.text.passage import Constant, Words
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


class _Part(NamedTuple):
    """Words that every record has, and where the text of a chunk is that has a record's own; no such where `stop` is
    0."""

    constant: Constant
    start: int
    stop: int
    levels: bytes


class _Signs(dict[int, str]):
    """Code point → a character that the bidirectional algorithm treats alike: a letter for letters, a digit for digits,
    itself for all others.  Bounded by the characters there are."""

    def __missing__(self, code: int) -> str:
        char = chr(code)
        sign = self[code] = _ALIKE.get(unicodedata.bidirectional(char), char)
        return sign


_ALIKE = {"L": "a", "R": "\u05d0", "AL": "\u0627", "EN": "0"}
_SIGNS = _Signs()

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
        self._layouts: Kept[tuple[str, ...], tuple[_Part, ...] | None] = Kept(self._lay_out, _LAYOUTS)
        self._shared: Kept[tuple[tuple[str, bytes], ...], Constant] = Kept(self._share, _LAYOUTS)
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
        self._constants = [Constant(words) for _, words, _ in self._parts]

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

    def fill(self, values: Sequence[str]) -> Sequence[Words] | None:
        """The words of a record's paragraph, none of them empty."""
        voice = self._voice
        if voice.rtl:
            return self._fill_rtl(values)
        (_, _, tail), *others = self._parts
        found: list[Words] = [self._constants[0]]
        closing = len(values)
        for nth, (value, (head, _, tail_after)) in enumerate(zip(values, others, strict=True), 1):
            if not value.isprintable():
                return None
            own = Words(voice.pieces_of(f"{tail}{value}{head}", closing=nth == closing and self._open))
            if own.sums[-1] == math.inf:
                return None
            found += (own, self._constants[nth])
            tail = tail_after
        return found

    def _fill_rtl(self, values: Sequence[str]) -> Sequence[Words] | None:
        """The same from right to left."""
        parts = self._layouts[tuple([value.translate(_SIGNS) for value in values])]
        if parts is None:
            return None
        text = woven(self._literals, values)
        found: list[Words] = []
        own: list[Piece] = []
        for constant, start, stop, levels in parts:
            if constant.pieces:
                if own:
                    found.append(Words(own))
                    own = []
                found.append(constant)
            if stop:
                chunk = text[start:stop]
                if not self._voice.stands_alone(chunk):
                    return None
                own += self._voice.pieces_at((chunk, levels))
        if own:
            found.append(Words(own))
        return found

    def _lay_out(self, signs: tuple[str, ...]) -> tuple[_Part, ...] | None:
        """What follows from the classes of the values' characters; None where a value's neighbours matter for more."""
        if not all(map(str.isprintable, signs)):
            return None
        text = woven(self._literals, signs)
        levels, base = find_levels(text, self._voice.rtl)
        touched = bytearray()
        for literal, sign in zip(self._literals, (*signs, ""), strict=True):
            touched += bytes(len(literal)) + b"\1" * len(sign)
        parts: list[_Part] = []
        chunks: list[tuple[str, bytes]] = []
        at = 0
        for chunk, own in self._voice.chunks(text, levels):
            start, at = at, at + len(chunk)
            if any(touched[start:at]):
                parts.append(_Part(self._shared[tuple(chunks)], start, at, own))
                chunks = []
            elif self._voice.stands_alone(chunk):
                chunks.append((chunk, own))
            else:
                return None
        return (*parts, _Part(self._shared[tuple(chunks)], 0, 0, b"")) if base else None

    def _share(self, chunks: tuple[tuple[str, bytes], ...]) -> Constant:
        """Words that stand between values of many layouts."""
        return Constant([*chain.from_iterable(map(self._voice.pieces_at, chunks))])

    def measure(self, values: Sequence[str]) -> Extent | None:
        """How far a record's paragraph may reach.  Raises RowRefused."""
        width, widest = self._width, self._widest
        tail = self._parts[0][2]
        for value, (head, _, tail_after) in zip(values, self._parts[1:], strict=True):
            if not value.isprintable():
                return None
            reach = self._voice.reach(f"{tail}{value}{head} ")
            if reach is None:
                return None
            own = (1 + _PLAY) * reach
            width += own
            widest = max(widest, own)
            tail = tail_after
        return Extent(width, widest)


def woven(literals: Sequence[str], values: Sequence[str]) -> str:
    """Literals with the values between them."""
    return "".join(chain.from_iterable(zip(literals, (*values, ""), strict=True)))
