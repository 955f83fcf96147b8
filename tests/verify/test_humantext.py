"""The text of a symbol for people against what the symbol says."""

from __future__ import annotations

import pikepdf
import pytest

from vdp.verify.fonts import SourceFont
from vdp.verify.humantext import judge_text
from vdp.verify.inks import CMYK, Space
from vdp.verify.manifest import Strip, SymbolLine
from vdp.verify.shown import Run

BOX = (10.0, 20.0, 60.0, 30.0)
STRIP = Strip(above=False, turn=0, depth=5.0)
BLACK = (0.0, 0.0, 0.0, 1.0)


def run(text: str, x: float = 12, y: float = 16, *, space: Space = CMYK, colour: tuple[float, ...] = BLACK) -> Run:
    """A run whose glyph ids are the characters' numbers."""
    letters = {ord(one): one for one in text}
    font = SourceFont("Any", True, pikepdf.Dictionary(), unicode=letters)
    return Run(font, text.encode("utf-16-be"), (x, y), (8.0, 0.0), space, colour, (None,), 0, False, False)


def found(symbology: str, data: str, *shown: Run, plate: str = "Black", strip: Strip | None = STRIP) -> list[str]:
    return list(judge_text(SymbolLine("code", symbology, "", plate, 1, BOX, data), strip, shown))


# UPC-E: the examples of GS1 General Specifications, figure 5.2.2.4.2-1, as `carried` has them.
@pytest.mark.parametrize(("symbology", "data", "shown"), [
    ("ean13", "4006381333931", ["4", "006381", "333931"]),
    ("upca", "0036000291452", ["0", "36000", "29145", "2"]),
    ("upce", "0012000003455", ["0", "123450", "5"]),
    ("upce", "0012300000064", ["0", "123063", "4"]),
    ("upce", "0012340000052", ["0", "123454", "2"]),
    ("upce", "0012345000065", ["0", "123456", "5"]),
    ("gs1-128", "0109506000134352\x1d10AB-7", ["(01)09506000134352(10)AB-7"]),
    ("s10", "RA123456785ZZ", ["RA 123 456 785 ZZ"]),
    ("code39", "AB7", ["*AB7*"]),
    ("code128", "V1", ["V1"]),
])  # fmt: skip
def test_text_that_says_the_same_is_good(symbology: str, data: str, shown: list[str]) -> None:
    assert found(symbology, data, *map(run, shown)) == []


def test_text_that_says_something_else_or_nothing_is_found() -> None:
    (other,) = found("code128", "V1", run("V2"))
    assert other == "its text reads 'V2', the symbol 'V1'"
    assert found("code128", "V1") == ["its text reads '', the symbol 'V1'"]
    assert found("code128", "V1", run("V1", y=12)) == found("code128", "V1"), "it stands elsewhere"
    assert "tells of none" in found("code128", "V1", strip=None)[0]


def test_text_on_another_plate_is_found() -> None:
    assert found("code128", "V1", run("V1", colour=(1, 0, 0, 1))) == ["its text is not printed on Black alone"]
    clear = Space("separation", ("Clear",))
    assert found("code128", "V1", run("V1", space=clear, colour=(1.0,)), plate="Clear") == []
    assert found("code128", "V1", run("V1"), plate="Clear") == ["its text is not printed on Clear alone"]


@pytest.mark.parametrize(("turn", "above", "strip"), [
    (0, False, (10, 15, 60, 20)),
    (0, True, (10, 30, 60, 35)),
    (90, False, (60, 20, 65, 30)),
    (180, False, (10, 30, 60, 35)),
    (270, False, (5, 20, 10, 30)),
    (270, True, (60, 20, 65, 30)),
])  # fmt: skip
def test_the_strip_turns_with_the_symbol(turn: int, above: bool, strip: tuple[float, ...]) -> None:
    assert Strip(above, turn, 5.0).beside(BOX) == strip
