"""Words set character by character, where that gives exactly what HarfBuzz gives.

Lives here: which characters of a face that holds for, their glyphs, and the kerning of pairs as HarfBuzz states it.
Not here: reading the font's rules (`rules`), everything else that is shaped (`shape`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from operator import add
from struct import error as StructError  # noqa: N812  read as what it is, an exception

import uharfbuzz as hb

from vdp.marks import Glyphs
from vdp.text.faces import Face
from vdp.text.rules import FOREIGN, unruly

#: What may be spelled: ASCII, and Latin letters with their marks (Latin-1 Supplement, Latin Extended-A).
_CHARACTERS = "".join(map(chr, range(0x20, 0x7F))) + "".join(
    char for char in map(chr, range(0xC0, 0x180)) if char.isalpha()
)

#: (glyph ids, advances) of a text as HarfBuzz shapes it, or None when it places or joins anything.
Ask = Callable[[str], tuple[list[int], list[int]] | None]


class Speller:
    """Spells text in one face and language, in Latin script and from left to right."""

    def __init__(self, face: Face, ask: Ask) -> None:
        self._face = face
        self._ask = ask
        self._scale = face.scale
        #: Character → (glyph id, the font's own advance); only what may be spelled is in it.
        self._known: dict[str, tuple[int, float]] = {}
        self._pairs = _Pairs(self)
        for char in orderly(face):
            asked = ask(char)
            if asked is not None and len(asked[0]) == 1:
                pair = face.naturals[asked[0][0]]
                if asked[1][0] * face.scale == pair[1]:
                    self._known[char] = pair

    def spell(self, text: str) -> Glyphs | None:
        """The glyphs of a text, or None when HarfBuzz must be asked."""
        known = self._known
        try:
            found = [known[char] for char in text]
        except KeyError:
            return None
        if not found:
            return None
        gids, naturals = zip(*found, strict=True)
        advances = (*map(self._pairs.__getitem__, map(add, text, text[1:])), naturals[-1])
        return Glyphs(
            self._face.key,
            gids,
            naturals if advances == naturals else advances,
            naturals,
            (),
            tuple(text),
            sum(advances),
            text,
            False,
        )

    def width(self, text: str) -> float:
        """`spell(text).width` without the rest; infinite when HarfBuzz must be asked."""
        known = self._known
        if not text or not known.keys() >= set(text):
            return math.inf
        return sum((*map(self._pairs.__getitem__, map(add, text, text[1:])), known[text[-1]][1]))

    def advance(self, pair: str) -> float:
        """Of the first of two characters before the second."""
        asked = self._ask(pair)
        if asked is None or asked[0] != [self._known[char][0] for char in pair]:
            raise KeyError(pair)
        return asked[1][0] * self._scale


class _Pairs(dict[str, float]):
    """Advances by pair of characters; bounded by the characters there are."""

    def __init__(self, speller: Speller) -> None:
        super().__init__()
        self._speller = speller

    def __missing__(self, pair: str) -> float:
        advance = self[pair] = self._speller.advance(pair)
        return advance


def orderly(face: Face) -> str:
    """Characters that the face's rules leave alone, but for the kerning of pairs."""
    font = face.font
    tags = font.face.table_tags
    if not FOREIGN.isdisjoint(tags):
        return ""
    glyphs = {char: gid for char in _CHARACTERS if (gid := font.get_nominal_glyph(ord(char)))}
    every = frozenset(glyphs.values())
    try:
        odd = frozenset[int]().union(
            *[unruly(bytes(font.face.reference_table(tag).data), tag, every) for tag in ("GSUB", "GPOS") if tag in tags]
        )
    except StructError:
        return ""  # a damaged table: HarfBuzz knows what to do with it
    mark = hb.OTLayoutGlyphClass.MARK
    return "".join(
        char for char, gid in glyphs.items() if gid not in odd and font.face.get_layout_glyph_class(gid) != mark
    )
