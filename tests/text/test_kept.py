"""The bounded map: what it holds never passes its bound, and what is in use stays."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from vdp.text.kept import Kept


@given(st.lists(st.integers(0, 30), max_size=300), st.integers(1, 8))
def test_values_follow_from_keys_and_the_bound_holds(keys: list[int], limit: int) -> None:
    kept: Kept[int, tuple[int]] = Kept(lambda key: (key * key,), limit)
    for key in keys:
        assert kept[key] == (key * key,)
        assert kept.held <= 2 * limit


def test_what_is_asked_for_again_is_the_same_object() -> None:
    made: list[int] = []

    def make(key: int) -> object:
        made.append(key)
        return object()

    kept = Kept(make, 4)
    first = kept[0]
    for key in range(1, 40):
        _ = kept[key]
        assert kept[0] is first
    assert made.count(0) == 1
    for key in range(40, 60):
        _ = kept[key]
    assert kept[0] is not first
