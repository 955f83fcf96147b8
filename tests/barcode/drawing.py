"""Modules drawn into bitmaps; readers that share nothing with the encoders (zxing-cpp, zbar, libdmtx); zint."""

from __future__ import annotations

import subprocess
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import zint
import zxingcpp
from numpy.typing import NDArray
from PIL import Image

from vdp.barcode.symbology import KNOWN
from vdp.marks import Bars, Matrix

Bitmap = NDArray[np.uint8]

FORMATS = {
    "code128": zxingcpp.BarcodeFormat.Code128,
    "qr": zxingcpp.BarcodeFormat.QRCode,
    "datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
}
#: The others of `KNOWN`.  Code 39 is read as such, not as its extension, which takes $A for a control character.
MORE_FORMATS = {
    "gs1_128": zxingcpp.BarcodeFormat.Code128,
    "s10": zxingcpp.BarcodeFormat.Code128,
    "code39": zxingcpp.BarcodeFormat.Code39Std,
    "itf": zxingcpp.BarcodeFormat.ITF,
    "itf14": zxingcpp.BarcodeFormat.ITF,
    "ean13": zxingcpp.BarcodeFormat.EAN13,
    "ean8": zxingcpp.BarcodeFormat.EAN8,
    "upca": zxingcpp.BarcodeFormat.EAN13,
    "upce": zxingcpp.BarcodeFormat.UPCE,
    "gs1_qr": zxingcpp.BarcodeFormat.QRCode,
    "micro_qr": zxingcpp.BarcodeFormat.MicroQRCode,
    "gs1_datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
    "pdf417": zxingcpp.BarcodeFormat.PDF417,
    "aztec": zxingcpp.BarcodeFormat.Aztec,
}


def modules(shape: Matrix | Bars, height: int = 30) -> NDArray[np.bool_]:
    """True = dark.  Bars are drawn `height` modules high."""
    if isinstance(shape, Matrix):
        return np.array([[row >> x & 1 for x in range(shape.width)] for row in shape.rows], np.bool_)
    line = np.concatenate([np.full(width, i % 2 == 0) for i, width in enumerate(shape.widths)])
    return np.tile(line, (height, 1))


def bitmap(shape: Matrix | Bars, symbology: str, module: int = 4) -> Bitmap:
    """Black on white with the symbology's quiet zone, `module` pixels a module."""
    left, bottom, right, top = KNOWN[symbology].quiet
    drawn = np.pad(modules(shape), ((max(top, 2), max(bottom, 2)), (left, right)))
    return np.kron(np.where(drawn, 0, 255), np.ones((module, module))).astype(np.uint8)


def read(picture: Bitmap, symbology: str) -> zxingcpp.Barcode:
    """The one symbol zxing-cpp finds."""
    wanted = zxingcpp.BarcodeFormats({**FORMATS, **MORE_FORMATS}[symbology])
    found = zxingcpp.read_barcodes(picture, formats=wanted)
    assert len(found) == 1
    return found[0]


def read_by_zbar(zbarimg: str, pictures: Sequence[Bitmap], folder: Path) -> list[str]:
    """What zbar reads in each picture, in order.  Payloads must hold no line feed."""
    names = []
    for i, picture in enumerate(pictures):
        names.append(folder / f"{i:05d}.png")
        Image.fromarray(picture).save(names[-1], compress_level=1)
    done = subprocess.run([zbarimg, "--quiet", "--raw", *names], capture_output=True, check=False)
    return done.stdout.decode().split("\n")[:-1]


def read_by_dmtx(dmtxread: str, picture: Bitmap, folder: Path) -> bytes:
    """What libdmtx reads in a picture of one Data Matrix; every FNC1 is a group separator."""
    name = folder / "symbol.png"
    Image.fromarray(picture).save(name, compress_level=1)
    done = subprocess.run(
        [dmtxread, "--stop-after=1", "--milliseconds=5000", "--gs1=29", name], capture_output=True, check=False
    )
    return done.stdout


def bits(bars: Bars) -> str:
    """Elements as modules, 1 = bar."""
    return "".join("10"[i % 2] * width for i, width in enumerate(bars.widths))


def zint_rows(symbology: zint.Symbology, text: str, option_2: int = 0) -> list[str]:
    """zint's modules, row by row, 1 = dark."""
    symbol = zint.Symbol()
    symbol.symbology = symbology
    if option_2:
        symbol.option_2 = option_2
    symbol.encode(text.encode())
    rows = np.asarray(symbol.encoded_data)[: symbol.rows].astype(np.uint8)
    return ["".join(map(str, np.unpackbits(row, bitorder="little")[: symbol.width])) for row in rows]


def rows_of(lines: Iterable[Iterable[int]]) -> tuple[int, ...]:
    """A matrix of 0 and 1 as `Matrix.rows`."""
    return tuple(sum(int(bit) << x for x, bit in enumerate(line)) for line in lines)
