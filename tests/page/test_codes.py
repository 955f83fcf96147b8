"""A code that is pointed at: read from its dots, measured, graded where there are rules for it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.verify.grade.drawn import SAMPLES, bars, matrix
from vdp.job.grading import GradeModel
from vdp.page.codes import hear
from vdp.verify.grade.rules import rules_of
from vdp.verify.manifest import SymbolLine
from vdp.verify.samples import Bytes

#: Identifiers after ISO/IEC 15424, with the modifiers of these samples.
IDENTIFIERS = {"code128": "]C0", "qr": "]Q1", "datamatrix": "]d1", "aztec": "]z0"}
RULES = rules_of(GradeModel(growth=0))


def dots(plate: np.ndarray) -> Bytes:
    return np.where(plate, 0, 255).astype(np.uint8)


def told(symbology: str, data: str, identifier: str = "") -> SymbolLine:
    return SymbolLine("code", symbology, identifier or IDENTIFIERS[symbology], "Black", 1, (0, 0, 9, 9), data)


@pytest.mark.parametrize(("symbology", "quiet"), [("qr", 4), ("datamatrix", 1)])
@pytest.mark.parametrize("turns", range(4))
def test_a_matrix_is_graded_however_it_is_turned(symbology: str, quiet: int, turns: int) -> None:
    plate = np.rot90(matrix(symbology, 12, quiet), turns)
    heard = hear(told(symbology, SAMPLES[symbology]), dots(plate), RULES, 1)
    assert (heard.text, heard.agrees, heard.module) == (SAMPLES[symbology], True, 12)
    assert heard.grade is not None
    assert heard.grade.grade >= 3.5


@pytest.mark.parametrize("turns", range(4))
def test_bars_are_graded_upright_and_lying(turns: int) -> None:
    plate, text = bars("code128", 10)
    heard = hear(told("code128", text), dots(np.rot90(plate, turns)), RULES, 1)
    assert (heard.text, heard.identifier, heard.agrees, heard.module) == (text, "]C0", True, 10)
    assert heard.grade is not None
    assert heard.grade.grade >= 3


def test_the_grade_is_that_of_the_press_that_the_job_describes() -> None:
    """The same dots on an even press, and on one whose toner grows by three dots an edge on grey paper."""
    plate, symbol = dots(matrix("qr", 12, 4)), told("qr", SAMPLES["qr"])
    even = hear(symbol, plate, rules_of(GradeModel(growth=0, noise=0, blur=0)), 1)
    poor = hear(symbol, plate, rules_of(GradeModel(growth=3, paper=45, source="a test form of Monday")), 1)
    assert even.grade is not None
    assert poor.grade is not None
    assert (even.grade.grade, poor.grade.grade <= 2) == (4.0, True)
    assert poor.held in ("symbol contrast", "modulation", "unused error correction", "fixed pattern damage")
    assert poor.note.endswith("press: a test form of Monday")


def test_a_code_without_rules_is_read_and_not_graded() -> None:
    heard = hear(told("aztec", SAMPLES["aztec"]), dots(matrix("aztec", 12, 2)), RULES, 1)
    assert (heard.text, heard.agrees, heard.grade, heard.note) == (SAMPLES["aztec"], True, None, "read, not graded")


def test_a_code_that_shines_is_read_light_on_dark() -> None:
    heard = hear(told("qr", SAMPLES["qr"]), dots(~matrix("qr", 12, 4)), RULES, 1)
    assert (heard.text, heard.agrees) == (SAMPLES["qr"], True)


def test_what_says_something_else_nothing_or_cannot_be_read() -> None:
    plate = dots(matrix("qr", 12, 4))
    other = hear(told("qr", "another"), plate, RULES, 1)
    assert (other.text, other.agrees) == (SAMPLES["qr"], False)
    assert not hear(told("qr", SAMPLES["qr"], "]Q2"), plate, RULES, 1).agrees
    nothing = hear(told("qr", "x"), np.full((90, 90), 255, np.uint8), RULES, 1)
    assert (nothing.text, nothing.agrees, nothing.size) == ("", False, (90, 90))
    assert "cannot be read here" in hear(told("pharmacode", "7", "]X0"), plate, RULES, 1).note
