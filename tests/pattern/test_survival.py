"""What shapes lose when a press makes dots of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.faces import builtin_faces
from vdp.pattern.survival import FINE, Anatomy, Bitmap, anatomy, least_size, lost, lost_along, raster, shape_of, thin
from vdp.text.faces import Face
from vdp.text.outlines import outline

SANS = Face("sans", builtin_faces()["sans"])


def box(left: float, bottom: float, right: float, top: float, *, hole: bool = False) -> list[tuple[float, float]]:
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    return corners[::-1] if hole else corners


RING = [box(0, 0, 10, 10), box(3, 3, 7, 7, hole=True)]


def known(character: str) -> Anatomy:
    return anatomy(outline(SANS, SANS.font.get_nominal_glyph(ord(character))), SANS.upem)


def at(points: float, *, reversed_out: bool = False, letters: str = "e8") -> list[str]:
    scale = points * 1200 / 72 / SANS.upem
    return [lost_along(known(one), scale, 0, reversed_out=reversed_out) for one in letters]


def dots_of(
    outline: list[list[tuple[float, float]]], scale: float = 1, phase: tuple[float, float] = (0.5, 0.5)
) -> Bitmap:
    return raster([np.array(contour, float) for contour in outline], scale, phase)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 20), st.integers(1, 20), st.tuples(st.floats(0, 0.99), st.floats(0, 0.99)))
def test_a_box_has_as_many_dots_as_its_area_wherever_it_falls(
    width: int, height: int, phase: tuple[float, float]
) -> None:
    assert dots_of([box(0, 0, width, height)], 1, phase).sum() == width * height


def test_parts_and_holes() -> None:
    assert shape_of(dots_of(RING), diagonal=True) == (1, 1, 1)
    assert shape_of(dots_of([*RING, box(12, 0, 14, 2)]), diagonal=True)[:2] == (2, 1)
    corner = np.array([[True, False], [False, True]])
    assert shape_of(corner, diagonal=True).parts == 1
    assert shape_of(corner, diagonal=False).parts == 2
    assert shape_of(np.pad(np.zeros((1, 1), bool), 1, constant_values=True), diagonal=True) == (1, 1, 0)
    assert shape_of(np.array([[True], [False], [True]]), diagonal=True).parts == 2


@pytest.mark.parametrize(
    ("shape", "scale", "said"),
    [
        (RING, 0.4, ""),
        (RING, 0.2, "a hole closes"),
        ([box(0, 0, 4, 4), box(1.8, 1.8, 2.2, 2.2, hole=True)], 1, "a hole closes"),
        ([box(0, 0, 4, 4), box(4.4, 0, 8.4, 4)], 1, "run together"),
        ([box(0, 0, 4, 4), box(4, 1.8, 6, 2), box(6, 0, 9, 4)], 1, "falls apart"),
        ([box(0, 0, 9, 2), box(0, 0, 2, 9), box(7, 0, 9, 9), box(0, 7, 4.3, 9), box(4.6, 7, 9, 9)], 1, "opening"),
        ([], 1, ""),
    ],
)
def test_what_is_lost(shape: list[list[tuple[float, float]]], scale: float, said: str) -> None:
    found = lost_along(anatomy(shape, 10), scale, 0.3, reversed_out=False)
    assert said in found
    assert bool(said) == bool(found)


def test_what_is_lost_depends_on_the_place_between_dots() -> None:
    bar = anatomy([box(0, 0, 0.6, 9)], 10)
    found = [lost(bar, 1, (place / 4, 0), reversed_out=False) for place in range(4)]
    assert found == ["", "", "", "parts of it run together or vanish"]


@settings(max_examples=30, deadline=None)
@given(st.floats(0.2, 3.0))
def test_a_bar_is_as_thick_as_it_is(width: float) -> None:
    assert anatomy([box(0, 0, width, 9)], 10).stroke == pytest.approx(width, abs=20 / FINE + 1e-9)


def test_the_least_stroke_is_that_of_the_thinnest_join() -> None:
    two = anatomy([box(0, 0, 4, 4), box(4, 1.5, 6, 2.5), box(6, 0, 10, 4)], 10)
    assert two.parts == (1, 1)
    assert two.stroke == pytest.approx(1, abs=10 / FINE + 1e-9)
    assert anatomy(RING, 10).holes[0] == pytest.approx((16,), rel=0.1)


def test_reversed_strokes_need_two_dots() -> None:
    bar = anatomy([box(0, 0, 1.5, 9)], 10)
    assert not thin(bar, 1, reversed_out=False)
    assert thin(bar, 1, reversed_out=True)
    assert not thin(bar, 1.4, reversed_out=True)
    assert not thin(anatomy([], 10), 1, reversed_out=True)


def test_letters_of_the_sans_hold_at_one_point_and_not_at_half_a_point() -> None:
    assert at(1) == ["", ""]
    assert all(at(0.5))
    assert all(at(0.8, reversed_out=True))
    assert at(2, reversed_out=True) == ["", ""]
    assert outline(SANS, SANS.font.get_nominal_glyph(0x20)) == []


def test_the_least_size_is_that_above_which_none_is_lost() -> None:
    assert least_size(lambda size: size != 3, [1, 2, 3, 4, 5]) == 4
    assert least_size(lambda size: size < 5, [1, 2, 3, 4, 5]) is None
    assert least_size(lambda size: size > 0, [1, 2]) == 1


def test_gaps_that_nobody_sees_may_close() -> None:
    near, far = (anatomy([box(0, 0, 4, 9), box(4 + gap, 0, 8, 9)], 10) for gap in (0.1, 0.3))
    assert (near.parts, far.parts) == ((1, 2), (2, 2))
    assert lost_along(near, 2, 0, reversed_out=False) == ""
    assert lost_along(far, 2, 0, reversed_out=False) == "parts of it run together or vanish"
    almost = [box(0, 0, 9, 2), box(0, 0, 2, 9), box(7, 0, 9, 9), box(0, 7, 4.45, 9), box(4.55, 7, 9, 9)]
    assert lost_along(anatomy(almost, 10), 1, 0, reversed_out=False) == ""
