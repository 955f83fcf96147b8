"""Fine lines and microprint held against the press's dots and ICAO's bound."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import FRONT, plan_of, write_job
from vdp.errors import CallerError


def judged(tmp_path: Path, item: str) -> list[str]:
    """Codes of warnings, or "fault: " and what is wrong."""
    layout = FRONT + f"back:\n  - {{{item}}}\n"
    try:
        return [warning.code for warning in plan_of(write_job(tmp_path, layout=layout))[2].warnings]
    except CallerError as error:
        return [f"fault: {fault.message} ({fault.where.rpartition('/')[2]})" for fault in error.faults]


LINE = "start: [4 mm, 4 mm], end: [40 mm, 4 mm]"
BOX = "box: [4 mm, 4 mm, 30 mm, 6 mm]"


@pytest.mark.parametrize(("item", "said"), [
    (f"line: 0.0212 mm, {LINE}", []),
    (f"line: 0.015 mm, {LINE}", ["fault: fine: 0.015 mm is 0.71 dots at 1200 dpi; nothing thinner than a dot"]),
    (f"line: 0.0212 mm, {LINE}, colour: [0, 0, 0, 0]", ["line-thin"]),
    (f"line: 0.0424 mm, {LINE}, colour: [0, 0, 0, 0]", []),
    (f"{BOX}, weight: 0.01 mm", ["fault: fine: 0.010 mm is 0.47 dots"]),
    (f"{BOX}, weight: 0.03 mm, tint: 0", ["line-thin"]),
    (f"{BOX}, weight: 0.03 mm, tint: 0, plate: Clear", ["line-thin"]),
    (f"{BOX}, weight: 0.03 mm, plate: Clear", []),
    ("box: [4 mm, 4 mm, 30 mm, 0.01 mm]", ["fault: fine: 0.010 mm is 0.47 dots"]),
    (BOX, []),
])  # fmt: skip
def test_lines_are_a_dot_thick_and_two_where_left_out_of_ink(tmp_path: Path, item: str, said: list[str]) -> None:
    found = judged(tmp_path, f"name: fine, {item}")
    assert len(found) == len(said)
    assert all(part in one for part, one in zip(said, found, strict=True))


MICRO = "name: fine, microtext: MICRO, box: [4 mm, 4 mm, 30 mm, 3 mm]"


@pytest.mark.parametrize(("more", "said"), [
    # ICAO Doc 9303-1, glossary: smaller than 0.25 mm / 0.7 pt.  Capitals of the sans are 714/1000 em high.
    ("size: 0.69 pt, microprint: type", ""),
    ("size: 0.71 pt, microprint: type", "its type size is 0.250 mm high"),
    ("size: 0.98 pt, microprint: letters", ""),
    ("size: 1 pt, microprint: letters", "its capitals are 0.252 mm high"),
    ("size: 1 pt", ""),
])  # fmt: skip
def test_microprint_is_smaller_than_icao_says_by_the_measure_that_the_layout_names(
    tmp_path: Path, more: str, said: str
) -> None:
    found = judged(tmp_path, f"{MICRO}, {more}")
    assert bool(found) == bool(said)
    assert all(said in one for one in found)
