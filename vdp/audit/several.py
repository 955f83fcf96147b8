"""Findings of one kind that may be very many: the first are told, the others are counted.

Not here: what is a finding.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from vdp.errors import Finding

#: Findings of a code that are told one by one, for each folder.
MOST_TOLD = 100


class Several:
    """Findings in the order they were met, at most `MOST_TOLD` of a code."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._told: list[Finding] = []
        self._counts: Counter[str] = Counter()

    def tell(self, code: str, where: str, message: str) -> None:
        self._counts[code] += 1
        if self._counts[code] <= MOST_TOLD:
            self._told.append(Finding(code, where, message))

    def all(self) -> Iterator[Finding]:
        """What was told, then how many more there were."""
        yield from self._told
        for code, count in self._counts.items():
            if count > MOST_TOLD:
                yield Finding(code, self._where, f"and {count - MOST_TOLD:,} more of these, {count:,} in all")
