"""Letters → hexadecimal glyph ids with the adjustments between them, many texts at a time (ISO 32000-1, 9.4.3).

Lives here: fragments of letters that have each their own glyph.  Not here: shaped glyphs (`shaped`), operators.
What stands for a letter depends on the letter behind it and on nothing else, so that a text is looked up pair by pair.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from operator import add
from typing import Any

import numpy as np
import numpy.typing as npt

from vdp.marks import Letters
from vdp.pdf.shaped import adjustment

#: From a line to the next of a column (ISO 32000-1, table 108).
_NEXT = ">]TJ T*[<"

#: Behind each of the texts that are looked up together; no face has a letter for it.
_END = "\0"

#: Characters from which looking up all at once is quicker.
_MANY = 400

#: Letters that are numbered at first, and at most.  Alphabets are smaller.
_FEWEST, _MOST = 128, 1024

#: Rows that are numbered: what differs is few, as kerning has few amounts.
_ROWS = 0x10000

_Numbers = npt.NDArray[np.integer[Any]]


class Coder:
    """Looks up texts.  `note` is told face, glyph id and letter of each letter met."""

    def __init__(self, note: Callable[[str, int, str], None]) -> None:
        self._note = note
        self._codes: dict[Letters, _Codes] = {}
        self._rows = _Rows()

    def fill(self, texts: Mapping[Letters, dict[str, str]]) -> None:
        """Sets the fragment of each text, none of them empty."""
        together: list[tuple[dict[str, str], _Numbers]] = []
        many = sum([len(text) for coded in texts.values() for text in coded]) >= _MANY
        for letters, coded in texts.items():
            codes = self._codes.get(letters)
            if codes is None:
                codes = self._codes[letters] = _Codes(letters, self._note, self._rows)
            rows = codes.rows(f"{_END.join(coded)}{_END}") if many else None
            if rows is None:
                coded.update({text: codes.of(text) for text in coded})
            else:
                together.append((coded, rows))
        if together:
            found = iter(self._rows.join([rows for _, rows in together]).split("\n"))
            for coded, _ in together:
                # Their own texts come first: nothing is taken behind the last of them.
                coded.update(zip(list(coded), found, strict=False))


class _Rows:
    """Fragments of all letters in rows, filled up to one length with zero bytes, which are dropped in the end: so numpy
    can take any number of them at once."""

    def __init__(self) -> None:
        #: No pair has the first.
        self._known: dict[str | None, int] = {None: 0}
        self._padded: npt.NDArray[np.bytes_] = np.zeros(1024, "S16")

    def row_of(self, fragment: str) -> int:
        """A fragment's row, 0 where there are too many."""
        row = self._known.get(fragment)
        if row is None:
            row = self._add(fragment) if len(self._known) < _ROWS else 0
        return row

    def _add(self, fragment: str) -> int:
        row = self._known[fragment] = len(self._known)
        if len(fragment) > self._padded.itemsize:
            self._padded = self._padded.astype(f"S{2 * len(fragment)}")
        if row == len(self._padded):
            self._padded = np.concatenate([self._padded, np.zeros_like(self._padded)])
        self._padded[row] = fragment.encode("ascii")
        return row

    def join(self, rows: list[_Numbers]) -> str:
        return self._padded.take(np.concatenate(rows)).tobytes().translate(None, b"\0").decode("ascii")


class _Codes(dict[str, str]):
    """Fragments of one letter before another, and of one letter at the end of its text; bounded by the letters there
    are."""

    def __init__(self, letters: Letters, note: Callable[[str, int, str], None], rows: _Rows) -> None:
        super().__init__()
        self._letters = letters
        self._note = note
        self._noted: set[str] = set()
        self._every = rows
        #: Characters by number, numbers by character, the row of each pair of numbers; 0 stands for what is not known
        #: yet, and so does the last number, where characters beyond it are sent.
        self._chars = [""]
        self._numbers = np.zeros(1, np.intp)
        self._pairs = np.zeros((_FEWEST, _FEWEST), np.uint16)

    def of(self, text: str) -> str:
        """The fragment of one text."""
        return f"{''.join(map(self.__getitem__, map(add, text, text[1:])))}{self[text[-1]]}"

    def __missing__(self, pair: str) -> str:
        text = self[pair] = self._work_out(pair)
        return text

    def _work_out(self, pair: str) -> str:
        letter, after = pair[0], pair[1:]
        if after == _END:
            return f"{self[letter]}\n"
        if letter in (_END, "\n"):
            return _NEXT if pair == "\n\n" else ""
        if after == "\n":
            return self[letter] + _NEXT
        gid, advance, natural = self._letters.place(pair)
        if letter not in self._noted:
            self._noted.add(letter)
            self._note(self._letters.face, gid, letter)
        kern = "" if advance == natural else adjustment(natural - advance, 2)
        return f"{gid:04X}{kern}"

    def rows(self, whole: str) -> _Numbers | None:
        """The rows of texts with _END behind each, which stands for a line feed; None where there are too many
        letters or fragments."""
        points = np.frombuffer(whole.encode("utf-32-le"), "<u4")
        numbers = self._numbers.take(points, mode="clip")
        if not numbers.all():
            if not self._number(whole):
                return None
            numbers = self._numbers.take(points, mode="clip")
        pairs = numbers[:-1] * len(self._pairs)
        pairs += numbers[1:]
        rows = self._pairs.take(pairs)
        if not rows.all():
            self._learn({*pairs[rows == 0].tolist()})
            rows = self._pairs.take(pairs)
            if not rows.all():
                return None
        return rows

    def _number(self, whole: str) -> bool:
        """Gives all letters numbers; False where there are none left."""
        new = sorted({*whole}.difference(self._chars))
        if len(self._chars) + len(new) > _MOST:
            return False
        if new and ord(new[-1]) + 1 >= len(self._numbers):
            self._numbers = np.pad(self._numbers, (0, ord(new[-1]) + 2 - len(self._numbers)))
        self._numbers[list(map(ord, new))] = range(len(self._chars), len(self._chars) + len(new))
        self._chars += new
        while len(self._chars) > len(self._pairs):
            self._pairs = np.pad(self._pairs, (0, len(self._pairs)))
        return True

    def _learn(self, pairs: set[int]) -> None:
        """Gives rows to pairs that were not met before."""
        for pair in pairs:
            first, second = divmod(pair, len(self._pairs))
            self._pairs[first, second] = self._every.row_of(self[self._chars[first] + self._chars[second]])
