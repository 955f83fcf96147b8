"""Words → the glyph ids that HarfBuzz gives for them in the source fonts, shaped here and not by the composer.

Lives here: cutting a text into words, opening source fonts, shaping.  Not here: looking for them on a page (`text`).

A word is letters and marks of one script, or digits; punctuation and spaces are not looked for.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import uharfbuzz as hb

#: Scripts whose lines break inside what looks like one word, by the first word of their characters' names.
UNSPACED = frozenset(("CJK", "HIRAGANA", "KATAKANA", "KATAKANA-HIRAGANA", "HANGUL", "THAI", "LAO", "KHMER", "MYANMAR"))
_JOINERS = frozenset("\u200c\u200d")


class Word(NamedTuple):
    """A word and its script, by the first word of its characters' Unicode names ("DIGIT" for digits)."""

    text: str
    script: str


@lru_cache(maxsize=16384)
def _kind(character: str) -> str:
    """Script of a letter, "DIGIT" of a digit, "MARK" of a mark or joiner, "" of everything else."""
    category = unicodedata.category(character)
    if category == "Nd":
        return "DIGIT"
    if category[0] == "M" or character in _JOINERS:
        return "MARK"
    if category[0] == "L":
        name = unicodedata.name(character, "")
        first = name.split(" ", 1)[0]
        # Letters without a script of their own (ª, the Kelvin sign's kin, modifier letters) are left out.
        return "" if first in ("MODIFIER", "FEMININE", "MASCULINE", "FULLWIDTH", "HALFWIDTH") else first
    return ""


def _silent(character: str) -> bool:
    """Whether a character needs no glyph: joiners, and selectors of a variant."""
    return character in _JOINERS or 0xFE00 <= ord(character) <= 0xFE0F


@lru_cache(maxsize=256)
def words_of(text: str) -> tuple[Word, ...]:
    """The words of a text in logical order."""
    found: list[Word] = []
    start, script = 0, ""
    for place, character in enumerate(text):
        kind = _kind(character)
        if kind == "MARK" and script:
            continue
        if kind == "MARK":
            kind = ""
        if kind != script:
            if script:
                found.append(Word(text[start:place], script))
            start, script = place, kind
    if script:
        found.append(Word(text[start:], script))
    return tuple(found)


class Shaper:
    """A source font, opened for shaping."""

    def __init__(self, path: Path, axes: Mapping[str, float], index: int) -> None:
        self._font = hb.Font(hb.Face(hb.Blob.from_file_path(str(path)), index))
        if axes:
            self._font.set_variations(dict(axes))
        self._shaped = lru_cache(maxsize=16384)(self._shape)

    def has(self, text: str) -> bool:
        """Whether the font has a glyph for every character that needs one."""
        return all(self._font.get_nominal_glyph(ord(c)) is not None for c in text if not _silent(c))

    def gids(self, text: str, language: str) -> bytes | None:
        """Two bytes a glyph in visual order; None when the font lacks a character."""
        return self._shaped(text, language)

    def _shape(self, text: str, language: str) -> bytes | None:
        if not self.has(text):
            return None
        buffer = hb.Buffer()
        buffer.add_str(text)
        # A joiner or a variation selector does its work and leaves no glyph (UAX #44, Default_Ignorable_Code_Point).
        buffer.flags = hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES
        buffer.guess_segment_properties()
        if language:
            buffer.language = language
        hb.shape(self._font, buffer)
        return b"".join(info.codepoint.to_bytes(2, "big") for info in buffer.glyph_infos)
