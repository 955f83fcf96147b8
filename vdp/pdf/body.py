"""Groups of pieces, written as they come: in the file itself, or in a chunk that is appended to it later.

Nothing of a piece is kept but the offsets of its streams.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

from vdp.errors import OurBug
from vdp.pdf.arithmetic import PIECES_IN_GROUP, SIDES, Arithmetic
from vdp.pdf.dpart import group_parts
from vdp.pdf.names import Names
from vdp.pdf.objects import Name, Value, stream
from vdp.pdf.sink import Sink
from vdp.pdf.squeeze import COMPRESSORS, Squeeze
from vdp.pdf.text import GlyphTexts


@dataclass(frozen=True, slots=True)
class Ticket:
    """All that a worker must know of the file that its pages will stand in; can be pickled.  `boxes` is PDF syntax."""

    dpi: int
    names: Names
    arithmetic: Arithmetic
    boxes: bytes
    compression: Squeeze


class Chunk(NamedTuple):
    """Whole groups in a file of their own; `offsets` count from its beginning."""

    path: Path
    first_group: int
    groups: int
    size: int
    offsets: array[int]
    glyphs: GlyphTexts


class Body:
    """Takes content streams in page order and writes a group whenever one is full."""

    def __init__(self, sink: Sink, ticket: Ticket, first_group: int) -> None:
        self._sink = sink
        self._ticket = ticket
        self._compress = COMPRESSORS[ticket.compression]
        self._waiting: list[bytes] = []
        self._parts: list[bytes] = []
        self.group = first_group
        self.offsets = array("Q")

    @property
    def level(self) -> bool:
        """Whether nothing waits for the rest of its group."""
        return not self._waiting

    def add(self, contents: Iterable[bytes], parts: Iterable[bytes]) -> None:
        """Uncompressed content streams: front, back, front, back, …; `parts` is what each piece's DPM holds."""
        self._waiting.extend(map(self._compress, contents))
        self._parts.extend(parts)
        arithmetic = self._ticket.arithmetic
        done = 0
        while self.group < arithmetic.groups:
            count = SIDES * arithmetic.size(self.group)
            if len(self._waiting) - done < count:
                break
            self._write(self._waiting[done : done + count], self._parts[done // SIDES : (done + count) // SIDES])
            done += count
        del self._waiting[:done], self._parts[: done // SIDES]
        if len(self._waiting) != SIDES * len(self._parts):
            raise OurBug(f"{len(self._parts)} document parts for {len(self._waiting)} pages")
        if self._waiting and self.group == arithmetic.groups:
            raise OurBug(f"more than the {arithmetic.pieces} pieces that were announced")

    def _write(self, contents: list[bytes], parts: list[bytes]) -> None:
        arithmetic, group, sink = self._ticket.arithmetic, self.group, self._sink
        numbers = [
            arithmetic.leaf(group),
            arithmetic.part(group),
            *arithmetic.pages(group),
            *arithmetic.parts(group),
        ]
        for content, data in zip(arithmetic.contents(group), contents, strict=True):
            self.offsets.append(sink.position)
            sink.write(
                b"%d 0 obj\n<</Length %d/Filter/FlateDecode>>stream\n%b\nendstream\nendobj\n"
                % (content, len(data), data)
            )
        self.offsets.append(sink.position)
        sink.write(object_stream(arithmetic.stream(group), numbers, self._dictionaries(parts), self._compress))
        self.group += 1

    def _dictionaries(self, metadata: list[bytes]) -> list[bytes]:
        """The group's leaf of the page tree, its document part, its pages, and a document part a piece."""
        arithmetic, boxes = self._ticket.arithmetic, self._ticket.boxes
        leaf, pages = arithmetic.leaf(self.group), arithmetic.pages(self.group)
        kids = b" ".join([b"%d 0 R" % page for page in pages])
        parent, owners = arithmetic.parent(self.group), arithmetic.parts(self.group)
        node, *leaves = group_parts(arithmetic, self.group, metadata)
        return [
            b"<</Type/Pages/Parent %d 0 R/Count %d/Kids[%b]>>" % (parent, len(pages), kids),
            node,
            *[
                b"<</Type/Page/Parent %d 0 R%b/Contents %d 0 R/DPart %d 0 R>>"
                % (leaf, boxes, content, owners[at // SIDES])
                for at, content in enumerate(arithmetic.contents(self.group))
            ],
            *leaves,
        ]


def object_stream(number: int, numbers: list[int], bodies: list[bytes], compress: Callable[[bytes], bytes]) -> bytes:
    """An object stream (ISO 32000-1, 7.5.7)."""
    places: list[bytes] = []
    at = 0
    for inner, body in zip(numbers, bodies, strict=True):
        places.append(b"%d %d" % (inner, at))
        at += len(body) + 1
    index = b" ".join(places) + b"\n"
    entries: dict[str, Value] = {
        "Type": Name("ObjStm"),
        "N": len(bodies),
        "First": len(index),
        "Filter": Name("FlateDecode"),
    }
    return stream(number, entries, compress(index + b"\n".join(bodies)))


class ChunkWriter:
    """Writes whole groups to a file of their own, to be appended to the Writer that gave the ticket."""

    def __init__(self, path: Path, ticket: Ticket, first_piece: int) -> None:
        if first_piece % PIECES_IN_GROUP:
            raise OurBug(f"a chunk cannot begin at piece {first_piece}: groups are of {PIECES_IN_GROUP} pieces")
        self._first = first_piece // PIECES_IN_GROUP
        self._sink = Sink(path, path)
        self._body = Body(self._sink, ticket, self._first)

    def add(self, contents: Iterable[bytes], parts: Iterable[bytes]) -> None:
        """Content streams and document parts as `Body.add` takes them.  Raises CallerError when the disk is full."""
        self._body.add(contents, parts)

    def close(self, glyphs: GlyphTexts) -> Chunk:
        """`glyphs` are those of the renderer that drew the pages."""
        if not self._body.level:
            raise OurBug("a chunk ends in the middle of a group")
        self._sink.close()
        groups = self._body.group - self._first
        return Chunk(self._sink.path, self._first, groups, self._sink.position, self._body.offsets, glyphs)

    def __enter__(self) -> ChunkWriter:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self._sink.__exit__(kind, error, tb)
