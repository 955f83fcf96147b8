"""What dots leave of a shape, from pixels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from vdp.verify.dots import FINE, Mask, label, lost, stroke


def drawn(width: float, height: float, *boxes: tuple[float, float, float, float], but: object = None) -> Mask:
    """A canvas in dots with boxes (left, top, right, bottom) inked, and one taken out again."""
    shape = np.zeros((round(height * FINE), round(width * FINE)), bool)
    for left, top, right, bottom in boxes:
        shape[round(top * FINE) : round(bottom * FINE), round(left * FINE) : round(right * FINE)] = True
    if isinstance(but, tuple):
        left, top, right, bottom = (round(edge * FINE) for edge in but)
        shape[top:bottom, left:right] = False
    return shape


def flooded(mask: Mask, reach: int) -> int:
    """Pieces, counted pixel by pixel."""
    left = set(zip(*map(list, np.nonzero(mask)), strict=True))
    pieces = 0
    while left:
        pieces += 1
        edge = [left.pop()]
        while edge:
            row, column = edge.pop()
            for down in (-1, 0, 1):
                for right in (-1, 0, 1):
                    near = (row + down, column + right)
                    if abs(down) + abs(right) <= reach and near in left:
                        left.remove(near)
                        edge.append(near)
    return pieces


@settings(max_examples=60, deadline=None)
@given(arrays(bool, st.tuples(st.integers(1, 9), st.integers(1, 9))), st.booleans())
def test_pieces_are_those_of_a_flood(mask: Mask, diagonal: bool) -> None:
    labels, count = label(mask, diagonal=diagonal)
    assert count == flooded(mask, 2 if diagonal else 1)
    assert ((labels > 0) == mask).all()
    assert sorted(set(labels.ravel().tolist()) - {0}) == list(range(1, count + 1))


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        (drawn(10, 10, (1, 1, 9, 9), but=(3, 3, 7, 7)), ""),
        (drawn(10, 10, (1, 1, 9, 9), but=(4.75, 4.7, 5.15, 5.2)), "a hole closes"),
        (drawn(10, 10, (1, 1, 4, 9), (4, 4.7, 6, 5.2), (6, 1, 9, 9)), "it falls apart"),
        (drawn(10, 10, (1, 1, 4.9, 9), (5.2, 1, 9, 9)), "parts of it run together or vanish"),
        (drawn(10, 10, (1, 1, 9, 3), (1, 3, 3, 9), (7, 3, 9, 9), (3, 7, 4.9, 9), (5.2, 7, 7, 9)), "an opening closes"),
        (drawn(10, 10, (1, 1, 4.95, 9), (5.05, 1, 9, 9)), ""),
        (drawn(3, 3), ""),
    ],
)
def test_what_is_lost(shape: Mask, said: str) -> None:
    assert lost(shape, 12, reversed_out=False) == said


def test_dots_that_touch_at_corners_hold_together_only_in_ink() -> None:
    corners = drawn(6, 6, (1, 1, 3.2, 3.2), (3, 3, 5, 5))
    assert lost(corners, 8, reversed_out=False) == ""
    assert lost(corners, 8, reversed_out=True) == "it falls apart"


def test_strokes_are_measured_to_a_quarter_of_a_dot() -> None:
    bar = drawn(8, 8, (1, 1, 7, 2.5))
    assert stroke(bar, math.inf) == pytest.approx(1.5, abs=0.25)
    assert stroke(bar, 1.0) == math.inf
    assert stroke(drawn(8, 8, (1, 1, 3, 7), (3, 3.5, 5, 4.25), (5, 1, 7, 7)), math.inf) == pytest.approx(0.75, abs=0.25)
