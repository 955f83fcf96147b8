"""PDF417, Aztec, Micro QR and rectangular Data Matrix: published codewords, other encoders, decoders, sizes."""

from __future__ import annotations

import random
import string
from collections.abc import Callable
from pathlib import Path

import aztec_code_generator  # type: ignore[import-untyped]  # the library has no types
import pytest
import segno
import zxingcpp
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pdf417gen.codes import CODES  # type: ignore[import-untyped]  # the library has no types

from tests.barcode.drawing import bitmap, read, read_by_dmtx, rows_of
from vdp.barcode import aztec, datamatrix, micro_qr, pdf417
from vdp.errors import OurBug, RowRefused
from vdp.marks import Matrix

TEXT = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30)
#: pdf417gen's bar patterns of the three clusters → codeword.
CLUSTERS = [{f"{pattern:017b}": word for word, pattern in enumerate(cluster)} for cluster in CODES]


def codewords(matrix: Matrix) -> list[int]:
    """Data and error correction codewords of a PDF417, read from its bars by another encoder's table."""
    found: list[int] = []
    for row in range(0, len(matrix.rows), pdf417.ROW):
        assert len(set(matrix.rows[row : row + pdf417.ROW])) == 1
        line = "".join(str(matrix.rows[row] >> x & 1) for x in range(matrix.width))
        assert line.startswith("11111111010101000"), "start pattern"
        assert line.endswith("111111101000101001"), "stop pattern"
        cluster = CLUSTERS[row // pdf417.ROW % 3]
        found += [cluster[line[x : x + 17]] for x in range(34, matrix.width - 35, 17)]
    return found


def test_iso_15438_annex_q() -> None:
    """ISO/IEC 15438 Annex Q: "PDF417" at level 1."""
    assert codewords(pdf417.encode("PDF417", 3, 1)) == [5, 453, 178, 121, 239, 452, 327, 657, 619]


def test_iso_15438_annex_d() -> None:
    """ISO/IEC 15438 Annex D: numeric compaction of 000213298174000."""
    assert codewords(pdf417.encode("000213298174000", 3, 1))[1:8] == [902, 1, 624, 434, 632, 282, 200]


@given(TEXT, st.integers(1, 8), st.integers(0, 5))
@settings(max_examples=60, deadline=None)
def test_pdf417_is_read_back(text: str, columns: int, level: int) -> None:
    # 90 rows of one column hold little beside 64 codewords of correction.
    assume(columns > 1 or level < 4)
    matrix = pdf417.encode(text, columns, level)
    assert matrix.width == pdf417.extent(columns)
    found = read(bitmap(matrix, "pdf417", module=3), "pdf417")
    assert found.bytes == text.encode()
    assert found.symbology_identifier == "]L2"


def test_pdf417_of_given_rows() -> None:
    needed = pdf417.rows_needed("FP-000123", 2, 2)
    for rows in (needed, needed + 1, 30, 90):
        matrix = pdf417.encode("FP-000123", 2, 2, rows)
        assert len(matrix.rows) == rows * pdf417.ROW
        assert read(bitmap(matrix, "pdf417", module=3), "pdf417").text == "FP-000123"
    with pytest.raises(RowRefused, match=f"needs {needed} rows"):
        pdf417.encode("FP-000123", 2, 2, needed - 1)


@pytest.mark.parametrize("columns", pdf417.COLUMNS)
def test_every_count_of_columns_is_obeyed(columns: int) -> None:
    matrix = pdf417.encode("A" * 40, columns, 1)
    assert matrix.width == 17 * (columns + 4) + 1
    assert codewords(matrix)[0] >= 21


@pytest.mark.parametrize("level", pdf417.LEVELS)
def test_every_level_is_obeyed(level: int) -> None:
    """ISO/IEC 15438 §5.7.1: 2 ** (level + 1) codewords correct; the first codeword counts the others."""
    words = codewords(pdf417.encode("PDF417", 10, level))
    assert len(words) - words[0] == 2 ** (level + 1)


@pytest.mark.parametrize(
    ("text", "columns", "level", "rows", "says"),
    [
        ("", 3, 1, None, "empty"),
        ("\ud800", 3, 1, None, "surrogate"),
        ("1" * 2711, 3, 1, None, "2711 characters"),
        ("x" * 1000, 1, 8, None, "does not hold|cannot hold"),
        ("\x80" * 1200, 30, 8, None, "does not hold|cannot hold"),
        ("A", 30, 1, 90, "928 codewords"),
    ],
)
def test_pdf417_refuses(text: str, columns: int, level: int, rows: int | None, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        pdf417.encode(text, columns, level, rows)


@pytest.mark.parametrize(
    ("columns", "level", "rows"), [(0, 1, None), (31, 1, None), (3, 9, None), (3, 1, 2), (3, 1, 91)]
)
def test_pdf417_that_does_not_exist(columns: int, level: int, rows: int | None) -> None:
    with pytest.raises(OurBug, match="no size"):
        pdf417.encode("A", columns, level, rows)


@given(TEXT)
@settings(max_examples=60, deadline=None)
def test_aztec_is_read_back(text: str) -> None:
    matrix = aztec.encode(text)
    assert matrix.width == aztec.size_needed(text)
    found = read(bitmap(matrix, "aztec"), "aztec")
    assert found.bytes == text.encode()
    assert found.symbology_identifier == "]z0"


@pytest.mark.parametrize("size", aztec.SIZES)
def test_every_aztec_size_is_obeyed_and_read(size: int) -> None:
    matrix = aztec.encode("FP-000123", size) if size > 15 else aztec.encode("FP-00", size)
    assert matrix.width == size == len(matrix.rows)
    assert read(bitmap(matrix, "aztec"), "aztec").text.startswith("FP-00")


def test_aztec_sizes() -> None:
    """ISO/IEC 24778 Table 1: 4 compact and 32 full sizes, three of a size with a compact one."""
    assert len(aztec.COMPACT) == 4
    assert len(aztec.FULL) == 32
    assert len(aztec.SIZES) == 33
    assert aztec.SIZES[0] == 15
    assert aztec.SIZES[-1] == 151


def test_aztec_modules_of_another_encoder() -> None:
    """`aztec_code_generator`, for capitals, which one encodation holds: symbols of one size have the same modules."""
    rng = random.Random(24778)
    same = compared = 0
    for _ in range(60):
        text = "".join(rng.choice(string.ascii_uppercase) for _ in range(rng.randrange(3, 12)))
        theirs = aztec_code_generator.AztecCode(text)
        ours = aztec.encode(text)
        if theirs.size == ours.width:
            compared += 1
            same += rows_of(theirs.matrix) == ours.rows
    assert compared > 50
    assert same == compared


@pytest.mark.parametrize("text", ["", "\ud800", "1" * 3833, "a" * 3800])
def test_aztec_refuses(text: str) -> None:
    with pytest.raises(RowRefused):
        aztec.encode(text)


def test_aztec_of_a_size_too_small_or_none() -> None:
    with pytest.raises(RowRefused, match="its size is 15 × 15"):
        aztec.encode("x" * 40, 15)
    with pytest.raises(OurBug, match="no size of 16"):
        aztec.encode("x", 16)


@pytest.mark.parametrize("version", micro_qr.LEVELS)
def test_every_micro_qr_is_obeyed_and_read(version: str) -> None:
    for level in micro_qr.LEVELS[version]:
        matrix = micro_qr.encode("1234", version, level)
        assert matrix.width == len(matrix.rows) == micro_qr.side(version)
        found = read(bitmap(matrix, "micro_qr"), "micro_qr")
        assert found.text == "1234"
        assert found.symbology_identifier == "]Q1"
        assert isinstance(found.extra, dict)
        assert (found.extra["Version"], found.extra["ECLevel"]) == (version, level or "L")


@given(
    st.text("0123456789", min_size=1, max_size=15)
    | st.text("AB $%*+-./:01", min_size=1, max_size=12)
    | st.text("ab\x01~", min_size=1, max_size=9)
)
@settings(max_examples=80, deadline=None)
def test_micro_qr_is_read_back_and_as_small_as_segnos(text: str) -> None:
    version = micro_qr.version_needed(text, "L")
    assert read(bitmap(micro_qr.encode(text, version, "L"), "micro_qr"), "micro_qr").bytes == text.encode()
    theirs = str(segno.make_micro(text, error="L", boost_error=False).version)
    assert version <= theirs


def final_bits(matrix: Matrix, mask: int) -> str:
    """The final sequence of a Micro QR Code (ISO/IEC 18004 §7.7.3, §7.8.2), unmasked."""
    side = matrix.width
    flips: dict[int, Callable[[int, int], int]] = {
        0b00: lambda i, j: i % 2,
        0b01: lambda i, j: (i // 2 + j // 3) % 2,
        0b10: lambda i, j: (i * j % 2 + i * j % 3) % 2,
        0b11: lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
    }
    found = ""
    for turn, right in enumerate(range(side - 1, 0, -2)):
        for row in range(side) if turn % 2 else range(side - 1, -1, -1):
            for column in (right, right - 1):
                if row and column and (row > 8 or column > 8):
                    found += str(matrix.rows[row] >> column & 1 ^ (flips[mask](row, column) == 0))
    return found


@pytest.mark.parametrize(
    ("version", "level", "text", "stream"),
    [  # mode, count, digits, terminator, then EC 11 EC … and four zeros where the last codeword has four bits
        ("M3", "L", "1234567", f"00 00111 {123:010b} {456:010b} 0111 0000000 00 EC 11 EC 11 EC 0000"),
        ("M3", "M", "1234567", f"00 00111 {123:010b} {456:010b} 0111 0000000 00 EC 11 EC 0000"),
        ("M2", "L", "1234", f"0 0100 {123:010b} 0100 00000 EC 11"),
        ("M1", "", "12", "010 0001100 000 0000000"),
    ],
)
def test_micro_qr_padding(version: str, level: str, text: str, stream: str) -> None:
    """ISO/IEC 18004 §7.4.10, the bits written out by hand."""
    words = {"EC": "11101100", "11": "00010001"}
    wanted = "".join(words.get(word, word) for word in stream.split())
    matrix = micro_qr.encode(text, version, level)
    assert any(final_bits(matrix, mask).startswith(wanted) for mask in range(4))


@pytest.mark.parametrize(
    ("version", "level", "digits"), [("M2", "L", 10), ("M2", "M", 8), ("M3", "L", 23), ("M4", "Q", 21)]
)
def test_full_micro_qr_has_segnos_modules(version: str, level: str, digits: int) -> None:
    """Where nothing is padded the modules are segno's at the same mask."""
    rng = random.Random(18004)
    for _ in range(10):
        text = "".join(rng.choice(string.digits) for _ in range(digits))
        theirs = [
            rows_of([[bit & 1 for bit in row] for row in symbol.matrix])
            for mask in range(4)
            for symbol in (segno.make_micro(text, version=version, error=level, boost_error=False, mask=mask),)
        ]
        assert micro_qr.encode(text, version, level).rows in theirs


#: ISO/IEC 18004 Table 7: digits, alphanumeric characters and bytes that each holds.
@pytest.mark.parametrize(
    ("version", "level", "held"),
    [
        ("M1", "", (5, 0, 0)),
        ("M2", "L", (10, 6, 0)),
        ("M2", "M", (8, 5, 0)),
        ("M3", "L", (23, 14, 9)),
        ("M3", "M", (18, 11, 7)),
        ("M4", "L", (35, 21, 15)),
        ("M4", "M", (30, 18, 13)),
        ("M4", "Q", (21, 13, 9)),
    ],
)
def test_micro_qr_capacity(version: str, level: str, held: tuple[int, int, int]) -> None:
    for char, count in zip("7Ba", held, strict=True):
        if count:
            assert micro_qr.encode(char * count, version, level).width == micro_qr.side(version)
        with pytest.raises(RowRefused):
            micro_qr.encode(char * (count + 1), version, level)


@pytest.mark.parametrize(
    ("text", "says"), [("", "empty"), ("é", r"U\+00E9"), ("1" * 36, "36 characters"), ("a" * 16, "no Micro QR")]
)
def test_micro_qr_refuses(text: str, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        micro_qr.version_needed(text, "L")


def test_no_such_micro_qr() -> None:
    for version, level in (("M1", "L"), ("M2", "Q"), ("M5", "L"), ("M4", "H")):
        with pytest.raises(OurBug, match="no Micro QR"):
            micro_qr.encode("1", version, level)


#: ISO/IEC 16022 Table 7: digits that the rectangles hold.
RECTANGLES = {(8, 18): 10, (8, 32): 20, (12, 26): 32, (12, 36): 44, (16, 36): 64, (16, 48): 98}


@pytest.mark.parametrize("size", datamatrix.RECTANGLES)
def test_every_rectangle_is_obeyed_and_read(size: tuple[int, int]) -> None:
    text = "7" * RECTANGLES[size]
    matrix = datamatrix.encode(text, size)
    assert (len(matrix.rows), matrix.width) == size == datamatrix.rectangle_needed(text)
    assert read(bitmap(matrix, "datamatrix"), "datamatrix").text == text
    with pytest.raises(RowRefused, match=r"its size is|no rectangular"):
        datamatrix.encode(text + "77", size)


def test_a_second_reader_of_rectangles(need: Callable[[str], str], tmp_path: Path) -> None:
    dmtxread = need("dmtxread")
    for size in datamatrix.RECTANGLES:
        picture = bitmap(datamatrix.encode("FP-07", size), "datamatrix", module=6)
        assert read_by_dmtx(dmtxread, picture, tmp_path) == b"FP-07"


def test_a_second_reader_of_squares(need: Callable[[str], str], tmp_path: Path) -> None:
    dmtxread = need("dmtxread")
    for size in (14, 18, 26, 32, 52):
        picture = bitmap(datamatrix.encode("FP-000123", size), "datamatrix", module=6)
        assert read_by_dmtx(dmtxread, picture, tmp_path) == b"FP-000123"


def test_a_creator_that_disobeys_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The creator ignores options it does not know; a symbol of another size must not pass."""
    create = zxingcpp.create_barcode
    monkeypatch.setattr(zxingcpp, "create_barcode", lambda text, kind, **_: create(text, kind))
    with pytest.raises(OurBug, match="Aztec Code of 31 modules was asked for"):
        aztec.encode("A", 31)
    with pytest.raises(OurBug, match="Micro QR Code M4 was asked for"):
        micro_qr.encode("1", "M4", "Q")
    with pytest.raises(RowRefused, match="does not hold"):
        pdf417.encode("A", 9, 1)
    monkeypatch.setattr(zxingcpp, "create_barcode", lambda text, kind, rows=0, **options: create(text, kind, **options))
    with pytest.raises(OurBug, match="PDF417 of 40 rows was asked for"):
        pdf417.encode("A", 3, 1, 40)


def test_no_such_rectangle() -> None:
    with pytest.raises(OurBug, match="8 × 20"):
        datamatrix.encode("1", (8, 20))
    with pytest.raises(RowRefused, match="no rectangular"):
        datamatrix.rectangle_needed("x" * 100)
