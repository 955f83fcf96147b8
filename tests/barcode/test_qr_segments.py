"""QR segments: Kanji mode, the fewest bits, the same codewords as one mode where one mode is best, two readers."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, read, read_by_zbar
from vdp.barcode import qr_codewords, qr_segments
from vdp.barcode.qr import Qr
from vdp.errors import RowRefused
from vdp.marks import Matrix

MIXED = st.lists(
    st.one_of(
        st.text("0123456789", min_size=1, max_size=9),
        st.text("ABC $%*", min_size=1, max_size=6),
        st.text("abc,;", min_size=1, max_size=4),
        st.text("点茗東京", min_size=1, max_size=3),
    ),
    min_size=1,
    max_size=5,
).map("".join)


def drawn(payload: str, level: str = "L") -> Matrix:
    version = qr_segments.version_needed(payload, level)
    return Qr(version, level).encode_codewords([qr_segments.encode(payload, version, level)])[0][0]


def test_iso_18004_kanji_example() -> None:
    """ISO/IEC 18004 §7.4.6 (from memory): 点 is Shift JIS 935F, value 0D9F; 茗 is E4AA, value 1AAA."""
    assert qr_segments.kanji()["点"] == 0x0D9F
    assert qr_segments.kanji()["茗"] == 0x1AAA
    stream = int.from_bytes(qr_segments.encode("点茗", 1, "M")) >> 8 * 16 - 38
    assert f"{stream:038b}" == "1000" + "00000010" + f"{0x0D9F:013b}" + f"{0x1AAA:013b}"


def test_every_kanji_is_read_back() -> None:
    """All characters of Kanji mode, by zxing-cpp."""
    everything = "".join(qr_segments.kanji())
    assert len(everything) > 6800
    for at in range(0, len(everything), 1700):
        text = everything[at : at + 1700]
        found = read(bitmap(drawn(text), "qr", module=2), "qr")
        assert found.text == text
        assert found.symbology_identifier == "]Q1"


@given(MIXED)
@settings(max_examples=80, deadline=None)
def test_any_mixture_is_read_back(text: str) -> None:
    assert read(bitmap(drawn(text, "M"), "qr"), "qr").text == text


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30))
@settings(max_examples=80, deadline=None)
def test_any_text_is_read_back(text: str) -> None:
    found = read(bitmap(drawn(text), "qr"), "qr")
    table = qr_segments.kanji()
    if all(c.isascii() or c in table for c in text):
        assert found.bytes == b"".join(c.encode("shift_jis") if not c.isascii() else c.encode() for c in text)
    else:
        assert found.bytes == text.encode()


def fewest_bits(text: str, group: int = 0) -> int:
    """By trying every assignment of modes to characters."""
    counts = {"N": (10, 12, 14), "A": (9, 11, 13), "B": (8, 16, 16), "K": (8, 10, 12)}
    alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

    def able(char: str) -> str:
        if not char.isascii():
            return "K"
        return "NAB" if char.isdigit() else "AB" if char in alphabet else "B"

    best = 10**9
    for modes in product(*map(able, text)):
        bits, at = 0, 0
        while at < len(modes):
            end = at
            while end < len(modes) and modes[end] == modes[at]:
                end += 1
            n = end - at
            data = {"N": n // 3 * 10 + (0, 4, 7)[n % 3], "A": n // 2 * 11 + n % 2 * 6, "B": 8 * n, "K": 13 * n}
            bits += 4 + counts[modes[at]][group] + data[modes[at]]
            at = end
        best = min(best, bits)
    return best


@given(st.text("01234567890123456789AB Cab点", min_size=1, max_size=9))
@settings(max_examples=80, deadline=None)
def test_nothing_shorter_exists(text: str) -> None:
    kinds = qr_segments._prepared(text)[1]
    assert qr_segments._route(kinds, 0)[0] == fewest_bits(text)


@pytest.mark.parametrize(
    "text", ["ABC123456789012345", "https://example.com/01/09506000134352", "a1234567", "1" * 17 + "a"]
)
@pytest.mark.parametrize("group", [0, 1, 2])
def test_longer_stretches_are_the_shortest_too(text: str, group: int) -> None:
    kinds = qr_segments._prepared(text)[1]
    bits, segments = qr_segments._route(kinds, group)
    assert bits <= 4 + (8, 16, 16)[group] + 8 * len(text), "never worse than bytes alone"
    assert "".join(text[a:b] for _, a, b in segments) == text


@pytest.mark.parametrize("text", ["01234567", "HELLO WORLD", "abc def", "7", "A"])
@pytest.mark.parametrize(("version", "level"), [(1, "L"), (10, "Q"), (27, "H")])
def test_one_mode_gives_the_same_codewords(text: str, version: int, level: str) -> None:
    assert qr_segments.encode(text, version, level) == qr_codewords.encode(text, version, level)


def test_kanji_beside_other_letters_is_utf8() -> None:
    found = read(bitmap(drawn("Zoë 東京"), "qr"), "qr")
    assert found.text == "Zoë 東京"
    assert found.bytes == "Zoë 東京".encode()


def test_characters_readers_disagree_on_are_not_kanji() -> None:
    assert not set("〜＼‖−¢£¬") & set(qr_segments.kanji())
    assert read(bitmap(drawn("〜＼−"), "qr"), "qr").text == "〜＼−"


def test_zbar_reads_them(need: Callable[[str], str], tmp_path: Path) -> None:
    texts = ["ABC123456789abc", "東京都123-4567", "Zoë 東京", "a1234567890B"]
    pictures = [bitmap(drawn(text, "M"), "qr", module=5) for text in texts]
    assert read_by_zbar(need("zbarimg"), pictures, tmp_path) == texts


@pytest.mark.parametrize("text", ["", "\ud800", "1" * 7090, "a" * 3000])
def test_refuses(text: str) -> None:
    with pytest.raises(RowRefused):
        qr_segments.version_needed(text, "L")
    with pytest.raises(RowRefused):
        qr_segments.encode(text, 40, "L")


def test_the_largest_are_held() -> None:
    """ISO/IEC 18004 Table 7, version 40-L: 7,089 digits, 4,296 alphanumeric characters, 1,817 Kanji."""
    for text in ("1" * 7089, "A" * 4296, "点" * 1817):
        assert qr_segments.version_needed(text, "L") == 40
        assert len(qr_segments.encode(text, 40, "L")) == qr_codewords.data_codewords(40, "L")
