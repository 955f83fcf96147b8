"""Code 128: ISO/IEC 15417 values, python-barcode's tables, two decoders, and that nothing shorter exists."""

from __future__ import annotations

import string
from collections.abc import Callable
from pathlib import Path

import barcode
import pytest
import zint
from barcode.charsets import code128 as tables
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode.drawing import bitmap, read, read_by_zbar
from vdp.barcode import code128
from vdp.errors import RowRefused
from vdp.marks import Bars

ASCII = st.text(st.characters(max_codepoint=127), min_size=1, max_size=24)
#: Texts that make the code sets change: controls, capitals, digits, small letters, in stretches.
MIXED = st.lists(
    st.one_of(
        st.text("\x00\x0d\x1d\x1f", min_size=1, max_size=3),
        st.text("ABZ -/", min_size=1, max_size=3),
        st.text(string.digits, min_size=1, max_size=7),
        st.text("az{~\x7f`", min_size=1, max_size=3),
    ),
    min_size=1,
    max_size=6,
).map("".join)


def bits(bars: Bars) -> str:
    return "".join("10"[i % 2] * width for i, width in enumerate(bars.widths))


def test_iso_15417_annex_a1() -> None:
    """ISO/IEC 15417 Annex A.1: AIM1234 = 104 33 41 45 99 12 34, check 87, stop 106; 11 × 8 + 13 modules."""
    assert code128.values("AIM1234") == [104, 33, 41, 45, 99, 12, 34]
    bars = code128.encode("AIM1234")
    assert sum(bars.widths) == code128.extent("AIM1234") == 101
    assert tuple(bars.widths[-13:]) == (*code128.PATTERNS[87], *code128.STOP)


def test_iso_15417_figure_1() -> None:
    """ISO/IEC 15417 Fig. 1: "AIM" takes 68 modules."""
    assert sum(code128.encode("AIM").widths) == 68


def test_tables_are_python_barcodes() -> None:
    """python-barcode's own tables: patterns as bits, values of sets A and B."""
    ours = ["".join("10"[i % 2] * w for i, w in enumerate(pattern)) for pattern in code128.PATTERNS]
    assert ours == list(tables.CODES)
    assert bits(Bars(bytes(code128.STOP))) == tables.STOP + "11"
    assert {chr(c): v for c, v in code128._VALUE_A.items()} == {
        c: v for c, v in tables.A.items() if len(c) == 1 and v < 96
    }
    assert {chr(c): v for c, v in code128._VALUE_B.items()} == {
        c: v for c, v in tables.B.items() if len(c) == 1 and v < 96
    }


def test_every_pattern_is_eleven_modules_and_even_bars() -> None:
    """ISO/IEC 15417 §4.3.2: three bars and three spaces, 11 modules, bars an even sum; the stop has 13 modules."""
    for pattern in code128.PATTERNS:
        assert sum(pattern) == 11
        assert sum(pattern[::2]) % 2 == 0
    assert len(set(code128.PATTERNS)) == 106
    assert sum(code128.STOP) == 13


@pytest.mark.parametrize("text", ["FP-000123", "ABC", "abcdef", "1234", "Hello World", "00012345678905", "A1B2"])
def test_same_modules_as_python_barcode(text: str) -> None:
    assert bits(code128.encode(text)) == barcode.Code128(text).build()[0]


def test_shorter_than_python_barcode_after_an_odd_digit() -> None:
    assert code128.extent("FP-0001234") == 123
    assert len(barcode.Code128("FP-0001234").build()[0]) == 134


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("12", [105, 12]),
        ("1", [104, 17]),
        ("12345", [105, 12, 34, 100, 21]),
        ("A12345", [104, 33, 17, 99, 23, 45]),
        ("AB\x01\x02", [103, 33, 34, 65, 66]),
        ("ab\x01cd", [104, 65, 66, 98, 65, 67, 68]),
        ("\x01\x02a\x03", [103, 65, 66, 98, 65, 67]),
        ("ab\x01\x02\x03", [104, 65, 66, 101, 65, 66, 67]),
    ],
)
def test_choice_of_code_sets(text: str, values: list[int]) -> None:
    """Latches, shifts and pairs of digits where ISO/IEC 15417 Annex E puts them (or as few of them)."""
    assert code128.values(text) == values


def read_values(values: list[int]) -> str:
    """A decoder after ISO/IEC 15417 Table 1 and §4.3.4, written for this test alone."""
    text = ""
    held = "ABC"[values[0] - 103]
    shifted = False
    for value in values[1:]:
        current = held if not shifted else "AB"[held == "A"]
        shifted = False
        if current == "C" and value < 100:
            text += f"{value:02d}"
        elif value == 98:
            shifted = True
        elif value >= 99:
            held = {99: "C", 100: "B", 101: "A"}[value]
        else:
            text += chr(value + 32 if value < 64 or current == "B" else value - 64)
    return text


@given(MIXED | ASCII)
@settings(max_examples=300)
def test_values_read_back(text: str) -> None:
    assert read_values(code128.values(text)) == text


def refused_or(made: Callable[[], list[Bars]]) -> list[Bars] | tuple[str, ...]:
    try:
        return made()
    except RowRefused as refused:
        return refused.reasons


@given(st.lists(MIXED | ASCII | st.text(max_size=3), max_size=3), MIXED, st.data())
def test_texts_alike_are_encoded_as_each_alone(others: list[str], text: str, data: st.DataObject) -> None:
    """Alike: the same kinds of characters, whichever they are."""
    kinds = [string.digits, string.ascii_uppercase + " -/", string.ascii_lowercase + "{~\x7f`", "\x00\x0d\x1d\x1f"]
    alike = [
        "".join(data.draw(st.sampled_from(next(kind for kind in kinds if char in kind))) for char in text)
        for _ in range(3)
    ]
    for texts in (alike, [*alike, *others]):
        together = refused_or(lambda texts=texts: code128.encode_many(texts))  # type: ignore[misc]  # bound at once
        assert together == refused_or(lambda texts=texts: [*map(code128.encode, texts)])  # type: ignore[misc]


def fewest(text: str) -> int:
    """The least count of symbol characters, by breadth-first search over all that an encoder may do."""
    reached = {(0, s) for s in "ABC"}
    count = 1
    seen: set[tuple[int, str]] = set(reached)
    shift: set[tuple[int, str]] = set()
    while not any(place == len(text) for place, _ in reached):
        following: set[tuple[int, str]] = set()
        for place, held in reached:
            following |= {(place, other) for other in "ABC" if other != held}
            if held == "C" and text[place : place + 2].isdigit() and len(text) - place > 1:
                following.add((place + 2, "C"))
            if (held == "A" and text[place] < "`") or (held == "B" and text[place] >= " "):
                following.add((place + 1, held))
        following |= shift
        shift = {(place + 1, held) for place, held in reached if held != "C"}
        reached = following - seen
        seen |= reached
        count += 1
    return count


@given(MIXED)
@settings(max_examples=150)
def test_nothing_shorter_exists(text: str) -> None:
    assert len(code128.values(text)) == fewest(text)


@given(MIXED.filter(lambda text: "\x00" not in text))
@settings(max_examples=150)
def test_never_longer_than_zint(text: str) -> None:
    """zint as a second opinion on length; NUL ends its strings."""
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.CODE128
    symbol.encode(text.encode())
    assert code128.extent(text) <= symbol.width


@given(MIXED | ASCII)
@settings(max_examples=60, deadline=None)
def test_zxing_reads_every_ascii_text(text: str) -> None:
    found = read(bitmap(code128.encode(text), "code128", module=2), "code128")
    assert found.bytes == text.encode()
    assert found.symbology_identifier == "]C0"


def test_zbar_reads_serials(need: Callable[[str], str], tmp_path: Path) -> None:
    zbarimg = need("zbarimg")
    texts = [f"FP-{i * 7919:08d}" for i in range(12)] + ["abc DEF 12345 {}~", "00012345678905", "A1B22C333D4444"]
    pictures = [bitmap(code128.encode(text), "code128", module=3) for text in texts]
    assert read_by_zbar(zbarimg, pictures, tmp_path) == texts


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("Zoë", r"not 'ë' \(U\+00EB\)"),
        ("١", r"U\+0661"),
        ("A" * 1001, "1001 characters is longer than 1000"),
    ],
)
def test_refuses(text: str, says: str) -> None:
    for act in (code128.encode, code128.extent):
        with pytest.raises(RowRefused, match=says):
            act(text)


def test_longest_is_read_back() -> None:
    text = "9aB\x01" * 250
    assert read_values(code128.values(text)) == text
