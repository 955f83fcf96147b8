"""report.json and pieces.jsonl: what is believed, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import read_pieces, read_report

REPORT: dict[str, Any] = {
    "records": 3,
    "pieces": 2,
    "set_aside": 1,
    "resolution": 1200,
    "spots": ["Clear"],
    "faces": {"NotoSans": {"face": "sans", "file": "N.ttf", "axes": {"wght": 400}, "sha256": "00"}},
    "inputs": {},
    "files": {"pieces.pdf": "00"},
}
SYMBOL: dict[str, Any] = {
    "name": "s",
    "symbology": "qr",
    "identifier": "]Q1",
    "plate": "Clear",
    "page": 1,
    "box": [0, 0, 9, 9.5],
    "data": "x",
}
PIECE: dict[str, Any] = {
    "piece": 1,
    "row": 2,
    "language": "el",
    "serials": {"a": "1"},
    "symbols": [SYMBOL],
    "place": None,
    "sha256": "00",
}


def test_a_report_is_read(tmp_path: Path) -> None:
    (tmp_path / "r").write_text(json.dumps(REPORT), "utf-8")
    report = read_report(tmp_path / "r")
    assert (report.records, report.pieces, report.set_aside, report.spots) == (3, 2, 1, ("Clear",))
    assert report.faces["NotoSans"].axes == {"wght": 400.0}


@pytest.mark.parametrize(
    "change", [{"records": "3"}, {"pieces": -1}, {"set_aside": True}, {"spots": [1]}, {"faces": []}, {"files": None}]
)
def test_a_report_of_another_shape_is_refused(tmp_path: Path, change: dict[str, Any]) -> None:
    (tmp_path / "r").write_text(json.dumps(REPORT | change), "utf-8")
    with pytest.raises(Unreadable):
        read_report(tmp_path / "r")


def test_a_report_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Unreadable):
        read_report(tmp_path / "r")


def test_pieces_are_read_in_order(tmp_path: Path) -> None:
    lines = [PIECE, PIECE | {"piece": 2, "row": 5}]
    (tmp_path / "p").write_text("".join(json.dumps(line) + "\n" for line in lines), "utf-8")
    pieces = list(read_pieces(tmp_path / "p"))
    assert [(piece.piece, piece.row) for piece in pieces] == [(1, 2), (2, 5)]
    assert pieces[0].symbols[0].box == (0.0, 0.0, 9.0, 9.5)


@pytest.mark.parametrize(
    "line",
    [
        "{",
        "[]",
        json.dumps({"piece": 1}),
        json.dumps(PIECE | {"row": "2"}),
        json.dumps(PIECE | {"symbols": [{}]}),
        json.dumps(PIECE | {"symbols": [SYMBOL | {"box": [9, 0, 0, 9]}]}),
        json.dumps(PIECE | {"symbols": [SYMBOL | {"box": [0, 0, 9]}]}),
    ],
)
def test_a_line_of_another_shape_is_refused_by_number(tmp_path: Path, line: str) -> None:
    (tmp_path / "p").write_text(json.dumps(PIECE) + "\n" + line + "\n", "utf-8")
    with pytest.raises(Unreadable, match="line 2"):
        list(read_pieces(tmp_path / "p"))


def test_a_manifest_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Unreadable, match="cannot be read"):
        list(read_pieces(tmp_path / "p"))
