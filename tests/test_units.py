"""Lengths and dots."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.units import UNITS, dots, mm, parse_length, points


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("72 pt", 72.0),
        ("1 in", 72.0),
        ("25.4 mm", 72.0),
        ("0.25in", 18.0),
        (" 11pt ", 11.0),
        ("-3 mm", -3 * 72 / 25.4),
        (".5 pt", 0.5),
        ("5. pt", 5.0),
        ("+2 pt", 2.0),
    ],
)
def test_length_in_points(text: str, expected: float) -> None:
    assert parse_length(text) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is not a length"),
        ("mm", "is not a length"),
        ("3 mm wide", "is not a length"),
        ("1,5 mm", "is not a length"),
        ("1e3 mm", "is not a length"),
        ("3", "has no unit: write '3 mm', '3 in' or '3 pt'"),
        ("3 cm", "'cm' is not a unit of length: use mm, in or pt"),
        ("3 MM", "'MM' is not a unit"),
        ("nan mm", "is not a length"),
    ],
)
def test_what_is_no_length_is_told(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        parse_length(text)


@given(
    st.decimals(min_value=-10_000, max_value=10_000, places=4, allow_nan=False),
    st.sampled_from(sorted(UNITS)),
    st.sampled_from(["", " ", "  "]),
)
def test_printed_and_read_back(number: object, unit: str, gap: str) -> None:
    assert parse_length(f"{number:f}{gap}{unit}") == float(Fraction(str(number)) * UNITS[unit])


@given(st.floats(min_value=0, max_value=5000), st.sampled_from([300, 600, 1200, 2400]))
def test_dots_are_the_nearest(length: float, dpi: int) -> None:
    n_dots = dots(length, dpi)
    assert isinstance(n_dots, int)
    assert abs(points(n_dots, dpi) - length) <= 72 / dpi / 2 + 1e-9


@given(st.integers(min_value=-100_000, max_value=100_000), st.sampled_from([300, 600, 1200, 2400]))
def test_dots_and_back(n_dots: int, dpi: int) -> None:
    assert dots(points(n_dots, dpi), dpi) == n_dots


def test_halves_go_up() -> None:
    # 0.03 pt is half a dot at 1200 dpi.
    assert [dots(length, 1200) for length in (0.03, 0.09, -0.03)] == [1, 2, 0]


def test_one_dot_at_1200_dpi() -> None:
    # 72 / 1200 = 0.06 pt.
    assert points(1, 1200) == pytest.approx(0.06)


def test_points_to_millimetres() -> None:
    assert mm(72) == pytest.approx(25.4)
