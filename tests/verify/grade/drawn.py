"""Symbols drawn as one-bit plates for the tests of grades."""

from __future__ import annotations

import numpy as np

from vdp.barcode import carriers
from vdp.barcode.sizes import STATES
from vdp.marks import Bars, Matrix, States
from vdp.verify.decode import LINEAR
from vdp.verify.grade.fixed import QUIET
from vdp.verify.grade.linear import grade_linear
from vdp.verify.grade.matrix import grade_matrix
from vdp.verify.grade.press import Bitmap, Press, Reflectance, print_plate
from vdp.verify.grade.scale import Graded
from vdp.verify.grade.symbol import reads

PLAIN = Press()

SAMPLES = {
    "code128": "FERRY-2041",
    "gs1-128": "(01)09506000134352(21)A7",
    "code39": "PASS 2041",
    "itf": "20410077",
    "itf14": "1950600013435",
    "ean13": "950600013435",
    "ean8": "9506000",
    "upca": "95060001343",
    "upce": "0123456",
    "qr": "FERRY-2041-SEASON",
    "datamatrix": "FERRY-2041-SEASON",
    "micro-qr": "FERRY-20",
    "pdf417": "FERRY-2041-SEASON",
    "aztec": "FERRY-2041-SEASON",
}


def bars(symbology: str, module: int, height: int = 60) -> tuple[Bitmap, str]:
    """An upright linear code with ten modules of quiet zone, and what it says."""
    name, text = symbology.replace("-", "_"), SAMPLES[symbology]
    shape = carriers.Encoder(name, carriers.need(name, text)).encode([text])[0]
    assert isinstance(shape, Bars)
    flags = np.repeat(np.arange(len(shape.widths)) % 2 == 0, np.multiply([*shape.widths], module))
    return np.tile(np.pad(flags, 11 * module), (height, 1)), carriers.read_back(name, text)


def modules(symbology: str) -> tuple[Bitmap, str]:
    """The dark modules of a matrix symbol, and what it says."""
    name, text = symbology.replace("-", "_"), SAMPLES[symbology]
    form = carriers.Form(level="L") if symbology == "micro-qr" else carriers.PLAIN
    shape = carriers.Encoder(name, carriers.need(name, text, form), form).encode([text])[0]
    assert isinstance(shape, Matrix)
    return np.array([[row >> place & 1 for place in range(shape.width)] for row in shape.rows], bool), text


#: Postal codes, whose one size the post fixes.
POSTAL = {"imb": "0123456709498765432101234567891", "rm4scc": "SN34RD1A", "kix": "2500GG30250"}


def postal(symbology: str, dpi: int = 1200) -> Bitmap:
    """A postal code in its clear zone, at the size that layouts give it."""
    size, (left, bottom, right, top) = STATES[symbology].dots(dpi), STATES[symbology].clear_dots(dpi)
    shape = carriers.Encoder(symbology, 100).encode([POSTAL[symbology]])[0]
    assert isinstance(shape, States)
    plate = np.zeros((size.full, size.width(len(shape.bars))), bool)
    for nth, bar in enumerate(shape.bars):
        high, low = (0 if bar in "FA" else size.reach), size.full - (0 if bar in "FD" else size.reach)
        plate[high:low, nth * size.pitch : nth * size.pitch + size.bar] = True
    return np.pad(plate, ((top, bottom), (left, right)))


def matrix(symbology: str, module: int, quiet: int) -> Bitmap:
    """A matrix symbol with its quiet zone."""
    return np.pad(np.kron(modules(symbology)[0], np.ones((module, module), bool)), quiet * module)


def printed(plate: Bitmap, press: Press = PLAIN, seed: int = 1) -> Reflectance:
    return print_plate(plate, press, np.random.default_rng(seed))


def decoded(symbology: str, module: int, press: Press = PLAIN, seed: int = 1) -> bool:
    """Whether a sample of that symbology can be read after a press."""
    return reads(printed(matrix(symbology, module, 4), press, seed), symbology, SAMPLES[symbology])


def graded(symbology: str, module: int, press: Press = PLAIN, seed: int = 1) -> Graded:
    """A sample of that symbology through a press, graded."""
    if symbology in LINEAR:
        plate, data = bars(symbology, module)
        return grade_linear(printed(plate, press, seed), symbology, data, module)
    expected, data = modules(symbology)
    plate = matrix(symbology, module, QUIET[symbology])
    return grade_matrix(printed(plate, press, seed), symbology, data, expected)
