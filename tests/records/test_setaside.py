"""What was refused, written and read again."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.lists import spec_of
from vdp.records.setaside import write_set_aside
from vdp.records.table import Row, open_table


def test_rows_are_verbatim_with_reasons(tmp_path: Path) -> None:
    path = tmp_path / "set_aside.csv"
    rows = [(Row(7, {}, ("007", 'a "b", c')), ["One.", "Two."]), (Row(9, {}, ("o\u0308", "x\r\ny")), ["Three."])]
    assert write_set_aside(path, ("id", "name"), rows) == 2
    assert path.read_bytes() == (
        'id,name,reason\r\n007,"a ""b"", c",row 7: One.; Two.\r\no\u0308,"x\r\ny",row 9: Three.\r\n'.encode()
    )
    assert [entry.name for entry in tmp_path.iterdir()] == ["set_aside.csv"]


def test_nothing_refused_gives_the_header(tmp_path: Path) -> None:
    assert write_set_aside(tmp_path / "s.csv", ("id", "reason", "reason 2"), []) == 0
    assert (tmp_path / "s.csv").read_bytes() == b"id,reason,reason 2,reason 3\r\n"


def test_a_stop_halfway_leaves_what_was_there(tmp_path: Path) -> None:
    def rows() -> Iterator[tuple[Row, list[str]]]:
        yield Row(2, {}, ("1",)), ["Bad."]
        raise KeyboardInterrupt

    path = tmp_path / "s.csv"
    path.write_bytes(b"before")
    with pytest.raises(KeyboardInterrupt):
        write_set_aside(path, ("id",), rows())
    assert path.read_bytes() == b"before"
    assert [entry.name for entry in tmp_path.iterdir()] == ["s.csv"]


def test_a_lone_surrogate_is_told_not_lost(tmp_path: Path) -> None:
    write_set_aside(tmp_path / "s.csv", ("id",), [(Row(2, {}, ("\ud800",)), ["Bad."])])
    assert b"\\ud800" in (tmp_path / "s.csv").read_bytes()


ANY_TEXT = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)


@given(rows=st.lists(st.tuples(ANY_TEXT, ANY_TEXT), min_size=1, max_size=6))
def test_what_is_set_aside_can_be_read_again(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str]]
) -> None:
    path = tmp_path_factory.getbasetemp() / "aside.csv"
    write_set_aside(path, ("a", "b"), [(Row(number, {}, raw), ["Why."]) for number, raw in enumerate(rows, 2)])
    with path.open(encoding="utf-8", newline="") as file:
        assert [tuple(row[:2]) for row in csv.reader(file)][1:] == rows
    # As the next list: by its own reader, which is told the delimiter because any text may be in the first rows.
    table = open_table(path, spec_of(delimiter=","), "aside.csv")
    assert [row.raw for row in table.rows()] == [(*raw, f"row {n}: Why.") for n, raw in enumerate(rows, 2)]
