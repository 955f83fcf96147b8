"""Every deed done to finished sheets gives its own finding and no other."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.sheeted import Small, judged, lay_run, make_run
from tests.tamper.sheet_cases import SHEET_CASES, SheetCase
from vdp.press.order import arrange


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    made = make_run(tmp_path_factory.mktemp("sheets") / "job")
    lay_run(made, arrange(20, 3, 2, "blocks", height=3))
    return made


@pytest.fixture
def folder(small: Small, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small.folder, tmp_path / "out"))


@pytest.mark.parametrize("case", SHEET_CASES, ids=lambda case: case.title)
def test_a_deed_is_found(case: SheetCase, folder: Path) -> None:
    case.deed(folder)
    assert {finding.code for finding in judged(folder).findings} == case.gives


def test_untouched_sheets_give_nothing(folder: Path) -> None:
    verdict = judged(folder)
    assert verdict.ok
    told = {check.what: check.count for check in verdict.checks}
    assert told["Places on the sheets"] == "24 places, 4 blanks on 4 frames"
    assert told["Symbols on the sheets"] == "60 of 60"
    assert told["Marks on the sheets"] == "24 frame codes"


def test_a_file_that_is_no_pdf_is_a_finding(folder: Path) -> None:
    (folder / "sheets.pdf").write_bytes(b"nothing")
    assert {finding.code for finding in judged(folder).findings} == {"file-changed", "file-unreadable"}


def test_a_report_whose_sheets_make_no_sense_is_a_finding(folder: Path) -> None:
    report = folder / "report.json"
    report.write_text(report.read_text("utf-8").replace('"turn": 0', '"turn": 45'), "utf-8")
    assert {finding.code for finding in judged(folder).findings} == {"file-unreadable"}
