"""pieces.pdf as it lies on the disk, opened to take its pages' contents out as they are, in any order.

Where a content stream lies follows from its number (`arithmetic`) and the file's own cross-reference stream, so that a
side costs one read and nothing is kept of it.  Every piece taken is held against its hash.
Not here: what is done with it (`sheets`), files made by anybody else (`art`).
"""

from __future__ import annotations

import hashlib
import os
import re
import zlib
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt
import pikepdf

from vdp.errors import CallerError
from vdp.pdf.arithmetic import PIECES_IN_GROUP, SIDES, Arithmetic

#: Bytes read with the head of an object: a stream's dictionary is shorter.
_HEAD = 128
#: A content stream as `body` writes it.
_STREAM = re.compile(rb"(\d+) 0 obj\n<</Length (\d+)/Filter/FlateDecode>>stream\n")
_TABLE = re.compile(rb"\d+ 0 obj\n(<<.*?>>)stream\n", re.DOTALL)

#: SHA-256 that a piece's content streams must have, front then back, by its 0-based index.
Hashes = Callable[[int], bytes]


class PieceFile:
    """An open pieces.pdf.  Raises CallerError when it is not, or no longer, what this program has written."""

    def __init__(self, path: Path, hashes: Hashes) -> None:
        self._path, self._hashes = path, hashes
        try:
            self.pdf = pikepdf.open(path, inherit_page_attributes=False)
            pages = self.pdf.Root.Pages
            self.pieces = int(pages.Count) // SIDES
            self.arithmetic = Arithmetic(self.pieces, pages.objgen[0] - Arithmetic(self.pieces, 0).root)
            self._file = path.open("rb", buffering=0)
            self._table = self._cross_references()
        except (OSError, pikepdf.PdfError, AttributeError, ValueError, zlib.error) as error:
            raise self._changed(str(error)) from error

    @property
    def resources(self) -> pikepdf.Object:
        """What every page names fonts, pictures, forms and plates by."""
        return self.pdf.Root.Pages.Resources

    @property
    def size(self) -> tuple[float, ...]:
        """The MediaBox of every page, in points."""
        return tuple(float(edge) for edge in self.pdf.Root.Pages.MediaBox.as_list())

    def piece(self, index: int) -> tuple[bytes, bytes]:
        """Front and back of the 0-based piece, compressed as they are in the file."""
        group, at = divmod(index, PIECES_IN_GROUP)
        first = self.arithmetic.contents(group)[SIDES * at]
        front, back = self._stream(first), self._stream(first + 1)
        try:
            digest = hashlib.sha256(zlib.decompress(front))
            digest.update(zlib.decompress(back))
        except zlib.error as error:
            raise self._changed(str(error)) from error
        if digest.digest() != self._hashes(index):
            raise self._changed(f"piece {index + 1} is not the one that pieces.jsonl tells of")
        return front, back

    def _stream(self, number: int) -> bytes:
        offset = int.from_bytes(self._table[number].tobytes(), "big")
        head = os.pread(self._file.fileno(), _HEAD, offset)
        found = _STREAM.match(head)
        if found is None or int(found[1]) != number:
            raise self._changed(f"object {number} is not where it was")
        length, start = int(found[2]), found.end()
        data = head[start : start + length]
        if len(data) < length:
            data += os.pread(self._file.fileno(), length - len(data), offset + _HEAD)
        return data

    def _cross_references(self) -> npt.NDArray[np.uint8]:
        """The offset of every object: big-endian bytes, a row an object."""
        size = os.fstat(self._file.fileno()).st_size
        end = os.pread(self._file.fileno(), 64, max(0, size - 64))
        at = re.search(rb"startxref\s+(\d+)\s+%%EOF\s*\Z", end)
        if at is None:
            raise ValueError("its end is missing")
        whole = os.pread(self._file.fileno(), size - int(at[1]), int(at[1]))
        head = _TABLE.match(whole)
        widths = re.search(rb"/W\[1 (\d+) 2\]", head[1]) if head is not None else None
        length = re.search(rb"/Length (\d+)", head[1]) if head is not None else None
        if head is None or widths is None or length is None:
            raise ValueError("its cross-references are of another make")
        middle = int(widths[1])
        rows = np.frombuffer(zlib.decompress(whole[head.end() : head.end() + int(length[1])]), np.uint8)
        # PNG predictor Up: a byte is the sum of those above it (ISO 32000-1, 7.4.4.4).
        columns = rows.reshape(-1, middle + 4)[:, 2 : 2 + middle]
        return np.cumsum(columns, axis=0, dtype=np.uint8)

    def _changed(self, why: str) -> CallerError:
        return CallerError.one(str(self._path), f"is not the file that the run made: {why}", "run the job again")

    def close(self) -> None:
        self.pdf.close()
        self._file.close()

    def __enter__(self) -> PieceFile:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self.close()
