"""Text that is set again and again in one line: its words between the fields, known beforehand.

Lives here: the stretches of one repeat, where letters can be spelled.  Not here: how many repeats a line takes
(`vdp.pattern.microtext`), wordings that are broken into lines (`wording`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain

from vdp.marks import Stretch
from vdp.text.voice import Voice
from vdp.text.wording import woven

#: Stops that are neutral beside letters of either direction.
_STOPS = ".,:;!?"


class Endless:
    """Literals around fields, trimmed at both ends and followed by a space."""

    def __init__(self, voice: Voice, literals: Sequence[str], shape: Callable[[str], tuple[Stretch, ...]]) -> None:
        """`shape` sets a whole text in one line."""
        self._voice = voice
        self._literals = literals
        self._shape = shape
        #: Of each literal: what belongs to the value before it, words of its own, what belongs to the value after it.
        self._parts: list[tuple[str, tuple[Stretch, ...], str]] = []
        trimmed = [*literals[:-1], literals[-1].rstrip(" ")]
        trimmed[0] = trimmed[0].lstrip(" ")
        #: From right to left the stops and the space at the end stand at the left (UAX #9, N2, L1), and only words that
        #: begin and end in letters or figures keep their order as a whole.
        self._left: tuple[Stretch, ...] = ()
        if voice.rtl:
            core = trimmed[-1].rstrip(_STOPS)
            ending = f"{trimmed[-1][len(core) :]} "
            trimmed[-1] = core
            self._left = tuple(
                chain.from_iterable([piece.glyphs for piece in voice.pieces_at((ending, b"\1" * len(ending)))])
            )
        self._usable = len(literals) > 1 and self._compile(trimmed)
        if self._usable:
            (_, words, tail), *self._others = self._parts
            self._begun = ((*self._left, *words), tail)

    def _spell(self, text: str) -> tuple[Stretch, ...] | None:
        spelled = self._voice.spell(text)
        return None if spelled is None else (spelled,)

    def _compile(self, literals: Sequence[str]) -> bool:
        last = len(literals) - 1
        if self._voice.rtl and not (literals[0][:1].isalpha() or not literals[0]):
            return False
        for nth, literal in enumerate(literals):
            head, space, rest = literal.partition(" ") if nth else ("", " ", literal)
            if not space and nth < last:
                return False
            words, gap, tail = rest.rpartition(" ")
            words += gap
            if nth == last and space:
                words, tail = rest + ("" if self._voice.rtl else " "), ""
                if self._voice.rtl and not rest[-1:].isalnum():
                    return False
            elif nth == last and self._voice.rtl:
                return False
            stretches = self._spell(words) if words else ()
            if stretches is None:
                return False
            self._parts.append((head, stretches, tail))
        return True

    def glyphs(self, values: Sequence[str]) -> tuple[Stretch, ...]:
        """Stretches from left to right of one repeat for a record.  Raises RowRefused for a character that no face
        has."""
        found = self._spelled(values) if self._usable else None
        return self._shape(f"{woven(self._literals, values).strip()} ") if found is None else found

    def _spelled(self, values: Sequence[str]) -> tuple[Stretch, ...] | None:
        """Stretches from left to right of one repeat for a record; None where the whole text has to be looked at."""
        found, tail = self._begun
        if self._left and not found[len(self._left) :] and not (tail + values[0])[:1].isalpha():
            return None
        for value, (head, words, tail_after) in zip(values, self._others, strict=True):
            if not value or value[0] == " " or value[-1] == " ":
                return None
            own = self._voice.spelled(f"{tail}{value}{head}")
            if own is None:
                return None
            found += own
            found += words
            tail = tail_after
        return found
