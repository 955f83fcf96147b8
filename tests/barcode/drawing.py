"""Modules drawn into bitmaps, and two readers that share nothing with the encoders: zxing-cpp and zbar."""

from __future__ import annotations

import subprocess
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image

from vdp.barcode.symbology import SYMBOLOGIES
from vdp.marks import Bars, Matrix

Bitmap = NDArray[np.uint8]

FORMATS = {
    "code128": zxingcpp.BarcodeFormat.Code128,
    "qr": zxingcpp.BarcodeFormat.QRCode,
    "datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
}


def modules(shape: Matrix | Bars, height: int = 30) -> NDArray[np.bool_]:
    """True = dark.  Bars are drawn `height` modules high."""
    if isinstance(shape, Matrix):
        return np.array([[row >> x & 1 for x in range(shape.width)] for row in shape.rows], np.bool_)
    line = np.concatenate([np.full(width, i % 2 == 0) for i, width in enumerate(shape.widths)])
    return np.tile(line, (height, 1))


def bitmap(shape: Matrix | Bars, symbology: str, module: int = 4) -> Bitmap:
    """Black on white with the symbology's quiet zone, `module` pixels a module."""
    left, bottom, right, top = SYMBOLOGIES[symbology].quiet
    drawn = np.pad(modules(shape), ((max(top, 2), max(bottom, 2)), (left, right)))
    return np.kron(np.where(drawn, 0, 255), np.ones((module, module))).astype(np.uint8)


def read(picture: Bitmap, symbology: str) -> zxingcpp.Barcode:
    """The one symbol zxing-cpp finds."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(FORMATS[symbology]))
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


def rows_of(lines: Iterable[Iterable[int]]) -> tuple[int, ...]:
    """A matrix of 0 and 1 as `Matrix.rows`."""
    return tuple(sum(int(bit) << x for x, bit in enumerate(line)) for line in lines)
