"""A symbol from the raster of its plate to its grade: however it stands, whatever surrounds it, whatever it is."""

from __future__ import annotations

import numpy as np
import pytest

from tests.verify.grade.drawn import PLAIN, SAMPLES, bars, matrix
from vdp.barcode import carriers
from vdp.marks import Matrix
from vdp.verify.decode import LINEAR
from vdp.verify.grade.matrix import gradable
from vdp.verify.grade.plate import axis, band, one_bit, squared
from vdp.verify.grade.press import Bitmap, Press
from vdp.verify.grade.scale import Graded
from vdp.verify.grade.shown import shoot
from vdp.verify.grade.symbol import Outcome, Printed, SymbolGrade, grade_symbol
from vdp.verify.grade.told import decided, lowest
from vdp.verify.samples import Bytes

MODULE = 12


def plate(symbology: str) -> Bitmap:
    if symbology in LINEAR:
        return bars(symbology, MODULE)[0]
    return matrix(symbology, MODULE, 4)


def pixels(inked: Bitmap) -> Bytes:
    return np.where(inked, np.uint8(0), np.uint8(255))


def data(symbology: str) -> str:
    return bars(symbology, MODULE)[1] if symbology in LINEAR else SAMPLES[symbology]


def outcome(inked: Bitmap, symbology: str, press: Press = PLAIN) -> Outcome:
    return grade_symbol(pixels(inked), symbology, data(symbology), press, np.random.default_rng(1))


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
@pytest.mark.parametrize("symbology", ["code128", "ean13", "upce", "qr", "datamatrix", "micro-qr"])
def test_a_symbol_is_graded_however_it_stands(symbology: str, turn: int) -> None:
    found = outcome(np.rot90(plate(symbology), turn), symbology)
    assert (found.graded.grade, found.module, found.only_decoded) == (4.0, MODULE, False), found.graded


@pytest.mark.parametrize("symbology", sorted(SAMPLES))
def test_every_symbology_comes_through_without_a_press(symbology: str) -> None:
    found = outcome(plate(symbology), symbology)
    assert found.graded.grade == 4.0
    assert found.module == MODULE
    assert found.only_decoded == (symbology not in LINEAR and not gradable(symbology))


@pytest.mark.parametrize("symbology", ["code128", "qr", "pdf417"])
def test_a_press_that_fills_everything_leaves_nothing(symbology: str) -> None:
    found = outcome(plate(symbology), symbology, Press(growth=8))
    assert (found.graded.grade, found.graded.worst) == (0.0, "decode")


def test_what_cannot_be_read_before_it_is_printed_has_no_grade() -> None:
    found = grade_symbol(pixels(plate("qr")), "qr", "something else", PLAIN, np.random.default_rng(1))
    assert (found.graded.grade, found.module) == (0.0, 0.0)


def test_a_symbol_with_a_wrong_module_has_no_grade_left() -> None:
    """Its true modules are not known then, so nothing can be held against them."""
    inked = plate("datamatrix")
    # Within the code: the fifth module of the fifth row, counted from the corner after four of quiet zone.
    inked[8 * MODULE : 9 * MODULE, 8 * MODULE : 9 * MODULE] ^= True
    found = outcome(inked, "datamatrix")
    assert (found.graded.grade, found.graded.worst) == (0.0, "unused")


def test_grey_is_cut_halfway_between_its_ends() -> None:
    assert one_bit(np.array([[200, 120, 40]], np.uint8)).tolist() == [[False, False, True]]
    assert one_bit(np.array([[200, 121, 40]], np.uint8)).tolist() == [[False, False, True]]


@pytest.mark.parametrize("reduction", [0, 1, 2, 3])
def test_reduced_bars_still_tell_x(reduction: int) -> None:
    inked = matrix("qr", MODULE, 4)
    thin = inked.copy()
    for step in range(1, reduction + 1):
        thin &= np.roll(inked, -step, axis=1)
    found = axis(thin)
    assert found is not None
    assert (found.module, found.reduction) == (MODULE, reduction)
    side = inked.shape[0] // MODULE - 8
    whole, module = squared(thin, "qr", (side, side))
    assert (module, whole.shape) == (MODULE, inked.shape)
    # What is cut off is taken at both sides, so modules keep their middles.
    assert np.array_equal(whole[6::12, 6::12], inked[6::12, 6::12])
    assert outcome(thin, "qr").graded.grade == 4


def test_a_code_at_its_plates_edge_gets_paper_around_it() -> None:
    inked = matrix("qr", MODULE, 0)
    side = inked.shape[0] // MODULE
    whole, module = squared(inked, "qr", (side, side))
    assert (module, whole.shape) == (MODULE, ((side + 8) * MODULE,) * 2)
    assert np.array_equal(whole[48:-48, 48:-48], inked)


@pytest.mark.parametrize("turn", [0, 1])
def test_a_rectangle_is_graded(turn: int) -> None:
    form = carriers.Form(rectangle=True)
    shape = carriers.Encoder("datamatrix", carriers.need("datamatrix", "FP-12", form), form).encode(["FP-12"])[0]
    assert isinstance(shape, Matrix)
    cells = np.array([[row >> place & 1 for place in range(shape.width)] for row in shape.rows], bool)
    inked = np.rot90(np.pad(np.kron(cells, np.ones((MODULE, MODULE), bool)), MODULE), turn)
    found = grade_symbol(pixels(inked), "datamatrix", "FP-12", PLAIN, np.random.default_rng(1))
    assert (found.graded.grade, found.only_decoded, found.module) == (4, False, MODULE)


def test_a_plate_without_two_edges_has_no_module() -> None:
    assert axis(np.ones((9, 9), bool)) is None
    assert axis(np.zeros((9, 9), bool)) is None


def test_tall_bars_are_thinned_out_and_a_void_stays() -> None:
    tall = np.repeat(bars("code128", MODULE, 10)[0], 200, axis=0)
    tall[900:1100, 200:210] = False
    short = band(tall, 400)
    assert len(short) == 400
    assert (short != short[0]).any()
    assert len(band(tall[:300], 400)) == 300


def graded(name: str, grade: float, piece: int, *, only_decoded: bool = False) -> SymbolGrade:
    found = Graded(grade, {"decode": 4.0, "modulation": grade}, {"decode": 1.0, "modulation": 0.5})
    return SymbolGrade(piece, name, "qr", "Black", 12, grade, found.worst, found.grades, found.values, only_decoded)


def test_the_lowest_of_each_name_is_kept_and_of_equals_the_first() -> None:
    found = lowest([graded("b", 3, 2), graded("a", 4, 5), graded("b", 2, 4), graded("b", 2, 3), graded("a", 4, 1)])
    assert [(one.name, one.grade, one.piece) for one in found] == [("a", 4, 1), ("b", 2, 3)]


def test_what_decided_is_told_in_words() -> None:
    assert decided(graded("a", 3, 1)) == "modulation"
    assert decided(graded("a", 4, 1)) == "every parameter at its best"
    assert decided(graded("a", 4, 1, only_decoded=True)) == "only decoded"
    assert decided(graded("a", 0, 1, only_decoded=True)) == "not decoded"


def test_pictures_show_plate_print_and_a_part_enlarged() -> None:
    inked = plate("qr")
    shot = shoot(graded("a", 3, 1), Printed(inked, np.where(inked, 0.05, 0.85)))
    assert [png[:4] for _, png in shot.views] == [b"\x89PNG"] * 3
    assert shot.graded.name == "a"
