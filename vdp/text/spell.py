"""Words set character by character, where that gives exactly what HarfBuzz gives.

Lives here: which characters of a face that holds for, their glyphs, and the kerning of pairs as HarfBuzz states it.
Not here: reading the font's rules (`rules`), everything else that is shaped (`shape`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from struct import error as StructError  # noqa: N812  read as what it is, an exception
from typing import NamedTuple

import uharfbuzz as hb

from vdp.marks import Spelled
from vdp.text.bounds import Bounds
from vdp.text.faces import Face
from vdp.text.kept import Kept
from vdp.text.rules import FOREIGN, Changed, unruly

#: Letters that may be spelled, by script: those of its alphabet that stand alone, without marks of their own.
_LETTERS = {
    "Latn": [range(0x41, 0x5B), range(0x61, 0x7B), range(0xC0, 0x180)],
    "Grek": [range(0x386, 0x3CF)],
    "Cyrl": [range(0x400, 0x460), range(0x490, 0x492)],
}

#: What text of every script has: ASCII without its letters.
_COMMON = frozenset(char for char in map(chr, range(0x20, 0x7F)) if not char.isalpha())

_FIGURES = "0123456789"
_AS_ZERO = str.maketrans(_FIGURES, "0" * len(_FIGURES))

#: Pairs of letters of which it is known how broad they are, twice over (see `kept`).
_PAIRS = 1024

#: (glyph ids, advances) of a text as HarfBuzz shapes it, or None when it places or joins anything.
Ask = Callable[[str], tuple[list[int], list[int]] | None]


class Orderly(NamedTuple):
    """Letters that a face's rules leave alone, but for the kerning of pairs, and but where one of `pairs` (glyph ids)
    stands side by side."""

    letters: frozenset[str]
    pairs: frozenset[tuple[int, int]]


class Speller:
    """Spells text in one face, script and language, from left to right."""

    def __init__(self, face: Face, script: str, rules: Orderly, ask: Ask) -> None:
        self.face = face.key
        self._ask = ask
        self._scale = face.scale
        #: Letter → (glyph id, the font's own advance); lacks what must not be spelled.
        self._known = _Known(face, ask, rules.letters & letters_of(script))
        self._broadest: Kept[str, float] = Kept(self._broadest_of, _PAIRS)
        self._joined = rules.pairs
        self.bounds = Bounds(self._known, rules.pairs, ask, face.scale)
        #: Advance of a letter before another; lacks what must not be spelled.
        self.advances = _Advances(self)
        self._advance = self.advances.__getitem__

    def measured(self, text: str) -> float:
        """The width of a text; LookupError where HarfBuzz must be asked, and of no text."""
        pairs = zip(text, text[1:], strict=False)  # noqa: RUF007  takes less time than pairwise
        return sum(map(self._advance, pairs), self._known[text[-1]][1])

    def reach(self, text: str, *, closely: bool) -> float | None:
        """No less than the width of a text, and its width itself `closely`; None where HarfBuzz must be asked."""
        bound = None if closely else self.bounds.of(text)
        if bound is not None:
            return bound
        try:
            width = self.measured(text)
        except LookupError:
            return None
        if not closely:
            self.bounds.wanted(text)
        return width

    def spell(self, text: str) -> Spelled | None:
        """The glyphs of a text, or None when HarfBuzz must be asked."""
        try:
            return Spelled(self, text, self.measured(text))
        except LookupError:
            return None

    def unspaced(self, text: str, width: float) -> Spelled:
        """The glyphs of a text that has that width with a space after it."""
        last, known = text[-1], self._known
        return Spelled(self, text, width - self.advances[last, " "] - known[" "][1] + known[last][1])

    def place(self, pair: str) -> tuple[int, float, float]:
        gid, natural = self._known[pair[0]]
        return gid, natural if len(pair) == 1 else self.advances[pair[0], pair[1]], natural

    def broadest(self, text: str) -> float:
        alike = text.translate(_AS_ZERO)
        return sum([self._broadest[alike[at : at + 2]] for at in range(len(alike))])

    def _broadest_of(self, pair: str) -> float:
        """The most that one letter before another, or at the end, takes when a zero stands for every figure."""
        return max(self.place(a + b)[1] for a in _alike(pair[:1]) for b in _alike(pair[1:]))

    def measure(self, pair: tuple[str, str]) -> float:
        """Of the first of two letters before the second; KeyError where they are not spelled.  Nothing is kerned
        behind a space: words are set one by one."""
        first, last = self._known[pair[0]], self._known[pair[1]]
        if pair[0] == " ":
            return first[1]
        if (first[0], last[0]) in self._joined:
            raise KeyError(pair)
        asked = self._ask("".join(pair))
        if asked is None or asked[0] != [first[0], last[0]]:
            raise KeyError(pair)
        return asked[1][0] * self._scale


def _alike(char: str) -> str | tuple[str]:
    """What may stand in a character's place: any figure in that of zero, nothing else in any other's."""
    return _FIGURES if char == "0" else (char,)


class _Known(dict[str, tuple[int, float]]):
    """Bounded by the letters there are."""

    def __init__(self, face: Face, ask: Ask, letters: frozenset[str]) -> None:
        super().__init__()
        self._face = face
        self._ask = ask
        self._left = set(letters)

    def __missing__(self, char: str) -> tuple[int, float]:
        if char in self._left:
            self._left.remove(char)
            asked = self._ask(char)
            if asked is not None and len(asked[0]) == 1:
                pair = self._face.naturals[asked[0][0]]
                if asked[1][0] * self._face.scale == pair[1]:
                    self[char] = pair
                    return pair
        raise KeyError(char)


class _Advances(dict[tuple[str, str], float]):
    """Bounded by the letters there are."""

    def __init__(self, speller: Speller) -> None:
        super().__init__()
        self._speller = speller

    def __missing__(self, pair: tuple[str, str]) -> float:
        advance = self[pair] = self._speller.measure(pair)
        return advance


@cache
def letters_of(script: str) -> frozenset[str]:
    """What may be spelled in a script."""
    return _COMMON.union(char for part in _LETTERS.get(script, ()) for char in map(chr, part) if char.isalpha())


def orderly(face: Face) -> Orderly:
    """Reads the face's tables."""
    font = face.font
    tags = font.face.table_tags
    if not FOREIGN.isdisjoint(tags):
        return Orderly(frozenset(), frozenset())
    everything = frozenset[str]().union(*map(letters_of, _LETTERS))
    glyphs = {char: gid for char in everything if (gid := font.get_nominal_glyph(ord(char)))}
    every = frozenset(glyphs.values())
    try:
        found = [
            unruly(bytes(font.face.reference_table(tag).data), tag, every) for tag in ("GSUB", "GPOS") if tag in tags
        ]
    except StructError:
        found = [Changed(every, frozenset())]  # a damaged table: HarfBuzz knows what to do with it
    odd = frozenset[int]().union(*[changed.anywhere for changed in found])
    mark = hb.OTLayoutGlyphClass.MARK
    return Orderly(
        frozenset(
            char for char, gid in glyphs.items() if gid not in odd and font.face.get_layout_glyph_class(gid) != mark
        ),
        frozenset[tuple[int, int]]().union(*[changed.pairs for changed in found]),
    )
