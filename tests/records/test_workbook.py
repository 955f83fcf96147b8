"""XLSX: files openpyxl wrote, read as calamine reads them where it can; and packages broken on purpose."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import python_calamine
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from tests.records.lists import (
    book_of,
    faults_of,
    hand_made,
    saved,
    spec_of,
    table_of,
    values_of,
    workbook_parts,
    write_parts,
)
from vdp.errors import CallerError
from vdp.records.breakage import FIELD_LIMIT
from vdp.records.rules import RowRules
from vdp.records.table import open_table
from vdp.records.workbook import letters

NAME = "list.xlsx"
MOMENT = datetime.fromisoformat("2026-03-01T14:30:00")


def test_every_kind_of_cell(tmp_path: Path) -> None:
    header = [
        "text",
        "digits",
        "whole",
        "long",
        "fraction",
        "yes",
        "no",
        "day",
        "moment",
        "clock",
        "share",
        "code",
        "money",
        "none",
    ]
    row = [
        "1E5",
        "007",
        7,
        9007199254740991,
        0.1,
        True,
        False,
        date(2026, 3, 1),
        MOMENT,
        time(9, 5),
        0.25,
        501,
        1234.5,
        None,
    ]
    content = book_of([header, row], {"K2": "0%", "L2": "00000", "M2": "#,##0.00 €"})
    table = table_of(tmp_path, content, NAME)
    assert values_of(table) == [
        ["1E5", "007", "7", "9007199254740991", "0.1", "TRUE", "FALSE", "2026-03-01", "2026-03-01T14:30:00",
         "09:05:00", "0.25", "00501", "1234.5", ""]
    ]  # fmt: skip
    assert (table.encoding, table.delimiter, table.count) == ("", "", 1)
    (warning,) = table.warnings
    assert warning.startswith("list.xlsx, row 2, column 'D': a number of more than 15 digits; ")


def test_dates_written_in_words_and_from_1904(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["a", "b", "c"], [date(2026, 3, 1), MOMENT, time(9, 5)]]
    expected = [["2026-03-01", "2026-03-01T14:30:00", "09:05:00"]]
    assert values_of(table_of(tmp_path, book_of(rows, iso_dates=True), NAME)) == expected
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    content = saved(book)
    assert b'date1904="1"' in zipfile.ZipFile(io.BytesIO(content)).read("xl/workbook.xml")
    assert values_of(table_of(tmp_path, content, NAME)) == expected


def test_calamine_reads_the_same(tmp_path: Path) -> None:
    """An independent reader: text, whole numbers below 2⁵³, booleans, dates; short rows and gaps."""
    rows: list[list[Any]] = [["id", "name", "n", "ok", "day", "last"]]
    rows += [[f"{n:03}", f"Nguyễn & <{n}>", n * 7919, n % 2 == 0, date(2026, 1, 1 + n), "x"] for n in range(25)]
    rows += [["30", None, 5], ["31", " two\nlines ", None, None, None, "ΑΒΓ"]]
    content = book_of(rows)
    table = table_of(tmp_path, content, NAME)

    def told(value: object) -> str:
        if isinstance(value, bool):
            return str(value).upper()
        if isinstance(value, float):
            return str(int(value))
        return value.date().isoformat() if isinstance(value, datetime) else str(value)

    sheet = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_name("People")
    other = [[told(value) for value in row] for row in sheet.to_python()]
    assert [list(table.header), *(list(row.raw) for row in table.rows())] == other


def test_rich_text_phonetics_and_escapes(tmp_path: Path) -> None:
    rich = CellRichText("Anna ", TextBlock(InlineFont(b=True), "Lee"), " ")
    assert values_of(table_of(tmp_path, book_of([["id", "name"], ["1", rich]]), NAME)) == [["1", "Anna Lee "]]
    strings = (
        "<si><r><t>東</t></r><r><t>京</t></r><rPh sb='0' eb='2'><t>トウキョウ</t></rPh></si>"
        "<si><t>a_x000D_\nb</t></si><si><t>e&#x301;&amp;_x001B_</t></si><si/>"
    )
    rows = "".join(
        f'<row><c t="inlineStr"><is><t>{n}</t><rPh sb="0" eb="1"><t>x</t></rPh></is></c><c t="s"><v>{n}</v></c></row>'
        for n in range(4)
    )
    table = table_of(tmp_path, hand_made(tmp_path, rows, strings=strings), NAME)
    assert values_of(table) == [["0", "東京"], ["1", "a\nb"], ["2", "é&\x1b"], ["3", ""]]
    assert [row.raw[1] for row in table.rows()][1:3] == ["a\r\nb", "e\u0301&\x1b"]
    judge = RowRules(spec_of(), table.header, NAME).judge
    assert [bool(judge(row)[0]) for row in table.rows()] == [False, False, True, False]


def test_prefixes_and_case_of_part_names(tmp_path: Path) -> None:
    parts = workbook_parts(
        '<row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c></row><row r="2"><c r="A2"><v>5</v></c></row>'
    )
    sheet = parts.pop("xl/sheet.xml").replace("<", "<x:").replace("<x:/", "</x:").replace("xmlns=", "xmlns:x=")
    content = write_parts(tmp_path / "made.zip", {**parts, "XL/Sheet.XML": '<?xml version="1.0"?>' + sheet})
    assert values_of(table_of(tmp_path, content, NAME)) == [["5"]]


def test_content_decides_not_the_name(tmp_path: Path) -> None:
    content = book_of([["id"], ["1"]])
    assert values_of(table_of(tmp_path, content, "list.csv")) == [["1"]]
    assert "called a workbook but is none" in faults_of(tmp_path, b"id\n1\n", NAME)[0]


def test_sheets(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.title = "Notes"
    for name in ("People", "Ships"):
        book.create_sheet(name).append(["of"])
        book[name].append([name])
    content = saved(book)
    assert values_of(table_of(tmp_path, content, NAME, sheet="Ships")) == [["Ships"]]
    assert "has 3 sheets: 'Notes', 'People', 'Ships' (say which" in faults_of(tmp_path, content, NAME)[0]
    (fault,) = faults_of(tmp_path, content, NAME, sheet="people")
    assert (
        fault
        == "list.xlsx: no sheet is called 'people'; there are: 'Notes', 'People', 'Ships' (did you mean 'People'?)"
    )
    assert "(correct the job's records.sheet)" in faults_of(tmp_path, content, NAME, sheet="zzz")[0]
    assert (
        "begins with a blank row" in faults_of(tmp_path, content, NAME, sheet="Notes")[0]
        or "the list is empty" in faults_of(tmp_path, content, NAME, sheet="Notes")[0]
    )


def test_shape_of_the_sheet(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["id", "name"], ["1", "Ann", None], ["2"], [None, "Bob"], [None, None], [""]]
    table = table_of(tmp_path, book_of(rows), NAME)
    assert [row.raw for row in table.rows()] == [("1", "Ann"), ("2", ""), ("", "Bob")]
    assert table.count == 3
    assert faults_of(tmp_path, book_of([["id", None, "name"], ["1", "2", "3"]]), NAME) == [
        "list.xlsx, row 1, column '2': the column has no header (name it, or delete the column)"
    ]
    assert faults_of(tmp_path, book_of([["id", "name"], ["1"], [], ["2", "Ann", "x"]]), NAME) == [
        "list.xlsx, row 3: the row is blank, but rows follow it (delete the blank row)",
        "list.xlsx, row 4, column '3': the row has 3 cells, the header 2 (give the column a header or clear it)",
    ]
    assert "begins with a blank row" in faults_of(tmp_path, book_of([[], ["id"], ["1"]]), NAME)[0]
    assert "no records" in faults_of(tmp_path, book_of([["id"]]), NAME)[0]


def test_hidden_rows_are_told(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(book_of([["id"], ["1"], ["2"]])))
    book["People"].row_dimensions[3].hidden = True
    table = table_of(tmp_path, saved(book), NAME)
    assert table.count == 2
    assert table.warnings == ("list.xlsx: 1 hidden rows are read like the others",)


def test_cells_that_cannot_be_told_are_told_together(tmp_path: Path) -> None:
    rows = (
        '<row r="2"><c r="A2" t="e"><v>#N/A</v></c><c r="B2"><f>1+1</f></c></row>'
        '<row r="3"><c r="A3"><v>1E+30</v></c><c r="B3" t="str"><f>"x"</f><v>x</v></c></row>'
        '<row r="4"><c r="A4" t="d"><v>soon</v></c><c r="B4" t="inlineStr"><is><t>_xD800_</t></is></c></row>'
        '<row r="5"><c r="A5" s="0"/><c r="B5" t="b"><v>1</v></c><c r="AB5" t="e"><v>#REF!</v></c></row>'
    )
    merged = '<mergeCells><mergeCell ref="A2:A3"/></mergeCells>'
    reenter = "(format the column as text and enter the value again)"
    formula = "(open the workbook in a spreadsheet program and save it)"
    few = "number cells hold about 15 digits: of 1E+30 some may be lost already"
    assert faults_of(tmp_path, hand_made(tmp_path, rows, after=merged), NAME) == [
        "list.xlsx, row 2, column 'id': the cell holds the error #N/A (correct its formula or enter the value)",
        f"list.xlsx, row 2, column 'name': the cell's formula has no stored result {formula}",
        f"list.xlsx, row 3, column 'id': {few} {reenter}",
        f"list.xlsx, row 4, column 'id': the cell's date 'soon' is none that is known here {reenter}",
        "list.xlsx, row 4, column 'name': the cell holds half of a surrogate pair (enter the value again)",
        "list.xlsx, row 5, column 'AB': the cell holds the error #REF! (correct its formula or enter the value)",
        "list.xlsx, row 5, column '3': the row has 28 cells, the header 2 (give the column a header or clear it)",
        "list.xlsx: the cells A2:A3 are merged: only the first holds the value (unmerge them)",
    ]


def test_long_cells(tmp_path: Path) -> None:
    row = '<row r="2"><c r="A2" t="inlineStr"><is><t>{}</t></is></c></row>'
    whole = "x" * FIELD_LIMIT
    assert values_of(table_of(tmp_path, hand_made(tmp_path, row.format(whole)), NAME)) == [[whole, ""]]
    (fault,) = faults_of(tmp_path, hand_made(tmp_path, row.format(whole * 10)), NAME)
    assert "row 2, column 'id': the cell has more than 1,000,000 characters" in fault
    shared = f"<si><t>{whole}xx</t></si>"
    (fault,) = faults_of(tmp_path, hand_made(tmp_path, '<row r="2"><c t="s"><v>0</v></c></row>', strings=shared), NAME)
    assert "row 2, column 'id': the cell has more than 1,000,000 characters" in fault


def test_changed_workbook_is_refused(tmp_path: Path) -> None:
    table = table_of(tmp_path, book_of([["id"], ["1"]]), NAME)
    table.path.write_bytes(book_of([["id"], ["2"]]))
    with pytest.raises(CallerError, match="the list was changed"):
        list(table.rows())


def test_column_letters() -> None:
    assert [letters(n) for n in (1, 26, 27, 28, 702, 703, 16_384)] == ["A", "Z", "AA", "AB", "ZZ", "AAA", "XFD"]


CELL_TEXT = st.text(st.characters(exclude_categories=["Cs", "Cn"], exclude_characters="\r"), min_size=1, max_size=10)


@given(
    rows=st.lists(
        st.tuples(
            CELL_TEXT.filter(lambda text: not ILLEGAL_CHARACTERS_RE.search(text) and "_x" not in text),
            st.integers(1 - 2**53, 2**53 - 1),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_what_is_written_is_read(tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, int]]) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["text", "number"])
    for number, (text, value) in enumerate(rows, 2):
        sheet.cell(number, 1).value = text
        sheet.cell(number, 1).data_type = "s"
        sheet.cell(number, 2).value = value
    path = tmp_path_factory.getbasetemp() / "any.xlsx"
    path.write_bytes(saved(book))
    assert [row.raw for row in open_table(path, spec_of(), "any.xlsx").rows()] == [
        (text, str(value)) for text, value in rows
    ]
