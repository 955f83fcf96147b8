"""Digital Links as the verifier works them out, against the composer's, which is apart."""

from __future__ import annotations

import pytest

from vdp.barcode import digital_link, gs1
from vdp.errors import RowRefused
from vdp.job.items import BarcodeItem
from vdp.verify.carried import carried

STEM = "https://id.example.org/a"


def item() -> BarcodeItem:
    written = {"barcode": "qr", "data": "1", "at": ("0 mm", "0 mm"), "x": "0.5 mm", "link": STEM + "/"}
    return BarcodeItem.model_validate(written)


@pytest.mark.parametrize(
    "text",
    [
        "(01)09506000134352",
        "(21)1/2+3(10)A%B(01)09506000134352(22)2A(17)271231(3103)000195",
        "(00)095060001343520000",
        "(10)AB\\(1)C(01)09506000134352",
        "(8006)095060001343520102(21)X",
        "(414)9506000134352(254)12A",
        "(8010)9506000AB(8011)7",
    ],
)
def test_links_are_the_composers(text: str) -> None:
    assert carried(item(), text) == digital_link.build(gs1.parse(text), STEM)


@pytest.mark.parametrize("text", ["(10)ABC", "no element string"])
def test_what_makes_no_link_is_refused(text: str) -> None:
    with pytest.raises(RowRefused):
        carried(item(), text)
