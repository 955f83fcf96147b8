"""The demo from end to end, by the command line: what it makes, that it is the same every time, and what it refuses."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pypdfium2 as pdfium
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

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
    assert b"D:19700102000000Z" in made[0] or "1970-01-02" in str(PdfReader(tmp_path / "a/pieces.pdf").xmp_metadata)


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
        assert {read.text for read in zxingcpp.read_barcodes(Image.open(crop))} == {symbol["data"]}
    assert found == {(s["name"], s["data"]) for s in line["symbols"] if s["plate"] == "Black"}


def test_clear_alone_is_what_ghostscript_separates_and_cmyk_does_not_know_it(
    run: Path, tmp_path: Path, need: Callable[[str], str]
) -> None:
    """tiffsep at 600 dpi: Clear's inked pixels agree with our own plate, CMYK is the same with and without Clear."""
    import numpy as np

    from vdp.verify.pictures import piece_views

    def separated(path: Path, name: str) -> dict[str, Image.Image]:
        folder = tmp_path / name
        folder.mkdir()
        command = [
            need("gs"),
            "-q",
            "-dNOPAUSE",
            "-dBATCH",
            "-sDEVICE=tiffsep",
            "-r600",
            "-dFirstPage=1",
            "-dLastPage=1",
        ]
        command += ["-dGraphicsAlphaBits=4", "-dTextAlphaBits=4", f"-sOutputFile={folder}/p.tif", str(path)]
        subprocess.run(command, check=True, capture_output=True)
        return {p.name.split("(")[1].split(")")[0]: Image.open(p) for p in folder.glob("p(*).tif")}

    Image.MAX_IMAGE_PIXELS = None
    path = run / "out/pieces.pdf"
    plates = separated(path, "with")
    theirs = np.asarray(plates["Clear"]) < 128
    views = dict(piece_views(path, 1, 600))
    import io

    ours = np.asarray(Image.open(io.BytesIO(views["Clear, front"])).convert("L")) < 128
    height, width = (min(a, b) for a, b in zip(ours.shape, theirs.shape, strict=True))
    ours, theirs = ours[-height:, :width], theirs[-height:, :width]
    assert theirs.sum() > 0
    assert (ours & theirs).sum() / (ours | theirs).sum() >= 0.99

    bare = tmp_path / "bare.pdf"
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
    without = separated(bare, "without")
    for plate in ("Cyan", "Magenta", "Yellow", "Black"):
        assert np.array_equal(np.asarray(plates[plate]), np.asarray(without[plate])), plate


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
    assert "cannot be written to" in done.stderr


def test_fake_gives_the_demo_s_own_list_again(tmp_path: Path) -> None:
    done = vdp("fake", JOB, "--count", "40", "--seed", "5", "--out", tmp_path / "a.csv")
    assert done.returncode == 0, done.stderr
    assert vdp("fake", JOB, "--count", "40", "--seed", "5", "--out", tmp_path / "b.csv").returncode == 0
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    assert vdp("check", JOB, "--records", tmp_path / "a.csv").returncode == 0
