"""Numbers that the records bring along: each judged on its own, then all of them against the stated range.

Not here: numbers that a run counts out itself (`ledger`), the form of a number (`series`).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from vdp.errors import CallerError
from vdp.numbering.series import Series


class ColumnNumbers:
    """Judges a column of serials in the order of the records; `column` is its header.  Remembers every number."""

    def __init__(self, series: Series, column: str) -> None:
        self._series, self._column = series, column
        self._rows: dict[int, int] = {}
        self._refused: set[int] = set()
        self._last = -1

    def judge(self, row: int, text: str, prefix: str | None = None, suffix: str | None = None) -> list[str]:
        """Reasons to refuse a record: form, range, check characters, authenticity code, a number seen before."""
        try:
            index = self._series.parse(text, prefix, suffix)
        except CallerError as error:
            return [f"{self._column}: {fault.message}" for fault in error.faults]
        if index in self._rows:
            return [f"{self._column}: '{text}' has the number of row {self._rows[index]}"]
        self._rows[index], self._last = row, index
        return []

    def refuse(self) -> None:
        """The record of the number accepted last is set aside after all: the number stays taken, and is not claimed."""
        self._refused.add(self._last)

    @property
    def indexes(self) -> tuple[int, ...]:
        """The 0-based index of each number accepted, in the order of the records."""
        return tuple(index for index in self._rows if index not in self._refused)

    def gaps(self) -> Iterator[tuple[int, int]]:
        """First and last number of each stretch of the stated range (`start` … `last`) that no record has.

        Nothing where the series states no last number: what is missing cannot be told then.
        """
        if self._series.last is None or self._series.shuffled:
            return
        before = -1
        for index in chain(sorted(self.indexes), [self._series.capacity]):
            if index > before + 1:
                yield self._series.number(before + 1), self._series.number(index - 1)
            before = index
