"""How wide letters may be at most, whatever stands beside them: sooner told than how wide they are.

Lives here: the widest advance of each letter among those met so far.  Not here: exact widths (`spell`), what is made of
a bound (`wording`, `glance`).

Nothing is known at first.  Where letters are asked for again and again, all that were met are tried beside one another
once: what a text comes to never depends on whether they were.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping

#: Texts with letters not known before letters are taken in: one by itself is soon measured.
_PATIENCE = 48

#: As in `spell`.
Ask = Callable[[str], tuple[list[int], list[int]] | None]


class Bounds:
    """`own` has the letters met so far, with their glyph ids and advances; `joined` are pairs of glyph ids that may not
    stand side by side.

    `widest` has the letters known, with the most that each may be wide in thousandths of an em; `apart` finds two of
    them that may not stand side by side.
    """

    def __init__(
        self,
        own: Mapping[str, tuple[int, float]],
        joined: Collection[tuple[int, int]],
        ask: Ask,
        scale: float,
    ) -> None:
        self._own = own
        self._joined = joined
        self._beside = {gid for pair in joined for gid in pair}
        self._ask = ask
        self._scale = scale
        self._left = _PATIENCE
        #: Letters that were tried, of which some are not as wide as they look, and what is no letter.
        self._tried = set("\n\u2066\u2069")
        self.widest: dict[str, float] = {}
        self._widest = self.widest.__getitem__
        self.apart: re.Pattern[str] | None = None

    def of(self, text: str) -> float | None:
        """No less than the width of a text that can be spelled; None where that is not known."""
        try:
            width = sum(map(self._widest, text))
        except KeyError:
            return None
        return None if self.apart is not None and self.apart.search(text) else width

    def wanted(self, text: str) -> None:
        """Tells that the bound of a text was not known, whose width was."""
        if self._tried.issuperset(text):
            return
        self._left -= 1
        if self._left:
            return
        self._left = _PATIENCE
        for letter in sorted(self._own.keys() - self._tried):
            self._take_in(letter)
        some = [letter for letter in self.widest if self._own[letter][0] in self._beside]
        pairs = [re.escape(one + other) for one in some for other in some if self._part(one, other)]
        self.apart = re.compile("|".join(pairs)) if pairs else None

    def _part(self, one: str, other: str) -> bool:
        return (self._own[one][0], self._own[other][0]) in self._joined

    def _take_in(self, letter: str) -> None:
        """Tries a letter before and after each one known, and itself."""
        self._tried.add(letter)
        others = [*self.widest, letter]
        if self._own[letter][0] in self._beside:
            others = [other for other in others if not self._part(letter, other) and not self._part(other, letter)]
        text = "".join([*[letter + other for other in others], letter])
        asked = self._ask(text)
        if asked is None or asked[0] != [self._own[char][0] for char in text]:
            return
        widest, scale = self.widest, self._scale
        # As it stands in front of others, and others in front of it.
        widest[letter] = max(self._own[letter][1], max(asked[1][::2]) * scale)
        for other, advance in zip(others, asked[1][1::2], strict=True):
            widest[other] = max(widest[other], advance * scale)
