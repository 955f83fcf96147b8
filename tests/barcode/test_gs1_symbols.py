"""GS1 element strings in Code 128, QR Code and Data Matrix: published modules and sizes, identifiers, FNC1 read back.

The identifier (ISO/IEC 15424) is what proves that FNC1 in first position survived: ]C1 and not ]C0, ]d2, ]Q3.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import zint
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, bits, read, read_by_dmtx, read_by_zbar, zint_rows
from vdp.barcode import code128, datamatrix, gs1, qr, qr_segments
from vdp.barcode.gs1 import ElementString
from vdp.barcode.symbology import KNOWN
from vdp.errors import RowRefused
from vdp.marks import Bars, Matrix

#: GS1 General Specifications 7.8.5.1-2.
MODULES_189 = (
    "110100111001111010111011001101100101111010001100110110011101101110101110110001000010110011011011110100100110001101"
    "100011011001100110110110011001001000110011011001100100100110001100011101011"
)
STRINGS = [
    "(01)95012345678903(3102)000400",
    "(02)00614141000418(15)210228(10)451214(37)20",
    "(01)09501101530003(17)150119(10)AB-123",
    "(01)00857674002010(8200)http://www.gs1.org/",
    "(10)ABCdef%%12(21)1234567",
    "(21)A(10)B(91)c",
    "(00)340123450000000000",
    r"(10)A\(01)B(21)(x)".replace("(x)", "%5"),
]


def gs1_qr(elements: ElementString, level: str = "M") -> Matrix:
    version = qr_segments.version_needed(elements, level)
    return qr.Qr(version, level).encode_codewords([qr_segments.encode(elements, version, level)])[0][0]


def test_published_modules_of_gs1_128() -> None:
    """GS1 General Specifications 7.8.5.1-2: 189 modules."""
    assert len(MODULES_189) == 189
    assert bits(code128.encode(gs1.parse("(01)95012345678903(3102)000400"))) == MODULES_189


def test_separator_in_gs1_128() -> None:
    """GS1 General Specifications 6.6.5-4: 255 modules; the reader reports one separator."""
    elements = gs1.parse("(02)00614141000418(15)210228(10)451214(37)20")
    assert code128.extent(elements) == 255
    found = read(bitmap(code128.encode(elements), "gs1_128"), "gs1_128")
    assert found.bytes == b"02006141410004181521022810451214\x1d3720"
    assert found.symbology_identifier == "]C1"


@pytest.mark.parametrize("text", STRINGS)
def test_three_carriers_are_read_back(text: str) -> None:
    elements = gs1.parse(text)
    drawn: dict[str, Bars | Matrix] = {
        "gs1_128": code128.encode(elements),
        "gs1_datamatrix": datamatrix.encode(elements),
        "gs1_qr": gs1_qr(elements),
    }
    for symbology, shape in drawn.items():
        found = read(bitmap(shape, symbology), symbology)
        assert found.bytes.decode() == elements.data()
        assert found.symbology_identifier == KNOWN[symbology].identifier(text)


@pytest.mark.parametrize("text", STRINGS)
def test_the_same_text_without_fnc1_is_told_apart(text: str) -> None:
    data = gs1.parse(text).data()
    version = qr.version_needed(data, "M")
    assert read(bitmap(code128.encode(data), "code128"), "code128").symbology_identifier == "]C0"
    assert read(bitmap(datamatrix.encode(data), "datamatrix"), "datamatrix").symbology_identifier == "]d1"
    assert read(bitmap(qr.Qr(version, "M").encode([data])[0], "qr"), "qr").symbology_identifier == "]Q1"


def test_published_sizes() -> None:
    """GS1 General Specifications 2.6.14-3 (Data Matrix 20 × 20) and 5.7.3-1 (QR 29 × 29, at level M)."""
    assert datamatrix.encode(gs1.parse("(01)09501101530003(17)150119(10)AB-123")).width == 20
    assert gs1_qr(gs1.parse("(01)00857674002010(8200)http://www.gs1.org/")).width == 29


def test_a_digital_link_is_plain_text() -> None:
    """GS1 Digital Link sample: plain Data Matrix 32 × 32 and QR 33 × 33, not ]d2 or ]Q3."""
    uri = "https://id.gs1.org/01/09506000134352/10/ABC/21/123456?17=180426"
    matrix = datamatrix.encode(uri)
    assert matrix.width == 32
    assert read(bitmap(matrix, "datamatrix"), "datamatrix").symbology_identifier == "]d1"
    code = qr.Qr(qr.version_needed(uri, "L"), "L").encode([uri])[0]
    assert code.width == 33
    assert read(bitmap(code, "qr"), "qr").symbology_identifier == "]Q1"


def test_gs1_datamatrix_in_a_fixed_size_and_a_rectangle() -> None:
    elements = gs1.parse("(01)09501101530003(10)A")
    for size in (26, (16, 36)):
        found = read(bitmap(datamatrix.encode(elements, size), "gs1_datamatrix"), "gs1_datamatrix")
        assert found.symbology_identifier == "]d2"
        assert found.bytes.decode() == elements.data()
    assert datamatrix.size_needed(elements) == 16
    assert datamatrix.rectangle_needed(elements) == (12, 26)


def test_same_modules_as_zint_where_digits_leave_no_choice() -> None:
    for text in ("(01)95012345678903(3102)000400", "(00)340123450000000000", "(01)12312312312333(17)250101(11)240101"):
        assert (
            bits(code128.encode(gs1.parse(text)))
            == zint_rows(zint.Symbology.GS1_128, text.replace("(", "[").replace(")", "]"))[0]
        )


LOTS = st.text("0123456789ABCabc-/%", min_size=1, max_size=12)


@given(LOTS, LOTS)
@settings(max_examples=60, deadline=None)
def test_any_lot_and_serial_are_read_back(lot: str, serial: str) -> None:
    elements = gs1.judged((("10", lot), ("21", serial)))
    for symbology, shape in (
        ("gs1_128", code128.encode(elements)),
        ("gs1_datamatrix", datamatrix.encode(elements)),
        ("gs1_qr", gs1_qr(elements, "L")),
    ):
        found = read(bitmap(shape, symbology, module=2), symbology)
        assert found.bytes.decode() == elements.data()
        assert found.symbology_identifier == KNOWN[symbology].modifier


@given(LOTS, LOTS)
@settings(max_examples=100, deadline=None)
def test_gs1_128_never_longer_than_zint(lot: str, serial: str) -> None:
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.GS1_128
    symbol.encode(f"[10]{lot}[21]{serial}")
    assert code128.extent(gs1.judged((("10", lot), ("21", serial)))) <= symbol.width


def test_a_second_reader_of_data_matrix(need: Callable[[str], str], tmp_path: Path) -> None:
    dmtxread = need("dmtxread")
    for text in STRINGS[:4]:
        elements = gs1.parse(text)
        seen = read_by_dmtx(dmtxread, bitmap(datamatrix.encode(elements), "gs1_datamatrix", module=6), tmp_path)
        assert seen.decode() == "\x1d" + elements.data()


def test_a_second_reader_of_the_others(need: Callable[[str], str], tmp_path: Path) -> None:
    zbarimg = need("zbarimg")
    texts = ["(01)95012345678903(3102)000400", "(00)340123450000000000"]
    pictures = [bitmap(code128.encode(gs1.parse(text)), "gs1_128", module=3) for text in texts]
    pictures += [bitmap(gs1_qr(gs1.parse(text)), "gs1_qr", module=5) for text in texts]
    wanted = [gs1.parse(text).data() for text in texts]
    assert read_by_zbar(zbarimg, pictures, tmp_path) == wanted + wanted


def test_gs1_128_holds_48_characters() -> None:
    """GS1 General Specifications §5.4.4.3."""
    assert code128.extent(gs1.parse("(90)" + "1" * 30 + "(10)" + "2" * 11)) > 0
    with pytest.raises(RowRefused, match="holds 48 characters, not 49"):
        code128.encode(gs1.parse("(90)" + "1" * 30 + "(10)" + "2" * 14))


def test_too_long_for_any_symbol() -> None:
    elements = gs1.judged((*((str(ai), "x" * 90) for ai in range(91, 100)), ("8200", "y" * 70)))
    with pytest.raises(RowRefused):
        datamatrix.encode(elements, 16)
    with pytest.raises(RowRefused, match="do not fit in QR version 1 at level L"):
        qr_segments.encode(elements, 1, "L")
