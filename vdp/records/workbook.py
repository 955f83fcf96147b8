"""An XLSX sheet as records, one row at a time.

Lives here: the stream of rows and cells.  Not here: the package around it (`parts`), what a cell's text is
(`cells`), widths, headers and normalisation (`table`).
"""

from __future__ import annotations

import io
from collections.abc import Generator
from dataclasses import dataclass
from functools import lru_cache

from vdp.records.breakage import FIELD_LIMIT
from vdp.records.cells import CellRefused, iso_date, number, unescape
from vdp.records.faults import Faults, place
from vdp.records.parts import SHEET_LIMIT, Package
from vdp.records.spec import Records

ROW_LIMIT, CELL_LIMIT = 1_048_576, 16_384
"""Rows and columns of a sheet: the limits spreadsheet programs themselves have."""


@dataclass(frozen=True, slots=True)
class Workbook:
    """How one sheet is read.  The encoding and the delimiter of a workbook are empty."""

    shown: str
    sheet: str | None
    encoding: str = ""
    delimiter: str = ""

    def read(self, handle: io.BufferedReader, faults: Faults, *, again: bool = False) -> Generator[list[str]]:  # noqa: ARG002 - Delimited looks less closely then
        """Yield every row's texts, the header's first, a blank row as an empty list; short rows are filled up.

        Cells that cannot be told go to `faults` and come as empty; a damaged workbook raises CallerError.
        """
        package = Package(handle, self.shown)
        main, part, _, epoch_1904 = package.find_sheet(self.sheet)
        sheet = _Sheet(package, package.strings(main), package.formats(main), epoch_1904, faults)
        expected = 1
        for _ in package.parse(part, SHEET_LIMIT, sheet.start, sheet.end, sheet.text):
            for row, texts in sheet.take():
                # Rows without cells need not be in the file; and rows at the end may be only formatting.
                for _ in range(expected, row):
                    yield []
                expected = row + 1
                yield texts + [""] * (len(sheet.header) - len(texts)) if texts else []
        for merged in sheet.merged:
            faults.add(self.shown, f"the cells {merged} are merged: only the first holds the value", "unmerge them")
        if sheet.hidden:
            faults.notes.append(f"{self.shown}: {sheet.hidden:,} hidden rows are read like the others")
        if sheet.long_number:
            faults.notes.append(
                f"{sheet.long_number}: a number of more than 15 digits; spreadsheet programs make the last ones 0, "
                "so such numbers should be entered as text"
            )


def open_workbook(handle: io.BufferedReader, spec: Records, shown: str) -> Workbook:
    """Settle which sheet is read.  Raises CallerError."""
    _, _, name, _ = Package(handle, shown).find_sheet(spec.sheet)
    return Workbook(shown, name)


class _Sheet:
    """The handlers of the sheet's XML, and the rows finished since the last `take`."""

    def __init__(
        self, package: Package, strings: list[str], formats: list[str], epoch_1904: bool, faults: Faults
    ) -> None:
        self.merged: list[str] = []
        self.header: list[str] = []
        self.hidden = 0
        self.long_number = ""
        self._package, self._strings, self._formats = package, strings, formats
        self._epoch_1904, self._faults = epoch_1904, faults
        self._finished: list[tuple[int, list[str]]] = []
        self._row, self._texts = 0, [""]
        self._column, self._type, self._style = 0, "n", "0"
        self._on = self._phonetic = self._formula = False
        self._pieces: list[str] = []
        self._length = 0

    def take(self) -> list[tuple[int, list[str]]]:
        finished, self._finished = self._finished, []
        return finished

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "c":
            self._open_cell(attributes)
        elif name == "v":
            self._on = True
        elif name == "t":
            self._on = not self._phonetic
        elif name == "f":
            self._formula = True
        elif name == "rPh":
            self._phonetic = True
        elif name == "row":
            row = self._whole(attributes.get("r", str(self._row + 1)), ROW_LIMIT, "row")
            if row <= self._row:
                raise self._package.damaged(f"row {row} comes after row {self._row}")
            self._row, self._texts, self._column = row, [], 0
            self.hidden += attributes.get("hidden") in {"1", "true"}
        elif name == "mergeCell":
            self.merged.append(attributes.get("ref", ""))

    def end(self, name: str) -> None:
        if name == "c":
            self._close_cell()
        elif name in {"v", "t"}:
            self._on = False
        elif name == "rPh":
            self._phonetic = False
        elif name == "row":
            texts = self._texts
            while texts and not texts[-1]:
                texts.pop()
            self.header = self.header or texts
            self._finished.append((self._row, texts))

    def text(self, piece: str) -> None:
        if self._on and self._length <= FIELD_LIMIT:
            self._pieces.append(piece)
            self._length += len(piece)

    def _open_cell(self, attributes: dict[str, str]) -> None:
        reference = attributes.get("r")
        column = self._column + 1 if reference is None else _column(reference.rstrip("0123456789"))
        if not self._column < column <= CELL_LIMIT:
            raise self._package.damaged(f"in row {self._row} the cell {reference} is out of order")
        self._column = column
        self._type = attributes.get("t", "n")
        self._style = attributes.get("s", "0")
        self._formula = False
        self._pieces, self._length = [], 0

    def _close_cell(self) -> None:
        stored = "".join(self._pieces)
        texts = self._texts
        try:
            text = self._text_of(stored)
            if len(text) > FIELD_LIMIT:
                raise CellRefused(f"the cell has more than {FIELD_LIMIT:,} characters", "shorten it")  # noqa: TRY301 - one place turns refusals into faults
        except CellRefused as error:
            name = self.header[self._column - 1] if self._column <= len(self.header) else letters(self._column)
            self._faults.add(place(self._package.shown, self._row, name), error.message, error.mend)
            # The list is refused; the sign only keeps the row from looking blank.
            text = "?"
        if text:
            texts.extend([""] * (self._column - 1 - len(texts)))
            texts.append(text)

    def _text_of(self, stored: str) -> str:
        kind = self._type
        if kind == "s":
            return unescape(self._strings[self._whole(stored, len(self._strings) - 1, "shared string")])
        if kind in {"str", "inlineStr"}:
            return unescape(stored)
        if kind == "e":
            raise CellRefused(f"the cell holds the error {stored}", "correct its formula or enter the value")
        if not stored:
            if self._formula:
                raise CellRefused(
                    "the cell's formula has no stored result", "open the workbook in a spreadsheet program and save it"
                )
            return ""
        if kind == "b":
            return "TRUE" if stored.strip() in {"1", "true"} else "FALSE"
        code = self._formats[self._whole(self._style, len(self._formats) - 1, "style")]
        if kind == "d":
            return iso_date(stored.strip(), code)
        text = number(stored.strip(), code, self._epoch_1904)
        if len(text) > 15 and text.isdigit() and not self.long_number:
            self.long_number = place(self._package.shown, self._row, letters(self._column))
        return text

    def _whole(self, text: str, most: int, what: str) -> int:
        if not (text.isascii() and text.isdigit() and len(text) < 9 and int(text) <= most):
            raise self._package.damaged(f"in row {self._row} there is no {what} {text[:20]}")
        return int(text)


@lru_cache(maxsize=CELL_LIMIT)
def _column(name: str) -> int:
    """A column's number from its letters; 0, which no column has, for anything else."""
    total = 0
    for letter in name:
        total = total * 26 + ord(letter) - 64
    return total if name.isascii() and name.isalpha() and name.isupper() and len(name) < 4 else 0


def letters(column: int) -> str:
    """A column's letters from its number: 1 is A, 28 is AB."""
    text = ""
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text
