"""The word across a specimen: large, near the middle, and beside the symbols, which stay readable."""

from __future__ import annotations

import pytest

from vdp.job.faces import builtin_faces
from vdp.marks import Box, TextMark
from vdp.plan.page import inside, overlaps
from vdp.press.standins import blank_marks, specimen_marks
from vdp.text.faces import Faces
from vdp.text.fit import Setter

TRIM = (100, 50, 3000, 2000)


@pytest.fixture(scope="module")
def setter() -> Setter:
    return Setter(Faces(builtin_faces()), 1200)


def word(setter: Setter, *symbols: Box) -> TextMark:
    (mark,) = specimen_marks(TRIM, setter, symbols)
    assert isinstance(mark, TextMark)
    assert mark.lines[0].text == "SPECIMEN"
    assert inside(mark.box, TRIM)
    return mark


def test_with_nothing_in_the_way_it_is_in_the_middle_half_as_wide_as_the_piece(setter: Setter) -> None:
    x, y, width, height = word(setter).box
    assert width == 1500
    assert abs(2 * x + width - 2 * 100 - 3000) <= 1
    assert abs(2 * y + height - 2 * 50 - 2000) <= 1


def test_it_keeps_beside_symbols(setter: Setter) -> None:
    symbols = ((1400, 800, 500, 500), (300, 1400, 900, 400))
    mark = word(setter, *symbols)
    assert not any(overlaps(mark.box, symbol) for symbol in symbols)


def test_it_grows_smaller_before_it_covers_a_symbol(setter: Setter) -> None:
    symbol = (100, 50, 3000, 1800)
    mark = word(setter, symbol)
    assert not overlaps(mark.box, symbol)
    assert mark.box[2] < 1500


def test_where_there_is_no_other_place_it_stands_in_the_middle(setter: Setter) -> None:
    assert word(setter, TRIM).box[2] == 1500


def test_a_blank_is_crossed_out_and_says_so(setter: Setter) -> None:
    words = [mark.lines[0].text for mark in blank_marks(TRIM, setter, 1200) if isinstance(mark, TextMark)]
    assert words == ["BLANK"]
