"""Where a delimited file that cannot be read is broken: row, column, line and a way out.

Lives here: the second, slow look at a file after the fast one stopped.  Not here: the fast one (`delimited`).
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Generator, Iterable, Iterator
from typing import TYPE_CHECKING

import charset_normalizer

from vdp.errors import Fault
from vdp.records.faults import place, quote

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

FIELD_LIMIT = 1_000_000
"""Characters a field may have: far above anything printed, low enough that an unclosed quote is caught early."""
LINE_LIMIT = 8_000_000
"""A line has fewer characters than this, so that a file without line ends cannot fill the memory."""

_PIECE = 65_536


class NulSeen(Exception):
    """A U+0000 was read."""


class LineTooLong(Exception):
    """A line has `LINE_LIMIT` characters or more."""


def undecodable(handle: io.BufferedReader, shown: str, encoding: str, delimiter: str, reason: str) -> Fault:
    """The fault for bytes that are not text in `encoding`: byte offset, row, column, and a guess as a hint."""
    offset = _first_bad_byte(handle, encoding)
    handle.seek(0)
    before = io.TextIOWrapper(io.BufferedReader(_Beginning(handle, offset)), encoding, errors="ignore", newline="")
    row, column = _place_after(before, delimiter)
    handle.seek(offset)
    byte = handle.read(1)
    name = encoding.removesuffix("-sig")
    mend = "save the list as UTF-8, or name its encoding in the job's records.encoding"
    if guess := _guess(handle, offset):
        mend += f"; a guess to be checked by eye: {guess}"
    message = f"the list is not {name}: the byte {byte.hex().upper()} hex at offset {offset:,} ({reason})"
    return Fault(place(shown, row, column), message, mend)


def nul(handle: io.BufferedReader, shown: str, encoding: str, delimiter: str) -> Fault:
    """The fault for a U+0000 inside the text: row and column, and what it usually means."""
    row, column = _place_after(_lines_until_nul(handle, encoding), delimiter)
    handle.seek(0)
    head = handle.read(4096)
    mend = "save the list again as text, without NUL bytes"
    for start, order in ((1, "utf-16-le"), (0, "utf-16-be")):
        if head[start::2].count(0) * 3 > len(head[start::2]) * 2:
            mend = f"it looks like UTF-16 without a byte order mark: set the job's records.encoding to {order}"
    return Fault(place(shown, row, column), "the list holds a NUL (U+0000), which is no text", mend)


def unsplittable(handle: io.BufferedReader, shown: str, encoding: str, delimiter: str) -> Fault:
    """The fault for a record that cannot be split: quotes that do not match, a field or a line too long."""
    row, line = _broken_record(handle, encoding, delimiter)
    column, kind, further = _odd_field(_lines(handle, encoding, line), delimiter)
    line += further
    message, mend = {
        "open": (
            f"the quote opened here (line {line}) is never closed",
            'close it; a quote inside a quoted value is written twice ("")',
        ),
        "after": (
            f"in line {line} a closing quote is followed by more text",
            'write a quote inside a quoted value twice (""), or close the quote that was opened before it',
        ),
        "field": (
            f"a field has more than {FIELD_LIMIT:,} characters",
            "shorten it; if it should be short, a quote in it is not closed",
        ),
        "line": (
            f"line {line} has {LINE_LIMIT:,} characters or more",
            "check that the rows end in line breaks",
        ),
    }[kind]
    header = _header(handle, encoding, delimiter) if row > 1 else []
    return Fault(place(shown, row, _name(header, column)), message, mend)


class _Beginning(io.RawIOBase):
    """The first `left` bytes of a file, as a file."""

    def __init__(self, handle: io.BufferedReader, left: int) -> None:
        self._handle, self._left = handle, left

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer) -> int:
        view = memoryview(buffer)
        chunk = self._handle.read(min(len(view), self._left))
        self._left -= len(chunk)
        view[: len(chunk)] = chunk
        return len(chunk)


def _first_bad_byte(handle: io.BufferedReader, encoding: str) -> int:
    decoder = codecs.getincrementaldecoder(encoding)(errors="strict")
    handle.seek(0)
    done = 0
    while True:
        chunk = handle.read(_PIECE)
        done += len(chunk)
        try:
            decoder.decode(chunk, final=not chunk)
        except UnicodeDecodeError as error:
            # The codec counts from bytes it held back or after a mark it cut off: the ends are what agrees.
            return done - len(error.object) + error.start
        if not chunk:
            return done


def _guess(handle: io.BufferedReader, offset: int) -> str:
    """An encoding the bytes around `offset` may be in, and how they read in it; empty if nothing fits."""
    start = max(0, offset - 4096)
    handle.seek(start)
    around = handle.read(8192)
    best = charset_normalizer.from_bytes(around).best()
    if best is None or best.encoding in {"ascii", "utf_8"}:
        return ""
    at = offset - start
    close = around[max(0, at - 12, around.rfind(b"\n", 0, at) + 1) : at + 12].partition(b"\n")[0]
    reads = close.decode(best.encoding, errors="replace")
    # Guessers choose among encodings that agree on most letters; where the text agrees, the commonest is named.
    name = "cp1252" if close.decode("cp1252", errors="replace") == reads else best.encoding.replace("_", "-")
    return f"{name}, which reads {quote(reads)}"


def _lines_until_nul(handle: io.BufferedReader, encoding: str) -> Iterator[str]:
    for line in _lines(handle, encoding):
        before, found, _ = line.partition("\0")
        yield before
        if found:
            break


def _place_after(lines: Iterable[str], delimiter: str) -> tuple[int, str]:
    """Row number and column name of the character that follows the text `lines`."""
    row = 0
    header: list[str] = []
    fields: list[str] = []
    try:
        for fields in csv.reader(_one_letter_more(lines), delimiter=delimiter):
            row += 1
            header = header or fields
    except csv.Error:
        # A field over the limit comes before the fault: the row is known, the column is not.
        return row + 1, "1"
    return row, _name(header if row > 1 else [], len(fields) - 1)


def _one_letter_more(lines: Iterable[str]) -> Iterator[str]:
    """The same text with a letter after it, which keeps its last row and field open even if they are empty."""
    last = ""
    for line in lines:
        if last:
            yield last
        last = line
    if last.endswith(("\n", "\r")):
        yield last
        last = ""
    yield last + "x"


def _lines(handle: io.BufferedReader, encoding: str, first: int = 1) -> Generator[str]:
    """The lines from number `first` (1-based) on; an overlong one in pieces of `LINE_LIMIT`."""
    handle.seek(0)
    text = io.TextIOWrapper(handle, encoding=encoding, errors="replace", newline="")
    number = 0
    try:
        while line := text.readline(LINE_LIMIT):
            number += 1
            if number >= first:
                yield line
    finally:
        text.detach()


def _whole(lines: Iterable[str]) -> Iterator[str]:
    for line in lines:
        if len(line) == LINE_LIMIT:
            raise LineTooLong
        yield line


def _broken_record(handle: io.BufferedReader, encoding: str, delimiter: str) -> tuple[int, int]:
    """Row number and first line number of the record at which splitting stops."""
    lines = _lines(handle, encoding)
    reader = csv.reader(_whole(lines), delimiter=delimiter, strict=True)
    row, line = 0, 0
    try:
        for _ in reader:
            row, line = row + 1, reader.line_num
    except (csv.Error, LineTooLong):
        pass
    finally:
        lines.close()
    return row + 1, line + 1


def _odd_field(lines: Generator[str], delimiter: str) -> tuple[int, str, int]:
    """Walk one record by character: (field number from 0, what is odd, lines after the record's first)."""
    field, length, state, opened = 0, 0, "start", 0
    try:
        for number, line in enumerate(lines):
            for char in line:
                if state == "quoted":
                    state, length = ("closing", length) if char == '"' else ("quoted", length + 1)
                elif state == "closing" and char == '"':
                    state, length = "quoted", length + 1
                elif char == delimiter:
                    field, length, state = field + 1, 0, "start"
                elif state == "closing":
                    return field, "after", number
                elif state == "start" and char == '"':
                    state, opened = "quoted", number
                else:
                    state, length = "plain", length + 1
                if length > FIELD_LIMIT:
                    return field, "field", number
            if len(line) == LINE_LIMIT:
                return field, "line", number
    finally:
        lines.close()
    return field, "open", opened


def _header(handle: io.BufferedReader, encoding: str, delimiter: str) -> list[str]:
    lines = _lines(handle, encoding)
    try:
        return next(csv.reader(_whole(lines), delimiter=delimiter), [])
    except (csv.Error, LineTooLong):
        return []
    finally:
        lines.close()


def _name(header: list[str], column: int) -> str:
    return (header[column].strip() if column < len(header) else "") or str(column + 1)
