"""The demo from end to end, by the command line: what it makes, that it is the same every time, and what it refuses."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2 as pdfium
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from vdp.verify.pictures import plate_copy
from vdp.verify.raster import Raster

ROOT = Path(__file__).parent.parent
JOB = ROOT / "layouts/ferry_pass/job.yaml"
GOOD = ROOT / "demo_records/ferry_pass.csv"
BAD = ROOT / "demo_records/ferry_pass_bad.csv"

KEYS = [
    "ok",
    "pieces",
    "set_aside",
    "symbols_expected",
    "symbols_decoded",
    "serials",
    "serials_unique",
    "findings",
    "files",
    "seconds",
    "warnings",
]


def vdp(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs the program in a process of its own."""
    command = [sys.executable, "-m", "vdp.cli", *map(str, words)]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, **environment}
    )


def some_rows(path: Path, count: int) -> Path:
    """The first rows of the demo's list."""
    with GOOD.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows[: count + 1])
    return path


def hashes(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


@pytest.fixture(scope="module", autouse=True)
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A ledger of these tests' own: the demo's stays as it is."""
    with pytest.MonkeyPatch.context() as patch:
        place = tmp_path_factory.mktemp("numbers") / "ledger.sqlite"
        patch.setenv("VDP_LEDGER", str(place))
        yield place


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of the first 70 rows: more than two groups of pieces, all five languages."""
    folder = tmp_path_factory.mktemp("flow")
    rows = some_rows(folder / "list.csv", 70)
    done = vdp("run", JOB, "--records", rows, "--out", folder / "out", "--json")
    assert done.returncode == 0, done.stdout + done.stderr
    (folder / "result.json").write_text(done.stdout, encoding="utf-8")
    return folder


def test_the_demo_runs_whole_and_every_check_passes(tmp_path: Path) -> None:
    done = vdp("run", JOB, "--out", tmp_path / "out", "--workers", "2")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "300 = 300 pieces + 0 set aside" in done.stdout
    assert "900 of 900 decoded" in done.stdout
    assert "300, 300 unique" in done.stdout


def test_the_json_object_has_the_contract_s_keys_and_adds_up(run: Path) -> None:
    result = json.loads((run / "result.json").read_text(encoding="utf-8"))
    assert list(result) == KEYS
    assert (result["pieces"], result["set_aside"], result["symbols_expected"]) == (70, 0, 210)
    assert result["symbols_decoded"] == result["symbols_expected"]
    assert result["serials"] == result["serials_unique"] == 70


def test_the_run_folder_is_the_contract_s(run: Path) -> None:
    names = {"pieces.pdf", "pieces.jsonl", "set_aside.csv", "report.json", "report.pdf"}
    assert {path.name for path in (run / "out").iterdir()} == names
    lines = [json.loads(line) for line in (run / "out/pieces.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [line["piece"] for line in lines] == list(range(1, 71))
    assert [line["row"] for line in lines] == list(range(2, 72))
    keys = ["piece", "row", "language", "serials", "symbols", "place", "sha256"]
    assert all(list(line) == keys for line in lines)
    assert list(lines[0]["symbols"][0]) == ["name", "symbology", "identifier", "plate", "page", "box", "data"]


@pytest.mark.parametrize("workers", ["2", "5"])
def test_any_number_of_workers_and_any_time_give_the_same_bytes(run: Path, tmp_path: Path, workers: str) -> None:
    done = vdp("run", JOB, "--records", run / "list.csv", "--out", tmp_path / "out", "--workers", workers)
    assert done.returncode == 0, done.stdout + done.stderr
    assert hashes(tmp_path / "out") == hashes(run / "out")


def test_source_date_epoch_is_the_only_clock(run: Path, tmp_path: Path) -> None:
    rows = some_rows(tmp_path / "list.csv", 3)
    made = []
    for name, epoch in (("a", "86400"), ("b", "86400"), ("c", "172800")):
        assert vdp("run", JOB, "--records", rows, "--out", tmp_path / name, SOURCE_DATE_EPOCH=epoch).returncode == 0
        made.append((tmp_path / name / "pieces.pdf").read_bytes())
    assert made[0] == made[1] != made[2]
    told = PdfReader(tmp_path / "a/pieces.pdf").metadata
    assert told is not None
    assert told.creation_date == datetime(1970, 1, 2, tzinfo=UTC)


def test_four_readers_open_the_file(run: Path, need: Callable[[str], str]) -> None:
    path = run / "out/pieces.pdf"
    assert len(PdfReader(path, strict=True).pages) == 140
    assert len(pdfium.PdfDocument(path)) == 140
    with pikepdf.open(path) as pdf:
        assert (len(pdf.pages), pdf.get_warnings()) == (140, [])
    checked = subprocess.run([need("qpdf"), "--check", path], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stdout
    poppler = subprocess.run([need("pdffonts"), path], capture_output=True, text=True, check=True)
    assert poppler.stderr == ""
    assert all(" yes yes " in line or line.startswith("AAAAAA+") for line in poppler.stdout.splitlines()[2:])
    ghost = [
        need("gs"),
        "-q",
        "-dNOPAUSE",
        "-dBATCH",
        "-dPDFSTOPONWARNING",
        "-sDEVICE=nullpage",
        "-dLastPage=4",
        str(path),
    ]
    shown = subprocess.run(ghost, capture_output=True, text=True, check=False)
    assert (shown.returncode, shown.stdout, shown.stderr) == (0, "", "")


def test_a_second_decoder_reads_what_the_manifest_says(run: Path, tmp_path: Path, need: Callable[[str], str]) -> None:
    """zbar for the codes on Black, on the page as printed: it shares nothing with zxing-cpp."""
    line = json.loads((run / "out/pieces.jsonl").read_text(encoding="utf-8").splitlines()[4])
    with pdfium.PdfDocument(run / "out/pieces.pdf") as document:
        page = document[8].render(scale=600 / 72, grayscale=True).to_pil()
    found = set()
    for symbol in line["symbols"]:
        if symbol["plate"] != "Black":
            continue
        x0, y0, x1, y1 = (edge * 600 / 72 for edge in symbol["box"])
        crop = tmp_path / f"{symbol['name']}.png"
        page.crop((int(x0), int(page.height - y1), int(x1), int(page.height - y0))).save(crop)
        done = subprocess.run([need("zbarimg"), "-q", "--raw", crop], capture_output=True, text=True, check=False)
        found.add((symbol["name"], done.stdout.strip()))
        with Image.open(crop) as image:
            assert {read.text for read in zxingcpp.read_barcodes(image)} == {symbol["data"]}
    assert found == {(s["name"], s["data"]) for s in line["symbols"] if s["plate"] == "Black"}


def separated(gs: str, path: Path, folder: Path) -> dict[str, npt.NDArray[np.uint8]]:
    """Ghostscript's plates of the first page at 600 dpi, 0 full ink and 255 none, by plate."""
    folder.mkdir()
    command = [gs, "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", "-r600", "-dFirstPage=1", "-dLastPage=1"]
    subprocess.run([*command, f"-sOutputFile={folder}/p.tif", str(path)], check=True, capture_output=True)
    plates = {}
    for file in folder.glob("p(*).tif"):
        with Image.open(file) as image:
            plates[file.name.split("(")[1].split(")")[0]] = np.asarray(image).copy()
    return plates


def near(inked: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Inked pixels and their eight neighbours."""
    padded = np.pad(inked, 1)
    height, width = inked.shape
    spread: npt.NDArray[np.bool_] = np.zeros_like(inked)
    for y in range(3):
        for x in range(3):
            spread |= padded[y : y + height, x : x + width]
    return spread


def test_clear_alone_is_what_ghostscript_separates(run: Path, tmp_path: Path, need: Callable[[str], str]) -> None:
    """tiffsep at 600 dpi.  Our one-plate copy, drawn by the same rasteriser, shares at least 99 % of the inked pixels
    (intersection over union); drawn by PDFium, whose edges round otherwise, no pixel is more than one away."""
    gs, path = need("gs"), run / "out/pieces.pdf"
    theirs = separated(gs, path, tmp_path / "sep")["Clear"] < 128
    assert theirs.sum() > 10_000
    copy = tmp_path / "clear.pdf"
    copy.write_bytes(plate_copy(path, 1, "Clear"))
    command = [
        gs,
        "-q",
        "-dNOPAUSE",
        "-dBATCH",
        "-sDEVICE=tiffgray",
        "-r600",
        f"-sOutputFile={tmp_path}/c.tif",
        str(copy),
    ]
    subprocess.run(command, check=True, capture_output=True)
    with Image.open(tmp_path / "c.tif") as image:
        ours = np.asarray(image) < 128
    assert ours.shape == theirs.shape
    assert (ours & theirs).sum() / (ours | theirs).sum() >= 0.99
    height, width = theirs.shape
    with Raster(copy.read_bytes()) as raster:
        drawn = raster.region(0, (0.0, 0.0, width * 72 / 600, height * 72 / 600), 600)[:height, :width] < 128
    assert not (drawn & ~near(theirs)).any()
    assert not (theirs & ~near(drawn)).any()


def test_the_cmyk_plates_do_not_know_clear(run: Path, tmp_path: Path, need: Callable[[str], str]) -> None:
    """The four process plates are the same, pixel for pixel, when the marks on Clear are taken out."""
    path, bare = run / "out/pieces.pdf", tmp_path / "bare.pdf"
    with pikepdf.open(path) as pdf:
        page = pdf.pages[0]
        kept, depth = [], 0
        for step in pikepdf.parse_content_stream(page):
            operator = str(step.operator)
            if operator == "BDC" and step.operands[0] == pikepdf.Name.OC:
                depth += 1
            if not depth:
                kept.append(step)
            if operator == "EMC" and depth:
                depth -= 1
        page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(kept))
        pdf.save(bare)
    plates = separated(need("gs"), path, tmp_path / "with")
    without = separated(need("gs"), bare, tmp_path / "without")
    assert (plates["Clear"] < 128).any()
    assert "Clear" not in without or not (without["Clear"] < 128).any()
    for plate in ("Cyan", "Magenta", "Yellow", "Black"):
        assert np.array_equal(plates[plate], without[plate]), plate


def test_verify_again_needs_nothing_else_and_with_its_rows_is_as_good(run: Path) -> None:
    assert vdp("verify", run / "out").returncode == 0
    held = vdp("verify", run / "out", "--job", JOB, "--records", run / "list.csv", "--json")
    assert held.returncode == 0
    assert json.loads(held.stdout)["serials_unique"] == 70


def test_other_inputs_than_the_run_s_are_refused(run: Path) -> None:
    done = vdp("verify", run / "out", "--job", JOB)
    assert done.returncode == 2
    assert "is not the list that this run was made from" in done.stderr
    assert vdp("verify", run / "out", "--records", GOOD).returncode == 2


def test_bad_rows_stop_the_run_and_none_is_lost(tmp_path: Path) -> None:
    done = vdp("run", JOB, "--records", BAD, "--out", tmp_path / "out", "--json")
    assert done.returncode == 1
    result = json.loads(done.stdout)
    with BAD.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert result["pieces"] + result["set_aside"] == len(rows) - 1
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"set_aside.csv", "report.json"}
    with (tmp_path / "out/set_aside.csv").open(encoding="utf-8", newline="") as file:
        aside = list(csv.reader(file))
    assert aside[0] == [*rows[0], "reason"]
    assert all(row[:-1] in rows and row[-1].startswith("row ") for row in aside[1:])
    assert len(aside) - 1 == result["set_aside"]


def test_bad_rows_may_be_set_aside_and_the_others_made(tmp_path: Path) -> None:
    shutil.copytree(JOB.parent, tmp_path / "job", ignore=shutil.ignore_patterns("out"))
    job = tmp_path / "job/job.yaml"
    text = job.read_text(encoding="utf-8").replace("set_aside: stop", "set_aside: continue")
    job.write_text(text.replace("../../demo_records/ferry_pass.csv", "list.csv"), encoding="utf-8")
    checked = json.loads(vdp("check", job, "--records", BAD, "--json").stdout)
    done = vdp("run", job, "--records", BAD, "--json")
    result = json.loads(done.stdout)
    assert (done.returncode, result["ok"]) == (0, True), done.stdout
    assert (result["pieces"], result["set_aside"]) == (checked["pieces"], checked["set_aside"])
    assert result["symbols_decoded"] == 3 * result["pieces"]


def test_an_earlier_run_never_shines_through(run: Path, tmp_path: Path) -> None:
    shutil.copytree(run / "out", tmp_path / "out")
    assert vdp("run", JOB, "--records", BAD, "--out", tmp_path / "out").returncode == 1
    assert not (tmp_path / "out/pieces.pdf").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["run", "gone.yaml"], "gone.yaml"),
        (["run", JOB, "--records", "gone.csv"], "gone.csv"),
        (["run", JOB, "--workers", "0"], "--workers"),
        (["verify", "gone"], "gone"),
        (["nonsense"], "nonsense"),
    ],
)
def test_the_caller_s_mistake_is_exit_2_with_a_way_out_and_json_if_asked(words: list[str | Path], said: str) -> None:
    done = vdp(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    told = vdp(*words, "--json")
    assert told.returncode == 2
    assert list(json.loads(told.stdout)) == KEYS


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file, not a folder", encoding="utf-8")
    done = vdp("run", JOB, "--records", some_rows(tmp_path / "list.csv", 1), "--out", tmp_path / "out")
    assert done.returncode == 2
    assert "is a file, not a folder" in done.stderr


def test_fake_gives_the_demo_s_own_list_again(tmp_path: Path) -> None:
    done = vdp("fake", JOB, "--count", "40", "--seed", "5", "--out", tmp_path / "a.csv")
    assert done.returncode == 0, done.stderr
    assert vdp("fake", JOB, "--count", "40", "--seed", "5", "--out", tmp_path / "b.csv").returncode == 0
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    assert vdp("check", JOB, "--records", tmp_path / "a.csv").returncode == 0
