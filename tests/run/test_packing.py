"""Bands and cartons of a run, its labels, and its press ticket."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pypdfium2
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.run.test_plan import ROWS, WEB
from tests.small import BACK, FRONT, JOB, write_job
from vdp.press.order import Kind, arrange
from vdp.press.packing import bands
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.folder import sha256_of
from vdp.run.screen import Screen

SCREEN = Screen(io.StringIO())
XJDF = "{http://www.CIP4.org/JDFSchema_2_0}"


def run(folder: Path, more: str = "packing: {band: 3, carton: 2}\n") -> Path:
    job = write_job(folder, layout=FRONT + BACK, job=JOB + WEB + more, records=ROWS)
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    return folder / "out"


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 300),
    st.integers(1, 4),
    st.integers(1, 3),
    st.sampled_from(["across", "lanes", "blocks"]),
    st.integers(1, 20),
    st.integers(1, 9),
)
def test_every_piece_is_in_one_band(pieces: int, lanes: int, along: int, kind: Kind, size: int, carton: int) -> None:
    height = 7 if kind == "blocks" else None
    order = arrange(pieces, lanes, along, kind, height=height, where="web")
    counted = list(bands(order, size, carton))
    assert sorted(piece for band in counted for piece in band.pieces) == list(range(1, pieces + 1))
    assert [band.number for band in counted] == list(range(1, len(counted) + 1))
    assert all(len(band.pieces) <= size for band in counted)
    assert all(band.carton == 1 + (band.number - 1) // carton for band in counted)
    if kind == "blocks":
        assert all(band.consecutive for band in counted)


def test_the_table_holds_every_piece_by_its_serial(tmp_path: Path) -> None:
    out = run(tmp_path)
    lines = [json.loads(line) for line in (out / "pieces.jsonl").read_text().splitlines()]
    with (out / "packing.csv").open(newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert sum(int(row["pieces"]) for row in rows) == len(lines) == 19
    for row in rows:
        assert row["first_serial"] == lines[int(row["first"]) - 1]["serials"]["voucher"]
        assert row["last_serial"] == lines[int(row["last"]) - 1]["serials"]["voucher"]
    assert any("blanks" in row["exceptions"] for row in rows)


def test_every_label_says_and_scans_its_first_serial(tmp_path: Path) -> None:
    out = run(tmp_path)
    with (out / "packing.csv").open(newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    cartons = {row["carton"]: row for row in reversed(rows)}
    with pypdfium2.PdfDocument(out / "labels.pdf") as document:
        assert len(document) == len(cartons)
        for number, page in enumerate(document, 1):
            first = cartons[str(number)]["first_serial"]
            text = page.get_textpage()
            assert first in text.get_text_bounded()
            text.close()
            picture = page.render(scale=4).to_numpy()
            assert [code.text for code in zxingcpp.read_barcodes(picture)] == [first]
            page.close()


def test_the_ticket_names_the_finished_sheets(tmp_path: Path) -> None:
    out = run(tmp_path)
    ticket = ET.fromstring((out / "ticket.xjdf").read_bytes())  # noqa: S314  our own
    text = (out / "ticket.xjdf").read_text(encoding="utf-8")
    assert ticket.tag == f"{XJDF}XJDF"
    assert "sheets.pdf" in text
    assert "Clear" in text
    report = json.loads((out / "report.json").read_text())
    for name in ("ticket.xjdf", "packing.csv", "labels.pdf", "sheets.pdf"):
        assert report["files"][name] == sha256_of(out / name)
    assert verify_again(out, job=tmp_path / "job.yaml", records=None, workers=1, screen=SCREEN).ok
    (out / "packing.csv").write_text("changed")
    found = verify_again(out, job=None, records=None, workers=1, screen=SCREEN)
    assert [finding.code for finding in found.findings] == ["file-changed"]


def test_a_job_that_says_nothing_of_it_gets_neither(tmp_path: Path) -> None:
    out = run(tmp_path, more="")
    assert not (out / "packing.csv").exists()
    assert (out / "ticket.xjdf").exists()
