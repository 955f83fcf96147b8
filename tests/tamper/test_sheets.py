"""Every deed done to finished sheets gives its own finding and no other."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest

from tests.run.test_sheets import WEB
from tests.sheeted import Small, judged, lay_run, make_run
from tests.small import JOB, write_job
from tests.tamper.sheet_cases import JOB_CASES, SHEET_CASES, SPECIMEN_CASES, SheetCase
from vdp.job.load import load_job
from vdp.press.order import arrange
from vdp.run import run_job
from vdp.run.screen import Screen
from vdp.verify.judge import verify_folder

ENDS = "rolls: {leader: 1 mm, trailer: 1 mm}\npress: {metres_a_minute: 20, make_ready: 1 mm}\n"


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


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("made") / "job"
    path = write_job(home, job=JOB + ENDS + WEB, records="name,lang\n" + "".join(f"Guest{n},en\n" for n in range(14)))
    assert run_job(path, records=None, out=home / "out", workers=1, screen=Screen(io.StringIO())).ok
    return home


@pytest.mark.parametrize("case", SPECIMEN_CASES, ids=lambda case: case.title)
def test_a_deed_done_to_specimens_is_found(case: SheetCase, made: Path, tmp_path: Path) -> None:
    out = Path(shutil.copytree(made / "out", tmp_path / "out"))
    assert judged(out).findings == []
    case.deed(out)
    assert {finding.code for finding in judged(out).findings} == case.gives


@pytest.mark.parametrize("case", JOB_CASES, ids=lambda case: case.title)
def test_a_deed_is_found_against_the_job(case: SheetCase, made: Path, tmp_path: Path) -> None:
    home = Path(shutil.copytree(made, tmp_path / "job"))
    case.deed(home / "out")
    found = verify_folder(home / "out", load_job(home / "job.yaml")).findings
    assert {finding.code for finding in found} == case.gives
