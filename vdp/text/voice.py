"""Text in one asked face and one language → pieces between which a line may end.

Lives here: how a paragraph becomes pieces with as little work as its text allows.  Not here: pieces (`piece`), which
make a line (`rows`).

A paragraph is judged chunk by chunk (a word and the spaces after it), and what was found out about a chunk is kept.
Where a chunk depends on its neighbours, the whole paragraph is judged at once; both ways give the same pieces.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import cached_property
from itertools import accumulate, chain
from operator import attrgetter
from typing import NamedTuple

from vdp.errors import RowRefused
from vdp.marks import Spelled, Stretch
from vdp.text.bidi import find_levels, has_rtl
from vdp.text.breaks import Breaker, plain_script
from vdp.text.faces import Faces
from vdp.text.isolates import ISOLATE, POP, has_plain_letters, isolated
from vdp.text.itemize import Chooser, Item
from vdp.text.kept import Kept
from vdp.text.languages import Language
from vdp.text.piece import UNJUDGED, Embedded, Piece, Runs, Word
from vdp.text.shape import Run, Shaper
from vdp.text.spell import Speller

_LATIN, _NONE = ("Latn",), ("Zyyy",)

#: Chunks and pieces kept for a voice, twice over (see `kept`).
_CHUNKS = 1024
_PIECES = 2048
#: Spaces from right to left kept, by script.
_BLANKS = 64

#: What sticks to the word before it, and to nothing after it.
_STOPS = ".,:;!?)"

_width_of = attrgetter("width")

#: Chunks: words with the spaces after them, the first also with those before it.
_split = re.compile(r" *[^ ]+ *| +").findall


class Paragraph(NamedTuple):
    """`pieces` in the order of the text; `sums[i]` is the width of the first i pieces in thousandths of an em;
    `mixed` is whether any level is above 0; `rtl` the base direction."""

    pieces: list[Piece]
    sums: list[float]
    mixed: bool
    rtl: bool


class Voice:
    """An asked face and a language."""

    def __init__(self, faces: Faces, shaper: Shaper, face: str, language: Language) -> None:
        self._face = faces.face(face)
        self._shaper = shaper
        self._language = language
        self.rtl = language.rtl
        #: Whether every text is taken for one in Latin letters.
        self.latin_only = language.script == "Latn"
        self._chooser = Chooser(faces, face)
        self._breaker = Breaker(language)
        #: By script, None where another face sets it; Zyyy is text that shows no script, and is set in the language's.
        self._spellers: dict[str, Speller | None] = {}
        self._level: Kept[str, tuple[Piece, ...]] = Kept(self._judge_spaced, _CHUNKS)
        self._spelled: Kept[str, tuple[Spelled, ...] | None] = Kept(self._spell_words, _CHUNKS)
        self._last: Kept[str, tuple[Piece, ...]] = Kept(self._judge_level, _CHUNKS)
        self._mixed: Kept[tuple[str, bytes], tuple[Piece, ...]] = Kept(self._judge_mixed, _CHUNKS)
        self._reach: Kept[str, float] = Kept(lambda text: self.read(text).sums[-1], _CHUNKS)
        self._pieces: Kept[tuple[str, Runs], Piece] = Kept(self._make_piece, _PIECES)
        self._blank: Kept[tuple[str, str], Stretch] = Kept(
            lambda key: self._shaper.shape(self._run(*key, rtl=True)), _BLANKS
        )
        self._alone: Kept[str, bool] = Kept(self._breaker.stands_alone, _CHUNKS)

    def read(self, text: str) -> Paragraph:
        """One paragraph (no mandatory break in it, and not empty).

        Raises RowRefused that names the characters which no face has.
        """
        if not self.rtl:
            pieces = self.pieces_of(text, closing=True)
            sums = list(accumulate(map(_width_of, pieces), initial=0.0))
            if sums[-1] != math.inf:
                return Paragraph(pieces, sums, False, False)
        levels = b""
        base = 0
        if self.rtl or has_rtl(text):
            levels, base = find_levels(text, self.rtl)
        chunks = self.chunks(text, levels) if levels else []
        if chunks and all(self.stands_alone(chunk) for chunk, _ in chunks):
            pieces = list(chain.from_iterable(map(self._mixed.__getitem__, chunks)))
        else:
            pieces = list(self._cut(text, levels))
        return Paragraph(pieces, list(accumulate(map(_width_of, pieces), initial=0.0)), any(levels), bool(base))

    def chunks(self, text: str, levels: bytes) -> list[tuple[str, bytes]]:
        """Words with the spaces after them, the first also with those before it, and the levels of each."""
        chunks = _split(text)
        ends = accumulate(map(len, chunks))
        return [(chunk, levels[end - len(chunk) : end]) for chunk, end in zip(chunks, ends, strict=True)]

    def stands_alone(self, chunk: str) -> bool:
        """Whether a chunk can be judged without its neighbours."""
        return self._alone[chunk]

    def pieces_at(self, chunk: tuple[str, bytes]) -> tuple[Piece, ...]:
        """Pieces of a chunk that stands alone, and has these levels."""
        return self._mixed[chunk]

    def pieces_alone(self, chunk: tuple[str, bytes]) -> tuple[Piece, ...] | None:
        """Pieces of a chunk that has these levels; None where it does not stand alone.  For whoever keeps them."""
        if plain_script(chunk[0]):
            return self._judge_mixed(chunk)
        return self._mixed[chunk] if self._alone[chunk[0]] else None

    def line(self, text: str) -> Spelled | None:
        """A text (not empty) in one line, where its letters can be spelled and read from left to right as a whole."""
        if self.rtl or text[0] == ISOLATE:
            text = isolated(text)
        return None if text == " " else self.spell(text)

    def column(self, text: str, most: int, room: float) -> tuple[Speller, str] | None:
        """What spells a text of at most `most` paragraphs that are each no wider than `room` as they stand, and read
        from left to right as a whole; with the text as it is spelled, line feeds between them.  None where one is
        wider, ends with a space, or has letters that another face, script or HarfBuzz has a say in."""
        text = text.rstrip("\n")
        lines = text.split("\n")
        if len(lines) > most:
            return None
        if self.rtl:
            lines = [isolated(line) for line in lines]
            text = "\n".join(lines)
        found: Speller | None = None
        latin = self.latin
        try:
            for line in lines:
                if not line:
                    continue
                if latin is not None and (self.latin_only or has_plain_letters(line)):
                    speller: Speller | None = latin
                    width = latin.measured(line)
                else:
                    speller, width = self._spelt(line)
                if width > room or line[-1] == " " or (speller is not found and found is not None):
                    return None
                found = speller
        except LookupError:
            return None
        return None if found is None else (found, text)

    def column_alike(self, text: str, most: int, room: float) -> bool:
        """Whether `column` takes this text, and every other that differs from it in its figures (0 to 9) alone."""
        found = self.column(text, most, room) if text.isascii() or self._language.script == "Latn" else None
        if found is None:
            return False
        speller, spelled = found
        try:
            return all(speller.broadest(line) <= room for line in spelled.split("\n") if line)
        except LookupError:
            return False

    def assumed(self, text: str) -> tuple[Speller, str] | None:
        """What `column` gave for a text that it took for one."""
        text = text.rstrip("\n")
        if self.rtl:
            text = text.replace(ISOLATE, "").replace(POP, "")
        speller = self.latin
        first = text.lstrip("\n")[:1]
        # No other script's speller has ASCII's letters.
        if speller is None or not (self.latin_only or (first.isascii() and first.isalpha())):
            speller, _ = self._spelt(text.lstrip("\n").partition("\n")[0])
        return None if speller is None else (speller, text)

    @cached_property
    def latin(self) -> Speller | None:
        """What spells Latin letters."""
        return self._speller("Latn")

    def _spelt(self, line: str) -> tuple[Speller | None, float]:
        """What spells a line that shows one script or none, and its width; None where all of it cannot be spelled."""
        scripts: tuple[str, ...] = (self._language.script, "Latn")
        if self.latin_only or has_plain_letters(line):
            scripts = _LATIN
        elif line.isascii():
            scripts = _NONE
        for script in scripts:
            speller = self._spellers[script] if script in self._spellers else self._speller(script)
            if speller is not None:
                try:
                    return speller, speller.measured(line)
                except LookupError:
                    pass
        return None, math.inf

    def spell(self, text: str) -> Spelled | None:
        """A text that shows one script or none, and reads from left to right, where all of it can be spelled."""
        speller, width = self._spelt(text)
        return None if speller is None else Spelled(speller, text, width)

    def pieces_of(self, text: str, *, closing: bool) -> list[Piece]:
        """Pieces of words as they stand in a paragraph from left to right: each with a space after it, but the last of
        a `closing` text.  A piece of infinite width stands for what the whole paragraph decides."""
        if not closing:
            return [*self.spaced(text)]
        words = text.split(" ")
        last = words.pop()
        pieces = list(chain.from_iterable(map(self._level.__getitem__, words)))
        pieces += self._last[last]
        return pieces

    def spaced(self, text: str) -> Sequence[Piece]:
        """`pieces_of` a text that is not closing."""
        if " " not in text:
            return self._level[text]
        return [*chain.from_iterable(map(self._level.__getitem__, text.split(" ")))]

    def spelled(self, text: str) -> tuple[Spelled, ...] | None:
        """The stretches of `spaced`, where all of them are spelled."""
        return self._spelled[text]

    def _spell_words(self, text: str) -> tuple[Spelled, ...] | None:
        if text.isascii() and text.isalnum():
            # Most are plain at first sight: no piece is made, for these do not end lines.
            speller = self._speller("Zyyy" if text.isdigit() else "Latn")
            spelled = None if speller is None else speller.spell(f"{text} ")
            if spelled is not None:
                return (spelled,)
        found: list[Spelled] = []
        for piece in self.spaced(text):
            if piece.width == math.inf:
                return None
            for stretch in piece.glyphs:
                if not isinstance(stretch, Spelled):
                    return None
                found.append(stretch)
        return tuple(found)

    def reach(self, text: str, *, closely: bool) -> float | None:
        """No less than the width of a text set by itself, which ends with a space, and little more `closely`; None
        where a break before or after it depends on its neighbours.  Raises RowRefused."""
        if text[0].isalnum() and (text[-2].isalnum() or text[-2] in _STOPS):
            speller = self.latin if text.isascii() else self._speller(self._language.script)
            reach = None if speller is None else speller.reach(text, closely=closely)
            if reach is not None:
                return reach
        return self._reach[text] if text[0] != " " and all(map(self.stands_alone, _split(text))) else None

    def measure(self, text: str) -> float:
        """The last of `read(text).sums` without making pieces of words that may never come again; infinite where that
        takes a look at the whole paragraph.  Raises RowRefused."""
        if self.rtl:
            return math.inf
        words = text.split(" ")
        last = words.pop()
        width = 0.0
        for word in words:
            width = self._widen(width, word, f"{word} ", self._level)
        return self._widen(width, last, last, self._last) if last else width

    def _widen(self, width: float, word: str, chunk: str, kept: Kept[str, tuple[Piece, ...]]) -> float:
        """A width with that of a word, which is `chunk` as it stands in the text, added piece by piece."""
        if word not in kept and (script := plain_script(chunk)):
            speller = self._speller(script)
            spelled = None if speller is None else speller.spell(chunk)
            if spelled is not None:
                return width + spelled.width
        for piece in kept[word]:
            width += piece.width
        return width

    def _speller(self, script: str) -> Speller | None:
        """What spells a script's letters in the asked face; None where another face sets that script."""
        try:
            return self._spellers[script]
        except KeyError:
            pass
        speller = None
        # Text without a letter stays in the asked face.
        if script == "Zyyy" or self._chooser.order(script)[0] == self._face.key:
            speller = self._shaper.speller(self._face.key, self._written(script), self._language.tag)
        self._spellers[script] = speller
        return speller

    def refusals(self, text: str) -> list[str]:
        """Every reason why no face can show the text, each once."""
        reasons: list[str] = []
        for chunk in _split(text):
            try:
                self._chooser.itemize(chunk, self._language.script)
            except RowRefused as refused:
                reasons += refused.reasons
        return list(dict.fromkeys(reasons))

    def _judge_spaced(self, word: str) -> tuple[Piece, ...]:
        """Pieces of a word with one space after it; no word is one more space, which belongs to the word before."""
        if word.isascii() and word.isalnum():
            # Most words are plain at first sight.
            speller = self._speller("Zyyy") if word.isdigit() else self.latin
            spelled = None if speller is None else speller.spell(f"{word} ")
            if speller is not None and spelled is not None:
                return (Word(spelled, speller, ()),)
        return self._judge_level(f"{word} ") if word else UNJUDGED

    def _judge_level(self, chunk: str) -> tuple[Piece, ...]:
        """Pieces of a chunk whose levels are all 0."""
        piece = self._judge_plain(chunk, 0)
        if piece is not None:
            return (piece,)
        if not chunk:
            return ()
        if has_rtl(chunk) or not self._breaker.stands_alone(chunk):
            return UNJUDGED
        return self._cut(chunk, b"")

    def _judge_plain(self, chunk: str, level: int) -> Piece | None:
        """The piece that a plain chunk is, of one level from left to right; None when it is not plain."""
        script = plain_script(chunk)
        if not script:
            return None
        speller = self._speller(script)
        if speller is None:
            return None
        spelled = speller.spell(chunk)
        if spelled is not None:
            return Word(spelled, speller, (level,) if level else ())
        if not self._face.covers(chunk):
            return None
        return Piece(chunk, ((self._run(chunk, script), level),), self._shaper)

    def _judge_mixed(self, key: tuple[str, bytes]) -> tuple[Piece, ...]:
        chunk, levels = key
        level = levels[0]
        even = levels.count(level)
        if not level % 2 and even == len(levels):
            piece = self._judge_plain(chunk, level)
            if piece is not None:
                return (piece,)
        elif level == 2 and levels == b"\2" * even + b"\1" * (len(levels) - even) and not chunk[even:].strip(" "):
            # A word from left to right, and the space after it that belongs to the text from right to left.
            script = plain_script(chunk)
            speller = self._speller(script) if script else None
            spelled = None if speller is None else speller.spell(chunk[:even])
            if speller is not None and spelled is not None and self._face.has(" "):
                return (Embedded(spelled, speller, chunk, self._blank[chunk[even:], script]),)
            if speller is not None and self._face.covers(chunk):
                word, space = self._run(chunk[:even], script), self._run(chunk[even:], script, rtl=True)
                return (Piece(chunk, ((word, 2), (space, 1)), self._shaper),)
        return self._cut(chunk, levels)

    def _run(self, text: str, script: str, *, rtl: bool = False) -> Run:
        """Text of one script in the asked face; of Zyyy, in the language's."""
        return Run(text, self._face.key, rtl, self._written(script), self._language.tag)

    def _written(self, script: str) -> str:
        return self._language.script if script == "Zyyy" else script

    def _make_piece(self, key: tuple[str, Runs]) -> Piece:
        return Piece(*key, self._shaper)

    def _cut(self, text: str, levels: bytes) -> tuple[Piece, ...]:
        """Pieces of a text, each cut into runs of one level, script and face; `levels` is empty when all are 0."""
        # Scripts are resolved chunk by chunk here too, so that it does not matter whether a chunk was judged alone.
        items: list[Item] = []
        for chunk in _split(text):
            at = items[-1].stop if items else 0
            for start, stop, script, face in self._chooser.itemize(chunk, self._language.script):
                items.append(Item(at + start, at + stop, script, face))
        ends = self._breaker.usable(text)
        turns = [at for at in range(1, len(levels)) if levels[at] != levels[at - 1]]
        last_of_piece = frozenset(ends)
        pieces: list[Piece] = []
        runs: list[tuple[Run, int]] = []
        tag = self._language.tag
        first = left = 0
        rest = iter(items)
        item = next(rest)
        for right in sorted({*ends, *turns, *(item.stop for item in items)}):
            while item.stop <= left:
                item = next(rest)
            level = levels[left] if levels else 0
            run = Run(text[left:right], item.face, bool(level % 2), item.script, tag)
            runs.append((run, level))
            left = right
            if right in last_of_piece:
                pieces.append(self._pieces[(text[first:right], tuple(runs))])
                runs = []
                first = right
        return tuple(pieces)
