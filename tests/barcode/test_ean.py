"""EAN and UPC: published widths, zint's modules, two decoders, zero suppression, the digits beneath."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
import zint
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, bits, read, read_by_zbar, zint_rows
from vdp.barcode import ean
from vdp.barcode.human_text import human_text
from vdp.barcode.symbology import KNOWN
from vdp.errors import RowRefused
from vdp.marks import Bars

ENCODERS: dict[str, Callable[[str], Bars]] = {
    "ean13": ean.ean13,
    "ean8": ean.ean8,
    "upca": ean.upca,
    "upce": ean.upce,
}
LENGTHS = {"ean13": 12, "ean8": 7, "upca": 11, "upce": 7}
ZINT = {
    "ean13": zint.Symbology.EANX,
    "ean8": zint.Symbology.EANX,
    "upca": zint.Symbology.UPCA,
    "upce": zint.Symbology.UPCE,
}


def samples(symbology: str, count: int) -> list[str]:
    rng = random.Random(symbology)
    found = ["".join(rng.choice("0123456789") for _ in range(LENGTHS[symbology])) for _ in range(count)]
    if symbology == "upce":
        found = [ean.suppressed(ean.expanded(rng.choice("01") + text[1:]))[:7] for text in found]
    return found


@pytest.mark.parametrize(("symbology", "modules"), [("ean13", 95), ("ean8", 67), ("upca", 95), ("upce", 51)])
def test_published_widths(symbology: str, modules: int) -> None:
    """ISO/IEC 15420; with quiet zones 113, 81, 113 and 67 X, whose millimetres at 0.330 a GS1 size guide gives."""
    width = sum(ENCODERS[symbology](samples(symbology, 1)[0]).widths)
    assert width == modules
    left, _, right, _ = KNOWN[symbology].quiet
    with_quiet = {"ean13": 37.29, "ean8": 26.73, "upca": 37.29, "upce": 22.11}[symbology]
    assert round((width + left + right) * 0.330, 2) == with_quiet


@pytest.mark.parametrize("symbology", sorted(ENCODERS))
def test_same_modules_as_zint(symbology: str) -> None:
    for text in samples(symbology, 60):
        assert bits(ENCODERS[symbology](text)) == zint_rows(ZINT[symbology], text)[0]


@pytest.mark.parametrize("symbology", sorted(ENCODERS))
def test_zxing_reads_them(symbology: str) -> None:
    for text in samples(symbology, 30):
        found = read(bitmap(ENCODERS[symbology](text), symbology, module=3), symbology)
        whole = {
            "ean13": lambda t: ean.whole(t, 13, ""),
            "ean8": lambda t: ean.whole(t, 8, ""),
            "upca": lambda t: "0" + ean.whole(t, 12, ""),
            "upce": lambda t: "0" + ean.expanded(t),
        }[symbology](text)
        assert found.text == whole
        assert found.symbology_identifier == KNOWN[symbology].identifier(whole)


def test_zbar_reads_them(need: Callable[[str], str], tmp_path: Path) -> None:
    drawn = {"4006381333931": ean.ean13, "96385074": ean.ean8, "036000291452": ean.upca}
    pictures = [bitmap(encode(text), "ean13", module=3) for text, encode in drawn.items()]
    assert read_by_zbar(need("zbarimg"), pictures, tmp_path) == ["4006381333931", "96385074", "0036000291452"]


def test_upc_a_is_ean_13_with_a_zero() -> None:
    assert ean.upca("03600029145") == ean.upca("036000291452") == ean.ean13("0036000291452")


@pytest.mark.parametrize(
    ("short", "upca"),
    [  # one for each rule of GS1 General Specifications §5.2.2.4.2
        ("01234505", "012000003455"),
        ("01234514", "012100003454"),
        ("01234523", "012200003453"),
        ("01234531", "012300000451"),
        ("01234543", "012340000053"),
        ("01234558", "012345000058"),
        ("01234565", "012345000065"),
        ("01234596", "012345000096"),
    ],
)
def test_zero_suppression(short: str, upca: str) -> None:
    assert ean.expanded(short) == upca
    assert ean.suppressed(upca) == short
    assert ean.upce(upca) == ean.upce(short) == ean.upce(short[:7])


@given(st.integers(0, 199_999_9).map(lambda n: f"{n:07d}").filter(lambda t: t[0] in "01"))
@settings(max_examples=200)
def test_one_way_to_suppress(short: str) -> None:
    """Of the ways to leave out zeros one is right, by zint's judgement too; the others are refused."""
    upc = ean.expanded(short)
    right = ean.suppressed(upc)
    assert ean.expanded(right) == upc
    try:
        zint_rows(zint.Symbology.UPCE, short)
        taken = True
    except RuntimeError:
        taken = False
    assert taken == (right[:7] == short)
    if not taken:
        with pytest.raises(RowRefused, match=f"wrong rule: {right} is right"):
            ean.upce(short)


@pytest.mark.parametrize(
    ("encode", "text", "says"),
    [
        (ean.ean13, "4006381333932", "ends in 2, and 1 is right"),
        (ean.ean13, "40063813339", "12 digits and a check digit"),
        (ean.ean13, "400638133393X", "12 digits"),
        (ean.ean13, "٤٠٠٦٣٨١٣٣٣٩٣", "12 digits"),
        (ean.ean13, "", "12 digits"),
        (ean.ean8, "96385075", "ends in 5, and 4 is right"),
        (ean.upca, "036000291453", "ends in 3, and 2 is right"),
        (ean.upce, "21234565", "0 or 1"),
        (ean.upce, "01234566", "ends in 6, and 5 is right"),
        (ean.upce, "012345", "0 or 1"),
        (ean.upce, "036000291452", "cannot be shortened"),
        (ean.upce, "212345000063", "cannot be shortened|ends in"),
    ],
)
def test_refuses(encode: Callable[[str], Bars], text: str, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        encode(text)


@pytest.mark.parametrize("symbology", sorted(ENCODERS))
def test_digits_stand_under_their_bars(symbology: str) -> None:
    """Guard bars reach down where no digit stands; every digit is shown once, each with seven modules of room."""
    text = samples(symbology, 1)[0]
    bars = ENCODERS[symbology](text)
    shown = human_text(symbology, text, sum(bars.widths))
    whole = {"ean13": 13, "ean8": 8, "upca": 12, "upce": 8}[symbology]
    assert len("".join(c.text for c in shown.captions)) == whole
    inner = [c for c in shown.captions if c.left >= 0 and c.right <= sum(bars.widths)]
    assert all((c.right - c.left) == 7 * len(c.text) for c in inner)
    left, _, right, _ = KNOWN[symbology].quiet
    assert all(-left <= c.left < c.right <= sum(bars.widths) + right for c in shown.captions)
    taken = [(c.left, c.right) for c in inner] + list(shown.guards)
    assert all(a[1] <= b[0] for a, b in zip(sorted(taken), sorted(taken)[1:], strict=False))
    assert shown.drop == 5
    edges = {0}
    for width in bars.widths:
        edges.add(max(edges) + width)
    # An outer guard begins or ends with a bar; inner ones with the space beside it.
    assert shown.guards[0][0] == 0
    assert shown.guards[-1][1] == max(edges)
