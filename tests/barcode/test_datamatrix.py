"""Data Matrix: the standard's example, sizes, a second encoder, and zxing-cpp's decoder on drawn modules."""

from __future__ import annotations

import random
import string

import numpy as np
import ppf.datamatrix
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, modules, read, rows_of
from vdp.barcode import datamatrix
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

ANNEX_O = """
    1010101010 1100101101 1100000100 1100011101 1100001000 1000001111 1110110000 1111011001 1001110100 1111111111
"""


def test_iso_16022_annex_o() -> None:
    """ISO/IEC 16022 Annex O, Fig. O.2: "123456" in 10 × 10 modules."""
    rows = [[int(bit) for bit in row] for row in ANNEX_O.split()]
    assert datamatrix.encode("123456") == Matrix(10, rows_of(rows))
    assert datamatrix.encode("123456", 10) == Matrix(10, rows_of(rows))


@pytest.mark.parametrize(("text", "size"), [("A1B2C3D4E5F6G7H8I9J0K1L2", 18), ("30Q324343430794<OQQ", 16)])
def test_iso_16022_sizes(text: str, size: int) -> None:
    """ISO/IEC 16022 Fig. 1 and Annex R.1."""
    assert datamatrix.size_needed(text) == size
    assert read(bitmap(datamatrix.encode(text, size), "datamatrix"), "datamatrix").text == text


@pytest.mark.parametrize("size", datamatrix.SIZES)
def test_every_size_is_obeyed_and_read(size: int) -> None:
    matrix = datamatrix.encode("12", size)
    assert matrix.width == size == len(matrix.rows)
    grid = modules(matrix)
    assert grid[:, 0].all()
    assert grid[-1].all(), "the finder pattern: left column and bottom row"
    assert read(bitmap(matrix, "datamatrix"), "datamatrix").text == "12"


#: ISO/IEC 16022 Table 7: digits that the square sizes hold (two a codeword), from memory and recomputed here.
@pytest.mark.parametrize(("size", "digits"), [(10, 6), (12, 10), (16, 24), (26, 88), (32, 124), (52, 408), (144, 3116)])
def test_capacity_in_digits(size: int, digits: int) -> None:
    assert datamatrix.size_needed("7" * digits) == size
    assert datamatrix.encode("7" * digits, size).width == size
    with pytest.raises(RowRefused):
        datamatrix.encode("7" * (digits + 2), size)


def test_same_modules_as_a_second_encoder() -> None:
    """`ppf-datamatrix`, for pairs of digits and for capitals in ASCII encodation, where no choice is open."""
    rng = random.Random(16022)
    same = 0
    for _ in range(200):
        text = "".join(rng.choice(string.digits) for _ in range(2 * rng.randrange(1, 12)))
        theirs = np.array(ppf.datamatrix.DataMatrix(text, codecs=["ascii"]).matrix)
        if theirs.shape[0] == theirs.shape[1]:
            assert rows_of(theirs) == datamatrix.encode(text).rows
            same += 1
    assert same > 100


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40))
@settings(max_examples=150, deadline=None)
def test_any_text_is_read_back(text: str) -> None:
    matrix = datamatrix.encode(text, datamatrix.size_needed(text))
    found = read(bitmap(matrix, "datamatrix"), "datamatrix")
    assert found.bytes == text.encode()
    assert found.symbology_identifier == "]d1"


@given(st.text(st.characters(max_codepoint=127), min_size=1, max_size=40))
@settings(max_examples=150, deadline=None)
def test_any_ascii_is_read_back_in_a_larger_size(text: str) -> None:
    assert read(bitmap(datamatrix.encode(text, 44), "datamatrix"), "datamatrix").bytes == text.encode()


@pytest.mark.parametrize("text", ["[)>\x1e05\x1dABC\x1e\x04", "\\x1d\\^1", "\x1d01", "100%~1", "]d2"])
def test_what_an_encoder_may_be_tempted_to_interpret(text: str) -> None:
    """Macros, escapes and leading separators are data here."""
    assert read(bitmap(datamatrix.encode(text), "datamatrix"), "datamatrix").bytes == text.encode()


@pytest.mark.parametrize("text", ["Zoë", "Łódź", "日本", "Ωμέγα", "مرحبا"])
def test_text_outside_ascii_is_utf8_after_an_eci(text: str) -> None:
    found = read(bitmap(datamatrix.encode(text), "datamatrix"), "datamatrix")
    assert found.text == text
    assert found.bytes == text.encode()


def test_the_smallest_square_and_none_smaller() -> None:
    rng = random.Random(5)
    for _ in range(100):
        text = "".join(rng.choice(string.printable[:95]) for _ in range(rng.randrange(1, 60)))
        size = datamatrix.size_needed(text)
        assert datamatrix.encode(text, size) == datamatrix.encode(text)
        place = datamatrix.SIZES.index(size)
        if place:
            with pytest.raises(RowRefused, match=f"needs {size} × {size} modules"):
                datamatrix.encode(text, datamatrix.SIZES[place - 1])


@pytest.mark.parametrize("text", ["", "1" * 3117, "a" * 3000, "é" * 1600, "\ud800"])
def test_refuses(text: str) -> None:
    with pytest.raises(RowRefused):
        datamatrix.size_needed(text)
    with pytest.raises(RowRefused):
        datamatrix.encode(text, 144)


def test_no_such_size() -> None:
    with pytest.raises(OurBug, match="11"):
        datamatrix.encode("1", 11)


def test_an_ignored_size_option_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The creator ignores options it does not know; a symbol of another size must not pass."""
    create = datamatrix._create
    monkeypatch.setattr(datamatrix, "_create", lambda text, **_: create(text, unheard_of=4))
    with pytest.raises(OurBug, match="was asked for"):
        datamatrix.encode("1" * 6, 16)
    monkeypatch.setattr(datamatrix, "_create", lambda text, **_: create(text))
    with pytest.raises(OurBug, match="square"):
        datamatrix.encode("1" * 20)
