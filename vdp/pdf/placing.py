"""Objects written one after another: numbers in order, and where each of them stands.

Not here: what the objects are (`writer`, `sheets`), the table made of their places (`xref`).
"""

from __future__ import annotations

from collections.abc import Mapping

from vdp.pdf.objects import Ref, Value, indirect, serialise, stream
from vdp.pdf.sink import Sink


class Placing:
    """What writes objects into a sink.  `_next` is the next free number, `_places` number → offset."""

    _sink: Sink
    _places: dict[int, int]
    _next: int

    def _number(self) -> Ref:
        self._next += 1
        return Ref(self._next - 1)

    def _put_bytes(self, number: int, data: bytes) -> None:
        self._places[number] = self._sink.position
        self._sink.write(data)

    def _put(self, ref: Ref, value: Value) -> None:
        self._put_bytes(ref.number, indirect(ref.number, serialise(value)))

    def _put_stream(self, ref: Ref, entries: Mapping[str, Value], data: bytes) -> None:
        self._put_bytes(ref.number, stream(ref.number, entries, data))
