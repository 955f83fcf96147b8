"""What shapes lose when a press makes dots of them."""

from __future__ import annotations

import string

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.faces import builtin_faces
from vdp.pattern.survival import lost, raster, shape_of
from vdp.text.faces import Face
from vdp.text.outlines import outline

SANS = Face("sans", builtin_faces()["sans"])


def box(left: float, bottom: float, right: float, top: float, *, hole: bool = False) -> list[tuple[float, float]]:
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    return corners[::-1] if hole else corners


RING = [box(0, 0, 10, 10), box(3, 3, 7, 7, hole=True)]


def at(points: float, *, reversed_out: bool = False, letters: str = "e8") -> list[str]:
    scale = points * 1200 / 72 / SANS.upem
    return [lost(outline(SANS, one), scale, reversed_out=reversed_out) for one in letters]


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 20), st.integers(1, 20), st.tuples(st.floats(0, 0.99), st.floats(0, 0.99)))
def test_a_box_has_as_many_dots_as_its_area_wherever_it_falls(
    width: int, height: int, phase: tuple[float, float]
) -> None:
    assert raster([box(0, 0, width, height)], 1, phase).sum() == width * height


def test_parts_and_holes() -> None:
    assert shape_of(raster(RING, 1, (0.5, 0.5)), diagonal=True) == (1, 1, 1)
    assert shape_of(raster([*RING, box(12, 0, 14, 2)], 1, (0.5, 0.5)), diagonal=True)[:2] == (2, 1)
    corner = np.array([[True, False], [False, True]])
    assert shape_of(corner, diagonal=True).parts == 1
    assert shape_of(corner, diagonal=False).parts == 2
    assert shape_of(np.pad(np.zeros((1, 1), bool), 1, constant_values=True), diagonal=True) == (1, 1, 0)


@pytest.mark.parametrize(
    ("shape", "scale", "said"),
    [
        (RING, 0.4, ""),
        (RING, 0.25, "thinner than 1 dots"),
        ([box(0, 0, 4, 4), box(1.9, 1.9, 2.1, 2.1, hole=True)], 2, "a hole closes"),
        ([box(0, 0, 4, 4), box(4.4, 0, 8.4, 4)], 1, "run together"),
        ([box(0, 0, 9, 2), box(0, 0, 2, 9), box(7, 0, 9, 9), box(0, 7, 4.3, 9), box(4.6, 7, 9, 9)], 1, "opening"),
        ([], 1, ""),
    ],
)
def test_what_is_lost(shape: list[list[tuple[float, float]]], scale: float, said: str) -> None:
    found = lost(shape, scale, reversed_out=False)
    assert said in found
    assert bool(said) == bool(found)


def test_reversed_strokes_need_two_dots() -> None:
    bar = [box(0, 0, 1.5, 9)]
    assert lost(bar, 1, reversed_out=False) == ""
    assert "thinner than 2 dots" in lost(bar, 1, reversed_out=True)
    assert lost(bar, 1.4, reversed_out=True) == ""


def test_letters_of_the_sans_hold_at_two_points_and_not_at_half_a_point() -> None:
    assert at(2) == ["", ""]
    assert all(at(0.5))
    assert all(at(1, reversed_out=True))
    assert at(3, reversed_out=True) == ["", ""]
    assert outline(SANS, "\ue123") == []


def test_the_sizes_that_readme_gives_for_the_sans() -> None:
    every = string.ascii_letters + string.digits
    assert any(at(1.0, letters="3"))
    assert not any(at(1.2, letters=every))
    assert any(at(2.0, reversed_out=True, letters="bd"))
    assert not any(at(2.5, reversed_out=True, letters=every))
