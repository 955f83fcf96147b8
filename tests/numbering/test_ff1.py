"""FF1 against the published samples, and against itself: number by number, by arrays, both ways."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import OurBug
from vdp.numbering.ff1 import FF1

PUBLISHED = json.loads((Path(__file__).parents[1] / "data/vectors/ff1.json").read_text())
KEY = bytes.fromhex(PUBLISHED["keys"]["AES-128"])


@pytest.mark.parametrize("number", range(9))
def test_published_samples_both_ways(number: int) -> None:
    sample = PUBLISHED["samples"][number]
    plain, cipher = ([int(c, 36) for c in sample[text]] for text in ("plain", "cipher"))
    made = FF1(
        bytes.fromhex(PUBLISHED["keys"][sample["key"]]), sample["radix"], len(plain), bytes.fromhex(sample["tweak"])
    )
    assert list(made.encrypt(plain)) == cipher
    assert list(made.decrypt(cipher)) == plain


def test_every_sample_is_there() -> None:
    assert len(PUBLISHED["samples"]) == 9


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 1 << 16), st.integers(2, 60), st.binary(max_size=40), st.data())
def test_decrypting_undoes_encrypting(radix: int, length: int, tweak: bytes, data: st.DataObject) -> None:
    if radix**length < 1_000_000:
        length = 20
    made = FF1(KEY, radix, length, tweak)
    number = data.draw(st.integers(0, made.size - 1))
    hidden = made.encrypt_number(number)
    assert 0 <= hidden < made.size
    assert made.decrypt_number(hidden) == number


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 1 << 16), st.integers(2, 64), st.binary(max_size=20), st.data())
def test_arrays_give_what_single_numbers_give(radix: int, length: int, tweak: bytes, data: st.DataObject) -> None:
    if radix**length < 1_000_000:
        length = 20
    made = FF1(KEY, radix, length, tweak)
    if not made.takes_arrays:
        with pytest.raises(OurBug, match="64-bit"):
            made.encrypt_array(np.zeros(1, np.uint64))
        return
    numbers = data.draw(st.lists(st.integers(0, made.size - 1), min_size=1, max_size=5))
    assert made.encrypt_array(np.array(numbers, np.uint64)).tolist() == [made.encrypt_number(n) for n in numbers]


def test_largest_halves_that_arrays_take() -> None:
    made = FF1(KEY, 1 << 16, 4)
    edge = [0, 1, made.size - 1]
    assert made.takes_arrays
    assert made.encrypt_array(np.array(edge, np.uint64)).tolist() == [made.encrypt_number(n) for n in edge]
    assert not FF1(KEY, 1 << 16, 5).takes_arrays


def test_one_numeral_less_takes_a_block_less() -> None:
    # 39 binary numerals a half are 5 bytes, the round's bytes 12; at 104 they are 13 and 20: past one block.
    for length in (78, 208, 300):
        made = FF1(KEY, 2, length)
        number = (1 << length) // 3
        assert made.decrypt_number(made.encrypt_number(number)) == number


@pytest.mark.parametrize(
    ("key", "radix", "length"), [(KEY, 10, 5), (KEY, 1 << 17, 4), (KEY, 1, 50), (KEY, 1 << 16, 1), (b"short", 10, 10)]
)
def test_what_the_standard_does_not_allow(key: bytes, radix: int, length: int) -> None:
    with pytest.raises(OurBug):
        FF1(key, radix, length)


@pytest.mark.parametrize("numerals", [[0] * 9, [0] * 9 + [10], [0] * 9 + [-1]])
def test_texts_of_another_kind(numerals: list[int]) -> None:
    with pytest.raises(OurBug, match="10 numerals below 10"):
        FF1(KEY, 10, 10).encrypt(numerals)
