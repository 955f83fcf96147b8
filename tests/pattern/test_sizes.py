"""README's table of the sizes at which faces survive, computed again row by row."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.micro import HEAD, SIZES, holds, shapes_of
from vdp.job.faces import builtin_faces
from vdp.pattern.survival import thin

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in README[README.index(f"| {HEAD[0]}  ") :].split("\n\n")[0].splitlines()
]


def size_of(cell: str) -> float | None:
    return None if cell.startswith("over") else float(cell)


def test_the_table_has_every_shipped_face() -> None:
    assert tuple(ROWS[0]) == HEAD
    assert [row[0] for row in ROWS[2:]] == list(builtin_faces())


@pytest.mark.parametrize("row", ROWS[2:], ids=lambda row: row[0])
def test_a_face_survives_from_that_size_on_and_not_from_the_one_before(row: list[str]) -> None:
    shapes = shapes_of(row[0])
    for reversed_out, cells in ((False, row[1:3]), (True, row[3:5])):
        whole, thick = map(size_of, cells)
        if whole is None:
            assert not holds(shapes, SIZES[-1], 1200, reversed_out=reversed_out)
            continue
        place = SIZES.index(whole)
        assert holds(shapes, whole, 1200, reversed_out=reversed_out)
        assert holds(shapes, SIZES[place + 1], 1200, reversed_out=reversed_out)
        assert not holds(shapes, SIZES[place - 1], 1200, reversed_out=reversed_out)
        assert thick is not None
        assert not any(thin(one, thick * 1200 / 72 / one.em, reversed_out=reversed_out) for one in shapes)
        before = SIZES[SIZES.index(thick) - 1]
        if thick > whole:
            assert any(thin(one, before * 1200 / 72 / one.em, reversed_out=reversed_out) for one in shapes)
