"""The numbering proof as its reader gets it: what it says, what it shows, and what it must not give away."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from tests.commands import ended, said
from tests.run.test_plan import WEB
from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli
from vdp.proof.look import Looker
from vdp.run import run_job
from vdp.run.desk import desk_of
from vdp.run.expected import Expected, expect
from vdp.run.numberproof import prove_numbers
from vdp.run.proofpieces import look_at
from vdp.run.screen import Screen
from vdp.run.sealing import make_key
from vdp.run.signoff import sign_off
from vdp.verify.decode import read_any

SCREEN = Screen(io.StringIO())
HIDDEN = (
    '  - {barcode: qr, name: secret-code, data: "HIDDEN-{{ row }}", at: [4 mm, 26 mm], x: 0.254 mm, plate: Clear}\n'
    '  - {microtext: "KEEP {{ row }}", name: secret-fine, box: [20 mm, 30 mm, 20 mm, 1 mm], size: 1 pt, plate: Clear}\n'
    "  - {line: 0.2 mm, name: rule, start: [20 mm, 34 mm], end: [40 mm, 35 mm], plate: Clear}\n"
    "  - {box: [50 mm, 32 mm, 4 mm, 4 mm], plate: Gloss}\n"
)
SPOTS = "spots: {Clear: {}, Gloss: {shown_as: [0, 80, 80, 0], hidden: false}}\n"
ROWS = "name,lang\nAnna,en\nΝίκος,el\n" + "".join(f"Guest{chr(65 + at % 26)},en\n" for at in range(7))


def words_of(path: Path) -> str:
    with pypdfium2.PdfDocument(path) as document:
        text = " ".join(page.get_textpage().get_text_range() for page in document)
    return " ".join(text.split())


def pages_of(path: Path, dpi: int) -> list[np.ndarray[tuple[int, ...], np.dtype[np.uint8]]]:
    with pypdfium2.PdfDocument(path) as document:
        return [page.render(scale=dpi / 72, grayscale=True).to_numpy() for page in document]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with a web, and its proof."""
    folder = tmp_path_factory.mktemp("proof")
    web = WEB.replace("height: 4", "height: 2")
    write_job(folder, layout=FRONT + BACK + HIDDEN, job=JOB + SPOTS + web, records=ROWS)
    with pytest.raises(SystemExit) as caught:
        cli.main(["proof", str(folder / "job.yaml"), "--sample", "2", "--json"])
    assert caught.value.code == 0
    return folder


@pytest.fixture
def copy(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The job alone, for proofs of smaller pictures, which are sooner made."""
    monkeypatch.setattr("vdp.proof.look.LONGER", 400)
    for name in ("job.yaml", "layout.yaml", "list.csv"):
        shutil.copy(home / name, tmp_path / name)
    return tmp_path


def expected_of(home: Path) -> Expected:
    return expect(home / "job.yaml", records=None, screen=SCREEN)


def test_the_cover_tells_the_facts(home: Path) -> None:
    words = words_of(home / "proof.pdf")
    proof = expected_of(home).proof
    for fact in (
        "Numbering proof · Small",
        "V00076 is the first piece's, V00158 the last one's: 9 numbers",
        "Counted one by one.",
        "For V00076 the text 0007 is checked: from 0, 0 leads to 0, 0 leads to 0, 0 leads to 0, 7 leads to 6",
        "9 records = 9 pieces + 0 set aside",
        "en 8, el 1",
        "60 × 40 mm, 2,835 × 1,890 dots at 1200 an inch",
        "Cyan, Magenta, Yellow, Black, Clear (not seen in daylight), Gloss (seen)",
        "2 lanes × 1 along a frame of",
        "None of them is taken yet",
        " ".join(proof[at : at + 8] for at in range(0, 64, 8)),
        f"vdp proof job.yaml --approve --seen {proof[:16]}",
        "How the stacks are cut",
    ):
        assert fact in words, fact


def test_the_pieces_say_why_they_are_there_and_what_their_codes_say(home: Path) -> None:
    words = words_of(home / "proof.pdf")
    assert "Piece 1 · V00076 Chosen for: the first piece;" in words
    assert "the first in language el" in words
    assert "the last piece" in words
    assert words.count("drawn at random (seed 20270301)") == 2
    assert "bars code128, Black, front as it must V00076" in words
    assert "square qr, Black, front as it must V00076/Anna" in words
    assert "fine, back, Black: 1 pt" in words
    assert "NOT as it must" not in words
    first = expected_of(home)
    assert first.laid is not None
    frame = first.laid.run.place_of(1).frame
    assert f"Row 2 of the list, language en, on roll 1, frame {frame}, lane 1, place 1" in words


def test_no_number_is_taken_and_nothing_is_left_behind(home: Path) -> None:
    assert {path.name for path in home.iterdir()} == {"job.yaml", "layout.yaml", "list.csv", "proof.pdf"}


def test_no_reader_finds_a_code_in_the_proof(home: Path, need: Callable[[str], str], tmp_path: Path) -> None:
    for dpi in (110, 230):
        for number, grey in enumerate(pages_of(home / "proof.pdf", dpi)):
            assert read_any(grey) == [], (dpi, number)
            assert read_any(255 - grey) == [], (dpi, number)
    for number, grey in enumerate(pages_of(home / "proof.pdf", 200)):
        Image.fromarray(grey).save(tmp_path / f"{number}.png")
    done = subprocess.run(
        [need("zbarimg"), "-q", *sorted(map(str, tmp_path.glob("*.png")))], capture_output=True, check=False
    )
    assert (done.returncode, done.stdout) == (4, b"")
    # Nor in the pictures themselves, taken out of the file.
    with pikepdf.open(home / "proof.pdf") as pdf:
        pictures = [item for item in pdf.objects if isinstance(item, pikepdf.Stream) and item.get("/Width", 0) > 500]
        assert len(pictures) > 8
        for picture in pictures:
            image = pikepdf.PdfImage(picture).as_pil_image().convert("L")
            assert read_any(np.asarray(image)) == []


def test_the_codes_could_be_read_if_they_were_not_struck(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same pictures with nothing struck: otherwise the test above could not fail."""
    monkeypatch.setattr("vdp.proof.look.as_specimen", lambda pixels, _: pixels)
    expected = expected_of(home)
    shown = look_at(expected, expected.choose(SCREEN, sample=0), [], secrets=False, screen=SCREEN)
    front = np.asarray(Image.open(io.BytesIO(shown[0].looked.views[0].data)).convert("L"))
    assert "V00076" in read_any(front)


def test_what_hidden_plates_say_is_left_out_unless_it_is_asked_for(
    copy: Path, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = words_of(home / "proof.pdf")
    assert "HIDDEN-" not in words
    assert "secret-code qr, Clear, back as it must left out: it is hidden" in words
    assert "secret-fine" not in words
    assert "What Clear says is left out; shown is only where it prints." in words
    out = copy / "with.pdf"
    code, _ = ended(["proof", str(copy / "job.yaml"), "--secrets", "--sample", "0", "--out", str(out)], capsys)
    assert code == 0
    shown = words_of(out)
    assert "secret-code qr, Clear, back as it must HIDDEN-2" in shown
    assert "secret-fine, back, Clear: 1 pt" in shown
    assert "left out" not in shown
    for grey in pages_of(out, 200):
        assert read_any(grey) == [], "struck through all the same"


def test_the_picture_of_a_hidden_plate_does_not_depend_on_what_it_says(home: Path) -> None:
    """Pieces with other secrets have the same picture; with --secrets they have not."""
    expected = expected_of(home)
    choice = expected.choose(SCREEN, sample=0, wanted={3: "asked", 4: "asked"})
    for secrets in (False, True):
        shown = {
            each.title.split(" ")[1]: each.looked
            for each in look_at(expected, choice, [], secrets=secrets, screen=SCREEN)
        }
        clear = [
            next(view.data for view in shown[piece].views if view.label.startswith("Clear")) for piece in ("3", "4")
        ]
        assert (clear[0] == clear[1]) is not secrets
        assert [view.label for view in shown["3"].views][:2] == ["front", "back"]
        assert "Gloss plate, back" in [view.label for view in shown["3"].views]


def test_artwork_on_a_hidden_plate_is_shown_as_one_place(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What no item laid out is found by its ink."""
    monkeypatch.setattr(Looker, "_places", lambda *_: iter(()))
    expected = expected_of(home)
    seen = []

    def only(size: tuple[int, int], places: Any) -> Any:
        seen.append(list(places))
        return np.zeros((size[1], size[0], 3), np.uint8)

    monkeypatch.setattr("vdp.proof.look.places_only", only)
    look_at(expected, expected.choose(SCREEN, sample=0), [], secrets=False, screen=SCREEN)
    assert [place.kind for place in seen[0]] == ["artwork"]
    left, top, right, bottom = seen[0][0].edges
    # From the microtext and codes at 4 mm to the code that ends at 50 mm, of 60 mm in 1,000 pixels.
    assert 60 < left < 90
    assert 700 < right < 900
    assert bottom > top


def test_same_input_same_bytes(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("one.pdf", "two.pdf"):
        assert ended(["proof", str(copy / "job.yaml"), "--sample", "2", "--out", str(copy / name)], capsys)[0] == 0
    assert (copy / "one.pdf").read_bytes() == (copy / "two.pdf").read_bytes()


def test_a_finished_run_is_proofed_from_its_own_pages(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, out = copy / "job.yaml", copy / "out"
    before = expected_of(copy).proof
    desk = desk_of("O. Perator")
    assert run_job(job, records=None, out=None, workers=1, screen=SCREEN, desk=desk).ok
    # Other runs go on; this one's numbers stay.
    (copy / "list.csv").write_text(ROWS.replace("Anna", "Hanna"), "utf-8")
    assert run_job(job, records=None, out=copy / "next", workers=1, screen=SCREEN, desk=desk).ok
    code, found = ended(["proof", str(job), "--run", str(out)], capsys)
    assert code == 2
    assert "is not the list that this run was made from" in said(found)
    (copy / "list.csv").write_text(ROWS, "utf-8")
    ledger = (copy / "ledger.sqlite").read_bytes()
    code, found = ended(["proof", str(job), "--run", str(out)], capsys)
    assert (code, found["findings"]) == (0, [])
    assert (copy / "ledger.sqlite").read_bytes() == ledger
    words = words_of(copy / "proof.pdf")
    assert "Of the finished run in out: these are its pieces and its numbers." in words
    assert "V00076 is the first piece's" in words
    assert expect(job, records=None, screen=SCREEN, run=out).proof == before
    # A page that was exchanged afterwards is seen.
    with pikepdf.open(out / "pieces.pdf", allow_overwriting_input=True) as pdf:
        content = pdf.pages[0].Contents.read_bytes()
        pdf.pages[0].Contents = pdf.make_stream(content + b" ")
        pdf.save(out / "pieces.pdf")
    code, found = ended(["proof", str(job), "--run", str(out)], capsys)
    assert (code, [each["code"] for each in found["findings"]]) == (1, ["content-changed"])
    assert "Not everything on the pieces shown is as it must be: see Piece 1" in words_of(copy / "proof.pdf")
    # So is a manifest of other numbers.
    lines = (out / "pieces.jsonl").read_text("utf-8").replace('"V00076"', '"V00999"', 1)
    (out / "pieces.jsonl").write_text(lines, "utf-8")
    code, found = ended(["proof", str(job), "--run", str(out)], capsys)
    assert (code, "piece 1 is not the one that the job and its records give" in said(found)) == (2, True)


def test_folders_that_are_no_run(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = ended(["proof", str(copy / "job.yaml"), "--run", str(copy)], capsys)
    assert (code, "is not a finished run" in said(found)) == (2, True)
    assert run_job(copy / "job.yaml", records=None, out=None, workers=1, screen=SCREEN, desk=desk_of("O")).ok
    report = json.loads((copy / "out" / "report.json").read_bytes())
    for change, told in (
        ({"reprint": {"pieces": [1], "numbers": "same"}}, "is a reprint"),
        ({"ledger": None}, "do not have the same series: voucher"),
    ):
        (copy / "out" / "report.json").write_text(json.dumps({**report, **change}), "utf-8")
        code, found = ended(["proof", str(copy / "job.yaml"), "--run", str(copy / "out")], capsys)
        assert (code, told in said(found)) == (2, True), found
    unfinished = {**report, "verified": False}
    (copy / "out" / "report.json").write_text(json.dumps(unfinished), "utf-8")
    code, found = ended(["proof", str(copy / "job.yaml"), "--run", str(copy / "out")], capsys)
    assert (code, [each["code"] for each in found["findings"]]) == (1, ["run-unfinished"])
    (copy / "out" / "pieces.pdf").write_bytes(b"%PDF-1.6\n")
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    code, found = ended(["proof", str(copy / "job.yaml"), "--run", str(copy / "out")], capsys)
    assert (code, "its pages cannot be proofed" in said(found)) == (2, True)


def test_a_code_that_does_not_say_what_it_must_is_a_finding(
    copy: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The encoder goes wrong; only the finished dots can tell."""
    from vdp.barcode import carriers

    right = carriers.Encoder.encode
    monkeypatch.setattr(carriers.Encoder, "encode", lambda self, data: right(self, ["X" + d[1:] for d in data]))
    code, found = ended(["proof", str(copy / "job.yaml"), "--sample", "0"], capsys)
    assert code == 1
    assert {each["code"] for each in found["findings"]} == {"symbol-misread"}
    words = words_of(copy / "proof.pdf")
    assert "bars code128, Black, front NOT as it must X00076" in words
    assert "symbol-misread: bars: it reads 'X00076'" in words


def test_refused_rows_stand_on_the_cover(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = ROWS + "".join(f"Guest{at},fr\n" for at in range(45))
    (copy / "list.csv").write_text(rows, "utf-8")
    with pytest.raises(SystemExit) as caught:
        cli.main(["proof", str(copy / "job.yaml"), "--sample", "0"])
    out = capsys.readouterr().out
    assert (caught.value.code, "+ 45 set aside" in out, "it cannot be approved" in out) == (0, True, True)
    words = words_of(copy / "proof.pdf")
    assert "45 rows are set aside, and the job says that nothing is made then:" in words
    assert "row 11: hello: no wording for language 'fr'" in words
    assert "… and 5 more" in words
    (copy / "list.csv").write_text("name,lang\nX,fr\n", "utf-8")
    code, found = ended(["proof", str(copy / "job.yaml")], capsys)
    assert (code, "there is nothing to proof" in said(found)) == (2, True)


def test_comments_show_again_on_the_next_proof(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_key(copy / "k")
    key = ["--key", str(copy / "k"), "--name", "A. Marsh"]
    told = ["piece 7 front 30,20: smaller", "piece 7 back: also", "piece 5: why 12?", "all paler"]
    comments = [word for each in told for word in ("--comment", each)]
    assert ended(["proof", str(copy / "job.yaml"), "--return", *comments, *key], capsys)[0] == 0
    code, _ = ended(["proof", str(copy / "job.yaml"), "--sample", "0", "--piece", "7"], capsys)
    assert code == 0
    words = words_of(copy / "proof.pdf")
    assert (
        "it was asked for; comment 1, by A. Marsh, piece 7, front, 30 mm from the left and 20 mm down: smaller; "
        "comment 2, by A. Marsh, piece 7, back: also"
    ) in words
    assert "comment 3, by A. Marsh, piece 5: why 12?" in words
    assert "Last answer A. Marsh returned this proof on" in words
    assert "all paler" in words
    assert "earlier answer" not in words
    for _ in range(2):
        assert ended(["proof", str(copy / "job.yaml"), "--return", *comments, *key], capsys)[0] == 0
    (copy / "list.csv").write_text(ROWS.replace("Anna", "Hanna"), "utf-8")
    assert ended(["proof", str(copy / "job.yaml"), "--sample", "0"], capsys)[0] == 0
    words = words_of(copy / "proof.pdf")
    assert "which is not this one, on" in words
    assert "2 earlier answers in the same file" in words
    # Nobody's answer is told as somebody's.
    changed = (copy / "approval.json").read_text("utf-8").replace('"A. Marsh"', '"B. Ito"', 1)
    (copy / "approval.json").write_text(changed, "utf-8")
    assert ended(["proof", str(copy / "job.yaml"), "--sample", "0"], capsys)[0] == 0
    words = words_of(copy / "proof.pdf")
    assert "was changed: its signature does not hold" in words
    assert ("B. Ito" in words, "why 12?" in words) == (False, False)
    # The pin is where it was put: 30 of 60 mm are the middle of 400 pixels.
    expected = expected_of(copy)
    choice = expected.choose(SCREEN, sample=0, wanted={7: "asked"})
    from vdp.proof.comments import Comment

    pins = [Comment("smaller", 7, "front", (30.0, 20.0))]
    shown = {each.title[:7]: each.looked for each in look_at(expected, choice, pins, secrets=False, screen=SCREEN)}
    front = np.asarray(Image.open(io.BytesIO(shown["Piece 7"].views[0].data)))
    red, green, blue = (int(part) for part in front[round(20 / 40 * 267) - 6, 200])
    assert (red < 70, 40 < green < 90, blue > 80) == (True, True, True)


def test_places_that_cannot_be_written(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = ended(["proof", str(copy / "job.yaml"), "--out", str(copy / "list.csv" / "x.pdf")], capsys)
    assert (code, "list.csv: is a file, not a folder" in said(found)) == (2, True)
    code, found = ended(["proof", str(copy / "job.yaml"), "--piece", "10"], capsys)
    assert (code, "there is no piece 10: the run has 9" in said(found)) == (2, True)


def test_a_plain_job_of_many_series(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No web, no language, series of every kind; and a title that needs shaping."""
    job = """\
job: تذاكر الموسم
layout: layout.yaml
records: {file: list.csv}
series:
  a: {prefix: "{{ year }}-", width: 5, check: mod97_10, alphabet: alphanumeric, groups: [4, 3], step: 3}
  b: {width: 8, shuffled: true, code: 6, key: env:PROOF_KEY, suffix: "/{{ year }}"}
  c: {prefix: N, start: 11, width: 4, check: luhn, column: Serial}
"""
    layout = """\
trim: [60 mm, 90 mm]
front:
  - {text: "{{ name }} {{ series.a }} {{ series.b }} {{ series.c }}", box: [4 mm, 4 mm, 50 mm, 20 mm], size: 8 pt}
back: []
"""
    with io.StringIO() as out:
        csv.writer(out).writerows([["name", "year", "Serial"], ["定期券", "27", "N00117"], ["نور", "28", "N00125"]])
        path = write_job(tmp_path, job=job, layout=layout, records=out.getvalue())
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PROOF_KEY", "00" * 16)
        code, found = ended(["proof", str(path)], capsys)
        assert (code, found["findings"]) == (0, [])
        expected = expect(path, records=None, screen=SCREEN)
        firsts = expected.intake.ends[0]
    words = words_of(tmp_path / "proof.pdf")
    assert "Counted in steps of 3; with a part that comes from each record." in words
    assert "Shuffled: the order cannot be guessed; with a part that comes from each record; with an auth" in words
    assert "They stand in the records, field 'serial'." in words.replace("Serial", "serial")
    assert f"For {firsts['a']} the text 27" in words
    assert "For N00117 the text 0011 is checked: 0 + 0 + 1 + 2 = 3; 7 more make 10." in words
    assert "There is no check character: a wrong digit is not noticed." in words
    assert "There is no code on it." in words
    assert "Languages" not in words


def test_a_job_without_numbers(tmp_path: Path) -> None:
    job = "job: Cards\nlayout: layout.yaml\nrecords: {file: list.csv}\n"
    layout = (
        "trim: [60 mm, 40 mm]\nfront:\n  - {text: '{{ name }}', box: [4 mm, 4 mm, 50 mm, 9 mm], size: 8 pt}\nback: []\n"
    )
    path = write_job(tmp_path, job=job, layout=layout)
    result = prove_numbers(
        path, records=None, run=None, out=None, pieces=[], sample=0, seed=1, secrets=False, screen=SCREEN
    )
    assert result.ok
    words = words_of(tmp_path / "proof.pdf")
    assert "This job has no series" in words
    assert "Of a run that is still to be made." in words
    key = make_key(tmp_path / "k").with_suffix("")
    expected = expect(path, records=None, screen=SCREEN)
    assert sign_off(expected, "approved", key=key, name="A", desk=desk_of("x")).name == "approval.json"
