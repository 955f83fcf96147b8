"""Objects of another PDF file, brought into this one under new numbers.

Streams keep their encoded bytes, except LZW (which PDF/X forbids) and none.  A Separation named like one of the job's
plates becomes the job's own, so that a plate has one colour space in the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

import pikepdf

from vdp.pdf.objects import Ref, indirect, number_text, serialise
from vdp.pdf.squeeze import pack

#: Entries that lead out of the page, or that mean nothing in another file.
_LEFT_OUT = frozenset(
    {
        *("/StructParent", "/StructParents", "/PieceInfo", "/LastModified", "/Metadata", "/Length", "/OPI"),
        *("/GTS_Encapsulated", "/GTS_Scope", "/GTS_XID", "/GTS_Env"),  # ours to say
    }
)
_LZW = frozenset({"/LZWDecode", "/LZW"})


class ForeignFault(ValueError):
    """Something in the other file that cannot be taken over."""


class Copier:
    """Copies from one open file; what it has copied once keeps its number."""

    def __init__(self, allocate: Callable[[], int], plates: Mapping[str, Ref]) -> None:
        self._allocate = allocate
        self._plates = plates
        self._numbers: dict[tuple[int, int], int] = {}
        self._waiting: list[tuple[int, pikepdf.Object]] = []
        #: Optional-content groups met on the way.
        self.layers: list[Ref] = []

    def copy(self, form: pikepdf.Object, number: int, more: bytes = b"") -> Iterator[tuple[int, bytes]]:
        """A stream under the number given, with `more` entries, then everything that it leads to: (number, whole
        indirect object)."""
        yield number, self._whole(number, form, more)
        yield from self.rest()

    def refer(self, found: pikepdf.Object) -> Ref:
        """The number that an indirect object has here; `rest` writes it."""
        self._reference(found)
        return Ref(self._numbers[found.objgen])

    def rest(self) -> Iterator[tuple[int, bytes]]:
        """Everything that was referred to and is not written yet."""
        while self._waiting:
            waiting, found = self._waiting.pop()
            yield waiting, self._whole(waiting, found)

    def _whole(self, number: int, found: pikepdf.Object, more: bytes = b"") -> bytes:
        if not isinstance(found, pikepdf.Stream):
            return indirect(number, self._direct(found))
        filters = found.get("/Filter")
        names = {str(part) for part in (filters if isinstance(filters, pikepdf.Array) else [filters])}
        if "/F" in found:
            raise ForeignFault("a stream that lies in another file")
        skip = set(_LEFT_OUT)
        if filters is None or names & _LZW:
            data = pack(found.read_bytes())
            skip |= {"/Filter", "/DecodeParms"}
            extra = b"/Filter/FlateDecode"
        else:
            data, extra = found.read_raw_bytes(), b""
        entries = self._entries(found, frozenset(skip))
        return b"%d 0 obj\n<<%b%b%b/Length %d>>stream\n%b\nendstream\nendobj\n" % (
            number,
            more,
            entries,
            extra,
            len(data),
            data,
        )

    def _entries(self, found: Any, skip: frozenset[str]) -> bytes:
        parts = []
        for key, value in found.items():
            if key not in skip:
                parts.append(pikepdf.Name(key).unparse() + b" " + self._any(value))
        return b"".join(parts)

    def _any(self, value: Any) -> bytes:
        if isinstance(value, pikepdf.Object) and value.is_indirect:
            return self._reference(value)
        return self._direct(value)

    def _reference(self, value: pikepdf.Object) -> bytes:
        key = value.objgen
        number = self._numbers.get(key)
        if number is None:
            if isinstance(value, pikepdf.Dictionary) and value.get("/Type") in (pikepdf.Name.Page, pikepdf.Name.Pages):
                return b"null"
            plate = self._plate(value)
            if plate is not None:
                return serialise(plate)
            number = self._numbers[key] = self._allocate()
            self._waiting.append((number, value))
            if isinstance(value, pikepdf.Dictionary) and value.get("/Type") == pikepdf.Name.OCG:
                self.layers.append(Ref(number))
        return b"%d 0 R" % number

    def _plate(self, value: Any) -> Ref | None:
        if isinstance(value, pikepdf.Array) and len(value) == 4 and value[0] == pikepdf.Name.Separation:
            return self._plates.get(str(value[1]).removeprefix("/"))
        return None

    def _direct(self, value: Any) -> bytes:
        if isinstance(value, pikepdf.Array):
            plate = self._plate(value)
            if plate is not None:
                return serialise(plate)
            return b"[" + b" ".join(self._any(part) for part in value) + b"]"
        if isinstance(value, pikepdf.Dictionary):
            return b"<<" + self._entries(value, _LEFT_OUT) + b">>"
        if isinstance(value, pikepdf.Object):
            return value.unparse()
        if isinstance(value, Decimal):
            return number_text(value).encode()
        return serialise(value)
