"""The keyed permutation: that it is one, for whole domains, and that it stays the same."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import OurBug
from vdp.numbering.ff1 import LARGEST_RADIX, LEAST_DOMAIN
from vdp.numbering.shuffle import LARGEST_SIZE, Shuffle, _domain

KEY = bytes(range(32))


@pytest.mark.parametrize("size", [1_000_000, 1_234_567])
def test_a_whole_domain_is_permuted(size: int) -> None:
    """All of 10^6 numbers (where FF1's domain is the range itself) and of a range that must be walked back into."""
    numbers = np.array(Shuffle(KEY, size).many(0, size))
    assert numbers.min() == 0
    assert numbers.max() == size - 1
    assert (np.bincount(numbers, minlength=size) == 1).all()


def test_a_small_range_is_permuted_by_walking() -> None:
    made = Shuffle(KEY, 20_000)
    numbers = made.many(0, 20_000)
    assert sorted(numbers) == list(range(20_000))
    assert [made.at(i) for i in range(40)] == numbers[:40]
    assert [made.index(n) for n in numbers[:40]] == list(range(40))


@settings(max_examples=40, deadline=None)
@given(st.integers(5_000, LARGEST_SIZE), st.data())
def test_index_undoes_at(size: int, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, size - 1))
    made = Shuffle(KEY, size)
    number = made.at(index)
    assert 0 <= number < size
    assert made.index(number) == index
    assert made.many(index, 1) == [number]


@given(st.integers(LEAST_DOMAIN, LARGEST_SIZE))
def test_the_domain_is_the_smallest_there_is(size: int) -> None:
    radix, length = _domain(size)
    assert radix**length >= size > (radix - 1) ** length
    assert radix <= LARGEST_RADIX
    assert length == 2 or LARGEST_RADIX ** (length - 1) < size


def test_another_key_gives_another_order() -> None:
    assert Shuffle(KEY, 10**6).many(0, 50) != Shuffle(bytes(32), 10**6).many(0, 50)


def test_the_order_never_changes() -> None:
    """Numbers that were printed once: a change of these is a change of every shuffled series ever issued."""
    assert Shuffle(KEY, 10**6).many(0, 4) == [669894, 610117, 43164, 40562]
    assert Shuffle(KEY, LARGEST_SIZE).at(0) == 652972486969452141840982426718


def test_it_is_the_same_in_another_process() -> None:
    made = Shuffle(KEY, 10**9)
    again = pickle.loads(pickle.dumps(made))  # noqa: S301  what was pickled a line above
    assert again.many(5, 5) == made.many(5, 5)


@pytest.mark.parametrize("size", [0, -1, LARGEST_SIZE + 1])
def test_sizes_that_cannot_be(size: int) -> None:
    with pytest.raises(OurBug, match="no shuffle"):
        Shuffle(KEY, size)


def test_numbers_outside() -> None:
    made = Shuffle(KEY, 10**6)
    for outside in (-1, 10**6):
        with pytest.raises(OurBug):
            made.at(outside)
        with pytest.raises(OurBug):
            made.index(outside)
    with pytest.raises(OurBug):
        made.many(10**6 - 1, 2)
    assert made.many(0, 0) == []
