"""What is fixed about each symbology: quiet zones, symbology identifier, linear or matrix.

Lives here: one table.  Not here: encoding, X-dimensions (the layout states them), drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Symbology:
    """`quiet`: left, bottom, right, top quiet zone in modules (X); `clause`: where the standard says so.

    `modifier`: the ISO/IEC 15424 identifier of a symbol read without the ECI protocol, which is how readers report
    plain text: a symbol with an ECI keeps it, because the text has been turned into Unicode by the reader.
    """

    name: str
    title: str
    linear: bool
    quiet: tuple[int, int, int, int]
    clause: str
    modifier: str

    def identifier(self, text: str) -> str:  # noqa: ARG002 - GS1 payloads will need it
        """The ISO/IEC 15424 symbology identifier that a reader reports for a symbol carrying `text`."""
        return self.modifier


SYMBOLOGIES: Mapping[str, Symbology] = MappingProxyType(
    {
        s.name: s
        for s in (
            Symbology("code128", "Code 128", True, (10, 0, 10, 0), "ISO/IEC 15417 §4.4.2", "]C0"),
            Symbology("qr", "QR Code", False, (4, 4, 4, 4), "ISO/IEC 18004 §9.1", "]Q1"),
            Symbology("datamatrix", "Data Matrix", False, (1, 1, 1, 1), "ISO/IEC 16022 §7.1", "]d1"),
        )
    }
)
