"""QR Code (ISO/IEC 18004), all symbols of a job in one version: payloads → modules, in batches.

Lives here: the batch.  Not here: the bit stream (`qr_codewords`), the tables (`qr_tables`), the masks (`qr_masks`),
quiet zone, drawing.

Versions above 11, whose lines do not fit a machine word, are masked one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from vdp.barcode import qr_codewords
from vdp.barcode.qr_codewords import version_needed
from vdp.barcode.qr_masks import LARGEST_IN_WORDS, Scorer, penalty
from vdp.barcode.qr_tables import Bytes, Tables, tables
from vdp.errors import OurBug
from vdp.marks import Matrix

__all__ = ["Qr", "version_needed"]

#: Symbols worked on together: enough to spread the cost of a call, few enough to stay in a core's cache.
_BATCH = 128

_Given = TypeVar("_Given")


class Qr:
    """An encoder for one version (1 … 40) and one error correction level (L, M, Q, H).  One thread at a time."""

    def __init__(self, version: int, level: str) -> None:
        if not (1 <= version <= qr_codewords.LARGEST and level in tuple(qr_codewords.LEVELS)):
            raise OurBug(f"there is no QR Code of version {version} and level {level}")
        self.version = version
        self.level = level
        self.side = 17 + 4 * version
        self._scorer: Scorer | None = None

    def encode(self, payloads: Sequence[str]) -> list[Matrix]:
        """The symbols of `payloads`, in order.  Raises RowRefused for one that is empty or does not fit."""
        return [matrix for matrix, _ in self.encode_masked(payloads)]

    def encode_masked(self, payloads: Sequence[str]) -> list[tuple[Matrix, int]]:
        """As `encode`, each symbol with the number of its mask."""
        return self._in_batches(payloads, lambda some: qr_codewords.encode_many(some, self.version, self.level))

    def encode_codewords(self, streams: Sequence[bytes]) -> list[tuple[Matrix, int]]:
        """The same from data codewords, which `qr_codewords` or `qr_segments` made for this version and level."""
        return self._in_batches(streams, lambda some: np.frombuffer(b"".join(some), np.uint8).reshape(len(some), -1))

    def _in_batches(
        self, given: Sequence[_Given], codewords: Callable[[Sequence[_Given]], Bytes]
    ) -> list[tuple[Matrix, int]]:
        table, found = tables(self.version, self.level), list[tuple[Matrix, int]]()
        for at in range(0, len(given), _BATCH):
            found += self._masked(table, codewords(given[at : at + _BATCH]))
        return found

    def _masked(self, table: Tables, codewords: Bytes) -> list[tuple[Matrix, int]]:
        octets = table.octets(codewords)
        if self.version > LARGEST_IN_WORDS:
            return [self._masked_alone(table, octets[:, :, i]) for i in range(len(codewords))]
        word = np.dtype(f"<u{table.stride}")
        if self._scorer is None:
            self._scorer = Scorer(self.side, word, _BATCH)
        bare = octets[:, 0].astype(word)
        for place in range(1, table.stride):
            bare |= octets[:, place].astype(word) << (8 * place)
        lines = bare ^ table.masks.view(word)
        masks = self._scorer.penalties(lines).argmin(axis=0)
        side, stride = self.side, table.stride
        rows = lines[masks, :side, np.arange(len(codewords))].tobytes()
        starts = range(0, len(rows), side * stride)
        return [
            (Matrix.packed(side, stride, rows[start : start + side * stride]), mask)
            for start, mask in zip(starts, masks.tolist(), strict=True)
        ]

    def _masked_alone(self, table: Tables, octets: Bytes) -> tuple[Matrix, int]:
        stride = 8 * table.stride
        masked = [int.from_bytes(lines.tobytes(), "little") for lines in octets ^ table.masks]
        mask = min(range(8), key=lambda m: penalty(masked[m], self.side, stride))
        rows = tuple(masked[mask] >> stride * i & (1 << stride) - 1 for i in range(self.side))
        return Matrix(self.side, rows), mask
