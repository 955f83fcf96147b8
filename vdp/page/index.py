"""Texts that are found by any part of them, whatever its case: all of them joined, and where each begins.

Lives here: the index.  Not here: what the texts are (`names`, `shelf`).  A hundred thousand names are searched in a few
milliseconds, and take about what they take in their file, twice.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator

#: Stands between texts; within one it is a space.
_BETWEEN = "\x1f"


class Index:
    """Of texts, each with a number: `find` gives numbers and texts in the order they came, a number once."""

    def __init__(self, entries: Iterable[tuple[int, str]]) -> None:
        self._numbers, self._begins, self._shown_from = array("Q"), array("Q"), array("Q")
        folded: list[str] = [""]
        shown: list[str] = [""]
        at = shown_at = 1
        for number, text in entries:
            clean = text.replace(_BETWEEN, " ")
            small = clean.casefold()
            self._numbers.append(number)
            self._begins.append(at)
            self._shown_from.append(shown_at)
            folded.append(small)
            shown.append(clean)
            at, shown_at = at + len(small) + 1, shown_at + len(clean) + 1
        self._folded, self._shown = (_BETWEEN.join((*texts, "")) for texts in (folded, shown))

    def __len__(self) -> int:
        return len(self._numbers)

    def find(self, text: str, most: int) -> Iterator[tuple[int, str]]:
        """Up to `most` whose text has this in it."""
        return self._held(text.casefold(), most)

    def whole(self, text: str, most: int) -> Iterator[tuple[int, str]]:
        """Up to `most` whose text is this."""
        return self._held(f"{_BETWEEN}{text.casefold()}{_BETWEEN}", most) if _BETWEEN not in text else iter(())

    def _held(self, sought: str, most: int) -> Iterator[tuple[int, str]]:
        if not sought.strip(_BETWEEN) or _BETWEEN in sought[1:-1]:
            return
        found: set[int] = set()
        at = self._folded.find(sought)
        while at >= 0 and len(found) < most:
            nth = bisect_right(self._begins, at + (sought[0] == _BETWEEN)) - 1
            number = self._numbers[nth]
            if number not in found:
                found.add(number)
                yield number, self._text(nth)
            after = self._begins[nth + 1] - 1 if nth + 1 < len(self) else len(self._folded)
            at = self._folded.find(sought, after)

    def _text(self, nth: int) -> str:
        begin = self._shown_from[nth]
        return self._shown[begin : self._shown.index(_BETWEEN, begin)]
