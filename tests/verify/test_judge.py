"""A whole folder judged: broken folders, changed inputs, workers that die, what is refused as the caller's mistake."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.tamper.folder import Tampered, make_run
from vdp.errors import CallerError, RowRefused
from vdp.job.load import load_job
from vdp.records.table import open_table
from vdp.verify import judge as room
from vdp.verify import tally
from vdp.verify.against import Expectation
from vdp.verify.doubt import Unreadable
from vdp.verify.judge import verify_folder
from vdp.verify.outcome import Found
from vdp.verify.pictures import piece_views, plate_copy
from vdp.verify.tally import Tally


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_run(tmp_path_factory.mktemp("judge") / "job")


@pytest.fixture
def run(made: Path, tmp_path: Path) -> Tampered:
    return Tampered(made, tmp_path)


def test_what_is_no_run_folder_is_the_callers_mistake(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(CallerError, match="not a run folder"):
            verify_folder(folder)


def test_progress_counts_pages(run: Tampered) -> None:
    told: list[int] = []
    verdict = verify_folder(run.out, progress=told.append)
    assert told == [verdict.pages] == [12]


@pytest.mark.parametrize("name", ["pieces.pdf", "pieces.jsonl"])
def test_without_the_main_files_nothing_else_is_judged(run: Tampered, name: str) -> None:
    (run.out / name).unlink()
    assert run.codes() == {"file-missing"}


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7\nnothing", b"\0" * 4096])
def test_a_pieces_file_that_is_no_pdf_is_a_finding(run: Tampered, data: bytes) -> None:
    (run.out / "pieces.pdf").write_bytes(data)
    run.refresh(contents=False)
    assert run.codes() == {"file-unreadable"}


def test_a_pieces_file_cut_in_half_gives_findings_and_no_traceback(run: Tampered) -> None:
    path = run.out / "pieces.pdf"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert "file-changed" in run.codes()


def test_a_line_of_the_manifest_that_is_garbled_is_a_finding(run: Tampered) -> None:
    path = run.out / "pieces.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:3], b"{\n", *lines[4:]]))
    run.refresh(contents=False)
    assert {"file-unreadable", "page-extra", "count-differs"} <= run.codes(with_rows=False)


def test_a_list_of_rows_set_aside_that_is_garbled_is_a_finding(run: Tampered) -> None:
    (run.out / "set_aside.csv").write_bytes(b"name\r\nx\r\n")
    run.refresh()
    assert run.codes() == {"file-unreadable", "count-differs", "row-missing"}


def test_a_file_without_a_hash_is_a_finding(run: Tampered) -> None:
    run.report(lambda report: report["files"].pop("set_aside.csv"))
    assert run.codes() == {"file-changed"}


def test_a_name_that_leads_out_of_the_folder_is_not_opened(run: Tampered) -> None:
    run.report(lambda report: report["files"].update({"../job.yaml": "0" * 64}))
    assert run.codes() == {"file-missing"}


def test_pieces_out_of_number_are_told(run: Tampered) -> None:
    run.lines(lambda lines: lines[1].update(piece=9))
    run.refresh()
    assert run.codes(with_rows=False) == {"count-differs"}


@pytest.mark.parametrize(
    ("path", "shown"),
    [
        ("job.yaml", "job.yaml"),
        ("layout.yaml", "layout.yaml"),
        ("list.csv", "list.csv"),
        ("art.pdf", "art.pdf"),
        ("red.jpg", "red.jpg"),
    ],
)
def test_a_changed_input_is_refused(run: Tampered, path: str, shown: str) -> None:
    with (run.home / path).open("ab") as file:
        file.write(b"\n" if path != "list.csv" else b"Zoe,en,Zug,red.jpg\n")
    with pytest.raises(CallerError) as caught:
        run.verdict()
    assert any(fault.where.endswith(shown) for fault in caught.value.faults)


def test_a_report_that_names_no_inputs_is_refused(run: Tampered) -> None:
    def strip(report: dict[str, Any]) -> None:
        report["inputs"] = {"profile": {"name": "press.icm", "sha256": "0"}}
        next(iter(report["faces"].values()))["sha256"] = "0"

    run.report(strip)
    with pytest.raises(CallerError) as caught:
        run.verdict()
    places = [fault.where for fault in caught.value.faults]
    assert len(places) == 5
    assert any(place.startswith("face ") for place in places)


def test_a_job_without_records_is_held_against_the_series_only(run: Tampered) -> None:
    job = load_job(run.home / "job.yaml")
    assert verify_folder(run.out, job).findings == []


def test_a_worker_that_dies_loses_nothing(run: Tampered, monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        def __init__(self, *_: object) -> None:
            self.asked = 0

        def __enter__(self) -> Broken:
            return self

        def __exit__(self, *_: object) -> None:
            return None

        def submit(self, *_: object) -> Future[object]:
            self.asked += 1
            if self.asked > 1:
                raise BrokenProcessPool
            future: Future[object] = Future()
            future.set_exception(BrokenProcessPool())
            return future

    monkeypatch.setattr("vdp.verify.workers.ProcessPoolExecutor", Broken)
    monkeypatch.setattr(room, "BATCH", 1)
    verdict = run.verdict(workers=2)
    assert verdict.findings == []
    assert verdict.symbols_decoded == 18


def test_workers_do_as_one_process_does(run: Tampered) -> None:
    verdict = run.verdict(workers=2)
    assert verdict.findings == []
    assert (verdict.pages, verdict.symbols_decoded) == (12, 18)


def test_the_file_is_opened_again_now_and_then(run: Tampered, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "BATCH", 1)
    monkeypatch.setattr("vdp.verify.examine.REOPENED", 2)
    assert run.codes() == set()


def test_a_middle_page_that_is_dropped_is_missed(run: Tampered) -> None:
    def drop(pdf: pikepdf.Pdf) -> None:
        del pdf.pages[3]

    run.pdf(drop)
    run.refresh(contents=False)
    for with_rows in (True, False):
        assert {"page-missing", "content-changed"} <= run.codes(with_rows=with_rows)


def test_both_sides_of_two_pieces_swapped_are_told(run: Tampered) -> None:
    def swap(contents: list[bytes]) -> None:
        contents[0:2], contents[4:6] = contents[4:6], contents[0:2]

    run.contents(swap)
    run.refresh()
    assert run.codes() == {"side-swapped"}


def test_a_code_that_all_pieces_share_is_no_evidence_that_a_side_is_its_own(tmp_path: Path) -> None:
    """Every back carries the same web address in a code; two backs change places, and all else on them tells."""
    shared = "{name: web, barcode: qr, data: 'https://pass.example/help', at: [3 mm, 28 mm], x: 0.508 mm}"
    run = Tampered(make_run(tmp_path / "shared", f"  - {shared}\n"), tmp_path)

    def swap(contents: list[bytes]) -> None:
        contents[1], contents[5] = contents[5], contents[1]

    run.contents(swap)
    run.refresh()
    for with_rows in (True, False):
        found = run.verdict(with_rows=with_rows).findings
        assert [(one.code, one.where) for one in found] == [
            ("side-swapped", "piece 1, back (page 2)"),
            ("side-swapped", "piece 3, back (page 6)"),
        ]


def test_a_row_that_no_longer_can_be_set_cannot_be_judged(run: Tampered, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise RowRefused(("no such picture",))

    monkeypatch.setattr(Expectation, "wanted", refuse)
    assert run.codes() == {"cannot-judge"}


def test_only_so_many_findings_of_a_kind_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tally, "MOST", 3)
    told = Tally()
    for piece in range(1, 8):
        told.tell(piece, "symbol-weak", f"piece {piece}", "x")
    told.tell(2, "page-boxes", "page 3", "y")
    findings = told.findings()
    assert len(findings) == 5
    assert findings[-1].message == "and 4 more of this kind"
    assert told.worst() == (2, 1, 3)
    assert isinstance(told.found[0], Found)


def test_pictures_for_people(run: Tampered) -> None:
    views = dict(piece_views(run.out / "pieces.pdf", 1, dpi=40))
    assert list(views) == ["front", "back", "Clear, back"]
    assert all(png.startswith(b"\x89PNG") for png in views.values())
    assert list(piece_views(run.out / "nothing.pdf", 1)) == []
    assert list(piece_views(run.out / "pieces.pdf", 99)) == []


def test_a_plate_can_be_taken_out_as_a_pdf(run: Tampered) -> None:
    with pikepdf.open(io.BytesIO(plate_copy(run.out / "pieces.pdf", 2, "Clear"))) as pdf:
        assert len(pdf.pages) == 1
    with pytest.raises(Unreadable, match="prints nothing on Clear"):
        plate_copy(run.out / "pieces.pdf", 1, "Clear")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"page": 9}, "symbol-moved"),
        ({"box": [0, 0, 90000, 90000]}, "cannot-judge"),
        ({"plate": "Gold"}, "cannot-judge"),
    ],
)
def test_a_symbol_where_none_can_be(run: Tampered, change: dict[str, Any], code: str) -> None:
    run.lines(lambda lines: lines[0]["symbols"][0].update(change))
    run.refresh()
    assert run.codes(with_rows=False) == {code}
    assert code in run.codes() or "symbol-wrong-plate" in run.codes()


def test_the_layout_s_plate_counts(run: Tampered) -> None:
    run.lines(lambda lines: lines[0]["symbols"][0].update(plate="Clear"))
    run.refresh()
    assert run.codes() == {"symbol-wrong-plate"}


def test_a_source_picture_that_cannot_be_decoded_cannot_be_judged(
    run: Tampered, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise Unreadable("not a picture")

    monkeypatch.setattr("vdp.verify.held.read_source", refuse)
    assert run.codes() == {"cannot-judge"}


def test_a_second_reader_that_counts_otherwise_is_a_finding(run: Tampered, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "second_look", lambda *_: (11, {}))
    assert run.codes() == {"reader-differs"}

    def refuse(*_: object) -> None:
        raise Unreadable("not for me")

    monkeypatch.setattr(room, "second_look", refuse)
    assert run.codes() == {"reader-differs"}


def test_an_empty_manifest_leaves_every_page_over(run: Tampered) -> None:
    (run.out / "pieces.jsonl").write_bytes(b"")
    run.refresh(contents=False)
    assert run.codes() == {"page-extra", "count-differs", "row-missing"}


def test_the_folder_is_not_changed(run: Tampered) -> None:
    def state() -> Iterator[tuple[str, int, bytes]]:
        for path in sorted(run.out.iterdir()):
            yield path.name, path.stat().st_mtime_ns, path.read_bytes()

    before = list(state())
    run.verdict()
    assert list(state()) == before


def test_a_verdict_is_the_same_twice_and_elsewhere(run: Tampered, tmp_path: Path) -> None:
    run.page(0, lambda content: content.replace(b"0 0 0 1 k", b"0 0 0 0.7 k"))
    run.refresh()
    shutil.copytree(run.home, tmp_path / "copy")
    first, second = run.verdict(), run.verdict()
    other = verify_folder(
        tmp_path / "copy" / "out",
        load_job(run.home / "job.yaml"),
        open_table(run.home / "list.csv", load_job(run.home / "job.yaml").model.records, "list.csv"),
    )
    assert first.findings == second.findings == other.findings
    assert {finding.code for finding in first.findings} == {"symbol-weak", "text-ink"}
    assert json.dumps([finding.as_json() for finding in first.findings])
