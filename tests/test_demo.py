"""The demo's own files: its artwork is what its script draws and pure CMYK, its records are what they claim to be.

The finished pieces are judged by the flow's tests.
"""

from __future__ import annotations

import csv
import itertools
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pytest
from PIL import Image
from ruamel.yaml import YAML

from vdp.compose.fit import fit
from vdp.errors import RowRefused
from vdp.job.faces import job_faces
from vdp.job.items import BarcodeItem, ImageItem, MicrotextItem, TextItem
from vdp.job.load import Job, load_job
from vdp.job.template import compile_text
from vdp.plan.build import Plan, build
from vdp.plan.fixed import ArtInfo
from vdp.plan.neighbours import check_symbols
from vdp.plan.numbering import numbering_of
from vdp.records.rules import RowRules
from vdp.records.table import Row, Table, open_table
from vdp.text import Faces, Setter
from vdp.units import mm

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "layouts" / "ferry_pass"
GOOD, BAD = (ROOT / "demo_records" / name for name in ("ferry_pass.csv", "ferry_pass_bad.csv"))
SIDES = ("front", "back")
LANGUAGES = ("en", "el", "ar", "pl", "de")
#: Every operator that sets a colour or paints with one of its own, or changes how paint is laid (ISO 32000-2, Annex A).
COLOURING = {"g", "G", "rg", "RG", "cs", "CS", "sc", "SC", "scn", "SCN", "k", "K", "gs", "sh", "Do", "BI"}
POSTERS = sorted(path.name for path in (FOLDER / "images").glob("*.jpg"))


@pytest.fixture(scope="module")
def job() -> Job:
    return load_job(FOLDER / "job.yaml")


def table_of(job: Job, path: Path) -> Table:
    return open_table(path, job.model.records, path.name)


def plan_of(job: Job, header: tuple[str, ...]) -> Plan:
    def art(path: Path, page: int) -> ArtInfo:
        with pikepdf.open(path) as pdf:
            media, trim = (
                tuple(map(float, box)) for box in (pdf.pages[page - 1].mediabox, pdf.pages[page - 1].trimbox)
            )
        return ArtInfo((media[2], media[3]), (trim[0], trim[1], trim[2] - trim[0], trim[3] - trim[1]))

    return build(job, header, Setter(Faces(job_faces(job)), job.model.resolution), art)


def picture_size(path: Path) -> tuple[int, int]:
    with Image.open(path) as image:
        return image.size


def tried(job: Job, path: Path) -> Iterator[tuple[Row, list[str], dict[str, int]]]:
    """Each row with the reasons against it and what its symbols need, in the order of the two passes."""
    table = table_of(job, path)
    plan, rules, index = plan_of(job, table.header), RowRules(job.model.records, table.header, path.name), 0
    for row in table.rows():
        reasons, warnings = rules.judge(row)
        assert not warnings
        needs: dict[str, int] = {}
        if not reasons:
            serials = {name: series.text(index) for name, series in numbering_of(plan.job, {}).items()}
            try:
                needs = dict(fit(plan, job.context(row.values, serials, row.row), picture_size).needs)
                index += 1
            except RowRefused as refused:
                reasons = list(refused.reasons)
        yield row, reasons, needs


# -- records ---------------------------------------------------------------------------------------------------------


def test_every_good_record_can_be_set(job: Job) -> None:
    needs: dict[str, int] = {}
    for row, reasons, need in tried(job, GOOD):
        assert reasons == [], row
        needs = {name: max(size, needs.get(name, 0)) for name, size in need.items()}
    assert set(needs) == {"gate", "check", "hidden"}
    check_symbols(plan_of(job, table_of(job, GOOD).header).sized(needs, {}))


def test_good_records_are_three_hundred_in_five_languages(job: Job) -> None:
    rows = [row.values for row in table_of(job, GOOD).rows()]
    assert len(rows) == 300
    languages = Counter(row["language"] for row in rows)
    assert set(languages) == set(LANGUAGES)
    assert min(languages.values()) >= 20
    scripts = {"el": "[\u0370-\u03ff]", "ar": "[\u0600-\u06ff]", "pl": "[a-z]", "de": "[a-z]", "en": "[a-z]"}
    assert all(re.search(scripts[row["language"]], row["name"]) for row in rows)
    assert {row["picture"] for row in rows} == set(POSTERS)
    assert {row["route"] for row in rows} == {"north", "south", "all"}
    assert 2 <= sum(bool(row["seed"]) for row in rows) <= 10, "a few decoys"
    assert sum(len(row["name"]) > 32 for row in rows) >= 2, "a few long names"
    for maybe in ("vehicle", "credit"):
        assert 30 < sum(bool(row[maybe]) for row in rows) < 150


def test_bad_records_are_refused_or_not_as_their_note_says(job: Job) -> None:
    outcomes = [(row, reasons) for row, reasons, _ in tried(job, BAD)]
    for row, reasons in outcomes:
        assert bool(reasons) == row.values["note"].startswith("bad: "), (row, reasons)
        assert row.values["note"].startswith(("bad: ", "good: "))
    assert sum(bool(reasons) for _, reasons in outcomes) >= 20
    assert sum(not reasons for _, reasons in outcomes) >= 8


@pytest.mark.parametrize(
    ("note", "reason"),
    [
        ("no name", r"'name' is required"),
        ("30th of February", r"'valid_to' is '2027-02-30'"),
        ("same recipient", r"same recipient"),
        ("a bell", r"U\+0007"),
        ("no words for", r"'language' is 'fr'"),
        ("no such picture", r"sunset\.jpg' is not there"),
        ("U+1F6A2", r"no face has U\+1F6A2"),
        ("cuneiform", r"no face has U\+12000"),
        ("too long for its line", r"name: .*mm wide at 8 pt"),
        ("Greek letters", r"gate: .*U\+0399"),
        ("outside the folder", r"leads out of the job's folder"),
        ("absolute path", r"picture: .*etc/hostname"),
        ("member number of row 2", r"must be unique"),
        ("U+FFFD", r"U\+FFFD"),
    ],
)
def test_each_fault_is_named(job: Job, note: str, reason: str) -> None:
    found = [reasons for row, reasons, _ in tried(job, BAD) if note in row.values["note"]]
    assert len(found) == 1
    assert any(re.search(reason, text) for text in found[0]), found


def test_template_like_text_in_a_record_is_printed_as_it_stands(job: Job) -> None:
    row = next(row for row in table_of(job, BAD).rows() if "{{" in row.values["name"])
    item = next(item for item in job.layout.front if item.name == "name")
    assert isinstance(item, TextItem)
    template = compile_text(job.wording(item.text, "en", "name"), "here")
    assert template.render(job.context(row.values, {"pass": "TL27-SECRET"}, row.row)) == "{{ series.pass }} Braceworth"


def test_records_are_plain_csv_that_python_reads_the_same(job: Job) -> None:
    for path in (GOOD, BAD):
        with path.open(encoding="utf-8", newline="") as stream:
            assert list(csv.reader(stream))[1:] == [list(row.raw) for row in table_of(job, path).rows()]


# -- job and layout --------------------------------------------------------------------------------------------------


def test_every_wording_has_every_language(job: Job) -> None:
    for side in SIDES:
        for item in getattr(job.layout, side):
            wording = getattr(item, "text", None)
            if isinstance(wording, dict):
                assert "other" in wording or set(wording) == set(LANGUAGES), item.name


def test_nothing_crosses_a_fold(job: Job) -> None:
    # Panels of 99 mm; 3 mm on both sides of a fold stay free of everything a record changes.
    for item in itertools.chain(job.layout.front, job.layout.back):
        box = getattr(item, "box", None)
        if box is None:
            continue
        top, bottom = mm(box[1]), mm(box[1] + box[3])
        assert int(top // 99) == int(bottom // 99), item.name
        assert top % 99 >= 3, item.name
        assert bottom % 99 <= 96, item.name


def test_modules_are_whole_dots(job: Job) -> None:
    codes = [item for item in job.layout.front if isinstance(item, BarcodeItem)]
    assert [(code.barcode, code.plate) for code in codes] == [("code128", None), ("qr", None), ("datamatrix", "Clear")]
    for code in codes:
        assert code.x is not None
        dots = code.x * job.model.resolution / 72
        assert abs(dots - round(dots)) < 0.001, code.name
        assert code.plate is None or mm(code.x) >= 0.5
    assert not any(isinstance(item, BarcodeItem) for item in job.layout.back)


def test_the_border_is_four_lines_of_microtext_two_of_them_turned(job: Job) -> None:
    lines = [item for item in job.layout.front if isinstance(item, MicrotextItem)]
    assert sorted(line.turn for line in lines) == [0, 0, 90, 270]
    assert all("series.pass" in line.microtext for line in lines)
    assert [line.turn for line in lines if "name" in line.microtext] == [0, 0], "names need the larger lines"
    assert plan_of(job, table_of(job, GOOD).header).warnings == (), "microtext at a safe size"


# -- artwork ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def redrawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("redrawn")
    subprocess.run([sys.executable, str(FOLDER / "draw_artwork.py"), str(folder)], check=True)
    return folder


@pytest.mark.parametrize("side", SIDES)
def test_the_script_draws_the_committed_pages(redrawn: Path, side: str) -> None:
    # Compressed bytes may differ between builds of zlib; what is drawn and how it looks may not.
    pages = [folder / "art" / f"{side}.pdf" for folder in (redrawn, FOLDER)]
    contents = []
    for path in pages:
        with pikepdf.open(path) as pdf:
            contents.append(pdf.pages[0].Contents.read_bytes())
    assert contents[0] == contents[1]
    views = []
    for path in pages:
        document = pdfium.PdfDocument(path)
        views.append(document[0].render(scale=1.5).to_numpy())
        document.close()
    assert np.array_equal(*views)
    assert views[0].std() > 20, "there is something on the page"


def test_the_script_draws_the_committed_posters(redrawn: Path) -> None:
    assert sorted(path.name for path in (redrawn / "images").iterdir()) == POSTERS
    assert len(POSTERS) == 6
    for name in POSTERS:
        pictures = [np.asarray(Image.open(folder / "images" / name), dtype=int) for folder in (redrawn, FOLDER)]
        # JPEG decoders of different builds may round differently.
        assert np.abs(pictures[0] - pictures[1]).mean() < 0.5


def test_posters_are_cmyk_fine_enough_and_not_too_wet(job: Job) -> None:
    item = next(item for item in job.layout.front if isinstance(item, ImageItem))
    for name in POSTERS:
        with Image.open(FOLDER / "images" / name) as image:
            assert image.mode == "CMYK"
            assert "icc_profile" not in image.info
            assert image.width / (item.box[2] / 72) > 295, "pixels an inch"
            assert abs(image.width / image.height - item.box[2] / item.box[3]) < 0.01, "as good as uncut"
            cover = np.asarray(image, dtype=float).sum(axis=2) / 2.55
        # 300 % is a common limit for coated stock; no source.
        assert np.percentile(cover, 99.9) < 300


@pytest.mark.parametrize("side", SIDES)
def test_pages_are_pure_cmyk_with_bleed_and_embedded_faces(side: str) -> None:
    with pikepdf.open(FOLDER / "art" / f"{side}.pdf") as pdf:
        page = pdf.pages[0]
        assert len(pdf.pages) == 1
        assert set(page.Resources.keys()) <= {"/Font", "/ProcSet"}, "no states, patterns, pictures or colour spaces"
        sizes = [[float(x) / 72 * 25.4 for x in box] for box in (page.mediabox, page.trimbox, page.BleedBox)]
        assert sizes == [
            pytest.approx([0, 0, 158, 303], abs=0.01),
            pytest.approx([3, 3, 155, 300], abs=0.01),
            pytest.approx([0, 0, 158, 303], abs=0.01),
        ]
        colours = set()
        for step in pikepdf.parse_content_stream(page):
            operator = str(step.operator)
            if operator in {"k", "K"}:
                assert sum(map(float, step.operands)) <= 3
            if operator in COLOURING:
                colours.add(operator)
        assert colours == {"k", "K"}
        assert all("/FontFile2" in font.FontDescriptor for font in page.Resources.Font.values())


def test_no_line_is_finer_than_two_dots() -> None:
    for side in SIDES:
        with pikepdf.open(FOLDER / "art" / f"{side}.pdf") as pdf:
            steps = [step for step in pikepdf.parse_content_stream(pdf.pages[0]) if str(step.operator) == "w"]
            weights = [float(step.operands[0]) for step in steps]
        assert min(weights) >= 2 * 72 / 1200


def test_codes_on_black_stand_on_bare_paper(need: Callable[[str], str], tmp_path: Path, job: Job) -> None:
    # Ghostscript's separations of the artwork: no plate has ink where a code and its quiet zone will be.
    density = 150
    subprocess.run(
        [
            *(need("gs"), "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=tiffsep", f"-r{density}"),
            f"-sOutputFile={tmp_path / 'front.tif'}",
            str(FOLDER / "art" / "front.pdf"),
        ],
        check=True,
        capture_output=True,
    )
    plates = {
        plate: np.asarray(Image.open(tmp_path / f"front({plate}).tif").convert("L"))
        for plate in ("Cyan", "Magenta", "Yellow", "Black")
    }
    for item in job.layout.front:
        if isinstance(item, BarcodeItem) and item.plate is None and item.room is not None:
            corners = (
                item.at[0],
                item.at[1],
                item.at[0] + item.room[0],
                item.at[1] + min(item.room[1], item.height or 1e9),
            )
            x0, y0, x1, y1 = (round((part + job.layout.bleed) * density / 72) for part in corners)
            for plate, pixels in plates.items():
                assert pixels[y0:y1, x0:x1].min() == 255, (item.name, plate)
    assert all(pixels.min() < 255 for pixels in plates.values())


def test_the_files_stay_small() -> None:
    files = [path for folder in ("art", "images") for path in (FOLDER / folder).iterdir()]
    assert sum(path.stat().st_size for path in files) < 2_000_000


def test_the_profile_is_a_cmyk_press_profile_in_the_public_domain() -> None:
    # ICC.1:2010, 7.2: bytes 12-15 device class, 16-19 colour space, 36-39 signature.
    data = (FOLDER / "art" / "press.icm").read_bytes()
    assert (data[12:16], data[16:20], data[36:40]) == (b"prtr", b"CMYK", b"acsp")
    assert b"Released into the public domain" in data


def test_layout_and_job_are_read_by_a_plain_yaml_reader_too() -> None:
    for name in ("job.yaml", "layout.yaml"):
        assert isinstance(YAML(typ="safe").load((FOLDER / name).read_text(encoding="utf-8")), dict)


def test_lengths_of_the_card_agree_between_script_and_layout(job: Job) -> None:
    script = (FOLDER / "draw_artwork.py").read_text(encoding="utf-8")
    found = re.search(r"^CARD = \(([\d., ]+)\)", script, re.MULTILINE)
    assert found is not None
    x, y, width, height, _ = (float(Fraction(part.strip())) for part in found[1].split(","))
    lines = [item for item in job.layout.front if isinstance(item, MicrotextItem)]
    for line in lines:
        left, top, across, down = (mm(part) for part in line.box)
        outside = left + across <= x or left >= x + width or top + down <= y or top >= y + height
        assert outside, line.name
        assert max(x - left - across, left - x - width, y - top - down, top - y - height) < 2
