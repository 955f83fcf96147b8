"""The simulated press: what each of its figures does to a plate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.verify.grade.drawn import printed
from vdp.verify.grade.press import Press

BLOCK = np.pad(np.ones((20, 20), bool), 20)


def inked(press: Press, seed: int = 1) -> float:
    """Area of ink in dots."""
    return float(((press.paper - printed(BLOCK, press, seed)) / (press.paper - press.ink)).sum())


def test_a_press_that_does_nothing_prints_the_plate() -> None:
    found = printed(BLOCK)
    assert np.array_equal(found < 0.5, BLOCK)
    assert set(np.unique(found).round(9)) == {0.05, 0.85}


@settings(max_examples=12, deadline=None)
@given(st.floats(-3, 4))
def test_growth_moves_every_edge_by_so_many_dots(growth: float) -> None:
    row = printed(BLOCK, Press(growth=growth))[30]
    assert ((0.85 - row) / 0.8).sum() == pytest.approx(20 + 2 * growth, abs=1e-6)


def test_noise_is_seeded_and_leaves_the_mean_alone() -> None:
    ragged = Press(noise=0.7)
    assert np.array_equal(printed(BLOCK, ragged, 5), printed(BLOCK, ragged, 5))
    assert not np.array_equal(printed(BLOCK, ragged, 5), printed(BLOCK, ragged, 6))
    assert np.mean([inked(ragged, seed) for seed in range(20)]) == pytest.approx(400, rel=0.03)


def test_blur_keeps_the_ink_and_softens_the_edge() -> None:
    assert inked(Press(blur=1.5)) == pytest.approx(400, rel=1e-3)
    row = printed(BLOCK, Press(blur=1.5))[30]
    assert 0.05 < row[20] < row[19] < 0.85
