"""Small type judged glyph by glyph before anything is composed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import BACK, FRONT, plan_of, write_job
from vdp.compose.fit import fit
from vdp.compose.small import SmallType
from vdp.errors import Finding, RowRefused
from vdp.plan.build import Plan
from vdp.plan.steps import FixedStep, FormStep

MICRO = "back:\n  - {{name: fine, microtext: '{{{{ name }}}}', box: [4 mm, 4 mm, 50 mm, 3 mm], {more}}}\n"


def judge(tmp_path: Path, more: str, *names: str, item: str = MICRO) -> tuple[list[str], list[Finding]]:
    """Reasons of refusal and warnings of a layout whose small item shows the name of each record."""
    plan = plan_of(write_job(tmp_path, layout=FRONT + item.format(more=more)))[2]
    small = SmallType(plan.job, plan.setter.faces)
    reasons: list[str] = []
    for name in names:
        try:
            tried(plan, small, name)
        except RowRefused as refused:
            reasons += refused.reasons
    return reasons, small.warnings()


def tried(plan: Plan, small: SmallType, name: str) -> None:
    record = {"name": name, "lang": "en"}
    fit(plan, plan.job.context(record, {"voucher": "VC-1"}, 2), lambda _: (10, 10), small)


def test_a_row_with_a_letter_that_breaks_is_refused_with_face_size_and_the_size_that_holds(tmp_path: Path) -> None:
    reasons, warnings = judge(tmp_path, "size: 1 pt, face: mono", "ILT", "mad", "ILT")
    (reason,) = reasons
    assert reason.startswith("fine: mono of 1 pt printed at 1200 dpi loses ")
    assert "'m' (it falls apart)" in reason
    assert "'d' (a hole closes)" in reason
    assert reason.endswith("1.3 pt and more hold")
    assert warnings == [], "what is refused is not warned of"


def test_a_layout_may_accept_what_is_lost_and_is_told(tmp_path: Path) -> None:
    reasons, warnings = judge(tmp_path, "size: 0.7 pt, losses: accept", "mad", "mad")
    assert reasons == []
    (lossy,) = [warning for warning in warnings if warning.code == "type-lossy"]
    assert "layout.yaml:" in lossy.where
    assert lossy.message.endswith("the layout accepts it")
    assert "'a'" in lossy.message


def test_strokes_thinner_than_the_press_needs_are_warned_of_once_an_item(tmp_path: Path) -> None:
    reasons, warnings = judge(tmp_path, "size: 1 pt", "bn", "nb")
    assert reasons == []
    (warning,) = warnings
    assert warning.code == "microtext-small"
    assert (
        "fine: sans of 1 pt printed at 1200 dpi has strokes or joins thinner than a dot in 'b', 'n'" in warning.message
    )


def test_reversed_type_needs_more(tmp_path: Path) -> None:
    assert judge(tmp_path, "size: 1.2 pt", "mad")[0] == []
    (reason,) = judge(tmp_path, "size: 1.2 pt, reversed: true", "mad")[0]
    assert "reversed out" in reason
    assert judge(tmp_path, "size: 3 pt, reversed: true", "mad") == ([], [])


TEXT = "back:\n  - {{name: fine, text: '{{{{ name }}}}', box: [4 mm, 4 mm, 50 mm, 3 mm], {more}}}\n"


def test_small_text_is_judged_at_the_size_that_it_comes_to(tmp_path: Path) -> None:
    assert judge(tmp_path, "size: 4 pt, least: 1 pt, face: mono", "mad", item=TEXT) == ([], [])
    (reason,) = judge(tmp_path, "size: 1 pt, face: mono", "mad", item=TEXT)[0]
    assert reason.startswith("fine: mono of 1 pt")
    assert judge(tmp_path, "size: 0.4 pt, face: cjk", "鸞", item=TEXT)[0][0].endswith("or another face")
    (white,) = judge(tmp_path, "size: 1 pt, face: mono, colour: [0, 0, 0, 0]", "mad", item=TEXT)[0]
    assert "reversed out" in white


def test_marks_above_and_below_are_judged_where_they_stand(tmp_path: Path) -> None:
    (reason,) = judge(tmp_path, "size: 0.9 pt", "שָׁלוֹם", item=TEXT)[0]
    assert "hebrew" in reason


FIXED = "back:\n  - {{name: fine, text: mad, box: [4 mm, 4 mm, 50 mm, 3 mm], {more}}}\n"


@pytest.mark.parametrize(("more", "lost"), [("size: 1 pt, face: mono", True), ("size: 3 pt", False)])
def test_text_that_no_record_changes_is_a_fault_of_the_layout(tmp_path: Path, more: str, lost: bool) -> None:
    plan = plan_of(write_job(tmp_path, layout=FRONT + FIXED.format(more=more)))[2]
    small = SmallType(plan.job, plan.setter.faces)
    marks = [mark for step in plan.steps() if isinstance(step, (FixedStep, FormStep)) for mark in step.marks]
    faults = small.fixed(marks)
    assert [fault.message.startswith("fine: mono of 1 pt") for fault in faults] == [True] * lost


def test_the_small_job_holds(tmp_path: Path) -> None:
    plan = plan_of(write_job(tmp_path, layout=FRONT + BACK))[2]
    tried(plan, SmallType(plan.job, plan.setter.faces), "Anna")
