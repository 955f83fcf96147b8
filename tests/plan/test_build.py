"""Layouts become plans, and every fault that only the plan can see is told with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import BACK, FRONT, JOB, plan_of, write_job
from vdp.compose.fit import fit
from vdp.errors import CallerError
from vdp.marks import FillMark, ImageMark, StrokeMark, TextMark
from vdp.plan.build import Plan
from vdp.plan.fixed import ArtInfo
from vdp.plan.neighbours import check_symbols
from vdp.plan.numbering import numbering_of
from vdp.plan.steps import FixedStep, FormStep, MicroStep, SymbolStep, TextStep, plates_of
from vdp.units import parse_length

MM = parse_length("1 mm")


def faults_of(folder: Path, layout: str, **more: str) -> list[str]:
    with pytest.raises(CallerError) as caught:
        plan_of(write_job(folder, layout=layout, **more))
    return [str(fault) for fault in caught.value.faults]


def sized(folder: Path, layout: str, **more: str) -> Plan:
    """A plan sized by its first record."""
    job, table, plan = plan_of(write_job(folder, layout=layout, **more))
    row = next(table.rows())
    serials = {name: series.text(0) for name, series in numbering_of(plan.job, {}).items()}
    found = fit(plan, job.context(row.values, serials, row.row), lambda path: (10, 10))
    return plan.sized(found.needs, found.pictures)


def test_static_items_become_one_form_and_records_items_steps(tmp_path: Path) -> None:
    layout = FRONT.replace("front:", "front:\n  - {line: 0.5 pt, start: [0 mm, 1 mm], end: [9 mm, 1 mm]}") + BACK
    _, _, plan = plan_of(write_job(tmp_path, layout=layout))
    front, back = (side.steps for side in plan.sides)
    assert [type(step) for step in front] == [FormStep, TextStep, TextStep, SymbolStep, SymbolStep]
    assert [type(step) for step in back] == [MicroStep, TextStep, SymbolStep]
    assert isinstance(front[0], FormStep)
    assert len(front[0].marks) == 2


def test_an_unknown_field_is_named_with_its_place_and_the_likely_one(tmp_path: Path) -> None:
    layout = FRONT.replace('en: "Dear {{ name }}"', 'en: "Dear {{ nmae }}"') + BACK
    (fault,) = faults_of(tmp_path, layout)
    assert "layout.yaml:6:" in fault
    assert "'nmae'" in fault
    assert "did you mean 'name'?" in fault


def test_a_condition_over_an_unknown_field_is_a_fault(tmp_path: Path) -> None:
    faults = faults_of(tmp_path, FRONT.replace("name: number,", "name: number, when: 'cabin == 1',") + BACK)
    assert any("'cabin'" in fault for fault in faults)


def test_a_name_used_twice_is_a_fault(tmp_path: Path) -> None:
    assert any("'fine' is used twice" in f for f in faults_of(tmp_path, FRONT + BACK.replace("secret", "fine")))


def test_a_box_off_the_page_is_a_fault_with_the_figures(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, FRONT + BACK.replace("[4 mm, 20 mm, 40 mm, 6 mm]", "[4 mm, 39 mm, 40 mm, 6 mm]"))
    assert "secret: the box leaves the page" in fault
    assert "60 × 40 mm + 2 mm" in fault


def test_several_faults_are_told_at_once(tmp_path: Path) -> None:
    layout = FRONT.replace("Dear {{ name }}", "Dear {{ nome }}") + BACK.replace("[4 mm, 20 mm,", "[4 mm, 39 mm,")
    assert len(faults_of(tmp_path, layout)) == 2


def test_a_module_of_too_few_dots_warns(tmp_path: Path) -> None:
    layout = FRONT.replace("x: 0.254 mm", "x: 0.1 mm") + BACK
    warnings = plan_of(write_job(tmp_path, layout=layout))[2].warnings
    (small,) = [one.message for one in warnings if one.code == "symbol-small"]
    assert "5 dots at 1200 dpi" in small
    assert "7 dots (0.148 mm)" in small


def test_a_module_that_fails_even_without_growth_is_refused(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, FRONT.replace("x: 0.254 mm", "x: 0.06 mm") + BACK)
    assert "3 dots at 1200 dpi" in fault
    assert "0.148 mm or more" in fault


def test_fixed_text_that_does_not_fit_is_a_fault_of_the_layout(tmp_path: Path) -> None:
    back = 'back:\n  - {name: long, text: "no record in here at all", box: [1 mm, 1 mm, 5 mm, 4 mm], size: 12 pt}\n'
    (fault,) = faults_of(tmp_path, FRONT + back)
    assert "long:" in fault
    assert "layout.yaml:14" in fault


def test_fixed_text_in_plain_letters_is_drawn_once(tmp_path: Path) -> None:
    items = ('{text: "TERMS", box: [1 mm, 1 mm, 20 mm, 6 mm]}', '{text: "Όροι", box: [1 mm, 9 mm, 20 mm, 6 mm]}')
    back = "back:\n" + "".join(f"  - {item}\n" for item in items)
    steps = plan_of(write_job(tmp_path, layout=FRONT + back))[2].sides[1].steps
    assert [type(step) for step in steps] == [FormStep, TextStep]
    assert isinstance(steps[0], FormStep)
    assert isinstance(steps[0].marks[0], TextMark)


def test_lines_and_frames_lie_on_whole_dots(tmp_path: Path) -> None:
    back = """\
back:
  - {line: 0.25 mm, start: [5 mm, 5 mm], end: [20 mm, 5 mm], when: "lang == 'en'"}
  - {line: 0.25 mm, start: [5 mm, 9 mm], end: [5 mm, 20 mm], when: "lang == 'en'"}
  - {line: 0.25 mm, start: [5 mm, 9 mm], end: [9 mm, 20 mm], when: "lang == 'en'"}
  - {box: [10 mm, 10 mm, 10 mm, 10 mm], weight: 0.5 mm, when: "lang == 'en'", plate: Magenta, tint: 50}
"""
    steps = plan_of(write_job(tmp_path, layout=FRONT + back))[2].sides[1].steps
    marks = [step.marks for step in steps if isinstance(step, FixedStep)]
    assert [[type(mark) for mark in m] for m in marks] == [[FillMark], [FillMark], [StrokeMark], [FillMark] * 4]
    assert marks[0][0].box[3] == 12 == marks[1][0].box[2]  # type: ignore[union-attr]  # fills; 0.25 mm is 11.8 dots
    frame = [mark for mark in marks[3] if isinstance(mark, FillMark)]
    wide, high = frame[0].box[2], frame[2].box[3] + 2 * 24
    assert {wide, high} <= {472, 473}  # 10 mm is 472.4 dots; edges are rounded, not sizes
    assert sum(m.box[2] * m.box[3] for m in frame) == wide * high - (wide - 48) * (high - 48)  # 0.5 mm is 24 dots
    assert frame[0].ink.cmyk == (0, 0.5, 0, 0)


@pytest.mark.parametrize(
    ("info", "expected"),
    [
        (ArtInfo((66 * MM, 46 * MM), (3 * MM, 3 * MM, 60 * MM, 40 * MM)), (94 - 142, 94 - 142, 3118, 2173)),
        (ArtInfo((600, 400), None), (0, 0, 3023, 2078)),
    ],
)
def test_artwork_lies_trim_on_trim(tmp_path: Path, info: ArtInfo, expected: tuple[int, int, int, int]) -> None:
    path = write_job(tmp_path, layout=FRONT + "back:\n  - {art: a.pdf}\n")
    (tmp_path / "a.pdf").write_bytes(b"%PDF-")
    _, _, plan = plan_of(path, lambda *_: info)
    (form,) = plan.sides[1].steps
    assert isinstance(form, FormStep)
    (mark,) = form.marks
    assert isinstance(mark, ImageMark)
    assert mark.box == expected
    assert plan.art == {"art:a.pdf#1": (tmp_path / "a.pdf", 1)}


def test_artwork_of_another_size_is_refused_unless_it_has_a_box(tmp_path: Path) -> None:
    info = ArtInfo((70 * MM, 50 * MM), (0, 0, 70 * MM, 50 * MM))
    path = write_job(tmp_path, layout=FRONT + "back:\n  - {art: a.pdf}\n")
    (tmp_path / "a.pdf").write_bytes(b"%PDF-")
    with pytest.raises(CallerError, match=r"trim is 70.0 × 50.0 mm, the layout's 60.0 × 40.0 mm"):
        plan_of(path, lambda *_: info)
    write_job(tmp_path, layout=FRONT + "back:\n  - {art: a.pdf, box: [0 mm, 0 mm, 30 mm, 20 mm]}\n")
    plan_of(path, lambda *_: info)


def test_symbols_may_not_leave_the_trim(tmp_path: Path) -> None:
    plan = sized(tmp_path, FRONT.replace("at: [38 mm, 6 mm]", "at: [46 mm, 6 mm]") + BACK)
    with pytest.raises(CallerError, match=r"layout.yaml:12:\d+: square: .*leaves the trim"):
        check_symbols(plan)


def test_symbols_may_not_touch_another_mark_on_their_plate(tmp_path: Path) -> None:
    check_symbols(sized(tmp_path, FRONT + BACK))
    plan = sized(tmp_path, FRONT.replace("at: [38 mm, 6 mm]", "at: [25 mm, 6 mm]") + BACK)
    with pytest.raises(CallerError) as caught:
        check_symbols(plan)
    assert {("'hello'" in f.message, "'number'" in f.message) for f in caught.value.faults} >= {
        (True, False),
        (False, True),
    }


def test_a_symbol_may_lie_over_marks_of_another_plate_or_white(tmp_path: Path) -> None:
    extra = "  - {name: veil, text: 'X', plate: Clear, box: [38 mm, 6 mm, 15 mm, 15 mm], size: 9 pt}\n"
    extra += "  - {name: tint, box: [38 mm, 6 mm, 15 mm, 15 mm], colour: [20, 0, 0, 0]}\n"
    check_symbols(sized(tmp_path, FRONT + extra + BACK))
    black = "  - {name: bar, box: [38 mm, 6 mm, 15 mm, 15 mm], colour: [20, 0, 0, 5]}\n"
    with pytest.raises(CallerError, match="'bar'"):
        check_symbols(sized(tmp_path, FRONT + black + BACK))


def test_exclusive_conditions_may_share_a_place(tmp_path: Path) -> None:
    layout = FRONT.replace("{name: bars,", "{name: bars, when: \"lang == 'en'\",")
    layout += "  - {name: none, text: '-', box: [3 mm, 22 mm, 30 mm, 6 mm], when: \"lang != 'en'\"}\n"
    check_symbols(sized(tmp_path, layout + BACK))


def test_white_process_ink_counts_as_all_process_plates(tmp_path: Path) -> None:
    _, _, plan = plan_of(write_job(tmp_path))
    step = plan.sides[0].steps[1]
    assert isinstance(step, TextStep)
    assert plates_of(step.ink) == {"Black"}
    assert plates_of(step.ink._replace(cmyk=(0, 0, 0, 0))) == {"Cyan", "Magenta", "Yellow", "Black"}
    assert "voucher" in JOB


def test_an_x_dimension_off_the_grid_is_told(tmp_path: Path) -> None:
    def codes(x: str) -> list[str]:
        return [w.code for w in plan_of(write_job(tmp_path, layout=FRONT.replace("0.254 mm", x) + BACK))[2].warnings]

    assert codes("0.26 mm") == ["module-rounded"]  # 12.28 dots
    assert codes("0.254 mm") == codes("0.3387 mm") == []  # 12 dots, and 16.002
