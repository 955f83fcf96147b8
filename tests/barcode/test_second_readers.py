"""Every symbology that a second, independent decoder knows is read by it: zbar, libdmtx, pdf417decoder."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path

import pytest
from pdf417decoder import PDF417Decoder
from PIL import Image

from tests.barcode.drawing import bitmap, read_by_dmtx, read_by_zbar
from tests.barcode.second_readers import LIBDMTX, NONE, PDF417DECODER, SECOND, ZBAR, table
from tests.barcode.test_carriers import TEXTS
from vdp.barcode import carriers
from vdp.barcode.carriers import NAMES
from vdp.marks import Bars, Matrix


def drawn(symbology: str, text: str) -> Bars | Matrix:
    (shape,) = carriers.Encoder(symbology, carriers.need(symbology, text)).encode([text])
    assert isinstance(shape, (Bars, Matrix))
    return shape


def named(reader: str) -> list[str]:
    return [symbology for symbology, (second, _) in SECOND.items() if second == reader]


def read_by_pdf417decoder(shape: Bars | Matrix) -> list[str]:
    """pdf417decoder adds pixels in eight bits, of which numpy warns."""
    decoder = PDF417Decoder(Image.fromarray(bitmap(shape, "pdf417", 4)).convert("RGB"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        return [decoder.barcode_data_index_to_string(nth) for nth in range(decoder.decode())]


def test_every_symbology_is_told_and_the_table_shown() -> None:
    assert tuple(SECOND) == NAMES
    assert {second for second, _ in SECOND.values()} == {ZBAR, LIBDMTX, PDF417DECODER, NONE}
    assert all(besides for second, besides in SECOND.values() if second == NONE)
    developers = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert table() in developers


@pytest.mark.parametrize("symbology", named(ZBAR))
def test_zbar_reads(symbology: str, need: Callable[[str], str], tmp_path: Path) -> None:
    texts = TEXTS[symbology]
    pictures = [bitmap(drawn(symbology, text), symbology, 4) for text in texts]
    said = [carriers.read_back(symbology, text) for text in texts]
    assert read_by_zbar(need("zbarimg"), pictures, tmp_path) == said


@pytest.mark.parametrize("symbology", named(LIBDMTX))
def test_libdmtx_reads(symbology: str, need: Callable[[str], str], tmp_path: Path) -> None:
    for text in TEXTS[symbology]:
        read = read_by_dmtx(need("dmtxread"), bitmap(drawn(symbology, text), symbology, 6), tmp_path)
        start = "\x1d" if symbology.startswith("gs1_") else ""
        said = read if text.isascii() else read[-len(text.encode()) :]
        assert said.decode() == start + carriers.read_back(symbology, text)


@pytest.mark.parametrize(
    "text", ["PDF417", "FP-000123 and more of it", "000213298174000", "a;B,9 (x) 1234567890123456"]
)
def test_pdf417decoder_reads(text: str) -> None:
    assert named(PDF417DECODER) == ["pdf417"]
    assert read_by_pdf417decoder(drawn("pdf417", text)) == [text]


def test_where_pdf417decoder_and_zxing_disagree() -> None:
    """An ECI says that bytes are UTF-8; pdf417decoder passes over it and tells each byte as Latin-1."""
    assert read_by_pdf417decoder(drawn("pdf417", "Zoë")) == ["Zoë".encode().decode("latin-1")]
