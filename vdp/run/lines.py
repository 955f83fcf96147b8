"""What both ways of composing share: batches, content streams, and the manifest's lines."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import islice

from vdp.audit.manifest import SymbolTold, piece_line
from vdp.compose.piece import Accepted, Piece
from vdp.marks import Box
from vdp.pdf.content import Renderer
from vdp.pdf.dpart import record_metadata
from vdp.run.web import PlaceOf
from vdp.units import points

#: Records composed at a time: enough for the batched encoders, little enough to stay in cache.
BATCH = 256


def batches(records: Iterable[Accepted], size: int) -> Iterator[list[Accepted]]:
    """Runs of `size` records; the last may be shorter."""
    source = iter(records)
    while batch := list(islice(source, size)):
        yield batch


def rendered(renderer: Renderer, pieces: Sequence[Piece]) -> list[bytes]:
    """Content streams of pieces: front, back, front, back, …"""
    return renderer.render([side for piece in pieces for side in (piece.front, piece.back)])


def document_parts(
    pieces: Sequence[Piece], records: Sequence[Accepted], fields: Sequence[str], place_of: PlaceOf, first: int
) -> Iterator[bytes]:
    """What the pieces' document parts say; `fields` are those of the records that the job lists for it, `first` as in
    `manifest_lines`."""
    for at, (piece, record) in enumerate(zip(pieces, records, strict=True)):
        listed = {field: record.values[field] for field in fields}
        place = place_of(first + at)
        told = None if place is None else place._asdict()
        yield record_metadata(piece.nth + 1, piece.row, piece.language, piece.serials, listed, told)


def manifest_lines(
    pieces: Sequence[Piece], contents: Sequence[bytes], dpi: int, place_of: PlaceOf, first: int
) -> Iterator[bytes]:
    """The manifest's lines of composed pieces; `contents` are their sides' content streams, front and back in turn.

    `first` is the 0-based place in the file of the first of them: in a reprint it is not the piece's own count.
    """
    for at, piece in enumerate(pieces):
        digest = hashlib.sha256(contents[2 * at])
        digest.update(contents[2 * at + 1])
        page = 2 * (first + at) + 1
        symbols: list[SymbolTold] = [
            (name, symbology, identifier, plate, page + side, _edges(box, dpi), data)
            for name, symbology, identifier, plate, side, box, data in piece.symbols
        ]
        place = place_of(first + at)
        told = None if place is None else place._asdict()
        yield piece_line(piece.nth + 1, piece.row, piece.language, piece.serials, symbols, digest.hexdigest(), told)


@lru_cache(maxsize=1024)
def _edges(box: Box, dpi: int) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of a box, in points."""
    x, y, width, height = box
    left, bottom, right, top = (round(points(edge, dpi), 4) for edge in (x, y, x + width, y + height))
    return left, bottom, right, top
