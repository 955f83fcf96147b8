"""PDF syntax, byte for byte (ISO 32000-1, 7.3)."""

from __future__ import annotations

import math
from decimal import Decimal

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.pdf.objects import Name, Raw, Ref, indirect, name_text, number_text, serialise, stream, string, text_string


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (None, b"null"),
        (True, b"true"),
        (False, b"false"),
        (7, b"7"),
        (-0.5, b"-0.5"),
        (0.06, b"0.06"),
        (1e-7, b"0.0000001"),
        (1e21, b"1000000000000000000000"),
        (-0.0, b"0"),
        (Decimal("1.500"), b"1.5"),
        (Name("A B#/é"), b"/A#20B#23#2F#C3#A9"),
        ("plain (text)", rb"(plain \(text\))"),
        ("Θάλασσα", b"<FEFF039803AC03BB03B103C303C303B1>"),
        (b"\x00\xff", b"<00FF>"),
        (b"a\\b", rb"(a\\b)"),
        (Ref(12), b"12 0 R"),
        ([1, Name("X"), [2]], b"[1 /X [2]]"),
        ({"K": 1, "N": Name("V"), "R": Ref(3), "D": {}}, b"<</K 1/N/V/R 3 0 R/D<<>>>>"),
        (Raw(b"[0 1]"), b"[0 1]"),
    ],
)
def test_values(value: object, expected: bytes) -> None:
    assert serialise(value) == expected  # type: ignore[arg-type]  # every kind of value is in the table


def test_what_pdf_cannot_hold_is_refused() -> None:
    with pytest.raises(TypeError, match="set"):
        serialise({1}.__class__())  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="U\\+0000"):
        name_text("a\0b")
    for odd in (math.inf, math.nan):
        with pytest.raises(ValueError, match="not a number"):
            number_text(odd)


def test_objects_and_streams() -> None:
    assert indirect(3, b"null") == b"3 0 obj\nnull\nendobj\n"
    assert stream(4, {"N": 1}, b"data") == b"4 0 obj\n<</N 1/Length 4>>stream\ndata\nendstream\nendobj\n"


@given(st.floats(-1e9, 1e9))
def test_numbers_read_back_as_they_were(value: float) -> None:
    assert float(number_text(value)) == value
    assert "e" not in number_text(value).lower()


@given(st.floats(-1000, 1000), st.integers(0, 6))
def test_rounded_numbers_are_near_and_short(value: float, places: int) -> None:
    text = number_text(value, places)
    assert abs(float(text) - value) <= 0.5 * 10**-places + 1e-12
    assert not text.endswith(".")


@given(st.text(st.characters(codec="utf-8"), max_size=30), st.binary(max_size=30))
def test_strings_read_back_in_another_reader(text: str, raw: bytes) -> None:
    assert str(pikepdf.Object.parse(text_string(text))) == text
    assert bytes(pikepdf.Object.parse(string(raw))) == raw


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=20))
def test_names_read_back_in_another_reader(name: str) -> None:
    assert str(pikepdf.Object.parse(name_text(name).encode())) == "/" + name
