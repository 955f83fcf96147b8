"""The table of symbologies against what a reader reports."""

from __future__ import annotations

from typing import get_args

import pytest

from tests.barcode.drawing import bitmap, read
from vdp.barcode import code128, datamatrix
from vdp.barcode.carriers import FOUR_STATE, NAMES
from vdp.barcode.qr import Qr
from vdp.barcode.symbology import SYMBOLOGIES
from vdp.job.items import BarcodeName
from vdp.marks import Bars, Matrix

DRAWN: dict[str, Bars | Matrix] = {
    "code128": code128.encode("FP-1"),
    "qr": Qr(2, "M").encode(["FP-1é"])[0],
    "datamatrix": datamatrix.encode("FP-1é"),
}


def test_every_symbology_a_layout_may_name_is_here() -> None:
    assert set(get_args(BarcodeName)) == {name.replace("_", "-") for name in NAMES} == {*SYMBOLOGIES, *FOUR_STATE}


@pytest.mark.parametrize(
    ("name", "quiet"),
    [
        ("code128", (10, 0, 10, 0)),  # ISO/IEC 15417 §4.4.2
        ("qr", (4, 4, 4, 4)),  # ISO/IEC 18004 §9.1
        ("datamatrix", (1, 1, 1, 1)),  # ISO/IEC 16022 §7.1
    ],
)
def test_quiet_zones(name: str, quiet: tuple[int, int, int, int]) -> None:
    assert SYMBOLOGIES[name].quiet == quiet


#: The others: tests/barcode/test_carriers.
@pytest.mark.parametrize("name", sorted(DRAWN))
def test_identifier_is_what_a_reader_reports(name: str) -> None:
    found = read(bitmap(DRAWN[name], name), name)
    assert found.symbology_identifier == SYMBOLOGIES[name].identifier(found.text)


#: The others: tests/barcode/test_carriers.
@pytest.mark.parametrize("name", sorted(DRAWN))
def test_linear_or_matrix(name: str) -> None:
    assert SYMBOLOGIES[name].linear == isinstance(DRAWN[name], Bars)
