"""Every symbology by name: what is needed holds the text, the extent is the shape's, a reader reports what was told."""

from __future__ import annotations

import pytest

from tests.barcode import imb_reader
from tests.barcode.drawing import bitmap, read
from vdp.barcode import carriers
from vdp.barcode.carriers import FOUR_STATE, NAMES, PLAIN, Encoder, Form
from vdp.barcode.symbology import KNOWN
from vdp.errors import OurBug, RowRefused
from vdp.marks import Bars, Matrix, States

GS1 = ("(01)09506000134352(10)ABC", "(01)09506000134352(10)ABC-%123(21)7")
#: A text, and one that needs no less.
TEXTS: dict[str, tuple[str, str]] = {
    "code128": ("FP-1", "FP-000123"),
    "gs1_128": GS1,
    "s10": ("RA12345678ZZ", "RB123456785ZZ"),
    "code39": ("FP-1", "FP-000123"),
    "itf": ("123456", "12345678"),
    "itf14": ("1540014128876", "15400141288763"),
    "ean13": ("400638133393", "4006381333931"),
    "ean8": ("9638507", "96385074"),
    "upca": ("03600029145", "036000291452"),
    "upce": ("0123456", "01234565"),
    "qr": ("FP-1", "FP-000123 Zoë and more of it"),
    "gs1_qr": GS1,
    "micro_qr": ("1234", "FP-1234"),
    "datamatrix": ("FP-1", "FP-000123 Zoë"),
    "gs1_datamatrix": GS1,
    "pdf417": ("FP-1", "FP-000123 Zoë and more of it"),
    "aztec": ("FP-1", "FP-000123 Zoë"),
    "imb": ("01234567094987654321", "0123456709498765432101234"),
    "rm4scc": ("SN34RD1A", "SN34RD1AB"),
    "kix": ("2500GG30", "2500GG30250"),
}


def test_every_name_has_texts() -> None:
    assert set(TEXTS) == set(NAMES) == {*KNOWN, *FOUR_STATE}


@pytest.mark.parametrize("form", [PLAIN, Form(level="L", ratio=2.5, check=True, rectangle=True, columns=2, security=3)])
@pytest.mark.parametrize("symbology", sorted(KNOWN))
def test_what_is_told_is_what_a_reader_reports(symbology: str, form: Form) -> None:
    texts = TEXTS[symbology]
    needed = max(carriers.need(symbology, text, form) for text in texts)
    shapes = Encoder(symbology, needed, form).encode(texts)
    assert len(shapes) == len(texts)
    for text, shape in zip(texts, shapes, strict=True):
        assert isinstance(shape, Bars | Matrix)
        width, height = carriers.extent(symbology, needed, form)
        if isinstance(shape, Bars):
            assert sum(shape.widths) == carriers.need(symbology, text, form) <= width
            assert height == 0
        else:
            assert (shape.width, len(shape.rows)) == (width, height)
        found = read(bitmap(shape, symbology, module=3), symbology)
        # A reader's text of GS1 symbols is in brackets; its bytes are the data.
        seen = found.bytes.decode() if symbology.startswith("gs1_") else found.text
        assert seen == carriers.read_back(symbology, text, form)
        assert found.symbology_identifier == carriers.identifier(symbology, text, form)


@pytest.mark.parametrize("symbology", FOUR_STATE)
def test_four_state(symbology: str) -> None:
    texts = TEXTS[symbology]
    needed = max(carriers.need(symbology, text) for text in texts)
    shapes = Encoder(symbology, needed).encode(texts)
    for text, shape in zip(texts, shapes, strict=True):
        assert isinstance(shape, States)
        assert len(shape.bars) == carriers.need(symbology, text)
        assert carriers.read_back(symbology, text) == text
        assert carriers.identifier(symbology, text) == ""
        if symbology == "imb":
            assert "".join(imb_reader.read_bars(shape.bars)) == text
    with pytest.raises(OurBug, match="not told in modules"):
        carriers.extent(symbology, needed)


@pytest.mark.parametrize(
    "symbology",
    ["code128", "gs1_128", "code39", "itf", "qr", "gs1_qr", "micro_qr", "datamatrix", "pdf417", "aztec", "kix"],
)
def test_a_size_that_is_too_small_refuses(symbology: str) -> None:
    small, large = TEXTS[symbology]
    needed = carriers.need(symbology, small)
    assert needed < carriers.need(symbology, large)
    with pytest.raises(RowRefused):
        Encoder(symbology, needed).encode([small, large])


def test_no_such_symbology() -> None:
    with pytest.raises(OurBug, match="no symbology"):
        carriers.need("code11", "1")
    with pytest.raises(OurBug, match="no symbology"):
        Encoder("code11", 1)
