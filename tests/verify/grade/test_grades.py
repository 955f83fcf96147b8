"""Grades of simulated prints: ideal symbols, and one defect at a time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.verify.grade.drawn import SAMPLES, bars, graded, matrix, modules, printed
from vdp.verify.decode import LINEAR
from vdp.verify.grade import linear as linear_room
from vdp.verify.grade import scale
from vdp.verify.grade.linear import grade_linear
from vdp.verify.grade.matrix import gradable, grade_matrix, true_modules
from vdp.verify.grade.press import Press, Reflectance
from vdp.verify.grade.scale import AXIAL, CONTRAST, Graded, at_least, at_most

MODULE = 12
GRADED = [name for name in SAMPLES if name in LINEAR or gradable(name)]


@pytest.mark.parametrize("symbology", GRADED)
def test_an_ideal_symbol_has_the_best_grade(symbology: str) -> None:
    found = graded(symbology, MODULE)
    assert found.grade == 4.0, (found.worst, found.values)
    assert set(found.grades.values()) == {4.0}


@pytest.mark.parametrize("symbology", GRADED)
def test_growth_past_half_a_module_ends_every_symbol(symbology: str) -> None:
    assert graded(symbology, 6, Press(growth=3.2)).grade == 0


def lowered(found: Graded) -> set[str]:
    return {name for name, grade in found.grades.items() if grade < 4}


# -- linear: one defect, the parameters it may lower ------------------------------------------------------------------


def linear(picture: Reflectance, symbology: str = "code128") -> Graded:
    return grade_linear(picture, symbology, bars(symbology, MODULE)[1], MODULE)


def test_weak_ink_lowers_contrast_alone() -> None:
    found = linear(printed(bars("code128", MODULE)[0], Press(paper=0.85, ink=0.25)))
    assert found.values["contrast"] == pytest.approx(0.60)
    assert (lowered(found), found.grade) == ({"contrast"}, 3.0)


def test_grey_paper_fails_the_least_reflectance_too() -> None:
    found = linear(printed(bars("code128", MODULE)[0], Press(paper=0.5, ink=0.28)))
    assert lowered(found) == {"contrast", "minimum"}
    assert found.grade == 0


def test_blur_lowers_modulation_and_not_contrast() -> None:
    found = linear(printed(bars("code128", MODULE)[0], Press(blur=5)))
    assert "modulation" in lowered(found)
    assert found.grades["contrast"] == 4


def test_a_grey_void_in_a_bar_is_a_defect() -> None:
    """A wide bar with a lighter spot that stays under the threshold (it would else cut the bar in two)."""
    picture = printed(bars("code39", MODULE)[0])
    row = picture[30] < 0.5
    edges = np.flatnonzero(row[1:] != row[:-1]) + 1
    start = next(a for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a == 3 * MODULE)
    picture[:, start + MODULE : start + 2 * MODULE] = 0.25
    found = linear(picture, "code39")
    assert found.values["defects"] == pytest.approx(0.25, abs=0.02)
    assert lowered(found) == {"defects"}


def test_a_void_in_a_few_scans_costs_a_few_scans() -> None:
    picture = printed(bars("code128", MODULE)[0])
    picture[20:28] = 0.85
    found = linear(picture)
    assert 0 < found.grade < 4


@pytest.mark.parametrize("symbology", sorted(LINEAR & SAMPLES.keys()))
def test_an_edge_out_of_place_lowers_decodability(symbology: str) -> None:
    """A narrow bar's right edge moves outwards, further where two widths are further apart; nothing else changes."""
    picture = printed(bars(symbology, MODULE)[0])
    row = picture[30] < 0.5
    starts, ends = np.flatnonzero(~row[:-1] & row[1:]) + 1, np.flatnonzero(row[:-1] & ~row[1:]) + 1
    two_widths = symbology in ("code39", "itf", "itf14")
    place = next(
        at
        for at in range(6, 20)
        if not two_widths or (ends[at] - starts[at] == MODULE and starts[at + 1] - ends[at] > MODULE)
    )
    picture[:, ends[place] : ends[place] + (5 if two_widths else 3)] = 0.05
    found = linear(picture, symbology)
    assert lowered(found) == {"decodability"}
    assert found.grades["decodability"] in (1, 2, 3)


def test_other_data_or_no_code_fails() -> None:
    picture = printed(bars("code128", MODULE)[0])
    assert grade_linear(picture, "code128", "ANOTHER", MODULE).grades["decode"] == 0
    bare = grade_linear(np.full((60, 300), 0.85), "code128", "X", MODULE)
    assert (bare.grade, bare.worst) == (0, "decode")


# -- matrix -----------------------------------------------------------------------------------------------------------


def matrix_grade(symbology: str, picture: Reflectance) -> Graded:
    expected, data = modules(symbology)
    return grade_matrix(picture, symbology, data, expected)


def plate(symbology: str) -> Reflectance:
    return printed(matrix(symbology, MODULE, 4 if symbology == "qr" else 1))


TWO = ("qr", "datamatrix")


@pytest.mark.parametrize("symbology", TWO)
def test_weak_ink_lowers_the_contrast_of_a_matrix_alone(symbology: str) -> None:
    picture = plate(symbology)
    picture[picture < 0.5] = 0.25
    assert lowered(matrix_grade(symbology, picture)) == {"contrast"}


@pytest.mark.parametrize(("symbology", "row", "column"), [("qr", 10, 11), ("datamatrix", 8, 8)])
def test_a_flipped_data_module_uses_error_correction(symbology: str, row: int, column: int) -> None:
    picture, quiet = plate(symbology), 4 if symbology == "qr" else 1
    for step in range(3):
        y, x = (row + quiet) * MODULE, (column + 3 * step - 3 + quiet) * MODULE
        cell = picture[y : y + MODULE, x : x + MODULE]
        cell[:] = 0.9 - cell
    found = matrix_grade(symbology, picture)
    assert found.values["unused"] < 1
    assert lowered(found) <= {"unused", "modulation"}
    assert {"axial", "grid", "contrast", "fixed", "decode"}.isdisjoint(lowered(found))


@pytest.mark.parametrize(("symbology", "row", "column"), [("qr", 0, 3), ("datamatrix", 5, 0)])
def test_a_hole_in_a_fixed_pattern_is_fixed_pattern_damage(symbology: str, row: int, column: int) -> None:
    picture, quiet = plate(symbology), 4 if symbology == "qr" else 1
    y, x = (row + quiet) * MODULE, (column + quiet) * MODULE
    picture[y : y + MODULE, x : x + MODULE] = 0.85
    found = matrix_grade(symbology, picture)
    assert found.grades["fixed"] < 4
    assert found.grades["unused"] == 4
    assert {"axial", "grid", "contrast"}.isdisjoint(lowered(found))


@pytest.mark.parametrize("symbology", TWO)
@pytest.mark.parametrize(("stretch", "grade"), [(1.05, 4), (1.09, 2), (1.2, 0)])
def test_a_stretched_symbol_loses_by_axial_non_uniformity(symbology: str, stretch: float, grade: int) -> None:
    picture = plate(symbology)
    found = matrix_grade(symbology, picture[:, (np.arange(round(picture.shape[1] * stretch)) / stretch).astype(int)])
    assert found.grades["axial"] == grade
    assert lowered(found) <= {"axial"}


@pytest.mark.parametrize("symbology", TWO)
def test_a_step_in_the_paper_feed_is_grid_non_uniformity(symbology: str) -> None:
    """Rows are now thinner, now thicker: the grid departs, the pitch as a whole hardly does."""
    picture = plate(symbology)
    height = picture.shape[0]
    wave = np.arange(height) + 0.5 * MODULE * np.sin(np.arange(height) / height * 4 * np.pi)
    found = matrix_grade(symbology, picture[np.clip(wave.round().astype(int), 0, height - 1)])
    assert found.grades["grid"] < 4
    assert found.grades["contrast"] == 4


def test_growth_lowers_modulation_before_it_ends_decoding() -> None:
    grades = [graded("datamatrix", 8, Press(growth=growth, blur=1)).grades for growth in (0, 1, 2, 3)]
    assert [one["decode"] for one in grades[:3]] == [4, 4, 4]
    falling = [one["modulation"] for one in grades]
    assert falling == sorted(falling, reverse=True)
    assert falling[0] == 4
    assert falling[-1] < 4


def test_true_modules_are_taken_only_when_the_decoder_finds_them_whole() -> None:
    expected, data = modules("qr")
    side = len(expected)
    whole = matrix("qr", MODULE, 4)
    assert np.array_equal(true_modules(whole, "qr", data, side, side), expected)  # type: ignore[arg-type]  # not None
    assert true_modules(whole, "qr", "ANOTHER", side, side) is None
    whole[14 * MODULE : 15 * MODULE, 14 * MODULE : 15 * MODULE] ^= True
    assert true_modules(whole, "qr", data, side, side) is None


def test_what_has_no_rules_is_refused() -> None:
    with pytest.raises(ValueError, match="decoded only"):
        grade_matrix(np.ones((9, 9)), "aztec", "A", np.ones((9, 9), bool))
    with pytest.raises(ValueError, match="no linear code"):
        grade_linear(np.ones((9, 9)), "qr", "A", 4)


def test_published_thresholds() -> None:
    """ISO/IEC 15416 (linear) and ISO/IEC 15415:2011 (matrices), as verifier makers' pages give them: for 4, 3, 2, 1."""
    assert scale.CONTRAST == (0.70, 0.55, 0.40, 0.20)
    assert scale.MODULATION == (0.70, 0.60, 0.50, 0.40)
    assert scale.DECODABILITY == (0.62, 0.50, 0.37, 0.25)
    assert scale.DEFECTS == (0.15, 0.20, 0.25, 0.30)
    assert (scale.LEAST_EDGE, scale.MOST_MINIMUM) == (0.15, 0.5)
    assert scale.UNUSED == (0.62, 0.50, 0.37, 0.25)
    assert scale.AXIAL == (0.06, 0.08, 0.10, 0.12)
    assert scale.GRID == (0.38, 0.50, 0.63, 0.75)
    assert scale.CELL_MODULATION == (0.50, 0.40, 0.30, 0.20)
    assert linear_room.SCANS == 10


def test_a_symbol_is_the_mean_of_ten_scans_and_a_scan_its_worst_parameter() -> None:
    """ISO/IEC 15416: three of ten scans lie in a stripe of faint ink, whose contrast of 0.50 is a 2."""
    picture = printed(np.tile(bars("code128", MODULE)[0][30], (400, 1)))
    picture[20:130][picture[20:130] < 0.5] = 0.35
    found = linear(picture)
    hit = sum(30 <= round(y) < 120 for y in np.linspace(0.1 * 399, 0.9 * 399, 10))
    assert hit == 3
    assert found.grade == pytest.approx((7 * 4 + 3 * 2) / 10)


def test_axial_non_uniformity_by_its_formula() -> None:
    """ISO/IEC 15415: |X − Y| ÷ ((X + Y) ÷ 2): 13 dots by 12 is 0.08, a 3."""
    picture = np.repeat(np.repeat(plate("qr")[::MODULE, ::MODULE], 12, axis=0), 13, axis=1)
    found = matrix_grade("qr", picture)
    assert found.values["axial"] == pytest.approx(1 / 12.5, abs=1e-6)
    assert found.grades["axial"] == 3


def test_thresholds_at_their_edges() -> None:
    assert [at_least(value, CONTRAST) for value in (0.70, 0.699, 0.55, 0.40, 0.20, 0.19)] == [4, 3, 3, 2, 1, 0]
    assert [at_most(value, AXIAL) for value in (0.06, 0.061, 0.08, 0.10, 0.12, 0.13)] == [4, 3, 3, 2, 1, 0]
