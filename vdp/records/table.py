"""A recipient list as rows of text, read as often as wanted and never held in memory.

Lives here: opening a list, judging its header and its shape, and the rows, always text, in Unicode NFC.
Not here: splitting the bytes (`delimited`, `workbook`), the job's rules about fields (`rules`).
"""

from __future__ import annotations

import hashlib
import io
import os
import re
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple
from unicodedata import is_normalized, normalize

from vdp.errors import CallerError
from vdp.records.delimited import Delimited, open_delimited
from vdp.records.faults import Faults, did_you_mean, place, quote
from vdp.records.spec import Records
from vdp.records.workbook import Workbook, open_workbook

COLUMN_LIMIT = 500
"""Columns a list may have."""

UNPRINTABLE = re.compile(
    "[\0-\x09\x0b-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\ufdd0-\ufdef\ufeff\ufffd"
    + "".join(chr(plane << 16 | last) for plane in range(17) for last in (0xFFFE, 0xFFFF))
    + "]"
)
"""Never set: C0 and C1 controls but the line feed, surrogates, bidi embeddings and overrides (which could print a name
backwards), noncharacters, the byte order mark, U+FFFD."""

#: Bytes of a delimited list whose rows may all be held at once; in memory they take some eight times as many.
FEW = 2 << 20

_Source = Delimited | Workbook
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


class Row(NamedTuple):
    """One record.  `row` is its number in the list, the header being 1; `values` are NFC, `raw` is verbatim."""

    row: int
    values: dict[str, str]
    raw: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A list that was read once from end to end and found well-formed.

    `encoding` and `delimiter` are empty for a workbook.  `count` is the number of records.  `sha256` is of the file.
    `warnings` are whole sentences about the list as such.
    """

    path: Path
    shown: str
    header: tuple[str, ...]
    count: int
    sha256: str
    warnings: tuple[str, ...]
    source: _Source = field(repr=False)
    #: Whether whoever reads the rows more than once may keep them.
    few: bool = False

    @property
    def encoding(self) -> str:
        return self.source.encoding.removesuffix("-sig")

    @property
    def delimiter(self) -> str:
        return self.source.delimiter

    def rows(self) -> Iterator[Row]:
        """Every record in the list's own order.  Raises CallerError if the file is no longer what was opened."""
        header, width = self.header, len(self.header)
        with _opened(self.path, self.shown) as handle:
            if _digest(handle) != self.sha256:
                raise _changed(self.shown)
            before = os.fstat(handle.fileno())
            faults = Faults()
            # Closed first, so that the reading lets go of the handle however the caller stops.
            with closing(self.source.read(handle, faults, again=True)) as records:
                next(records)
                for number, raw in enumerate(records, 2):
                    if len(raw) != width:
                        # Only blank rows at the end passed `open_table`.
                        continue
                    joined = "".join(raw)
                    clean = raw if joined.isascii() and "\r" not in joined else _clean(raw, joined)
                    yield Row(number, dict(zip(header, clean, strict=True)), tuple(raw))
            after = os.fstat(handle.fileno())
            if faults or (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
                raise _changed(self.shown)


def open_table(path: Path, spec: Records, shown: str) -> Table:
    """Read a list from end to end and judge its shape; `shown` is how messages name it.

    Raises CallerError with every fault found (row and column): a file that is missing, empty or not a list; bytes
    that do not decode; a header that is empty, doubled or unprintable; rows of another width; cells that cannot
    be told; broken quoting.
    """
    with _opened(path, shown) as handle:
        head = handle.read(8)
        if not head:
            raise CallerError.one(shown, "the list is empty: it has no bytes", "save it again, with a header row")
        if head.startswith(_OLE):
            raise CallerError.one(shown, "the list is an old or encrypted workbook", "save it as XLSX without password")
        if path.suffix.lower() in {".xlsx", ".xlsm"} and not head.startswith(_ZIP):
            raise CallerError.one(shown, "the list is called a workbook but is none", "save it as XLSX or rename it")
        sha256 = _digest(handle)
        before = os.fstat(handle.fileno())
        source: _Source
        source = (open_workbook if head.startswith(_ZIP) else open_delimited)(handle, spec, shown)
        faults = Faults()
        header, count = _scan(source, handle, shown, faults)
        after = os.fstat(handle.fileno())
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            raise _changed(shown)
    few = isinstance(source, Delimited) and after.st_size <= FEW
    return Table(path, shown, header, count, sha256, tuple(faults.notes), source, few)


def _clean(raw: list[str], joined: str) -> list[str]:
    """Line ends as line feeds, and NFC.  The parts of a normalised text are normalised (UAX #15, 3)."""
    if "\r" in joined:
        raw = [text.replace("\r\n", "\n").replace("\r", "\n") for text in raw]
    return raw if is_normalized("NFC", joined) else [normalize("NFC", text) for text in raw]


def _scan(source: _Source, handle: io.BufferedReader, shown: str, faults: Faults) -> tuple[tuple[str, ...], int]:
    count, blank = 0, 0
    try:
        with closing(source.read(handle, faults)) as records:
            first = next(records, None)
            if first is None:
                raise CallerError.one(shown, "the list is empty", "save it again, with a header row")
            header = _judge_header(first, shown)
            for number, raw in enumerate(records, 2):
                if blank and raw:
                    faults.add(place(shown, blank), "the row is blank, but rows follow it", "delete the blank row")
                    blank = 0
                if len(raw) == len(header):
                    count += 1
                elif raw:
                    _add_ragged(faults, source, header, number, raw)
                else:
                    blank = blank or number
    except CallerError as error:
        faults.add_all(error.faults)
    faults.raise_any(shown)
    if not count:
        raise CallerError.one(shown, "the list has a header but no records", "add records below the header")
    return header, count


def _add_ragged(faults: Faults, source: _Source, header: tuple[str, ...], number: int, raw: list[str]) -> None:
    width = len(header)
    if isinstance(source, Workbook):
        where = place(source.shown, number, str(width + 1))
        faults.add(where, f"the row has {len(raw)} cells, the header {width}", "give the column a header or clear it")
        return
    where = place(source.shown, number, header[len(raw)] if len(raw) < width else str(width + 1))
    fields = "field" if len(raw) == 1 else "fields"
    mend = f"a value that holds {quote(source.delimiter)} or a line break stands in double quotes"
    faults.add(where, f"the row has {len(raw)} {fields}, the header {width}", mend)


def _judge_header(raw: list[str], shown: str) -> tuple[str, ...]:
    """The names of the columns, trimmed and in NFC.  Raises CallerError."""
    if not any(raw):
        raise CallerError.one(place(shown, 1), "the list begins with a blank row", "put the header into the first row")
    if len(raw) > COLUMN_LIMIT:
        message = f"the list has {len(raw):,} columns, more than the {COLUMN_LIMIT} that are read"
        raise CallerError.one(place(shown, 1), message, "keep the columns that the job uses")
    faults = Faults()
    first: dict[str, int] = {}
    names = [name.strip() for name in _clean(raw, "".join(raw))]
    for column, name in enumerate(names, 1):
        where = place(shown, 1, str(column))
        if not name:
            faults.add(where, "the column has no header", "name it, or delete the column")
        elif found := UNPRINTABLE.search(name):
            faults.add(where, f"the header {quote(name)} holds U+{ord(found[0]):04X}", "type the name again")
        elif name in first:
            faults.add(where, f"the header {quote(name)} is also that of column {first[name]}", "rename one of them")
        first.setdefault(name, column)
    faults.raise_any(shown)
    return tuple(names)


@contextmanager
def _opened(path: Path, shown: str) -> Iterator[io.BufferedReader]:
    if path.is_fifo():
        # Opening it would wait for whoever writes, and what was read once is gone.
        raise CallerError.one(shown, "the list is a pipe, and a list is read more than once", "save it as a file")
    try:
        handle = path.open("rb")
    except FileNotFoundError:
        siblings = [other.name for other in path.parent.iterdir()] if path.parent.is_dir() else []
        mend = did_you_mean(path.name, siblings) or "check the job's records.file, or name the list with --records"
        raise CallerError.one(shown, "there is no such file", mend) from None
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise CallerError.one(shown, f"the list cannot be opened: {why}", "name a file that can be read") from error
    with handle:
        yield handle


def _digest(handle: io.BufferedReader) -> str:
    handle.seek(0)
    return hashlib.file_digest(handle, "sha256").hexdigest()


def _changed(shown: str) -> CallerError:
    message = "the list was changed while the job was at work"
    return CallerError.one(shown, message, "start again with the list as it is now")
