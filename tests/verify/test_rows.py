"""Pieces against rows: order, each once, nothing lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from vdp.records.setaside import write_set_aside
from vdp.records.spec import Records
from vdp.records.table import Row, Table, open_table
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine
from vdp.verify.rows import paired, read_set_aside


def table(folder: Path, count: int = 5) -> Table:
    path = folder / "list.csv"
    path.write_text("a,b\n" + "".join(f"x{n},y{n}\n" for n in range(2, 2 + count)), "utf-8")
    return open_table(path, Records(file="list.csv"), "list.csv")


def run(folder: Path, rows: list[int], set_aside: dict[int, tuple[str, ...]]) -> tuple[list[int], set[tuple[str, str]]]:
    told: set[tuple[str, str]] = set()
    pieces = [PieceLine(place, row, "", {}, (), "") for place, row in enumerate(rows, 1)]
    pairs = paired(pieces, table(folder), set_aside, lambda _, code, where, __: told.add((code, where)))
    return [row.row if row is not None else 0 for _, row in pairs], told


def test_each_row_is_a_piece_or_set_aside(tmp_path: Path) -> None:
    assert run(tmp_path, [2, 3, 5, 6], {4: ("x4", "y4")}) == ([2, 3, 5, 6], set())


@pytest.mark.parametrize(
    ("rows", "aside", "expected", "told"),
    [
        ([2, 3, 5, 6], {}, [2, 3, 5, 6], {("row-missing", "row 4")}),
        ([2, 3, 4, 5], {}, [2, 3, 4, 5], {("row-missing", "row 6")}),
        ([2, 3, 5, 6], {4: ("x4", "other")}, [2, 3, 5, 6], {("row-missing", "row 4")}),
        ([2, 3, 3, 4, 5, 6], {}, [2, 3, 0, 4, 5, 6], {("row-repeated", "piece 3")}),
        ([2, 4, 3, 5, 6], {3: ("x3", "y3")}, [2, 4, 0, 5, 6], {("row-order", "piece 3")}),
        ([2, 3, 4, 5, 6], {4: ("x4", "y4")}, [2, 3, 4, 5, 6], {("row-repeated", "piece 3")}),
        ([2, 3, 4, 5, 6, 9], {}, [2, 3, 4, 5, 6, 0], {("row-missing", "piece 6")}),
    ],
)
def test_what_is_lost_or_doubled_is_told(
    tmp_path: Path, rows: list[int], aside: dict[int, tuple[str, ...]], expected: list[int], told: set[tuple[str, str]]
) -> None:
    assert run(tmp_path, rows, aside) == (expected, told)


def test_set_aside_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "set_aside.csv"
    raw = ('say "no"', "two\nlines")
    write_set_aside(path, ("a", "b"), [(Row(7, {}, raw), ["too long"])])
    assert read_set_aside(path) == {7: raw}


@pytest.mark.parametrize(
    "text", ["", "a,reason\r\nx,no row here\r\n", "a,reason\r\nx,row 2: a\r\ny,row 2: b\r\n", 'a\r\n"x']
)
def test_a_list_that_does_not_name_its_rows_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "set_aside.csv"
    path.write_text(text, "utf-8", newline="")
    with pytest.raises(Unreadable):
        read_set_aside(path)


def test_a_list_that_is_not_utf_8_is_refused(tmp_path: Path) -> None:
    (tmp_path / "set_aside.csv").write_bytes(b"a,reason\r\n\xff,row 2: x\r\n")
    with pytest.raises(Unreadable):
        read_set_aside(tmp_path / "set_aside.csv")
