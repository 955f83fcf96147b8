"""What sheets take over of the file that their pieces come from, and that file seen as a source of forms.

Lives here: values and the pieces of our own file.  Not here: reading it (`finished`), pages from elsewhere (`foreign`),
the sheets (`sheets`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple, Protocol

from vdp.pdf.copying import Copier
from vdp.pdf.finished import PieceFile
from vdp.pdf.objects import Ref, Value, number_text


class Carried(NamedTuple):
    """Layers in their order, the output intent, and what marks and forms of ours draw with, by kind and name."""

    layers: list[Ref]
    intent: Ref | None
    resources: Mapping[str, Mapping[str, Value]]


class Source(Protocol):
    """Where pieces come from."""

    def copier(self, allot: Callable[[], int]) -> Copier:
        """What takes objects over under new numbers."""

    def carry(self, copier: Copier) -> Carried:
        """Refers to everything shared; called once, before any form."""

    def forms(self, what: Sequence[int]) -> Iterator[tuple[bytes, bytes]]:
        """Entries of each side's form (Matrix, BBox, Resources, Filter) and its data as it is."""


class Pieces:
    """pieces.pdf as a source: side 2 × index is a piece's front, the next its back; all share their resources."""

    def __init__(self, file: PieceFile, dpi: int) -> None:
        self._file, self._dpi = file, dpi
        self._entries = b""

    def copier(self, allot: Callable[[], int]) -> Copier:
        return Copier(allot, {})

    def carry(self, copier: Copier) -> Carried:
        root = self._file.pdf.Root
        layers = [copier.refer(group) for group in root.OCProperties.OCGs.as_list()] if "/OCProperties" in root else []
        intent = copier.refer(root.OutputIntents[0]) if "/OutputIntents" in root else None
        shared = copier.refer(self._file.resources)
        scale = number_text(self._dpi / 72, 10).encode()
        box = b" ".join(number_text(edge, 5).encode() for edge in self._file.size)
        self._entries = b"/Matrix[%b 0 0 %b 0 0]/BBox[%b]/Resources %d 0 R/Filter/FlateDecode" % (
            scale,
            scale,
            box,
            shared.number,
        )
        resources: dict[str, dict[str, Value]] = {}
        for kind in ("XObject", "ColorSpace", "Properties", "ExtGState"):
            named = self._file.resources.get(f"/{kind}")
            if named is not None:
                resources[kind] = {name.removeprefix("/"): copier.refer(value) for name, value in named.items()}
        return Carried(layers, intent, resources)

    def forms(self, what: Sequence[int]) -> Iterator[tuple[bytes, bytes]]:
        taken: dict[int, tuple[bytes, bytes]] = {}
        for side in what:
            index = side // 2
            if index not in taken:
                taken[index] = self._file.piece(index)
            yield self._entries, taken[index][side % 2]
