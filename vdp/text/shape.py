"""HarfBuzz shaping of one run: text in one face, direction, script and language → `Glyphs`.

Lives here: shaping, the text that each glyph stands for, the cache of shaped runs.  Not here: cutting text into runs
(`itemize`, `bidi`), lines (`fit`).
"""

from __future__ import annotations

import unicodedata
from itertools import pairwise
from typing import NamedTuple

import uharfbuzz as hb

from vdp.marks import Glyphs, Stretch
from vdp.text.faces import Faces
from vdp.text.kept import Kept
from vdp.text.spell import Orderly, Speller, orderly

#: Runs kept shaped, twice over (see `kept`).
_RUNS = 4096

#: Faces by script and language for which it is known what can be spelled, twice over.
_SPELLERS = 256

#: Chinese and Japanese are set solid: the font's kana kerning is meant for proportional setting, and would make widths
#: depend on where a line could have ended.
_SOLID = frozenset({"Hani", "Hira", "Kana", "Bopo"})


# Default-ignorable characters have done their work once shaped; kept, they would be blank glyphs that read as U+0020.
_FLAGS = hb.BufferFlags.BOT | hb.BufferFlags.EOT | hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES


class Run(NamedTuple):
    """What HarfBuzz is given."""

    text: str
    face: str
    rtl: bool
    script: str
    language: str


class Shaper:
    """Shapes runs and keeps the results."""

    def __init__(self, faces: Faces) -> None:
        self._faces = faces
        self._buffer = hb.Buffer()
        # Set once: clearing the contents keeps these two.  Marks keep their own characters, and only ligatures join
        # them: what text each glyph stands for needs that.
        self._buffer.cluster_level = hb.BufferClusterLevel.CHARACTERS
        self._buffer.flags = _FLAGS
        self._kept: Kept[Run, Stretch] = Kept(self.shape_anew, _RUNS)
        self._spellers: Kept[tuple[str, str, str], Speller] = Kept(self._speller, _SPELLERS)
        #: By face.
        self._orderly: dict[str, Orderly] = {}

    def shape(self, run: Run) -> Stretch:
        """Glyphs of a run; the same object while it is kept.  The face must cover the text."""
        return self._kept[run]

    def hyphen(self, face: str) -> str:
        """The hyphen that a face shows where a line ends at a soft hyphen: U+2010, else U+002D, else none."""
        return next((char for char in "\u2010-" if self._faces.face(face).has(char)), "")

    def shape_anew(self, run: Run) -> Stretch:
        """`shape` past the cache, for whoever keeps the result."""
        if not run.rtl:
            spelled = self._spellers[run.face, run.script, run.language].spell(run.text)
            if spelled is not None:
                return spelled
        return self.shape_whole(run)

    def speller(self, face: str, script: str, language: str) -> Speller:
        """What spells text in a face, script and language."""
        return self._spellers[face, script, language]

    def _speller(self, key: tuple[str, str, str]) -> Speller:
        name, script, language = key
        face = self._faces.face(name)

        def ask(text: str) -> tuple[list[int], list[int]] | None:
            buffer = self._shaped(Run(text, name, False, script, language))
            advances: list[int] = []
            for place in buffer.glyph_positions:
                dx, dy, advance, _ = place.position
                if dx or dy:
                    return None
                advances.append(advance)
            return [info.codepoint for info in buffer.glyph_infos], advances

        rules = self._orderly.get(name)
        if rules is None:
            rules = self._orderly[name] = orderly(face)
        return Speller(face, script, rules, ask)

    def _shaped(self, run: Run) -> hb.Buffer:
        buffer = self._buffer
        buffer.clear_contents()
        buffer.add_str(run.text)
        buffer.direction = "rtl" if run.rtl else "ltr"
        buffer.script = run.script
        buffer.language = run.language
        hb.shape(self._faces.face(run.face).font, buffer, {"kern": False} if run.script in _SOLID else None)
        return buffer

    def shape_whole(self, run: Run) -> Glyphs:
        """`shape` by HarfBuzz, whatever the text; `shape_anew` gives the same, and sooner for what can be spelled."""
        face = self._faces.face(run.face)
        buffer = self._shaped(run)
        scale = face.scale
        infos = buffer.glyph_infos
        # .position is (x offset, y offset, x advance, y advance) in font units.
        positions = [place.position for place in buffer.glyph_positions]
        pairs = [face.naturals[info.codepoint] for info in infos]
        naturals = tuple([own for _, own in pairs])
        advances = tuple([place[2] * scale for place in positions])
        offsets = tuple([(dx * scale, dy * scale) for dx, dy, _, _ in positions])
        return Glyphs(
            face=run.face,
            gids=tuple([gid for gid, _ in pairs]),
            # Equal tuples are made one, for the memory of the caches.
            advances=naturals if advances == naturals else advances,
            natural=naturals,
            offsets=offsets if any(map(any, offsets)) else (),
            clusters=tell_clusters(run.text, [info.cluster for info in infos], run.rtl),
            width=sum(advances),
            text=run.text,
            rtl=run.rtl,
        )


def tell_clusters(text: str, values: list[int], rtl: bool) -> tuple[str, ...]:
    """Text that each glyph stands for, in glyph order, given HarfBuzz's cluster value of each (code points).

    Read in the order of the text, the pieces make up the text again, but for compatibility forms named here.  Of
    several glyphs of one character the first in reading order has it and the others "", unless the character
    decomposes into just as many (a letter with its mark, Thai SARA AM): then each has its part.  An Arabic ligature
    has its presentation form (LAM with ALEF is U+FEFB), since readers reverse right-to-left text character by
    character and would turn the letters of one glyph round.  Characters without a glyph go with the one before them.
    """
    if not values:
        return ()
    if len(values) == len(text) and values == list(range(len(text))):
        return tuple(text)
    starts = sorted(set(values))
    starts[0] = 0
    pieces = {
        left if at else min(values): text[left:right] for at, (left, right) in enumerate(pairwise([*starts, len(text)]))
    }
    owners: dict[int, list[int]] = {}
    for at in range(len(values) - 1, -1, -1) if rtl else range(len(values)):
        owners.setdefault(values[at], []).append(at)
    told = [""] * len(values)
    for value, glyphs in owners.items():
        piece = pieces[value]
        if rtl and len(glyphs) == 1 and len(piece) > 1:
            piece = _LIGATURES.get(piece, piece)
        parts = unicodedata.normalize("NFKD", piece) if len(glyphs) > 1 and len(piece) == 1 else ""
        if len(parts) == len(glyphs):
            for at, part in zip(glyphs, parts, strict=True):
                told[at] = part
        else:
            told[glyphs[0]] = piece
    return tuple(told)


def _find_ligatures() -> dict[str, str]:
    """Arabic letters → the presentation form of their ligature (isolated), from the Unicode Character Database."""
    found: dict[str, str] = {}
    for code in (*range(0xFB50, 0xFE00), *range(0xFE70, 0xFF00)):
        form = chr(code)
        if unicodedata.decomposition(form).startswith("<isolated> 06"):
            letters = unicodedata.normalize("NFKC", form)
            if len(letters) > 1:
                found.setdefault(letters, form)
    return found


_LIGATURES = _find_ligatures()
