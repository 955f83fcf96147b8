"""Micro QR Code (ISO/IEC 18004): text → modules, through zxing-cpp's creator.

Lives here: versions and levels, the call and a check that it was obeyed.  Not here: full-size symbols (`qr`), quiet
zone.  ASCII only: a Micro QR Code cannot say which character set it holds.

The creator pads as ISO/IEC 18004 §7.4.10 says; segno pads M3 with zeros and takes 40 times as long.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import zxingcpp

from vdp.barcode.pixels import Pixels, matrix
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

#: Version → error correction levels it has (ISO/IEC 18004 Table 7); M1 only detects errors.
LEVELS: Mapping[str, tuple[str, ...]] = {"M1": ("",), "M2": ("L", "M"), "M3": ("L", "M"), "M4": ("L", "M", "Q")}

#: ISO/IEC 18004 Table 7: digits that M4-L holds.
LONGEST = 35


def encode(text: str, version: str, level: str) -> Matrix:
    """The symbol of that version and level.  Raises RowRefused when `text` is empty, not ASCII or does not fit; OurBug
    when there is no such symbol."""
    if level not in LEVELS.get(version, ()):
        raise OurBug(f"there is no Micro QR Code of version {version} and level {level}")
    _refuse(text)
    options: dict[str, object] = {"version": int(version[1])}
    if level:
        options["ec_level"] = level
    try:
        symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.MicroQRCode, **options)
    except ValueError:
        named = f"{version}-{level}" if level else version
        raise RowRefused((f"'{text}' does not fit in Micro QR Code {named}",)) from None
    pixels: Pixels = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    if pixels.shape != (side(version), side(version)):
        raise OurBug(f"a Micro QR Code {version} was asked for and {pixels.shape} modules came")
    return matrix(pixels)


def version_needed(text: str, level: str) -> str:
    """The smallest version with that level ("" for M1) that holds `text`.  Raises RowRefused when none does."""
    _refuse(text)
    for version, levels in LEVELS.items():
        if level in levels:
            try:
                encode(text, version, level)
            except RowRefused:
                continue
            return version
    raise RowRefused((f"no Micro QR Code of level {level or 'M1'} holds '{text}'",))


def side(version: str) -> int:
    """Modules a side: 11, 13, 15 or 17."""
    return 9 + 2 * int(version[1])


def _refuse(text: str) -> None:
    if not text:
        raise RowRefused(("Micro QR Code cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"Micro QR Code of {len(text)} characters: the largest holds {LONGEST} digits",))
    if not text.isascii():
        bad = next(c for c in text if not c.isascii())
        raise RowRefused((f"Micro QR Code holds ASCII only, not '{bad}' (U+{ord(bad):04X})",))
