"""Pixels of one symbol → what they say, by zxing-cpp restricted to the expected symbology, and how well they say it.

Lives here: decoding, ink, quiet zone, evenness of bars.  Not here: which symbol should be where (`symbols`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, cast

import numpy as np
import zxingcpp

from vdp.verify.fourstate import KINDS, read_four_state
from vdp.verify.samples import Bytes

#: Dark modules must have at least this mean ink.
LEAST_INK = 0.80
#: Share of pixels of a row in which a bar code's rows may differ.
MOST_UNEVEN = 0.01

_FORMATS: Mapping[str, Any] = {
    "code128": zxingcpp.BarcodeFormat.Code128,
    "gs1-128": zxingcpp.BarcodeFormat.Code128,
    "qr": zxingcpp.BarcodeFormat.QRCode,
    "gs1-qr": zxingcpp.BarcodeFormat.QRCode,
    "datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
    "gs1-datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
    "s10": zxingcpp.BarcodeFormat.Code128,
    "code39": zxingcpp.BarcodeFormat.Code39,
    "itf": zxingcpp.BarcodeFormat.ITF,
    "itf14": zxingcpp.BarcodeFormat.ITF,
    "ean13": zxingcpp.BarcodeFormat.EAN13,
    "ean8": zxingcpp.BarcodeFormat.EAN8,
    "upca": zxingcpp.BarcodeFormat.UPCA,
    "upce": zxingcpp.BarcodeFormat.UPCE,
    "micro-qr": zxingcpp.BarcodeFormat.MicroQRCode,
    "pdf417": zxingcpp.BarcodeFormat.PDF417,
    "aztec": zxingcpp.BarcodeFormat.Aztec,
}
LINEAR = frozenset(("code128", "gs1-128", "s10", "code39", "itf", "itf14", "ean13", "ean8", "upca", "upce"))
#: Codes that readers know in the negative too.
_NEGATIVE = frozenset(("qr", "gs1-qr", "micro-qr", "datamatrix", "gs1-datamatrix", "aztec"))
#: Rows of a linear code that are read where all are alike, rows left out at either edge, and the largest difference in
#: grey that is as good as none.
_BAND, _EDGE, FAINT = 32, 4, 10
#: Modules of the quiet zones of codes whose sides differ, before and after (GS1 General Specifications, 5.2.3.4).
SIDES: Mapping[str, tuple[int, int]] = {"ean13": (11, 7), "upce": (9, 7)}

#: Modules of the quiet zone of codes whose size in modules is told (ISO/IEC 18004, 9.1; ISO/IEC 16022, 7.1).
_QUIET = {"qr": 4, "gs1-qr": 4, "micro-qr": 2, "datamatrix": 1, "gs1-datamatrix": 1}


class Read(NamedTuple):
    """What was read.  `unused` is the unused share of error correction (1.0: nothing had to be mended); `modules` are
    those across with the quiet zone, 0 where they are not known; `turn` counts the quarter turns, against the clock,
    that make it stand upright; `size` are columns and rows without quiet zone, (0, 0) where they are not known."""

    text: str
    identifier: str
    unused: float
    modules: int
    turn: int
    size: tuple[int, int] = (0, 0)

    @property
    def upright(self) -> bool:
        """Whether bars stand upright, be it on their head."""
        return self.turn % 2 == 0


def knows(symbology: str) -> bool:
    """Whether the symbology can be judged."""
    return symbology in _FORMATS or symbology in KINDS


def read(pixels: Bytes, symbology: str, due: str = "", *, light: bool = False) -> list[Read]:
    """Every symbol of that symbology in a grey picture, in any orientation, dark on light.

    `light`: what is printed shines, so that the code is light on dark in what a camera sees under the lamp.  Readers of
    matrices look for that themselves; readers of bars must be told to turn the picture round, of which the making of
    the job warns.  `due` is the text that a code which can be read from both ends should say.
    """
    negative = light and symbology in _NEGATIVE
    seen = under_lamp(pixels) if light else pixels
    if light and not negative:
        seen = np.bitwise_not(seen)
    if symbology in KINDS:
        said = read_four_state(seen, symbology, due)
        return [] if said is None else [Read(said[0], "", 1.0, 0, 0 if said[1] else 1)]
    band = _band(seen) if symbology in LINEAR else None
    found = [] if band is None else _decoded(band, symbology, turned=False)
    found = found or _decoded(seen, symbology, negative=negative)
    result = []
    for barcode in found:
        extra = cast("dict[str, Any]", barcode.extra or {})
        unused, size = float(extra.get("UEC", 1.0)), _size(symbology, str(extra.get("Version", "")))
        if symbology == "micro-qr" and size == (11, 11):
            unused = 1.0  # M1 detects errors and corrects none (ISO/IEC 18004 Table 7): what is read is whole
        modules = size[0] + 2 * _QUIET[symbology] if size[0] and size[0] == size[1] else 0
        turn = round(barcode.orientation / 90) % 4
        result.append(Read(_text(barcode, symbology), barcode.symbology_identifier, unused, modules, turn, size))
    return result


def under_lamp(pixels: Bytes) -> Bytes:
    """What a camera sees of a plate that shines: ink is light, all else dark."""
    return np.bitwise_not(pixels)


def _band(pixels: Bytes) -> Bytes | None:
    """A few rows of a picture whose rows are all the same, as those of upright bars are, so that they say what all say;
    else None.  Rows at the edges are left out: the edge of a bitmap falls between pixels."""
    inner = pixels[_EDGE:-_EDGE]
    if len(inner) <= _BAND or int((inner.max(axis=0) - inner.min(axis=0)).max()) > FAINT:
        return None
    return np.ascontiguousarray(inner[:_BAND])


def _decoded(pixels: Bytes, symbology: str, *, turned: bool = True, negative: bool = False) -> list[Any]:
    """`turned` looks for symbols that lie on their side too."""
    return list(
        zxingcpp.read_barcodes(
            np.ascontiguousarray(pixels),
            formats=_FORMATS[symbology],
            try_rotate=turned,
            try_downscale=False,
            try_invert=negative,
            text_mode=zxingcpp.TextMode.Plain,
        )
    )


def _text(barcode: Any, symbology: str) -> str:
    """What it says; the bytes where readers put brackets into the text of GS1 data, UPC as the GTIN-13 it is."""
    text = str(barcode.text)
    if symbology.startswith("gs1-"):
        return bytes(barcode.bytes).decode("utf-8", "replace")
    return text.zfill(13) if symbology in ("upca", "upce") and len(text) == 12 else text


def read_any(pixels: Bytes) -> list[str]:
    """What every symbol of any symbology in a grey picture says."""
    return [one.text for one in zxingcpp.read_barcodes(pixels, try_rotate=True, text_mode=zxingcpp.TextMode.Plain)]


def _size(symbology: str, version: str) -> tuple[int, int]:
    """Columns and rows.  ISO/IEC 18004: 17 + 4 × version, Micro QR 9 + 2 × version; ISO/IEC 16022: as the size says."""
    if symbology in ("qr", "gs1-qr") and version.isdigit():
        return (17 + 4 * int(version),) * 2
    if symbology == "micro-qr" and version[1:].isdigit():
        return (9 + 2 * int(version[1:]),) * 2
    one, _, other = version.partition("x")
    if not symbology.endswith("datamatrix") or not (one.isdigit() and other.isdigit()):
        return 0, 0
    # The decoder names rectangles by rows and columns, as the standard does.
    return int(other), int(one)


def blank(pixels: Bytes) -> bool:
    """Whether nothing at all is printed there."""
    return bool(pixels.min() > 250)


def _skew(one: int, other: int, wide: int, narrow: int) -> int:
    """Pixels by which opposite margins miss the ratio they should have, whichever way round the code stands."""
    return round(min(abs(one * narrow - other * wide), abs(one * wide - other * narrow)) / wide)


class Quality(NamedTuple):
    """`ink` is the mean ink of dark modules 0..1; `skew` the largest difference in pixels between opposite quiet zones;
    `spans` are the pixels that the ink spans across and down.  For bar codes alone: `short` is how many pixels of the
    height are without bars, `uneven` the largest share by which two rows differ."""

    ink: float
    skew: int
    spans: tuple[int, int]
    short: int = 0
    uneven: float = 0.0


def quality(pixels: Bytes, symbology: str, upright: bool) -> Quality:
    """Judges the pixels of a symbol with its quiet zone and nothing else.

    Only pixels whose neighbours are dark too count as ink, so that blurred edges do not.
    """
    middle = (int(pixels.min()) + int(pixels.max())) // 2
    dark = pixels <= middle
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    height, width = dark.shape
    inner = np.zeros_like(dark)
    inner[1:-1, 1:-1] = dark[1:-1, 1:-1] & dark[:-2, 1:-1] & dark[2:, 1:-1] & dark[1:-1, :-2] & dark[1:-1, 2:]
    chosen = pixels[inner] if inner.any() else pixels[dark]
    ink = 1 - float(chosen.mean()) / 255
    left, right = int(columns[0]), width - 1 - int(columns[-1])
    top, bottom = int(rows[0]), height - 1 - int(rows[-1])
    wide, narrow = SIDES.get(symbology, (1, 1))
    spans = (width - left - right, height - top - bottom)
    across, along = (_skew(one, other, wide, narrow) for one, other in ((left, right), (top, bottom)))
    if symbology not in LINEAR:
        return Quality(ink, max(across, along), spans)
    bars = dark if upright else dark.T
    lines = np.flatnonzero(bars.any(axis=1))
    body = bars[lines[0] + 2 : lines[-1] - 1]
    uneven = float((body != body[len(body) // 2]).mean(axis=1).max()) if len(body) > 2 else 0.0
    # Bars have quiet zones at their sides only (ISO/IEC 15417, 4.4.2): they fill the height of their box.
    return Quality(ink, across if upright else along, spans, len(bars) - len(lines), uneven)
