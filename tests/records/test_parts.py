"""XLSX packages broken on purpose: damage, bombs and entities end in one clear error."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.lists import book_of, faults_of, hand_made, spec_of, table_of, values_of, workbook_parts, write_parts
from vdp.errors import CallerError
from vdp.records import parts as parts_room
from vdp.records.table import open_table

NAME = "list.xlsx"


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ('<row r="1"/>', "row 1 comes after row 1"),
        ('<row r="0"/>', "row 0 comes after row 1"),
        ('<row r="x"/>', "there is no row x"),
        ('<row r="99999999"/>', "there is no row 99999999"),
        ('<row r="2"><c r="B2"/><c r="A2"/></row>', "the cell A2 is out of order"),
        ('<row r="2"><c r="B2"/><c r="B2"/></row>', "the cell B2 is out of order"),
        ('<row r="2"><c r="ZZZ2"/></row>', "the cell ZZZ2 is out of order"),
        ('<row r="2"><c r="é2"/></row>', "the cell é2 is out of order"),
        ('<row r="2"><c r="2"/></row>', "the cell 2 is out of order"),
        ('<row r="2"><c t="s"><v>1</v></c></row>', "there is no shared string 1"),
        ('<row r="2"><c t="s"><v/></c></row>', "there is no shared string "),
        ('<row r="2"><c s="9"><v>1</v></c></row>', "there is no style 9"),
        ('<row r="2"><c s="-1"><v>1</v></c></row>', "there is no style -1"),
        ('<row r="2"><c>', "mismatched tag"),
        ("&undefined;", "undefined entity"),
    ],
)
def test_damaged_sheets(tmp_path: Path, rows: str, why: str) -> None:
    (fault,) = faults_of(tmp_path, hand_made(tmp_path, rows, strings="<si><t>a</t></si>"), NAME)
    assert why in fault
    assert "save it again, or save the sheet as CSV" in fault


def test_entities_are_refused(tmp_path: Path) -> None:
    bomb = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'
    parts = workbook_parts('<row r="1"/>')
    for part in ("xl/sheet.xml", "xl/workbook.xml", "xl/strings.xml", "xl/styles.xml"):
        content = write_parts(tmp_path / "made.zip", {**parts, part: bomb + parts[part]})
        assert f"{part} declares a DTD" in faults_of(tmp_path, content, NAME)[0]


def test_odd_encodings_of_parts(tmp_path: Path) -> None:
    parts = workbook_parts('<row r="1"><c t="str"><v>ö</v></c></row><row r="2"><c t="str"><v>ü</v></c></row>')
    head = '<?xml version="1.0" encoding="{}"?>'
    sheet = parts["xl/sheet.xml"]
    wide = write_parts(
        tmp_path / "made.zip", {**parts, "xl/sheet.xml": (head.format("UTF-16") + sheet).encode("utf-16")}
    )
    assert values_of(table_of(tmp_path, wide, NAME)) == [["ü"]]
    for name in ("no-such", "shift_jis"):
        content = write_parts(tmp_path / "made.zip", {**parts, "xl/sheet.xml": head.format(name) + sheet})
        assert "the workbook cannot be read: xl/sheet.xml" in faults_of(tmp_path, content, NAME)[0]


def test_size_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parts = workbook_parts('<row r="1"/>')
    content = write_parts(tmp_path / "made.zip", {**parts, "xl/styles.xml": b" " * (parts_room.SMALL_LIMIT + 1)})
    assert len(content) < 100_000
    assert "xl/styles.xml unpacks to 16,777,217 bytes" in faults_of(tmp_path, content, NAME)[0]
    tag = f'<row r="1" x="{"y" * (parts_room.TOKEN_LIMIT + 200_000)}"/>'
    content = write_parts(tmp_path / "made.zip", workbook_parts(tag))
    assert "has a tag of more than 8,388,608 bytes" in faults_of(tmp_path, content, NAME)[0]


@pytest.mark.parametrize(
    ("missing", "why"),
    [
        ("_rels/.rels", "it is no XLSX workbook"),
        ("xl/workbook.xml", "it lacks its part xl/workbook.xml"),
        ("xl/_rels/workbook.xml.rels", "the workbook has no sheet"),
        ("xl/sheet.xml", "it lacks its part xl/sheet.xml"),
        ("xl/strings.xml", "it lacks its part xl/strings.xml"),
    ],
)
def test_missing_parts(tmp_path: Path, missing: str, why: str) -> None:
    parts = workbook_parts('<row r="1"/>')
    del parts[missing]
    assert why in faults_of(tmp_path, write_parts(tmp_path / "made.zip", parts), NAME)[0]


def test_workbook_without_strings_and_styles(tmp_path: Path) -> None:
    parts = workbook_parts('<row><c t="str"><v>id</v></c></row><row><c><v>5</v></c></row>')
    del parts["xl/strings.xml"], parts["xl/styles.xml"]
    rels = "xl/_rels/workbook.xml.rels"
    start, _, rest = parts[rels].partition('<Relationship Id="t"')
    parts[rels] = start + "</Relationships>" if rest else ""
    assert values_of(table_of(tmp_path, write_parts(tmp_path / "made.zip", parts), NAME)) == [["5"]]


def test_broken_packages(tmp_path: Path) -> None:
    whole = book_of([["id"], ["1"]])
    assert "cannot be read: File is not a zip file" in faults_of(tmp_path, whole[:200], NAME)[0]
    at = whole.index(b"xl/worksheets/sheet1.xml") + 60
    assert "cannot be read" in faults_of(tmp_path, whole[:at] + bytes(40) + whole[at + 40 :], NAME)[0]
    locked = bytearray(hand_made(tmp_path, ""))
    at = locked.index(b"PK\x01\x02")
    while at >= 0:
        locked[at + 8] |= 1
        at = locked.find(b"PK\x01\x02", at + 1)
    assert "encrypted" in faults_of(tmp_path, bytes(locked), NAME)[0]


@given(
    at=st.floats(0, 0.999),
    put=st.binary(min_size=1, max_size=4),
)
def test_damaged_bytes_never_end_in_a_traceback(
    tmp_path_factory: pytest.TempPathFactory, at: float, put: bytes
) -> None:
    whole = SMALL_BOOK
    place = 4 + int(at * (len(whole) - 8))
    path = tmp_path_factory.getbasetemp() / "broken.xlsx"
    path.write_bytes(whole[:place] + put + whole[place + len(put) :])
    try:
        told = open_table(path, spec_of(), "broken.xlsx").count
    except CallerError as error:
        told = len(error.faults)
    assert told >= 1


SMALL_BOOK = book_of([["id", "name"], ["1", "Ann"], [2, date(2026, 3, 1)]])
