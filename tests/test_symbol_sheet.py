"""The symbol sheet: what its script writes, every code decoded in the finished file, and read by other readers too."""

from __future__ import annotations

import io
import json
import runpy
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pytest

from tests.barcode.drawing import Bitmap, read_by_dmtx, read_by_zbar
from vdp.barcode.carriers import FOUR_STATE, NAMES
from vdp.barcode.least import FLOOR
from vdp.barcode.symbology import KNOWN
from vdp.run import run_job
from vdp.run.screen import Screen

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "layouts" / "symbol_sheet"
#: What zbar reads (its documentation's list), and it tells UPC as EAN-13.  It knows no GS1 QR, Micro QR or Aztec.
BY_ZBAR = ("code128", "s10", "code39", "itf", "itf14", "ean13", "ean8", "qr")
DPI = 600


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("sheet") / "out"
    result = run_job(FOLDER / "job.yaml", records=None, out=out, workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    assert result.symbols_decoded == result.symbols_expected
    assert {warning.code for warning in result.warnings} == {"module-rounded", "linear-light"}
    return out


@pytest.fixture(scope="module")
def told(sheet: Path) -> list[dict[str, Any]]:
    symbols: list[dict[str, Any]] = json.loads((sheet / "pieces.jsonl").read_text())["symbols"]
    return symbols


@pytest.fixture(scope="module")
def front(sheet: Path, told: list[dict[str, Any]]) -> list[tuple[dict[str, Any], Bitmap]]:
    """The symbols of the front with their pixels."""
    with pdfium.PdfDocument(sheet / "pieces.pdf") as pdf:
        picture = pdf[0].render(scale=DPI / 72, grayscale=True).to_numpy()
    return [(symbol, pixels) for symbol in told if symbol["page"] == 1 for pixels in _cut(np.squeeze(picture), symbol)]


def _cut(picture: Bitmap, symbol: dict[str, Any]) -> Iterator[Bitmap]:
    left, bottom, right, top = (round(edge * DPI / 72) for edge in symbol["box"])
    height = picture.shape[0]
    yield np.pad(picture[height - top : height - bottom, left:right], 40, constant_values=255)


def test_the_layout_and_the_record_are_what_the_script_writes() -> None:
    script = runpy.run_path(str(FOLDER / "lay_out.py"))
    assert (FOLDER / "layout.yaml").read_text(encoding="utf-8") == script["layout"]()
    assert (ROOT / "demo_records" / "symbol_sheet.csv").read_text(encoding="utf-8") == script["records"]()


def test_every_symbology_is_there_at_three_sizes_on_both_plates(told: list[dict[str, Any]]) -> None:
    for plate, page in (("Black", 1), ("Clear", 2)):
        there = [one["symbology"].replace("-", "_") for one in told if (one["plate"], one["page"]) == (plate, page)]
        assert {name: there.count(name) for name in NAMES} == {
            **dict.fromkeys(KNOWN, 3),
            **dict.fromkeys(FOUR_STATE, 1),
        }


def test_every_symbol_is_graded_and_reads_after_the_simulated_print(sheet: Path, told: list[dict[str, Any]]) -> None:
    """Least sizes are those that came through the simulated print of `tests/benchmarks/least` at 1.5 (GS1's floor for
    most uses, from memory); twice that and more is spoiled by nothing there."""
    graded = json.loads((sheet / "report.json").read_text())["grades"]
    assert (graded["sampled"], graded["of"]) == (1, 1)
    assert graded["symbols"].keys() == {symbol["name"] for symbol in told}
    low = {name: one["grade"] for name, one in graded["symbols"].items() if one["grade"] < 4}
    assert {name.rsplit("-", 1)[1] for name in low} == {"least"}
    assert min(low.values()) >= FLOOR
    only_decoded = {one["symbology"] for one in graded["symbols"].values() if one["only_decoded"]}
    assert only_decoded == {"pdf417", "aztec", *FOUR_STATE}


def test_every_symbol_is_printed_at_the_x_that_is_told(sheet: Path) -> None:
    report = json.loads((sheet / "report.json").read_text())
    seen = {name: one["x_dots"] for name, one in report["grades"]["symbols"].items() if one["x_dots"]}
    assert seen == {name: size["x_dots"] for name, size in report["symbols"].items()}


def test_zbar_reads_the_same(
    front: list[tuple[dict[str, Any], Bitmap]], need: Callable[[str], str], tmp_path: Path
) -> None:
    known = [(symbol["data"], pixels) for symbol, pixels in front if symbol["symbology"] in BY_ZBAR]
    read = read_by_zbar(need("zbarimg"), [pixels for _, pixels in known], tmp_path)
    assert read == [data for data, _ in known]


def test_libdmtx_reads_the_same(
    front: list[tuple[dict[str, Any], Bitmap]], need: Callable[[str], str], tmp_path: Path
) -> None:
    dmtxread = need("dmtxread")
    for symbol, pixels in front:
        if symbol["symbology"].endswith("datamatrix"):
            said = read_by_dmtx(dmtxread, pixels, tmp_path).decode().removeprefix("\x1d")
            assert said == symbol["data"], symbol["name"]
