"""Every symbology with modules, from the layout to the finished file and back, on Black and on Clear."""

from __future__ import annotations

import io
import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image

from tests.barcode.test_carriers import TEXTS
from tests.small import JOB, write_job
from vdp.barcode import carriers, imb
from vdp.barcode.carriers import FOUR_STATE, NAMES
from vdp.barcode.sizes import STATES
from vdp.errors import CallerError
from vdp.job.items import LINEAR
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.check import check_job
from vdp.run.screen import Screen
from vdp.verify.fourstate import read_four_state
from vdp.verify.samples import Bytes

SCREEN = Screen(io.StringIO())
DPI = 600


def layout(name: str, more: str = "", plate: str = "") -> str:
    """One symbol on the front; a serial on the back, as every job has one."""
    height = ", height: 24 mm" if name in LINEAR else ""
    ink = f", plate: {plate}" if plate else ""
    x = "" if name in FOUR_STATE else ", x: 0.508 mm"
    keys = f"{x}{height}{ink}{more}"
    return (
        "trim: [200 mm, 60 mm]\nbleed: 0 mm\nfront:\n"
        f"  - {{name: code, barcode: {name}, data: '{{{{ name }}}}', at: [5 mm, 5 mm]{keys}}}\n"
        "back:\n  - {number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}\n"
    )


def lines(folder: Path) -> list[dict[str, list[dict[str, str]]]]:
    return [json.loads(line) for line in (folder / "pieces.jsonl").read_text().splitlines()]


def together(items: list[str], fields: dict[str, tuple[str, str]]) -> tuple[str, str]:
    """A layout of many symbols under each other, and its two records: a field a symbol."""
    front = "".join(f"  - {{{item}, at: [5 mm, {5 + 60 * nth} mm]}}\n" for nth, item in enumerate(items))
    head = ",".join(("name", "lang", *fields))
    rows = "".join(f"row{nth},en," + ",".join(f'"{texts[nth]}"' for texts in fields.values()) + "\n" for nth in (0, 1))
    size = f"trim: [260 mm, {60 * len(items) + 10} mm]\nbleed: 0 mm\n"
    back = "back:\n  - {number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}\n"
    return f"{size}front:\n{front}{back}", f"{head}\n{rows}"


@pytest.fixture(scope="module", params=["", "Clear"])
def everything(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of every symbology, on one plate."""
    items = []
    for name in sorted(NAMES):
        kind = name.replace("_", "-")
        height = ", height: 24 mm" if kind in LINEAR else ""
        ink = f", plate: {request.param}" if request.param else ""
        x = "" if name in FOUR_STATE else ", x: 0.508 mm"
        items.append(f"name: {kind}, barcode: {kind}, data: '{{{{ {name} }}}}'{x}{height}{ink}")
    fields = {name: (TEXTS[name][0], TEXTS[name][1]) for name in sorted(NAMES)}
    text, records = together(items, fields)
    folder = tmp_path_factory.mktemp("everything")
    job = write_job(folder, layout=text, records=records, job=JOB + "grade: {sample: 0}\n")
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert result.symbols_decoded == 2 * len(NAMES)
    return folder


@pytest.mark.parametrize("symbology", sorted(NAMES))
def test_what_the_layout_asks_for_is_read_back(symbology: str, everything: Path) -> None:
    name = symbology.replace("_", "-")
    told = [one for line in lines(everything / "out") for one in line["symbols"] if one["name"] == name]
    assert [one["symbology"] for one in told] == [name, name]
    assert [one["data"] for one in told] == [carriers.read_back(symbology, text) for text in TEXTS[symbology]]


def test_the_finished_file_is_read_again_against_its_rows(everything: Path) -> None:
    again = verify_again(everything / "out", job=everything / "job.yaml", records=None, workers=1, screen=SCREEN)
    assert again.ok, again.findings
    assert again.symbols_decoded == 2 * len(NAMES)


#: Name → keys of the layout, the texts of two rows, what a reader reports of the first, and its identifier.
KEYS = {
    "kanji": ("barcode: qr, densest: true", ("点茗12345678", "茗点"), "点茗12345678", "]Q1"),
    "eci": ("barcode: qr, level: H", ("Ζωή €", "Ω"), "Ζωή €", "]Q1"),
    "large": ("barcode: qr, version: 40, level: L", ("FP-1", "FP-2"), "FP-1", "]Q1"),
    "m1": ("barcode: micro-qr, version: 1", ("12345", "54321"), "12345", "]Q1"),
    "m2": ("barcode: micro-qr, version: 2, level: L", ("AB-12", "AB-13"), "AB-12", "]Q1"),
    "m3": ("barcode: micro-qr, version: 3", ("AB-12", "AB-13"), "AB-12", "]Q1"),
    "m4": ("barcode: micro-qr, version: 4, level: Q", ("FP-123", "FP-124"), "FP-123", "]Q1"),
    "link": (
        "barcode: qr, link: https://id.example.org/gs1/",
        ("(21)A/7(01)09506000134352(17)271231", "(01)09506000134352"),
        "https://id.example.org/gs1/01/09506000134352/21/A%2F7?17=271231",
        "]Q1",
    ),
    "linked": (
        "barcode: datamatrix, link: https://id.gs1.org",
        ("(01)09506000134352(10)ABC", "(01)09506000134352(10)ABD"),
        "https://id.gs1.org/01/09506000134352/10/ABC",
        "]d1",
    ),
}


def test_versions_levels_kanji_eci_and_links_through_a_layout(tmp_path: Path) -> None:
    items = [f"name: {name}, {keys}, data: '{{{{ {name} }}}}', x: 0.254 mm" for name, (keys, *_) in KEYS.items()]
    text, records = together(items, {name: texts for name, (_, texts, *_) in KEYS.items()})
    job = write_job(tmp_path, layout=text, records=records)
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert result.symbols_decoded == 2 * len(KEYS)
    told = {one["name"]: one for one in lines(tmp_path / "out")[0]["symbols"]}
    assert {name: (one["data"], one["identifier"]) for name, one in told.items()} == {
        name: (data, identifier) for name, (_, _, data, identifier) in KEYS.items()
    }
    # The box with quiet zone at X of 12 dots: version 40 has 177 modules and 8 of quiet zone, M1 to M4 11 to 17 and 4.
    sides = {name: round((one["box"][2] - one["box"][0]) * 1200 / 72 / 12) for name, one in told.items()}  # type: ignore[operator]  # numbers in JSON
    assert [sides[name] for name in ("large", "m1", "m2", "m3", "m4")] == [185, 15, 17, 19, 21]


@pytest.mark.parametrize(
    ("name", "more", "said"),
    [
        ("micro-qr", ", version: 7", "a Micro QR Code has version 1 to 4, not 7"),
        ("micro-qr", ", version: 2, level: Q", "no Micro QR Code M2 has level Q"),
        ("micro-qr", ", level: H", "no Micro QR Code has level H"),
        ("qr", ", link: ftp://example.org", "'ftp://example.org' is no address for a Digital Link"),
        ("qr", ", link: https://example.org/01/x", "is no address for a Digital Link"),
        ("ean13", ", link: https://example.org", "'link' is for qr and datamatrix, not for ean13"),
    ],
)
def test_versions_and_addresses_that_do_not_exist_are_refused(name: str, more: str, said: str, tmp_path: Path) -> None:
    job = write_job(tmp_path, layout=layout(name, more), records="name,lang\n12345,en\n")
    with pytest.raises(CallerError) as caught:
        run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert any(said in fault.message for fault in caught.value.faults), caught.value.faults


@pytest.mark.parametrize(
    ("name", "more", "said"),
    [
        ("qr", ", ratio: 2", "'ratio' is for code39 and itf, not for qr"),
        ("ean13", ", rectangle: true", "'rectangle' is for datamatrix and gs1-datamatrix, not for ean13"),
        ("pdf417", ", level: H", "'level' is for qr, gs1-qr and micro-qr, not for pdf417"),
        ("ean13", ", use: retail", "the range of ean13 in retail"),
        ("imb", ", x: 0.508 mm", "the post fixes the size of imb: take 'x' away"),
        ("kix", ", height: 9 mm", "the post fixes the size of kix: take 'height' away"),
        ("ean13", ", use: retial", "no range is known for ean13 in 'retial'"),
    ],
)
def test_what_a_symbology_does_not_know_is_refused(name: str, more: str, said: str, tmp_path: Path) -> None:
    text = layout(name, more).replace("x: 0.508 mm", "x: 0.9 mm") if "retail" in more else layout(name, more)
    job = write_job(tmp_path, layout=text, records='name,lang\n"400638133393",en\n')
    with pytest.raises(CallerError) as caught:
        run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert any(said in fault.message for fault in caught.value.faults), caught.value.faults


def test_keys_of_a_symbology_change_it(tmp_path: Path) -> None:
    sizes = {}
    for more in ("", ", rectangle: true"):
        job = write_job(tmp_path, layout=layout("datamatrix", more), records="name,lang\nFP-000123,en\n")
        assert run_job(job, records=None, out=None, workers=1, screen=SCREEN).ok
        x0, y0, x1, y1 = map(float, lines(tmp_path / "out")[0]["symbols"][0]["box"])
        sizes[more] = round((x1 - x0) / (y1 - y0), 2)
    assert sizes[""] == 1
    assert sizes[", rectangle: true"] > 1.5


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("ean13", "4006381333932"),
        ("gs1-128", "(01)09506000134353"),
        ("s10", "RA123456780ZZ"),
        ("itf", "123"),
        ("upce", "9"),
    ],
)
def test_data_that_the_standard_does_not_allow_sets_the_row_aside(name: str, text: str, tmp_path: Path) -> None:
    job = write_job(
        tmp_path, layout=layout(name), records=f'name,lang\n"{text}",en\n', job=JOB + "set_aside: continue\n"
    )
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert (result.pieces, result.set_aside) == (0, 1)
    assert result.refused[0][1].startswith("code: ")


@pytest.mark.parametrize(("lot", "refused"), [("A" * 3, 0), ("A" * 14, 1)])
def test_a_gs1_128_longer_than_165_mm_is_set_aside(lot: str, refused: int, tmp_path: Path) -> None:
    """GS1 General Specifications §5.4.4.3: 165.10 mm with its quiet zones; 24 dots of 1200 dpi a module here."""
    text = layout("gs1-128", ", use: logistics").replace("24 mm", "32 mm")
    rows = f"name,lang\n(01)09506000134352,en\n(01)09506000134352(10){lot},en\n"
    job = write_job(tmp_path, layout=text, records=rows, job=JOB + "set_aside: continue\n")
    result = check_job(job, records=None, screen=SCREEN)
    assert (result.pieces, result.set_aside) == (2 - refused, refused)
    for _, said in result.refused:
        assert said.endswith("mm long with its quiet zones; 165.10 mm is the most in its stated use")


def test_low_bars_are_told(tmp_path: Path) -> None:
    text = layout("ean13", ", use: retail").replace("x: 0.508 mm", "x: 0.330 mm").replace("24 mm", "12 mm")
    job = write_job(tmp_path, layout=text, records='name,lang\n"400638133393",en\n')
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert {warning.code for warning in result.warnings} == {"bars-low", "module-rounded"}


@pytest.mark.parametrize(
    ("name", "text", "height", "low"),
    [  # ISO/IEC 16388 §4.4 e) and ISO/IEC 16390 §4.4: 5 mm, or 15 % of the width: 63, 127 and 99 X
        ("code39", "1A", "5 mm", []),
        ("code39", "1A", "4.9 mm", ["bars of 4.89 mm; 5.00 mm"]),
        ("code39", "1A2B3C", "9.7 mm", []),
        ("code39", "1A2B3C", "9.6 mm", ["bars of 9.61 mm; 9.68 mm"]),
        ("itf", "1234567890", "7.4 mm", ["bars of 7.41 mm; 7.54 mm"]),
        ("itf", "1234567890", "7.6 mm", []),
        # ISO/IEC 15417 asks for no height.
        ("code128", "FP-000123", "4 mm", []),
    ],
)
@pytest.mark.parametrize("act", ["check", "run"])
def test_bars_lower_than_their_standard_asks_are_told(
    act: str, name: str, text: str, height: str, low: list[str], tmp_path: Path
) -> None:
    job = write_job(tmp_path, layout=layout(name).replace("24 mm", height), records=f"name,lang\n{text},en\n")
    result = (
        check_job(job, records=None, screen=SCREEN)
        if act == "check"
        else run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    )
    assert result.ok, result.findings
    told = [warning for warning in result.warnings if warning.code == "bars-low"]
    assert [warning.message.split(" is the least")[0] for warning in told] == [f"code: {said}" for said in low]
    assert all(f"{job.parent.name}" in warning.where or "layout.yaml:4:" in warning.where for warning in told)


@pytest.mark.parametrize(
    ("name", "text", "data"),
    [
        ("s10", "RA 1234 5678 5 ZZ", "RA123456785ZZ"),
        ("gs1-datamatrix", "(10)A\\(1)B(21)7", "10A(1)B\x1d217"),
        ("upce", "01234565", "0012345000065"),
    ],
)
def test_data_are_told_as_a_reader_tells_them(name: str, text: str, data: str, tmp_path: Path) -> None:
    job = write_job(tmp_path, layout=layout(name), records=f"name,lang\n{text},en\n")
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert lines(tmp_path / "out")[0]["symbols"][0]["data"] == data


def test_four_state_codes_are_read_at_every_turn(tmp_path: Path) -> None:
    kinds = [(kind, turn) for kind in sorted(FOUR_STATE) for turn in (90, 180, 270)]
    items = [f"name: {kind}-{turn}, barcode: {kind}, data: '{{{{ {kind} }}}}', turn: {turn}" for kind, turn in kinds]
    text, records = together(items, {kind: (TEXTS[kind][0], TEXTS[kind][1]) for kind in sorted(FOUR_STATE)})
    for nth in range(len(items)):
        across, down = 5 + 100 * (nth % 3), 5 + 160 * (nth // 3)
        text = text.replace(f"at: [5 mm, {5 + 60 * nth} mm]", f"at: [{across} mm, {down} mm]")
    job = write_job(tmp_path, layout=text.replace("260 mm, 550 mm]", "320 mm, 600 mm]"), records=records)
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert result.symbols_decoded == 2 * len(kinds)


def test_codes_of_shining_ink_are_read_light_on_dark(tmp_path: Path) -> None:
    kinds = ("datamatrix", "qr", "aztec", "micro-qr", "code128", "pdf417")
    shining = "x: 0.508 mm, plate: Clear, reads_as: light"
    items = [f"name: {kind}, barcode: {kind}, data: '{{{{ name }}}}', {shining}" for kind in kinds]
    items = [f"{item}, height: 20 mm" if "code128" in item else item for item in items]
    text, records = together(items, {})
    job = write_job(tmp_path, layout=text, records=records.replace(",\n", "\n").replace("en,", "en"))
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert result.symbols_decoded == 2 * len(kinds)
    warned = [warning.message.split(":")[0] for warning in result.warnings if warning.code == "linear-light"]
    assert warned == ["code128", "pdf417"]


LIGHT_BARS = ("code128", "code39", "itf", "ean13")


def test_bars_of_shining_ink_are_light_on_dark_to_another_reader(need: Callable[[str], str], tmp_path: Path) -> None:
    """zbar, shown what a camera sees under the lamp, reads them when told to turn pictures round, and only then."""
    shining = "x: 0.508 mm, height: 20 mm, plate: Clear, reads_as: light"
    texts = {kind: TEXTS[kind][0] for kind in LIGHT_BARS}
    items = [f"name: {kind}, barcode: {kind}, data: '{text}', {shining}" for kind, text in texts.items()]
    text, records = together(items, {})
    job = write_job(tmp_path, layout=text, records=records.replace(",\n", "\n").replace("en,", "en"))
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert [w.message.split(":")[0] for w in result.warnings if w.code == "linear-light"] == list(LIGHT_BARS)
    told = lines(tmp_path / "out")[0]["symbols"]
    with pdfium.PdfDocument(tmp_path / "out" / "pieces.pdf") as pdf:
        page = np.squeeze(pdf[0].render(scale=DPI / 72, grayscale=True).to_numpy())
    for symbol in told:
        left, bottom, right, top = (round(edge * DPI / 72) for edge in map(float, symbol["box"]))
        # Clear is drawn in magenta on a screen: what is inked is what is not white.
        inked = page[len(page) - top : len(page) - bottom, left:right] < 255
        lamp = np.pad(np.where(inked, np.uint8(255), np.uint8(0)), 40)
        Image.fromarray(lamp).save(tmp_path / "lamp.png")
        read = [
            subprocess.run(
                [need("zbarimg"), "--quiet", "--raw", *more, tmp_path / "lamp.png"], capture_output=True, check=False
            ).stdout.decode()
            for more in ([], ["-Stest-inverted"])
        ]
        assert read == ["", symbol["data"] + "\n"]


@pytest.mark.parametrize(("key", "false"), [("identifier", "]C1"), ("symbology", "gs1-128"), ("data", "FP-000124")])
def test_a_manifest_that_tells_another_symbol_is_found_out(key: str, false: str, tmp_path: Path) -> None:
    job = write_job(tmp_path, layout=layout("code128"), records="name,lang\nFP-000123,en\n")
    assert run_job(job, records=None, out=None, workers=1, screen=SCREEN).ok
    told = lines(tmp_path / "out")
    told[0]["symbols"][0][key] = false
    (tmp_path / "out" / "pieces.jsonl").write_text("".join(json.dumps(line) + "\n" for line in told))
    again = verify_again(tmp_path / "out", job=job, records=None, workers=1, screen=SCREEN)
    assert "payload-wrong" in {finding.code for finding in again.findings}


def test_x_is_moved_into_the_range_of_its_use(tmp_path: Path) -> None:
    """0.264 mm is 12.47 dots: 12 would be 0.254 mm, under the least of retail."""
    text = layout("ean13", ", use: retail").replace("x: 0.508 mm", "x: 0.264 mm")
    job = write_job(tmp_path, layout=text, records='name,lang\n"400638133393",en\n')
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert ["13 dots" in warning.message for warning in result.warnings] == [True]


@pytest.mark.parametrize("place", range(65))
def test_an_intelligent_mail_barcode_with_one_false_bar_says_nothing(place: int) -> None:
    bars = str(imb.encode(TEXTS["imb"][1]).bars)
    for false in set("FADT") - {bars[place]}:
        pixels = drawn(bars[:place] + false + bars[place + 1 :])
        assert read_four_state(pixels, "imb", TEXTS["imb"][1]) is None
    assert read_four_state(drawn(bars), "imb", "") == (TEXTS["imb"][1], True)


def drawn(bars: str) -> Bytes:
    """Bars of 600 dpi, black on white."""
    size = STATES["imb"].dots(600)
    pixels = np.full((size.full + 40, size.width(len(bars)) + 160), 255, np.uint8)
    for nth, bar in enumerate(bars):
        top = 20 if bar in "FA" else 20 + size.reach
        bottom = 20 + size.full - (0 if bar in "FD" else size.reach)
        pixels[top:bottom, 80 + nth * size.pitch : 80 + nth * size.pitch + size.bar] = 0
    return pixels
