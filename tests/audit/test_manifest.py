"""Manifest lines: written in contract order, read back as written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.audit.manifest import SymbolLine, piece_line, read_lines
from vdp.errors import CallerError

TEXT = st.text(st.characters(codec="utf-8"), max_size=20)


@given(st.integers(1, 10**7), TEXT, st.dictionaries(TEXT, TEXT, max_size=3), TEXT)
def test_a_line_is_one_line_and_reads_back(piece: int, language: str, serials: dict[str, str], data: str) -> None:
    symbol = SymbolLine("gate", "qr", "]Q1", "Clear", 2 * piece, (1.5, 2.0, 3.25, 4.0), data)
    line = piece_line(piece, piece + 1, language, serials, [symbol], "ab" * 32)
    assert line.count(b"\n") == 1
    value = json.loads(line)
    assert (value["piece"], value["row"], value["serials"], value["place"]) == (piece, piece + 1, serials, None)
    assert value["symbols"][0] == {**symbol._asdict(), "box": [1.5, 2.0, 3.25, 4.0]}


def test_lines_are_read_one_at_a_time_and_a_bad_one_is_named(tmp_path: Path) -> None:
    path = tmp_path / "pieces.jsonl"
    path.write_bytes(b'{"piece":1}\n{"piece":2}\nnonsense\n')
    lines = read_lines(path)
    assert [next(lines), next(lines)] == [{"piece": 1}, {"piece": 2}]
    with pytest.raises(CallerError, match=r"pieces.jsonl, line 3: not JSON"):
        next(lines)
    path.write_bytes(b"[1]\n")
    with pytest.raises(CallerError, match="line 1: not a JSON object"):
        list(read_lines(path))
