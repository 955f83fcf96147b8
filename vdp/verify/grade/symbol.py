"""One symbol of a finished page, from the one-bit raster of its plate: printed by the simulation, decoded, graded.

Lives here: the order of work on a symbol, and what is told of it.  Not here: which symbols (`rules`), pictures
(`shown`), the lowest of a run (`told`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from vdp.verify.decode import LINEAR, Read, read
from vdp.verify.fourstate import KINDS
from vdp.verify.grade.linear import grade_linear
from vdp.verify.grade.matrix import gradable, grade_matrix, true_modules
from vdp.verify.grade.plate import axis, band, one_bit, squared
from vdp.verify.grade.press import Bitmap, Press, Reflectance, print_plate
from vdp.verify.grade.scale import Graded
from vdp.verify.samples import Bytes

#: Rows of dots of a linear code that are simulated: ten blocks, each wider than the aperture of an X of 40 dots.
_ROWS = 400
#: Modules of paper around a code that is only decoded.
_AROUND = 4
_UNREAD = Graded(0.0, {"decode": 0.0}, {"decode": 0.0})
#: Some of the error correction is used up before anything is printed, so what is right in a module is not known.
_DAMAGED = Graded(0.0, {"unused": 0.0}, {"unused": 0.0})
_READ = Graded(4.0, {"decode": 4.0}, {"decode": 1.0})


class SymbolGrade(NamedTuple):
    """What came of a symbol: its grade 0..4, `worst` the parameter that decided, each parameter's grade and value.

    `only_decoded` tells that the symbology has no grading here: 4 then means that the simulated print could be read,
    and 0 that it could not.  `module` is the X-dimension found on the plate in dots, 0 for codes of four kinds of bars.
    """

    piece: int
    name: str
    symbology: str
    plate: str
    module: float
    grade: float
    worst: str
    grades: Mapping[str, float]
    values: Mapping[str, float]
    only_decoded: bool

    @property
    def order(self) -> tuple[float, float, int, str]:
        """Lowest grade first; of equal grades the lowest parameters, then the first piece."""
        return (self.grade, sum(self.grades.values()) / len(self.grades), self.piece, self.name)


class Printed(NamedTuple):
    """The plate and its simulated print, upright, dot for dot."""

    plate: Bitmap
    print: Reflectance


class Outcome(NamedTuple):
    """`module` in dots; `graded` as `SymbolGrade` says; what was looked at."""

    module: float
    graded: Graded
    only_decoded: bool
    printed: Printed


def grade_symbol(pixels: Bytes, symbology: str, data: str, press: Press, chance: np.random.Generator) -> Outcome:
    """Grades the symbol that a region at the job's resolution holds with its quiet zone and nothing else.

    A code that shines and is read light on dark is graded as its reader sees it once it has turned the picture round.
    """
    plate = one_bit(pixels)
    found = _found(plate, symbology, data)
    if found is None:
        return Outcome(0.0, _UNREAD, False, Printed(plate, print_plate(plate, press, chance)))
    plate = np.rot90(plate, found.turn)
    if gradable(symbology) and all(found.size):
        return _matrix(plate, symbology, data, found.size, press, chance)
    across = axis(plate)
    module = across.module if across is not None and symbology not in KINDS else 0.0
    if symbology in LINEAR:
        plate = band(plate, _ROWS)
        printed = print_plate(plate, press, chance)
        return Outcome(module, grade_linear(printed, symbology, data, module), False, Printed(plate, printed))
    # A code without quiet zones lies on paper all the same.
    plate = np.pad(plate, round(_AROUND * module) if module else 0)
    printed = print_plate(plate, press, chance)
    return Outcome(module, _READ if reads(printed, symbology, data) else _UNREAD, True, Printed(plate, printed))


def reads(printed: Reflectance, symbology: str, data: str) -> bool:
    """Whether a camera of one, half or two dots a pixel gives a reader what it needs: readers take many pictures."""
    shown = np.clip(np.round(printed * 255), 0, 255).astype(np.uint8)
    rows, columns = (size // 2 for size in shown.shape)
    coarse = shown[: 2 * rows, : 2 * columns].reshape(rows, 2, columns, 2).mean(axis=(1, 3)).astype(np.uint8)
    finer = np.kron(shown, np.ones((2, 2), np.uint8))
    return any(one.text == data for picture in (shown, coarse, finer) for one in read(picture, symbology, data))


def _matrix(
    plate: Bitmap, symbology: str, data: str, size: tuple[int, int], press: Press, chance: np.random.Generator
) -> Outcome:
    plate, module = squared(plate, symbology, size)
    expected = true_modules(plate, symbology, data, *size)
    printed = print_plate(plate, press, chance)
    graded = _DAMAGED if expected is None else grade_matrix(printed, symbology, data, expected)
    return Outcome(module, graded, False, Printed(plate, printed))


def _found(plate: Bitmap, symbology: str, data: str) -> Read | None:
    """How the unprinted symbol is read, which tells how it stands."""
    shown = np.where(plate, np.uint8(0), np.uint8(255))
    return next((one for one in read(shown, symbology, data) if one.text == data), None)
