"""QR symbols: matrix by matrix against three other encoders, and through two decoders."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, modules, read, read_by_zbar, rows_of
from tests.barcode.qr_readings import MODES, by_qrcode, by_segno, by_zint, mask_shown, payload
from vdp.barcode import qr, qr_codewords
from vdp.barcode.qr import Qr, version_needed
from vdp.barcode.qr_tables import tables
from vdp.errors import OurBug, RowRefused

KINDS = ("numeric", "alphanumeric", "byte", "utf8")


def drawn(count: int, longest: int, largest: int, seed: int) -> dict[tuple[int, str], list[tuple[str, str]]]:
    """(kind, payload) by version and level: `count` of them up to version `largest`."""
    rng = random.Random(seed)
    found: dict[tuple[int, str], list[tuple[str, str]]] = defaultdict(list)
    while count:
        kind, level = rng.choice(KINDS), rng.choice("LMQH")
        text = payload(rng, kind, rng.randrange(1, longest))
        version = version_needed(text, level)
        if version <= largest:
            found[version, level].append((kind, text))
            count -= 1
    return found


def test_ten_thousand_symbols_and_masks_equal_zints() -> None:
    """Same version and level; zint chooses the mask by itself and reads the clause on masks as we do."""
    masks: Counter[int] = Counter()
    for (version, level), cases in drawn(10_000, 60, 6, seed=1).items():
        symbols = Qr(version, level).encode_masked([text for _, text in cases])
        for (kind, text), (matrix, mask) in zip(cases, symbols, strict=True):
            assert by_zint(text, version, level, utf8=kind == "utf8") == matrix.rows, (version, level, text)
            assert mask_shown(matrix.rows) == mask
            masks[mask] += 1
    assert len(masks) == 8


def as_segno_pads(text: str, version: int, level: str) -> bytes:
    """segno writes a codeword 00 before its padding when the terminator ends with a codeword (its issue 148)."""
    stream = qr_codewords.encode(text, version, level)
    mode = qr_codewords.mode_of(text)
    end = qr_codewords._bits(mode, qr_codewords._length(text, mode), version) + 4
    if end % 8 or end // 8 >= len(stream):
        return stream
    return stream[: end // 8] + b"\0" + stream[end // 8 : -1]


def test_ten_thousand_symbols_equal_segnos_at_the_same_mask() -> None:
    exact = 0
    for (version, level), cases in drawn(10_000, 40, 4, seed=2).items():
        encoder = Qr(version, level)
        streams = [as_segno_pads(text, version, level) for _, text in cases]
        exact += sum(
            s == qr_codewords.encode(text, version, level) for s, (_, text) in zip(streams, cases, strict=True)
        )
        codewords = np.frombuffer(b"".join(streams), np.uint8).reshape(len(cases), -1)
        for at in range(0, len(cases), 64):
            symbols = encoder._masked(tables(version, level), codewords[at : at + 64])
            for (kind, text), (matrix, mask) in zip(cases[at : at + 64], symbols, strict=True):
                theirs = by_segno(text, version, level, kind, mask)
                assert rows_of(theirs.matrix) == matrix.rows, (version, level, text)
    assert exact > 3_000, "many are compared without any allowance for padding"


def test_symbols_equal_qrcodes_at_the_same_mask() -> None:
    for (version, level), cases in drawn(250, 60, 8, seed=3).items():
        symbols = Qr(version, level).encode_masked([text for _, text in cases])
        for (kind, text), (matrix, mask) in zip(cases, symbols, strict=True):
            if kind in MODES:
                assert by_qrcode(text, version, level, kind, mask) == matrix.rows


#: All levels where lines are machine words and just beyond; one of each four in the larger versions, which take longer.
EVERY = [
    (version, level) for version in range(1, 41) for i, level in enumerate("LMQH") if version < 13 or version % 4 == i
]


@pytest.mark.parametrize(("version", "level"), EVERY)
def test_every_version_filled_to_the_last_bit(version: int, level: str) -> None:
    """Full symbols have no padding, so segno's are the same without allowance; the mask must be zint's."""
    count = qr_codewords.data_codewords(version, level) - (2 if version < 10 else 3)
    text = payload(random.Random(version), "byte", count)
    ((matrix, mask),) = Qr(version, level).encode_masked([text])
    assert rows_of(by_segno(text, version, level, "byte", mask).matrix) == matrix.rows
    assert by_zint(text, version, level) == matrix.rows


def test_published_format_and_version_information() -> None:
    """ISO/IEC 18004 Annexes C and D, values from memory and recomputed: M000, L000, Q000, H000; version 7."""
    published = {"M": "101010000010010", "L": "111011111000100", "Q": "011010101011111", "H": "001011010001001"}
    for level, bits in published.items():
        first = tables(2, level).masks[0]
        rows = np.unpackbits(first, axis=1, bitorder="little")
        shown = [*rows[8, [0, 1, 2, 3, 4, 5, 7, 8]], *rows[[7, 5, 4, 3, 2, 1, 0], 8]]
        assert "".join(map(str, shown)) == bits
    grid = modules(Qr(7, "L").encode(["7"])[0])
    side = len(grid)
    shown = [int(grid[side - 11 + i % 3, i // 3]) for i in range(17, -1, -1)]
    assert "".join(map(str, shown)) == f"{0x07C94:018b}"


def test_a_batch_is_its_symbols_one_by_one() -> None:
    rng = random.Random(4)
    texts = [payload(rng, rng.choice(KINDS), rng.randrange(1, 12)) for _ in range(150)]
    encoder = Qr(3, "M")
    together = encoder.encode(texts)
    assert together == [matrix for text in texts for matrix in Qr(3, "M").encode([text])]
    assert encoder.encode([]) == []
    large = Qr(13, "M")
    assert large.encode(texts[:5]) == [matrix for text in texts[:5] for matrix in large.encode([text])]


@given(
    st.one_of(
        st.text("0123456789", min_size=1, max_size=60),
        st.text(qr_codewords._ALPHABET, min_size=1, max_size=40),
        st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=24),
    ),
    st.sampled_from("LMQH"),
)
@settings(max_examples=120, deadline=None)
def test_zxing_reads_any_text(text: str, level: str) -> None:
    version = version_needed(text, level)
    found = read(bitmap(Qr(version, level).encode([text])[0], "qr"), "qr")
    assert found.bytes == text.encode()
    assert found.symbology_identifier == "]Q1"
    assert found.ec_level == level


def test_zbar_reads_what_we_write(need: Callable[[str], str], tmp_path: Path) -> None:
    zbarimg = need("zbarimg")
    texts = [
        "0123456789" * 3,
        "FP-000123",
        "https://pass.example/p/00012345?k=ab12",
        "Zoë Łukasz Ωμέγα",
        "日本語とعربي",
        "a" * 400,
    ]
    pictures = [bitmap(Qr(version_needed(text, "M"), "M").encode([text])[0], "qr") for text in texts]
    assert read_by_zbar(zbarimg, pictures, tmp_path) == texts


def test_large_versions_are_read(need: Callable[[str], str], tmp_path: Path) -> None:
    texts = [payload(random.Random(n), "byte", n) for n in (500, 1200, 2300)]
    pictures = [bitmap(Qr(version_needed(text, "M"), "M").encode([text])[0], "qr", module=3) for text in texts]
    assert [read(picture, "qr").text for picture in pictures] == texts
    assert read_by_zbar(need("zbarimg"), pictures, tmp_path) == texts


@pytest.mark.parametrize("text", ["", "a" * 15, "é" * 7])
def test_refuses_one_of_a_batch(text: str) -> None:
    with pytest.raises(RowRefused, match=r"empty|15 bytes do not fit in QR version 1|14 bytes"):
        Qr(1, "M").encode(["fits", text])


@pytest.mark.parametrize(("version", "level"), [(0, "M"), (41, "M"), (3, "X"), (3, ""), (3, "LM")])
def test_no_such_symbol(version: int, level: str) -> None:
    with pytest.raises(OurBug):
        Qr(version, level)


def test_module_offers_what_planning_needs() -> None:
    assert qr.version_needed("A" * 20, "M") == 1
    assert Qr(qr.version_needed("A" * 21, "M"), "M").side == 25


def refused_or(made: Callable[[], bytes]) -> bytes | tuple[str, ...]:
    try:
        return made()
    except RowRefused as refused:
        return refused.reasons


@given(
    length=st.integers(0, 60),
    version=st.sampled_from([1, 2, 3, 4, 9, 10, 12]),
    level=st.sampled_from("LMQH"),
    data=st.data(),
)
def test_payloads_of_one_length_are_carried_as_each_alone(
    length: int, version: int, level: str, data: st.DataObject
) -> None:
    texts = st.text(st.characters(codec="ascii"), min_size=length, max_size=length)
    digits = st.text("0123456789AB", min_size=length, max_size=length)
    payloads = data.draw(st.lists(texts | digits, min_size=1, max_size=5) | st.lists(st.text(max_size=9), min_size=1))
    alone = refused_or(lambda: b"".join([qr_codewords.encode(text, version, level) for text in payloads]))
    together = refused_or(lambda: qr_codewords.encode_many(payloads, version, level).tobytes())
    assert together == alone
