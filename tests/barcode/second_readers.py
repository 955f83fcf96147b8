"""Which second, independent decoder reads each symbology in the tests: `python -m tests.barcode.second_readers`.

The first is zxing-cpp, or the verifier's own reader for postal codes of four kinds of bars.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping

ZBAR, LIBDMTX, PDF417DECODER, NONE = "zbar", "libdmtx", "pdf417decoder", ""

#: Symbology → second decoder, and what is held against others besides, or instead.
SECOND: Mapping[str, tuple[str, str]] = {
    "code128": (ZBAR, "modules of python-barcode; length of zint"),
    "gs1_128": (ZBAR, "modules of the GS1 General Specifications and of zint"),
    "s10": (ZBAR, ""),
    "code39": (ZBAR, "modules of zint"),
    "itf": (ZBAR, "modules of zint"),
    "itf14": (ZBAR, "modules of zint"),
    "ean13": (ZBAR, "modules of zint"),
    "ean8": (ZBAR, "modules of zint"),
    "upca": (ZBAR, "modules of zint; zbar tells it as the EAN-13 it is"),
    "upce": (ZBAR, "modules of zint; zbar tells it as EAN-13"),
    "qr": (ZBAR, "modules of zint, segno and qrcode"),
    "gs1_qr": (ZBAR, "zbar tells no FNC1"),
    "micro_qr": (NONE, "modules of segno where nothing is padded; padding bit by bit"),
    "datamatrix": (LIBDMTX, "modules of ISO/IEC 16022 Annex O and of ppf-datamatrix"),
    "gs1_datamatrix": (LIBDMTX, ""),
    "pdf417": (PDF417DECODER, "codewords by pdf417gen's table; pdf417decoder takes UTF-8 for Latin-1"),
    "aztec": (NONE, "modules of aztec_code_generator, for capitals; aztec-tool by hand"),
    "imb": (NONE, "bars of USPS-B-3200, of reportlab (the encoder) and of zint"),
    "rm4scc": (NONE, "bars of zint"),
    "kix": (NONE, "bars of zint"),
}


def table() -> str:
    """As DEVELOPERS.md has it."""
    rows = [
        f"| {symbology} | {second or 'none found'} | {besides or '–'} |"
        for symbology, (second, besides) in SECOND.items()
    ]
    return "\n".join(["| symbology | second decoder | besides |", "| --- | --- | --- |", *rows]) + "\n"


if __name__ == "__main__":
    sys.stdout.write(table())
