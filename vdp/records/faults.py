"""How a fault in a recipient list is placed and how many are told at once.

Lives here: `place` (file, row, column in words), `quote` (a value fit for a message), `Faults` (a bounded
collection).  Not here: finding the faults (`delimited`, `workbook`, `table`, `rules`).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from vdp.errors import CallerError, Fault

TOLD = 20
"""At most so many faults of one list are spelt out; the rest are counted."""


def place(shown: str, row: int | None = None, column: str | None = None) -> str:
    """``list.csv, row 7, column name``: the parts that are known, in words."""
    parts = [shown]
    if row is not None:
        parts.append(f"row {row}")
    if column is not None:
        parts.append(f"column {quote(column)}")
    return ", ".join(parts)


def quote(value: str, most: int = 40) -> str:
    """A value as a message may carry it: one line, nothing invisible, at most `most` characters of it."""
    short = value if len(value) <= most else value[:most] + "…"
    return "'" + "".join(char if char.isprintable() else f"<U+{ord(char):04X}>" for char in short) + "'"


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """``did you mean 'name'?`` or nothing; case is ignored in looking for it."""
    folded = {choice.casefold(): choice for choice in choices}
    close = difflib.get_close_matches(word.casefold(), folded, n=1)
    return f"did you mean {quote(folded[close[0]])}?" if close else ""


class Faults:
    """Faults in the order found; the first `TOLD` are kept, the others only counted.  `notes` are warnings."""

    def __init__(self) -> None:
        self._kept: list[Fault] = []
        self._untold = 0
        self.notes: list[str] = []

    def __bool__(self) -> bool:
        return bool(self._kept)

    def add(self, where: str, message: str, mend: str = "") -> None:
        self.add_all([Fault(where, message, mend)])

    def add_all(self, faults: Iterable[Fault]) -> None:
        for fault in faults:
            if len(self._kept) < TOLD:
                self._kept.append(fault)
            else:
                self._untold += 1

    def raise_any(self, shown: str) -> None:
        """Raise CallerError with every fault kept, if there is any."""
        if self._untold:
            raise CallerError([*self._kept, Fault(shown, f"and {self._untold:,} more faults")])
        if self._kept:
            raise CallerError(self._kept)
