"""A plan of a long run as text: lists are cut, and it is said where the rest is."""

from __future__ import annotations

import json

from vdp.press.order import arrange
from vdp.press.parts import Ends, run_of
from vdp.press.stock import Paper, usage
from vdp.press.winding import Winding
from vdp.run.planned import PartTold, Planned, _end

PAPER = Paper(1000.0, 0.3, 100.0, 3000.0, 200.0)
WINDING = Winding(rewound=False, leads="head")


def planned(*, known: bool = True) -> Planned:
    """Forty rolls of two lanes on two presses; what the second uses is known or not."""
    order = arrange(400, 2, 1, "blocks", height=5, roll_frames=10)
    run = run_of([("a", order, Ends(1, 1, 1)), ("b", order, Ends())])
    used = usage(200, 20, 100.0, PAPER, 30, "job")
    first, second = run.parts
    parts = [PartTold(first, used, WINDING, 400.0), PartTold(second, used if known else None, WINDING, None)]
    told = Planned("Long", run, 100.0, parts, {1: "V1"}, [])
    told.refused = [(row, "too long") for row in range(2, 27)]
    return told


def test_long_lists_are_cut_and_the_rest_is_named() -> None:
    text = planned().as_text()
    assert "… and 20 lines more: see plan.csv with --out" in text  # 80 of 60
    assert "… and more stacks: see stacks.csv with --out" in text
    assert "… and 5 rows more" in text
    assert "press    a: V1 to 400, 400 in 40 blocks on 200 frames, rolls 1 to 20, " in text
    assert "speed    a: 400 pages a minute" in text
    assert "speed    b" not in text
    assert "           roll 1: frames 3 to 12 of 13 are good" in text
    assert "roll 7: frames" not in text, "six rolls are told"


def test_a_stack_without_pieces_has_no_first_and_no_last() -> None:
    assert _end("0", "") == "–"
    assert _end("7", "V7") == "7 V7"
    assert _end("7", "") == "7"


def test_sums_are_told_where_all_parts_are_known() -> None:
    told = json.loads(planned().to_json())
    assert (told["paper"]["rolls"], told["paper"]["frames"], len(told["stacks"])) == (40, 400, 160)
    assert told["specimen_frames"] == 20 * 2 + 1
    unknown = planned(known=False)
    assert json.loads(unknown.to_json())["paper"] is None
    assert "  paper " not in unknown.as_text()
