"""Panels: published figures, exact sums, and panels that go into one another."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.press.folds import LEAST_SHORT, SHORT, Fold, fold_panels, panel_faults
from vdp.units import parse_length

IN = 72.0
MM = parse_length("1 mm")
PAPER = 0.004 * IN


def test_the_letter_fold_of_eleven_inches() -> None:
    # STANDARDS §5: 11 in gives 3 11/16, 3 11/16, 3 5/8; 1/8 in short gives 3.708, 3.708, 3.583.
    folding = fold_panels("c", 11 * IN, PAPER, "job")
    assert folding.panels == ((3 + 11 / 16) * IN, (3 + 11 / 16) * IN, (3 + 5 / 8) * IN)
    assert sum(folding.panels) == 11 * IN
    eighth = fold_panels("c", 11 * IN, PAPER, "job", short=IN / 8)
    assert [round(panel / IN, 3) for panel in eighth.panels] == [3.708, 3.708, 3.583]
    assert fold_panels("c", 11 * IN, PAPER, "job", inner="first").panels == folding.panels[::-1]
    # 3 11/16 in and 7 3/8 in at 1200 dots an inch.
    assert folding.lines_dots(1200) == (4425, 8850)


def test_the_other_folds_by_hand() -> None:
    assert fold_panels("single", 8 * IN, PAPER, "job").panels == (4 * IN, 4 * IN)
    assert fold_panels("z", 12 * IN, PAPER, "job").lines == (4 * IN, 8 * IN)
    assert fold_panels("z", 12 * IN, PAPER, "job", panels=4).panels == (3 * IN,) * 4
    # Gate: 3.984375 in twice is 1/16 in less than the 8.03125 in between them.
    gate = fold_panels("gate", 16 * IN, PAPER, "job")
    assert gate.panels == (3.984375 * IN, 8.03125 * IN, 3.984375 * IN)
    # Roll of four: w + w + (w - s) + (w - 2s) = 4w - 3s.
    roll = fold_panels("roll", 16 * IN, PAPER, "job")
    assert roll.panels == (4.046875 * IN, 4.046875 * IN, 3.984375 * IN, 3.921875 * IN)


def test_thick_board_needs_more() -> None:
    board = 1 * MM
    assert fold_panels("c", 300 * MM, board, "job").short == LEAST_SHORT * board > SHORT
    with pytest.raises(CallerError, match=r"1\.59 mm short: paper 1\.000 mm thick needs 2\.00 mm"):
        fold_panels("c", 300 * MM, board, "job", short=SHORT)


@given(
    st.sampled_from([("single", 2), ("c", 3), ("z", 3), ("z", 12), ("gate", 3), ("roll", 4), ("roll", 8)]),
    st.floats(250, 2000),
    st.floats(0.1, 1.0),
    st.sampled_from(["first", "last"]),
)
def test_panels_make_up_the_piece_and_go_into_one_another(
    kind: tuple[Fold, int], length: float, thickness: float, inner: Any
) -> None:
    fold, panels = kind
    folding = fold_panels(fold, length, thickness, "job", panels=panels, inner=inner)
    assert len(folding.panels) == panels
    assert sum(folding.panels) == pytest.approx(length, abs=1e-9)
    assert min(folding.panels) > 0
    outward = folding.panels if inner == "last" else folding.panels[::-1]
    if fold in ("c", "roll"):
        steps = [wide - narrow for wide, narrow in pairwise(outward)]
        assert steps == pytest.approx([0, *[folding.short] * (len(steps) - 1)], abs=1e-9)
    elif fold == "gate":
        assert outward[1] - outward[0] - outward[2] == pytest.approx(folding.short, abs=1e-9)
    else:
        assert len(set(outward)) == 1


@pytest.mark.parametrize(
    ("fold", "length", "more", "words"),
    [
        ("accordion", 100, {}, "'accordion' is no fold: single, c, z, gate, roll"),
        ("c", 100, {"panels": 4}, "a fold 'c' has 3 panels, not 4"),
        ("roll", 100, {"panels": 3}, "a fold 'roll' has 4 to 8 panels, not 3"),
        ("c", 100, {"inner": "middle"}, "the inner panel is the first or the last, not 'middle'"),
        ("c", 0, {}, "length and thickness must be more than 0, not 0.00 and 0.102 mm"),
        ("roll", 10, {}, "4 panels with 1.59 mm between them do not go into 3.53 mm"),
    ],
)
def test_folds_that_cannot_be_are_refused(fold: Any, length: float, more: dict[str, Any], words: str) -> None:
    with pytest.raises(CallerError) as caught:
        fold_panels(fold, length, PAPER, "job", **more)
    assert [fault.message for fault in caught.value.faults] == [words]


def test_panels_are_held_against_the_layout() -> None:
    folding = fold_panels("c", 297 * MM, PAPER, "job")
    assert list(panel_faults(folding, folding.lines, 1200, "layout")) == []
    # One dot of 1200 an inch is 0.06 pt.
    assert list(panel_faults(folding, [line + 0.06 for line in folding.lines], 1200, "layout")) == []
    assert len(list(panel_faults(folding, [line + 0.12 for line in folding.lines], 1200, "layout"))) == 2
    # 297 mm in thirds is a Z fold; as a letter fold, (297 + 1.5875) / 3 = 99.53 mm.
    thirds = [99 * MM, 198 * MM]
    assert list(panel_faults(fold_panels("z", 297 * MM, PAPER, "job"), thirds, 1200, "layout")) == []
    first, second = panel_faults(folding, thirds, 1200, "layout")
    assert str(first) == (
        "layout: fold 1 falls at 99.53 mm, the layout's panel line is at 99.00 mm "
        "(panels of 99.53, 99.53, 97.94 mm fold flat)"
    )
    assert second.message.startswith("fold 2 falls at 199.06 mm")
    (missing,) = panel_faults(folding, thirds[:1], 1200, "layout")
    assert missing.message == "the layout has 1 panel lines, the fold 'c' 2"
