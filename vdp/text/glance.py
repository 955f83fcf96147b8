"""Whether a text surely is a column, told at first sight.

Lives here: patterns of texts whose lines can be spelled, and are so short that they fit whatever they say.  Not here:
how wide letters may be (`bounds`), looking at a text closely (`voice`).
"""

from __future__ import annotations

import re
from collections.abc import Collection

from vdp.text.bounds import Bounds
from vdp.text.isolates import ISOLATE, POP
from vdp.text.voice import Voice

_NONE = r"[^\s\S]"
_NEVER = re.compile(_NONE)

_unmarked = str.maketrans("", "", ISOLATE + POP)


class Glance:
    """Tells texts of at most `most` lines, each no wider than `room` in thousandths of an em, in one voice."""

    def __init__(self, voice: Voice, most: int, room: float) -> None:
        self._voice = voice
        self._most, self._room = most, room
        #: Columns whose lines all have few letters, and those that are columns where none is too wide; the latter is
        #: made when it is first asked for.
        self._short = _NEVER
        self._long: re.Pattern[str] | None = _NEVER
        #: Letters that the patterns know.
        self._known = 0

    def column(self, text: str) -> bool:
        """Whether a text is a column, as `Voice.column` has it."""
        latin = self._voice.latin
        if latin is None:
            return self._voice.column(text, self._most, self._room) is not None
        bounds = latin.bounds
        surely = self._short.fullmatch(text) or self._holds(text, bounds)
        if surely and (bounds.apart is None or not bounds.apart.search(text)):
            return True
        found = self._voice.column(text, self._most, self._room)
        if found is None:
            return False
        if found[0] is latin:
            bounds.wanted(text)
            if len(bounds.widest) != self._known:
                self._compile(bounds)
        return True

    def _holds(self, text: str, bounds: Bounds) -> bool:
        """Whether a text is a column, and no line too wide though each of its letters were as wide as it may be."""
        if self._long is None:
            self._long = self._pattern(bounds.widest, "+")
        if not self._long.fullmatch(text):
            return False
        if self._voice.rtl:
            text = text.translate(_unmarked)
        widest, room = bounds.widest.__getitem__, self._room
        return all(sum(map(widest, line)) <= room for line in text.split("\n"))

    def _compile(self, bounds: Bounds) -> None:
        self._known = len(bounds.widest)
        longest = int(self._room / max(bounds.widest.values(), default=1.0))
        if longest > 0 and self._most > 0:
            self._short, self._long = self._pattern(bounds.widest, f"{{1,{longest}}}"), None

    def _pattern(self, known: Collection[str], many: str) -> re.Pattern[str]:
        """Lines of so many letters, no space at their ends, the first not empty."""
        letters = [letter for letter in known if letter.isalpha()]
        figures = [letter for letter in known if letter.isalnum()]
        line = f"{_any_of(known)}{many}"
        if not self._voice.latin_only:
            # What shows no letter may be set as another script.
            line = f"(?={_any_of({*known} - {*letters})}*{_any_of(letters)}){line}"
        if self._voice.rtl:
            # What reads from left to right by itself, or is isolated.
            line = f"(?:(?={_any_of(letters)}){line}(?<={_any_of(figures)})|{ISOLATE}(?! ){line}(?<! ){POP})"
        else:
            line = f"{line}(?<! )"
        return re.compile(f"{line}(?:\n(?:{line})?){{0,{self._most - 1}}}")


def _any_of(letters: Collection[str]) -> str:
    """The pattern of any one of the letters; of none where there are none."""
    spans: list[list[str]] = []
    for letter in sorted(letters):
        if spans and ord(letter) == ord(spans[-1][-1]) + 1:
            spans[-1] = [spans[-1][0], letter]
        else:
            spans.append([letter])
    return f"[{''.join(['-'.join(map(re.escape, span)) for span in spans])}]" if spans else _NONE
