"""Printer's marks: nothing inside a bleed, every mark behind its like, every plate there, and refusals with figures."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sheeted import web_of
from vdp.errors import CallerError
from vdp.marks import FillMark, Ink
from vdp.plan.page import overlaps
from vdp.press.backs import Backs, back_cell, mirror
from vdp.press.printmarks import MARK_KINDS, FrameMarks, Line, MarkKind, MarksWanted, plan_marks
from vdp.press.web import Turn, Wanted, Web, lay_web
from vdp.units import parse_length

CODE = (288, 288)
SPOTS = ("Clear", "Gold")


def wanted(*kinds: MarkKind, lines: tuple[Line, ...] = ()) -> MarksWanted:
    return MarksWanted(frozenset(kinds or MARK_KINDS), SPOTS, CODE, lines)


def marks_of(web: Web, want: MarksWanted, backs: Backs = "mirrored") -> FrameMarks:
    return plan_marks(web, want, backs, "job.yaml:9:1")


def fills(marks: FrameMarks, name: str, side: str = "front") -> list[FillMark]:
    found = [mark for mark in getattr(marks, side) if mark.name == name]
    assert all(isinstance(mark, FillMark) for mark in found)
    return found


LINES = (Line("fold", True, 945), Line("fold", False, 1200), Line("perforation", True, 300))


@settings(max_examples=40, deadline=None)
@given(
    lanes=st.integers(1, 5),
    along=st.integers(1, 4),
    turn=st.sampled_from((0, 90, 180, 270)),
    gutter=st.sampled_from(("0 mm", "4 mm", "7.3 mm")),
    backs=st.sampled_from(("mirrored", "as_front")),
)
def test_nothing_lies_in_a_bleed_on_either_side(lanes: int, along: int, turn: Turn, gutter: str, backs: Backs) -> None:
    web = web_of(turn, lanes, along, gutter)
    marks = marks_of(web, wanted(lines=LINES), backs)
    fronts = [cell.area for cell in web.cells()]
    behind = [back_cell(web, cell.lane, cell.along, backs).area for cell in web.cells()]
    boxes = [mark.box for mark in marks.front if isinstance(mark, FillMark)] + [*marks.codes]
    assert marks.slug is not None
    boxes.append(marks.slug)
    assert not [box for box in boxes for area in fronts if overlaps(box, area)]
    page = (0, 0, web.width, web.frame)
    for box in boxes:
        assert box[0] >= 0
        assert box[1] >= 0
        assert box[0] + box[2] <= page[2]
        assert box[1] + box[3] <= page[3]
    backsides = [mark.box for mark in marks.back if isinstance(mark, FillMark)]
    assert not [box for box in backsides for area in behind if overlaps(box, area)]


@pytest.mark.parametrize("backs", ["mirrored", "as_front"])
def test_each_mark_of_the_back_lies_behind_its_like(backs: Backs) -> None:
    web = web_of()
    marks = marks_of(web, wanted(lines=LINES), backs)
    for front, back in zip(marks.front, marks.back, strict=True):
        assert isinstance(front, FillMark)
        assert isinstance(back, FillMark)
        assert back.box == (mirror(front.box, web.width) if backs == "mirrored" else front.box)
        assert (front.name, front.ink) == (back.name, back.ink)


def test_cut_lines_point_at_the_cuts_and_slit_lines_at_the_slits() -> None:
    web = web_of()
    marks = marks_of(web, wanted())
    middles = {mark.box[1] + mark.box[3] // 2 for mark in fills(marks, "trim")}
    assert middles == set(web.cuts)
    assert {mark.box[0] + mark.box[2] // 2 for mark in fills(marks, "slit")} == set(web.slits)
    assert {mark.box[0] + mark.box[2] // 2 for mark in fills(marks, "knife")} == set(web.slits)
    assert len(fills(marks, "slit")) == 2 * len(web.slits)


def test_folds_and_perforations_are_broken_lines_at_their_places() -> None:
    web = web_of(lanes=1, along=1)
    marks = marks_of(web, wanted(lines=LINES))
    trim = web.cell(1, 1).trim
    across = {mark.box[1] + mark.box[3] // 2 for mark in fills(marks, "fold") if mark.box[2] > mark.box[3]}
    assert across == {trim[1] + 945}
    along = {mark.box[0] + mark.box[2] // 2 for mark in fills(marks, "fold") if mark.box[2] < mark.box[3]}
    assert along == {trim[0] + 1200}
    assert {mark.box[1] + mark.box[3] // 2 for mark in fills(marks, "perforation")} == {trim[1] + 300}
    assert len(fills(marks, "perforation")) > len(fills(marks, "fold")) / 2


def test_register_marks_are_on_every_plate_in_the_same_place() -> None:
    marks = fills(marks_of(web_of(), wanted("register")), "register")
    by_ink: dict[Ink, set[tuple[int, int, int, int]]] = {}
    for mark in marks:
        by_ink.setdefault(mark.ink, set()).add(mark.box)
    assert [ink.spot for ink in by_ink] == ["", *SPOTS]
    assert by_ink[Ink("", 0.0, (1.0, 1.0, 1.0, 1.0))] == by_ink[Ink("Clear", 1.0, (0, 0, 0, 0))]
    assert {len(boxes) for boxes in by_ink.values()} == {4}


def test_the_strip_has_a_solid_and_a_half_of_every_plate() -> None:
    patches = fills(marks_of(web_of(), wanted("strip")), "strip")
    tints = sorted((mark.ink.spot, *mark.ink.cmyk, mark.ink.tint) for mark in patches)
    assert len(tints) == len(set(tints)) == 2 * (4 + len(SPOTS))
    lefts = [mark.box[0] for mark in patches]
    assert lefts == sorted(lefts)


def test_a_code_stands_over_the_middle_of_each_lane() -> None:
    web = web_of()
    marks = marks_of(web, wanted("code"))
    for lane, box in enumerate(marks.codes, 1):
        trim = web.cell(lane, 1).trim
        assert abs((box[0] + box[2] / 2) - (trim[0] + trim[2] / 2)) <= 1
        assert box[1] > web.cell(lane, 1).area[1] + web.cell(lane, 1).area[3]


def test_no_kinds_no_marks() -> None:
    web = lay_web(Wanted(3000.0, 1), (170.0, 110.0), 0.0, 1200, "web")
    assert plan_marks(web, MarksWanted(frozenset(), (), CODE), "mirrored", "web") == FrameMarks((), (), (), None)


def test_bands_that_are_too_narrow_are_refused_with_their_figures() -> None:
    web = lay_web(Wanted(parse_length("70 mm"), 1), (170.0, 110.0), 0.0, 1200, "web")
    with pytest.raises(CallerError) as refused:
        marks_of(web, wanted())
    told = [fault.message for fault in refused.value.faults]
    assert told == [
        "the left margin leaves 5.02 mm beside the bleed, and the eye mark needs 8.49 mm",
        "the right margin leaves 5.02 mm beside the bleed, and the register mark needs 5.99 mm",
        "the head margin leaves 0.00 mm beside the bleed, and the code mark needs 7.09 mm",
        "the foot margin leaves 0.00 mm beside the bleed, and the slug mark needs 9.02 mm",
    ]
    assert {fault.where for fault in refused.value.faults} == {"job.yaml:9:1"}


def test_a_lane_too_narrow_for_its_code_is_refused() -> None:
    mm = parse_length
    margins = (mm("10 mm"), mm("10 mm"), mm("10 mm"), mm("11 mm"))
    web = lay_web(Wanted(mm("60 mm"), 6, margins=margins), (mm("5 mm"), mm("40 mm")), 0.0, 1200, "web")
    with pytest.raises(CallerError, match="too wide for lane 1"):
        marks_of(web, wanted("code"))


def test_a_strip_wider_than_the_web_is_refused() -> None:
    mm = parse_length
    web = lay_web(Wanted(mm("30 mm"), 1, margins=(0, 0, 0, mm("9 mm"))), (mm("20 mm"), mm("20 mm")), 0.0, 1200, "web")
    with pytest.raises(CallerError, match="strip does not fit"):
        marks_of(web, wanted("strip"))


def test_register_marks_find_no_room_between_many_cuts() -> None:
    mm = parse_length
    margins = (mm("10 mm"), mm("10 mm"), 0.0, 0.0)
    web = lay_web(Wanted(mm("60 mm"), 1, along=4, margins=margins), (mm("30 mm"), mm("4 mm")), 0.0, 1200, "web")
    with pytest.raises(CallerError, match="free for a register mark"):
        marks_of(web, wanted("trim", "register"))
