"""The collector's rest ends with the work."""

from __future__ import annotations

import gc

import pytest

from vdp.run.rest import RARELY, collector_at_rest


def test_thresholds_are_put_back_whatever_happens() -> None:
    before = gc.get_threshold()
    with collector_at_rest():
        assert gc.get_threshold() == RARELY
        assert gc.get_freeze_count() > 0
    assert gc.get_threshold() == before

    def fail() -> None:
        with collector_at_rest():
            raise ValueError("in the middle")

    with pytest.raises(ValueError, match="in the middle"):
        fail()
    assert gc.get_threshold() == before
    assert gc.get_freeze_count() == 0
