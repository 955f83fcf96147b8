"""Small recipient lists for the tests of this room."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from vdp.errors import CallerError
from vdp.records.spec import Records
from vdp.records.table import Row, Table, open_table


def spec_of(**settings: Any) -> Records:
    return Records.model_validate({"file": "list.csv", **settings})


def table_of(folder: Path, content: bytes | str, name: str = "list.csv", **settings: Any) -> Table:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return open_table(path, spec_of(**settings), name)


def values_of(table: Table) -> list[list[str]]:
    return [list(row.values.values()) for row in table.rows()]


def faults_of(folder: Path, content: bytes | str, name: str = "list.csv", **settings: Any) -> list[str]:
    """The faults of a list that must be refused, as text; each must name the file and a way out."""
    with pytest.raises(CallerError) as caught:
        table_of(folder, content, name, **settings)
    for fault in caught.value.faults:
        assert fault.where.startswith(name)
        assert fault.mend or fault.message.startswith("and ")
    return [str(fault) for fault in caught.value.faults]


def row_of(number: int, **values: str) -> Row:
    return Row(number, values, tuple(values.values()))


MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINK = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELS = "http://schemas.openxmlformats.org/package/2006/relationships"


def workbook_parts(
    rows: str, strings: str = "", styles: str = "", after: str = "", properties: str = ""
) -> dict[str, str]:
    """The parts of a workbook with one sheet, written by hand where no library would write them so."""
    return {
        "_rels/.rels": f'<Relationships xmlns="{RELS}"><Relationship Id="a" Type="{LINK}/officeDocument" '
        'Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{LINK}">{properties}'
        '<sheets><sheet name="People" sheetId="1" r:id="s"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{RELS}">'
        f'<Relationship Id="s" Type="{LINK}/worksheet" Target="/xl/sheet.xml"/>'
        f'<Relationship Id="t" Type="{LINK}/sharedStrings" Target="strings.xml"/>'
        f'<Relationship Id="u" Type="{LINK}/styles" Target="styles.xml"/></Relationships>',
        "xl/sheet.xml": f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>{after}</worksheet>',
        "xl/strings.xml": f'<sst xmlns="{MAIN}">{strings}</sst>',
        "xl/styles.xml": f'<styleSheet xmlns="{MAIN}">{styles}</styleSheet>',
    }


def write_parts(path: Path, parts: Mapping[str, str | bytes]) -> bytes:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in parts.items():
            package.writestr(name, content)
    return path.read_bytes()


def book_of(rows: Iterable[Sequence[Any]], formats: dict[str, str] | None = None, **settings: Any) -> bytes:
    """A workbook with one sheet, People; `formats` gives cells their number formats."""
    book = openpyxl.Workbook(**settings)
    sheet = book.active
    assert sheet is not None
    sheet.title = "People"
    for row in rows:
        sheet.append(list(row))
    for cell, code in (formats or {}).items():
        sheet[cell].number_format = code
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def hand_made(tmp_path: Path, rows: str, **more: str) -> bytes:
    header = '<row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c><c r="B1" t="str"><v>name</v></c></row>'
    return write_parts(tmp_path / "made.zip", workbook_parts(header + rows, **more))
