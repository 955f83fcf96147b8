"""The text of a symbol for people: where it stands, what it says, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import plan_of, write_job
from vdp.compose.fit import fit
from vdp.compose.human import guard_marks
from vdp.compose.piece import Accepted, compose
from vdp.errors import CallerError, RowRefused
from vdp.marks import FillMark, Mark, SymbolMark, TextMark
from vdp.plan.neighbours import check_symbols
from vdp.plan.steps import SymbolStep

LAYOUT = """\
trim: [80 mm, 60 mm]
bleed: 2 mm
front:
  - {{name: code, barcode: {kind}, data: {data}, at: {at}, {more}}}
back: []
"""
EAN = "x: 0.33866 mm, height: 12 mm, human_text: below, human_size: 9 pt"
PLAIN = "x: 0.254 mm, height: 8 mm, human_text: below"


def drawn(tmp_path: Path, kind: str, data: str, more: str, at: str = "[10 mm, 10 mm]") -> list[Mark]:
    plan = plan_of(write_job(tmp_path, layout=LAYOUT.format(kind=kind, data=f'"{data}"', more=more, at=at)))[2]
    values = {"name": "Anna", "lang": "en"}
    found = fit(plan, plan.job.context(values, {"voucher": "V1"}, 2), lambda _: (1, 1))
    plan = plan.sized(found.needs, {})
    check_symbols(plan)
    (piece,) = compose(plan, [Accepted(0, 2, values, {"voucher": "V1"})])
    return piece.front


def parts(marks: list[Mark]) -> tuple[SymbolMark, TextMark, list[FillMark]]:
    (symbol,) = [mark for mark in marks if isinstance(mark, SymbolMark)]
    (text,) = [mark for mark in marks if isinstance(mark, TextMark)]
    return symbol, text, [mark for mark in marks if isinstance(mark, FillMark)]


# GS1 General Specifications §4.14: brackets around application identifiers are shown and not encoded.  §5.2.5: digits
# of EAN and UPC stand in groups.  ISO/IEC 16388: start and stop of Code 39 as asterisks (from memory).
# UPU S10: 2-3-3-3-2.
@pytest.mark.parametrize(("kind", "data", "more", "shown"), [
    ("ean13", "400638133393", EAN, ["4", "006381", "333931"]),
    ("ean8", "9638507", EAN, ["9638", "5074"]),
    ("upca", "03600029145", EAN, ["0", "36000", "29145", "2"]),
    ("upce", "01234505", EAN, ["0", "123450", "5"]),
    ("code128", "{{ series.voucher }}-x9", PLAIN, ["V1-x9"]),
    ("gs1-128", "(10)AB-7", PLAIN, ["(10)AB-7"]),
    ("code39", "AB7", PLAIN, ["*AB7*"]),
    ("itf14", "15400141288763", PLAIN, ["15400141288763"]),
    ("itf", "123456", PLAIN, ["123456"]),
    ("s10", "RA12345678ZZ", PLAIN, ["RA 123 456 785 ZZ"]),
])  # fmt: skip
def test_what_is_shown(tmp_path: Path, kind: str, data: str, more: str, shown: list[str]) -> None:
    _, text, _ = parts(drawn(tmp_path, kind, data, more))
    assert [line.text for line in text.lines] == shown


def test_digits_stand_under_their_halves_and_guard_bars_reach_down_between_them(tmp_path: Path) -> None:
    symbol, text, guards = parts(drawn(tmp_path, "ean13", "400638133393", EAN))
    x, y, width, _ = symbol.box
    assert text.box == (x, y - text.box[3], width, text.box[3]), "the strip lies under the bars, not in the quiet zone"
    assert [(bar.box[0] - x) // 16 - 11 for bar in guards] == [0, 2, 46, 48, 92, 94]
    assert {(bar.box[1] + bar.box[3], bar.box[2], bar.box[3]) for bar in guards} == {(y, 16, 80)}, "5 X longer"
    em = text.size * 1200 / 72
    for line, (first, last) in zip(text.lines, ((-11, -1), (3, 45), (50, 92)), strict=True):
        ends = line.x + sum(run.width for run in line.glyphs) * em / 1000
        assert x + (11 + first) * 16 <= line.x < ends <= x + (11 + last) * 16
        assert text.box[1] <= line.y < y - 8, "half an X is clear"


@pytest.mark.parametrize(("kind", "data"), [("gs1-128", "(10)AB-7"), ("code128", "b{l}|[f]"), ("itf", "123456")])
def test_no_letter_touches_the_bars(tmp_path: Path, kind: str, data: str) -> None:
    """Brackets and ascenders reach higher than capitals; half an X is clear above the highest that is set."""
    symbol, text, _ = parts(drawn(tmp_path, kind, data, PLAIN))
    face = plan_of(tmp_path / "job.yaml")[2].setter.faces.face("mono")
    glyphs = [face.font.get_nominal_glyph(ord(char)) for char in text.lines[0].text]
    top = max(face.font.get_glyph_extents(glyph).y_bearing for glyph in glyphs if glyph)
    em = text.size * 1200 / 72 / face.upem
    assert text.lines[0].y + top * em <= symbol.box[1] - symbol.module / 2


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("place", ["below", "above"])
def test_the_strip_turns_with_its_symbol(tmp_path: Path, turn: int, place: str) -> None:
    more = f"x: 0.254 mm, height: 8 mm, turn: {turn}, human_text: {place}"
    symbol, text, guards = parts(drawn(tmp_path, "code39", "AB7", more))
    (x, y, width, height), (left, low, across, up) = symbol.box, text.box
    side = {0: left == x and low + up == y, 90: low == y and left == x + width}
    side |= {180: left == x and low == y + height, 270: low == y and left + across == x}
    assert side[(turn + 180 * (place == "above")) % 360]
    (line,) = text.lines
    assert left <= line.x <= left + across
    assert low <= line.y <= low + up
    assert guards == []


@pytest.mark.parametrize(("kind", "data", "more", "said"), [
    ("qr", "A", "x: 0.508 mm, human_text: below", "not beside a qr"),
    ("ean13", "400638133393", EAN.replace("below", "above"), "stand below its bars"),
    ("ean13", "400638133393", EAN.replace("9 pt", "4 pt"), "end above the guard bars"),
    ("code39", "AB7", PLAIN + ", human_size: 60 pt", "would fit"),
    ("code39", "AB7", PLAIN + ", human_face: none", "face"),
])  # fmt: skip
def test_what_is_refused(tmp_path: Path, kind: str, data: str, more: str, said: str) -> None:
    with pytest.raises((CallerError, RowRefused)) as refused:
        drawn(tmp_path, kind, data, more)
    assert said in str(refused.value)


def test_text_that_leaves_the_trim_or_meets_another_mark_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="its text leaves the trim"):
        drawn(tmp_path, "code39", "AB7", PLAIN, at="[10 mm, 51.5 mm]")
    box = "}\n  - {name: near, box: [10 mm, 18.5 mm, 30 mm, 2 mm]"
    with pytest.raises(CallerError, match="its text overlaps 'near' on Black"):
        drawn(tmp_path, "code39", "AB7", PLAIN + box)


def test_small_text_of_a_symbol_is_judged_too(tmp_path: Path) -> None:
    marks = drawn(tmp_path, "code39", "AB7", PLAIN + ", human_size: 3 pt")
    assert parts(marks)[1].size == 3


def test_symbols_without_text_have_no_longer_bars(tmp_path: Path) -> None:
    layout = LAYOUT.format(kind="ean13", data='"400638133393"', more="x: 0.33866 mm, height: 12 mm", at="[9 mm, 9 mm]")
    plan = plan_of(write_job(tmp_path, layout=layout))[2]
    (step,) = [step for step in plan.steps() if isinstance(step, SymbolStep)]
    assert step.human is None
    assert list(guard_marks(step, "400638133393", (0, 0, 100, 100), None)) == []
