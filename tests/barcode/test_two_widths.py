"""Code 39 and Interleaved 2 of 5: zint's modules, published widths, two decoders, every ratio."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
import zint
from barcode import Code39
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, bits, read, read_by_zbar, zint_rows
from vdp import checkdigit
from vdp.barcode import code39, gs1, itf
from vdp.barcode.human_text import human_text
from vdp.barcode.symbology import KNOWN
from vdp.errors import OurBug, RowRefused

ALPHABET = checkdigit.SCHEMES["code39_mod43"]
TEXTS = st.text(ALPHABET, min_size=1, max_size=12)
PAIRS = st.text("0123456789", min_size=2, max_size=16).filter(lambda t: len(t) % 2 == 0)


def test_iso_16388_figure_1() -> None:
    """ISO/IEC 16388 Fig. 1: "1A", four characters with start and stop: 4 × (6 + 3 × 3) + 3 modules at a ratio of 3."""
    assert sum(code39.encode("1A").widths) == 63
    assert bits(code39.encode("1A")) == Code39("1A", add_checksum=False).build()[0]
    assert read(bitmap(code39.encode("1A"), "code39"), "code39").text == "1A"


@given(TEXTS)
@settings(max_examples=60)
def test_code_39_is_zints(text: str) -> None:
    """zint draws wide elements two modules wide."""
    assert bits(code39.encode(text, 2.0)) == zint_rows(zint.Symbology.CODE39, text)[0].rstrip("0")
    assert bits(code39.encode(text, 2.0, check=True)) == zint_rows(zint.Symbology.CODE39, text, option_2=1)[0].rstrip(
        "0"
    )


# zxing-cpp takes a lone 0 for the check character of nothing: texts of one character are left out.
@given(TEXTS.filter(lambda t: len(t) > 1), st.sampled_from(sorted(code39.RATIOS)), st.booleans())
@settings(max_examples=80, deadline=None)
def test_code_39_is_read_back(text: str, ratio: float, check: bool) -> None:
    carried = code39.carried(text, check)
    found = read(bitmap(code39.encode(text, ratio, check), "code39"), "code39")
    assert found.text == carried
    assert found.symbology_identifier == KNOWN["code39"].identifier(carried)


@given(PAIRS)
@settings(max_examples=60)
def test_interleaved_is_zints(text: str) -> None:
    """zint draws wide elements three modules wide."""
    assert bits(itf.encode(text)) == zint_rows(zint.Symbology.C25INTER, text)[0].rstrip("0")


@given(PAIRS.filter(lambda t: len(t) > 5), st.sampled_from(sorted(code39.RATIOS)))
@settings(max_examples=80, deadline=None)
def test_interleaved_is_read_back(text: str, ratio: float) -> None:
    found = read(bitmap(itf.encode(text, ratio), "itf"), "itf")
    assert found.text == text
    assert found.symbology_identifier == KNOWN["itf"].identifier(text)


@pytest.mark.parametrize(("ratio", "modules"), [(3.0, 135), (2.5, 241), (2.0, 106)])
def test_itf_14_width(ratio: float, modules: int) -> None:
    """(P (4 N + 6) + N + 6) X for P pairs at ratio N; units are half an X at 2.5."""
    assert sum(itf.itf14("1540014128876", ratio).widths) == modules
    assert (7 * (4 * ratio + 6) + ratio + 6) * code39.RATIOS[ratio][0] == modules


def test_itf_14_with_and_without_its_check_digit() -> None:
    assert itf.itf14("1540014128876") == itf.itf14("15400141288763")
    assert bits(itf.itf14("15400141288763", 3.0)) == bits(itf.encode("15400141288763", 3.0))
    found = read(bitmap(itf.itf14("15400141288763"), "itf14"), "itf14")
    assert (found.text, found.symbology_identifier) == ("15400141288763", KNOWN["itf14"].identifier("15400141288763"))
    with pytest.raises(RowRefused, match="ends in 4, and 3 is right"):
        itf.itf14("15400141288764")


def test_zbar_reads_them(need: Callable[[str], str], tmp_path: Path) -> None:
    rng = random.Random(39)
    texts = ["".join(rng.choice(ALPHABET) for _ in range(9)) for _ in range(5)]
    numbers = ["15400141288763", "0123456789", "998877665544"]
    pictures = [bitmap(code39.encode(text), "code39", module=3) for text in texts]
    pictures += [bitmap(itf.encode(number), "itf", module=3) for number in numbers]
    assert read_by_zbar(need("zbarimg"), pictures, tmp_path) == texts + numbers


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda: code39.encode(""), "empty"),
        (lambda: code39.encode("abc"), r"not 'a' \(U\+0061\)"),
        (lambda: code39.encode("*"), r"not '\*'"),
        (lambda: code39.encode("A" * 101), "101 characters is longer"),
        (lambda: itf.encode("123"), "2, 4, 6"),
        (lambda: itf.encode(""), "2, 4, 6"),
        (lambda: itf.encode("12a4"), "2, 4, 6"),
        (lambda: itf.encode("١٢"), "2, 4, 6"),
        (lambda: itf.encode("12" * 51), "2, 4, 6"),
    ],
)
def test_refuses(act: Callable[[], object], says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        act()


def test_no_such_ratio() -> None:
    with pytest.raises(OurBug, match="ratio of 4"):
        code39.encode("A", 4)
    with pytest.raises(OurBug, match="ratio of 4"):
        itf.encode("12", 4)


@pytest.mark.parametrize(
    ("symbology", "payload", "text"),
    [
        ("code39", "1A", "*1A*"),
        ("code128", "FP-1", "FP-1"),
        ("gs1_128", gs1.parse("(10)AB(21)1"), "(10)AB(21)1"),
        ("itf", "1234", "1234"),
        ("itf14", "1540014128876", "15400141288763"),
        ("gs1_128", "(10)AB(21)1", "(10)AB(21)1"),
        ("s10", "RA12345678ZZ", "RA 123 456 785 ZZ"),
    ],
)
def test_text_beneath(symbology: str, payload: str | gs1.ElementString, text: str) -> None:
    shown = human_text(symbology, payload, 80)
    assert [tuple(c) for c in shown.captions] == [(text, 0, 80)]
    assert shown.guards == ()
