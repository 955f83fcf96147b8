"""What a line is made of: text that is never divided, shaped or spelled.

Lives here: pieces with their glyphs.  Not here: how a paragraph becomes pieces (`voice`), which make a line (`rows`).
"""

from __future__ import annotations

import math

from vdp.marks import Spelled, Stretch
from vdp.text.breaks import BREAK_SPACES, SOFT_HYPHEN
from vdp.text.shape import Run, Shaper
from vdp.text.spell import Speller

_UNPRINTED = frozenset(BREAK_SPACES + SOFT_HYPHEN)

#: Runs of a piece with the level of each, in the order of the text.
Runs = tuple[tuple[Run, int], ...]


class Piece:
    """Text that is never divided, with the spaces after it.

    `glyphs` and `levels` (one each) are in the order of the text; `levels` is () when all are 0.  `width` is in
    thousandths of an em.
    """

    __slots__ = ("_ending", "_runs", "_shaper", "glyphs", "levels", "text", "width")

    def __init__(self, text: str, runs: Runs, shaper: Shaper) -> None:
        self.text = text
        self._runs = runs
        self._shaper = shaper
        self._ending: Piece | None = None
        self.glyphs: tuple[Stretch, ...]
        self.levels: tuple[int, ...] = ()
        if len(runs) == 1:
            run, level = runs[0]
            # Most pieces are a word of their own, and are kept themselves.
            only = shaper.shape_anew(run)
            self.glyphs = (only,) if only.gids else ()
            if level:
                self.levels = (level,) * len(self.glyphs)
            self.width = only.width
            return
        shaped = [(glyphs, level) for run, level in runs if (glyphs := shaper.shape(run)).gids]
        self.glyphs = tuple([glyphs for glyphs, _ in shaped])
        levels = tuple([level for _, level in shaped])
        if any(levels):
            self.levels = levels
        self.width = sum([glyphs.width for glyphs in self.glyphs])

    @property
    def ending(self) -> Piece:
        """The piece as it stands at the end of a line: no spaces after it, and a hyphen for a soft hyphen."""
        if self._ending is None:
            if self.text[-1:] not in _UNPRINTED:
                # Not kept: a piece that held itself would wait for the collector of cycles.
                return self
            self._ending = self._end()
        return self._ending

    def _end(self) -> Piece:
        text = self.text.rstrip(BREAK_SPACES)
        runs = list(self._runs)
        while runs:
            run, level = runs[-1]
            kept = run.text.rstrip(BREAK_SPACES)
            if kept:
                if kept.endswith(SOFT_HYPHEN):
                    kept = kept[:-1] + self._shaper.hyphen(run.face)
                runs[-1] = (run._replace(text=kept), level)
                break
            runs.pop()
        return Piece(text, tuple(runs), self._shaper)


class Word(Piece):
    """A piece that was spelled, of one level."""

    __slots__ = ("_speller",)

    def __init__(self, spelled: Spelled, speller: Speller, levels: tuple[int, ...]) -> None:
        self.text = spelled.text
        self.glyphs = (spelled,)
        self.levels = levels
        self.width = spelled.width
        self._speller = speller
        self._ending = None

    def _end(self) -> Piece:
        text = self.text.rstrip(" ")
        if len(self.text) - len(text) == 1 and text:
            return Word(self._speller.unspaced(text, self.width), self._speller, self.levels)
        spelled = self._speller.spell(text)
        return self if spelled is None else Word(spelled, self._speller, self.levels)


class Embedded(Piece):
    """A word spelled from left to right in text from right to left, which the spaces after it belong to."""

    __slots__ = ("_speller", "_word")

    def __init__(self, spelled: Spelled, speller: Speller, text: str, space: Stretch) -> None:
        self.text = text
        self.glyphs = (spelled, space)
        self.levels = (2, 1)
        self.width = spelled.width + space.width
        self._word = spelled
        self._speller = speller
        self._ending = None

    def _end(self) -> Piece:
        return Word(self._word, self._speller, (2,))


class _Unjudged(Piece):
    """Stands for a chunk that cannot be judged alone: its width shows in any sum."""

    __slots__ = ()

    def __init__(self) -> None:
        self.width = math.inf


UNJUDGED: tuple[Piece, ...] = (_Unjudged(),)
