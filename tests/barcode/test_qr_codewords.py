"""QR data codewords: the standard's example and capacities, two libraries' tables, and a reader of the bit stream."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode import base, util
from segno import consts

from tests.barcode.qr_readings import LEVELS, MODES, payload
from vdp.barcode import qr_codewords
from vdp.barcode.qr_codewords import Mode, data_codewords, encode, mode_of, total_codewords, version_needed
from vdp.errors import RowRefused

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def test_iso_18004_annex_i() -> None:
    """ISO/IEC 18004 Annex I: "01234567" in version 1-M."""
    assert encode("01234567", 1, "M").hex(" ") == "10 20 0c 56 61 80 ec 11 ec 11 ec 11 ec 11 ec 11"


@pytest.mark.parametrize(
    ("version", "level", "digits", "alphanumeric", "octets"),
    [
        # ISO/IEC 18004 Table 7, from memory; recomputed from the block structure of two libraries below.
        (1, "L", 41, 25, 17), (1, "H", 17, 10, 7), (3, "M", 101, 61, 42), (9, "Q", 312, 189, 130),
        (10, "M", 513, 311, 213), (26, "H", 1425, 864, 593), (27, "L", 3517, 2132, 1465), (40, "L", 7089, 4296, 2953),
        (40, "H", 3057, 1852, 1273),
    ],
)  # fmt: skip
def test_capacity(version: int, level: str, digits: int, alphanumeric: int, octets: int) -> None:
    for letter, count in (("7", digits), ("A", alphanumeric), ("a", octets)):
        assert version_needed(letter * count, level) == version
        assert len(encode(letter * count, version, level)) == data_codewords(version, level)
        with pytest.raises(RowRefused, match=f"{count + 1} .* do not fit in QR version {version} at level {level}"):
            encode(letter * (count + 1), version, level)
        if version < 40:
            assert version_needed(letter * (count + 1), level) == version + 1


def test_block_structure_is_that_of_segno_and_qrcode() -> None:
    numbers = {
        "L": consts.ERROR_LEVEL_L,
        "M": consts.ERROR_LEVEL_M,
        "Q": consts.ERROR_LEVEL_Q,
        "H": consts.ERROR_LEVEL_H,
    }
    theirs_all: Any = consts.ECC
    for level, number in numbers.items():
        for version in range(1, 41):
            theirs = theirs_all[version][number]
            blocks = base.rs_blocks(version, LEVELS[level])
            assert data_codewords(version, level) == sum(b.num_blocks * b.num_data for b in theirs)
            assert data_codewords(version, level) == sum(b.data_count for b in blocks)
            assert total_codewords(version) == sum(b.total_count for b in blocks)
            assert qr_codewords.BLOCKS[level][version - 1] == len(blocks)
            assert qr_codewords.CHECK_LENGTH[level][version - 1] == blocks[0].total_count - blocks[0].data_count


def test_modes() -> None:
    assert mode_of("0123456789") is Mode.NUMERIC
    assert mode_of("A1 $%*+-./:") is Mode.ALPHANUMERIC
    assert mode_of("a") is mode_of("1\n") is mode_of("\x00") is Mode.BYTE
    assert mode_of("é") is mode_of("١٢٣") is mode_of("２") is Mode.UTF8, "only ASCII digits are digits of a QR Code"


def read(codewords: bytes, version: int) -> str:
    """A reader of the bit stream after ISO/IEC 18004 §7.4, written for this test alone."""
    bits = "".join(f"{octet:08b}" for octet in codewords)
    position = 0

    def take(count: int) -> int:
        nonlocal position
        position += count
        return int(bits[position - count : position], 2)

    encoding = "ascii"
    text = ""
    while len(bits) - position >= 4 and (indicator := take(4)):
        if indicator == 7:
            assert take(8) == 26
            encoding = "utf-8"
            continue
        widths = {1: (10, 12, 14), 2: (9, 11, 13), 4: (8, 16, 16)}[indicator]
        count = take(widths[0 if version < 10 else 1 if version < 27 else 2])
        if indicator == 1:
            while count:
                digits = min(3, count)
                text += f"{take((4, 7, 10)[digits - 1]):0{digits}d}"
                count -= digits
        elif indicator == 2:
            for _ in range(count // 2):
                first, second = divmod(take(11), 45)
                text += ALPHABET[first] + ALPHABET[second]
            text += ALPHABET[take(6)] if count % 2 else ""
        else:
            text += bytes(take(8) for _ in range(count)).decode(encoding)
    rest = bits[position:]
    assert not rest[: -position % 8].strip("0")
    pads = rest[-position % 8 :]
    assert pads == ("1110110000010001" * len(pads))[: len(pads)]
    return text


@given(
    st.one_of(
        st.text("0123456789", min_size=1, max_size=120),
        st.text(ALPHABET, min_size=1, max_size=80),
        st.text(st.characters(max_codepoint=127), min_size=1, max_size=60),
        st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40),
    ),
    st.sampled_from("LMQH"),
    st.sampled_from([0, 1, 9, 26]),
)
@settings(max_examples=300)
def test_stream_reads_back(text: str, level: str, larger: int) -> None:
    version = min(40, version_needed(text, level) + larger)
    assert read(encode(text, version, level), version) == text


def test_stream_is_that_of_qrcode() -> None:
    """`qrcode` for symbols of one block, whose final sequence begins with the data codewords."""
    rng = random.Random(18004)
    for _ in range(300):
        kind = rng.choice(sorted(MODES))
        text = payload(rng, kind, rng.randrange(1, 43))
        version, level = rng.choice([(4, "L"), (5, "L"), (3, "M")])
        theirs = util.create_data(version, LEVELS[level], [util.QRData(text.encode(), mode=MODES[kind])])
        ours = list(encode(text, version, level))
        assert ours == theirs[: len(ours)]


@pytest.mark.parametrize("text", ["", "\ud800", "a" * 2954, "1" * 7090, "é" * 1500])
def test_refuses(text: str) -> None:
    with pytest.raises(RowRefused):
        version_needed(text, "L")
