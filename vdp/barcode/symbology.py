"""What is fixed about each symbology: quiet zones, symbology identifier, linear or matrix.

Lives here: one table.  Not here: encoding, X-dimensions and four-state codes (`sizes`), drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from vdp import checkdigit


@dataclass(frozen=True, slots=True)
class Symbology:
    """`quiet`: left, bottom, right, top quiet zone in modules (X); `clause`: where the standard says so.

    `modifier`: the ISO/IEC 15424 identifier of a symbol read without the ECI protocol, which is how readers report
    plain text: a symbol with an ECI keeps it, because the text has been turned into Unicode by the reader.
    `checked`: a check scheme and the identifier of a text that satisfies it, where the symbology makes the check
    character optional: a reader cannot tell a check character from a character that fits by chance.
    """

    name: str
    title: str
    linear: bool
    quiet: tuple[int, int, int, int]
    clause: str
    modifier: str
    checked: tuple[str, str] | None = None

    def identifier(self, text: str) -> str:
        """The ISO/IEC 15424 symbology identifier that a reader reports for a symbol carrying `text`."""
        if self.checked and checkdigit.valid(self.checked[0], text):
            return self.checked[1]
        return self.modifier


def _sides(left: int, right: int) -> tuple[int, int, int, int]:
    return (left, 0, right, 0)


def _round(modules: int) -> tuple[int, int, int, int]:
    return (modules, modules, modules, modules)


#: Every symbology that has modules.  Four-state postal codes have a pitch instead: see `sizes`.
KNOWN: Mapping[str, Symbology] = MappingProxyType(
    {
        s.name: s
        for s in (
            Symbology("code128", "Code 128", True, _sides(10, 10), "ISO/IEC 15417 §4.4.2", "]C0"),
            Symbology("gs1_128", "GS1-128", True, _sides(10, 10), "GS1 General Specifications §5.4.4.2", "]C1"),
            Symbology("s10", "UPU S10", True, _sides(10, 10), "UPU S10", "]C0"),
            Symbology(
                "code39", "Code 39", True, _sides(10, 10), "ISO/IEC 16388 §4.4 d)", "]A0", ("code39_mod43", "]A1")
            ),
            Symbology("itf", "Interleaved 2 of 5", True, _sides(10, 10), "ISO/IEC 16390 §4.4", "]I0", ("gs1", "]I1")),
            Symbology("itf14", "ITF-14", True, _sides(10, 10), "GS1 General Specifications §5.3.2.2", "]I1"),
            Symbology("ean13", "EAN-13", True, _sides(11, 7), "GS1 General Specifications §5.2.3.4", "]E0"),
            Symbology("ean8", "EAN-8", True, _sides(7, 7), "GS1 General Specifications §5.2.3.4", "]E4"),
            Symbology("upca", "UPC-A", True, _sides(9, 9), "GS1 General Specifications §5.2.3.4", "]E0"),
            Symbology("upce", "UPC-E", True, _sides(9, 7), "GS1 General Specifications §5.2.3.4", "]E0"),
            Symbology("qr", "QR Code", False, _round(4), "ISO/IEC 18004 §9.1", "]Q1"),
            Symbology("gs1_qr", "GS1 QR Code", False, _round(4), "ISO/IEC 18004 §9.1", "]Q3"),
            Symbology("micro_qr", "Micro QR Code", False, _round(2), "ISO/IEC 18004 §9.1", "]Q1"),
            Symbology("datamatrix", "Data Matrix", False, _round(1), "ISO/IEC 16022 §7.1", "]d1"),
            Symbology("gs1_datamatrix", "GS1 DataMatrix", False, _round(1), "ISO/IEC 16022 §7.1", "]d2"),
            Symbology("pdf417", "PDF417", False, _round(2), "ISO/IEC 15438 §5.8.3", "]L2"),
            Symbology("aztec", "Aztec Code", False, _round(0), "ISO/IEC 24778", "]z0"),
        )
    }
)

#: By the names that layouts and manifests use.
SYMBOLOGIES: Mapping[str, Symbology] = MappingProxyType({n.replace("_", "-"): s for n, s in KNOWN.items()})
