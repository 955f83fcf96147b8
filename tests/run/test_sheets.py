"""A job with a section ``web``: sheets beside pieces, places told, everything verified in one run."""

from __future__ import annotations

import io
import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp

from tests.guillotine import numbers, piles
from tests.sheeted import book_of, judged, refresh
from tests.small import JOB, write_job
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.check import check_job
from vdp.run.opening import open_job
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.sheets import lay_sheets
from vdp.run.web import lay_out, places_of

WEB = """\
web:
  width: 230 mm
  lanes: 3
  along: 2
  gutter: 5 mm
  bleed: 2 mm
  margins: {left: 10 mm, right: 10 mm, head: 10 mm, foot: 11 mm}
  order: blocks
  height: 2
  roll_frames: 2
  rewound: true
"""
PEOPLE = 14
RECORDS = "name,lang\n" + "".join(f"Guest{n},en\n" for n in range(PEOPLE))


def screen() -> Screen:
    return Screen(io.StringIO())


def run(home: Path, web: str = WEB, workers: int = 1) -> tuple[Result, Path]:
    path = write_job(home, job=JOB + web, records=RECORDS)
    return run_job(path, records=None, out=home / "out", workers=workers, screen=screen()), home / "out"


def lines(out: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (out / "pieces.jsonl").read_text("utf-8").splitlines()]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    result, out = run(tmp_path_factory.mktemp("made") / "job")
    assert result.ok, result.findings
    assert result.files == ["pieces.pdf", "sheets.pdf", "pieces.jsonl", "set_aside.csv", "report.json", "report.pdf"]
    assert "sheets" in result.seconds
    return out


def test_every_piece_is_told_its_place(made: Path) -> None:
    places = [tuple(line["place"].values()) for line in lines(made)]
    assert len(set(places)) == PEOPLE
    # Rewound: the first pieces are on the last frame of the roll, in the last place along.
    assert places[0] == (1, 2, 1, 2)


def test_the_knife_finds_the_run_in_order(made: Path) -> None:
    job = load_job(made.parent / "job.yaml")
    laid = lay_out(job, PEOPLE)
    assert laid is not None
    found = [number for pile in piles(made, laid.plan.web, laid.run) for number in numbers(pile)]
    assert [number for number in found if number is not None] == list(range(7, 7 + PEOPLE))


def test_the_report_names_the_sheets_and_what_they_are(made: Path) -> None:
    report = json.loads((made / "report.json").read_bytes())
    assert set(report["files"]) == {"pieces.pdf", "sheets.pdf", "pieces.jsonl", "set_aside.csv"}
    assert [roll["frames"] for roll in report["sheets"]["rolls"]] == [2, 1]


def test_verified_again_they_are_good_and_a_change_is_found(made: Path) -> None:
    again = verify_again(made, job=made.parent / "job.yaml", records=None, workers=1, screen=screen())
    assert again.ok, again.findings


def test_workers_make_the_same_bytes(made: Path, tmp_path: Path) -> None:
    result, out = run(tmp_path / "job", workers=2)
    assert result.ok, result.findings
    for name in ("sheets.pdf", "pieces.jsonl"):
        assert (out / name).read_bytes() == (made / name).read_bytes()


def test_files_of_rolls_go_when_the_whole_comes(tmp_path: Path) -> None:
    result, out = run(tmp_path / "job", WEB + "  apart: true\n")
    assert result.ok, result.findings
    assert result.files[:3] == ["pieces.pdf", "sheets-001.pdf", "sheets-002.pdf"]
    run(tmp_path / "job")
    assert sorted(path.name for path in out.glob("sheets*")) == ["sheets.pdf"]


def test_a_web_that_does_not_fit_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    narrow = WEB.replace("230 mm", "150 mm")
    with pytest.raises(CallerError, match=r"job.yaml:10:3: 3 lanes across need"):
        run(tmp_path / "job", narrow)
    assert not (tmp_path / "job" / "out").exists()
    with pytest.raises(CallerError, match="too little"):
        check_job(tmp_path / "job" / "job.yaml", records=None, screen=screen())


def test_marks_without_room_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="head margin leaves"):
        run(tmp_path / "job", WEB.replace("head: 10 mm", "head: 1 mm"))


def test_sheets_printed_again_say_how_often(made: Path, tmp_path: Path) -> None:
    out = Path(shutil.copytree(made, tmp_path / "out"))
    path = made.parent / "job.yaml"
    opened = open_job(path, None, {})
    report = json.loads((out / "report.json").read_bytes())
    book = replace(book_of(opened.plan, PEOPLE), identity=bytes.fromhex(report["sheets"]["identity"]))
    laid = lay_out(opened.job, PEOPLE)
    assert laid is not None
    report["sheets"] = lay_sheets(out, book, laid, opened.job, lambda _: None, reprint=2)
    (out / "report.json").write_text(json.dumps(report), "utf-8")
    refresh(out)
    assert judged(out).findings == []
    found = zxingcpp.read_barcodes(
        pypdfium2.PdfDocument(out / "sheets.pdf")[0].render(scale=600 / 72, grayscale=True).to_numpy(),
        formats=zxingcpp.BarcodeFormat.DataMatrix,  # type: ignore[arg-type]  # a format
    )
    codes = sorted(one.text[8:] for one in found if one.text.count("-") == 4)
    assert codes == [f"-001-000001-{lane:02}-02" for lane in (1, 2, 3)]


def test_a_job_without_a_web_has_no_places(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path / "job"))
    assert lay_out(job, 3) is None
    assert places_of(job, 3)(0) is None
