"""Bar-width reduction and X-dimensions: from the layout to the dots of the finished file, and what verifiers say."""

from __future__ import annotations

import hashlib
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.small import JOB, write_job
from vdp.barcode import carriers, sizes
from vdp.barcode.sizes import StateSize
from vdp.errors import CallerError
from vdp.job.items import BarcodeItem
from vdp.job.load import load_job
from vdp.marks import Bars, Matrix, StateDots
from vdp.pdf.bars import bar_rectangles
from vdp.pdf.modules import Drawn, matrix_rectangles
from vdp.records.table import open_table
from vdp.run import run_job
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.units import dots
from vdp.verify import xdim
from vdp.verify.judge import verify_folder
from vdp.verify.manifest import SymbolLine
from vdp.verify.measure import Seen, reduction_off, state_seen
from vdp.verify.raster import Raster
from vdp.verify.xdim import QUIET, RANGES, inked, module_of

LAYOUT = """\
trim: [120 mm, 60 mm]
bleed: 0 mm
front:
  - {{name: bars, barcode: code128, data: "{{{{ name }}}}", at: [5 mm, 5 mm], x: 0.254 mm,
     height: 9 mm, turn: {turn}{bars}}}
  - {{name: square, barcode: qr, data: "{{{{ name }}}}", at: [70 mm, 5 mm], x: 0.254 mm, turn: {turn}{square}}}
back:
  - {{number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}}
"""


def made(folder: Path, bars: str = "", square: str = "", turn: int = 0) -> Result:
    layout = LAYOUT.format(bars=bars, square=square, turn=turn).replace("60 mm]\nbleed", "120 mm]\nbleed")
    job = write_job(folder, layout=layout, records="name,lang\nFP-000123,en\n", job=JOB)
    return run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))


def report(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "out" / "report.json").read_text())
    return found


def plate(folder: Path, name: str) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Dots of a symbol's box."""
    line = json.loads((folder / "out" / "pieces.jsonl").read_text().splitlines()[0])
    box = next(symbol["box"] for symbol in line["symbols"] if symbol["name"] == name)
    with Raster((folder / "out" / "pieces.pdf").read_bytes()) as raster:
        return raster.region(0, box, 1200)[:-1, :-1] < 128


@pytest.mark.parametrize("turn", [0, 90])
def test_bars_lose_their_dots_across_and_matrices_both_ways(turn: int, tmp_path: Path) -> None:
    assert made(tmp_path / "whole", turn=turn).ok
    result = made(tmp_path / "less", ", reduce: 3", ", reduce: [4, 2]", turn)
    assert result.ok, result.findings
    # What is reduced is the whole symbol, eroded dot by dot: 3 and 4 dots across, 2 down, before it is turned.
    for name, across, down in (("bars", 3, 0), ("square", 4, 2)):
        whole = np.rot90(plate(tmp_path / "whole", name), -turn // 90)
        less = np.rot90(plate(tmp_path / "less", name), -turn // 90)
        eroded = whole.copy()
        for right in range(-(across // 2), across - across // 2 + 1):
            for up in range(-(down - down // 2), down // 2 + 1):
                eroded &= np.roll(whole, (up, -right), (0, 1))
        assert np.array_equal(less, eroded), name
    told = report(tmp_path / "less")["symbols"]
    assert told["bars"] == {
        "symbology": "code128",
        "x_asked_mm": 0.254,
        "x_dots": 12,
        "x_mm": 0.254,
        "reduce_dots": [3, 0],
    }
    assert told["square"]["reduce_dots"] == [4, 2]


def test_reduction_meets_growth(tmp_path: Path) -> None:
    """A press that grows each edge by a dot is met by two dots less: the grade rises."""
    graded = []
    for name, more in (("a", ""), ("b", ", reduce: 4")):
        folder = tmp_path / name
        layout = LAYOUT.format(bars=more, square="", turn=0)
        job = write_job(folder, layout=layout, records="name,lang\nFP-000123,en\n", job=JOB + "grade: {growth: 2}\n")
        assert run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO())).ok
        graded.append(report(folder)["grades"]["symbols"]["bars"]["grade"])
    assert graded[0] < graded[1] == 4.0


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (", reduce: 7", "'reduce' takes 7 of the 12 dots of a module"),
        (", reduce: [2, 2]", "reduced across alone: write reduce: 2"),
    ],
)
def test_too_much_is_refused(keys: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(CallerError) as caught:
        made(tmp_path, keys)
    assert any(said in fault.message for fault in caught.value.faults), caught.value.faults


def test_half_a_module_may_go_and_what_is_left_of_growth_decides_the_warning(tmp_path: Path) -> None:
    codes = {}
    for name, more in (("a", ""), ("b", ", reduce: 2"), ("c", ", reduce: 3")):
        layout = (
            LAYOUT.format(bars=more, square="", turn=0)
            .replace("code128", "code39")
            .replace("0.254 mm,\n", "0.148 mm,\n")
        )
        job = write_job(tmp_path / name, layout=layout, records="name,lang\nFP,en\n", job=JOB)
        result = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
        codes[name] = {warning.code for warning in result.warnings} - {"module-rounded"}
    # Seven dots: nine are asked for growth 1 (and for what shrinks by half a dot), five without.
    assert codes == {"a": {"symbol-small"}, "b": set(), "c": {"symbol-small"}}


def test_strips_and_bars_by_hand() -> None:
    assert bar_rectangles([Bars(bytes((2, 1, 1)))], 10, 3) == ["1 0 17 1 re\n31 0 7 1 re\n"]
    # Two rows of ten dots: the upper has both modules, the lower the right one.
    square = Drawn(Matrix(2, (0b11, 0b10)), 10, (2, 3))
    assert [line.split() for line in matrix_rectangles([square])[0].splitlines()] == [
        ["11", "10", "8", "1", "re"],
        ["1", "11", "18", "7", "re"],
        ["11", "1", "8", "7", "re"],
        ["11", "8", "8", "2", "re"],
    ]


@pytest.mark.parametrize("name", [name.replace("_", "-") for name in carriers.NAMES if name not in carriers.FOUR_STATE])
def test_the_verifiers_quiet_zones_are_the_composers(name: str) -> None:
    from vdp.barcode.symbology import SYMBOLOGIES

    left, bottom, right, top = SYMBOLOGIES[name].quiet
    assert QUIET[name] == (left + right, bottom + top)


def test_the_verifiers_ranges_are_the_composers() -> None:
    from vdp.barcode.sizes import SIZES

    ours = {
        (symbology.replace("_", "-"), use): (size.x_mm[0], size.x_mm[2]) for (symbology, use), size in SIZES.items()
    }
    assert ours == RANGES


@pytest.mark.parametrize(("x_mm", "use", "module"), [(0.33, "retail", 16), (0.264, "retail", 13), (0.264, None, 12)])
def test_x_is_worked_out_again(x_mm: float, use: str | None, module: int) -> None:
    written = {"barcode": "ean13", "data": "1", "at": ("0 mm", "0 mm"), "x": f"{x_mm} mm", "height": "23 mm"}
    item = BarcodeItem.model_validate({**written, "use": use})
    assert module_of(item, 1200) == module
    assert dots(float(item.x or 0), 1200) in (module, module - 1)


def test_what_has_no_module_spans_nothing_known() -> None:
    line = SymbolLine("a", "imb", "", "Black", 1, (0.0, 0.0, 10.0, 10.0), "")
    assert inked(line, 1200, turned=False) is None
    square = line._replace(symbology="datamatrix", module=10, reduction=(2, 4), box=(0.0, 0.0, 12.0, 14.4))
    assert inked(square, 1200, turned=False) == pytest.approx((178, 216))
    assert inked(square, 1200, turned=True) == pytest.approx((176, 218))


#: Reductions that a file is drawn with, and that its report tells of instead: bars, square.
FALSE = [
    ("", "", "bars", [1, 0]),
    (", reduce: 2", "", "bars", [0, 0]),
    (", reduce: 2", "", "bars", [3, 0]),
    ("", "", "square", [0, 1]),
    ("", "", "square", [1, 0]),
    ("", ", reduce: [2, 1]", "square", [1, 2]),
    ("", ", reduce: 2", "square", [0, 0]),
]


@pytest.mark.parametrize(("bars", "square", "name", "told"), FALSE)
@pytest.mark.parametrize("turn", [0, 90, 180])
def test_another_reduction_than_is_told_is_seen_on_every_symbol(
    bars: str, square: str, name: str, told: list[int], turn: int, tmp_path: Path
) -> None:
    """No symbol is graded here; the finished file is read as always, and every symbol's dark modules are measured."""
    layout = LAYOUT.format(bars=bars, square=square, turn=turn).replace("60 mm]\nbleed", "120 mm]\nbleed")
    ungraded = JOB + "grade: {sample: 0}\n"
    job = write_job(tmp_path, layout=layout, records="name,lang\nFP-000123,en\nFP-000124,en\n", job=ungraded)
    assert run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO())).ok
    path = tmp_path / "out" / "report.json"
    changed = report(tmp_path)
    changed["symbols"][name]["reduce_dots"] = told
    path.write_text(json.dumps(changed))
    found = verify_folder(tmp_path / "out").findings
    assert {(one.code, one.where[:7]) for one in found} == {("symbol-size", "piece 1"), ("symbol-size", "piece 2")}
    assert all(one.message.startswith(f"{name}: its dark modules are ") for one in found)


def test_a_layout_that_asks_for_a_reduction_finds_a_file_without_it(tmp_path: Path) -> None:
    """With the job at hand its own words count, for the report and for the file."""
    assert made(tmp_path).ok
    layout = tmp_path / "layout.yaml"
    layout.write_text(layout.read_text().replace("height: 9 mm", "reduce: 2, height: 9 mm"))
    path = tmp_path / "out" / "report.json"
    changed = report(tmp_path)
    changed["inputs"]["layout"]["sha256"] = hashlib.sha256(layout.read_bytes()).hexdigest()
    path.write_text(json.dumps(changed))
    job = load_job(tmp_path / "job.yaml")
    table = open_table(job.records_path, job.model.records, "list.csv")
    found = verify_folder(tmp_path / "out", job, table).findings
    assert [(one.code, one.message.split(" are ")[0].split(" of ")[0]) for one in found] == [
        ("symbol-size", "bars: it tells X"),
        ("symbol-size", "bars: its dark modules"),
    ]


@pytest.mark.parametrize(
    ("kind", "wrong", "said"),
    [  # at 1200 dpi USPS asks for pitches of 50 to 60 dots, bars of 18 to 30; the others are the posts' ranges in mm
        ("imb", StateDots(48, 24, 58, 52), "1.02 mm from bar to bar, not 1.06 to 1.27"),
        ("imb", StateDots(62, 24, 58, 52), "1.31 mm from bar to bar"),
        ("imb", StateDots(55, 33, 58, 52), "0.70 mm of bar width, not 0.38 to 0.64"),
        ("imb", StateDots(55, 24, 44, 52), "0.93 mm of tracker, not 0.99 to 1.45"),
        ("imb", StateDots(55, 24, 58, 80), "2.92 mm of ascender or descender, not 2.08 to 2.82"),
        ("rm4scc", StateDots(49, 24, 60, 89), "1.04 mm from bar to bar"),
        ("kix", StateDots(55, 24, 80, 89), "1.69 mm of tracker, not 1.02 to 1.52"),
    ],
)
def test_postal_bars_outside_their_posts_sizes_are_found_in_the_file(
    kind: str, wrong: StateDots, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A composer with wrong sizes: the file is measured, not the plan."""
    text = {"imb": "0123456709498765432101234", "rm4scc": "SN34RD1A", "kix": "2500GG30250"}[kind]
    head, back = LAYOUT.format(bars="", square="", turn=0).split("  - ", 1)[0], LAYOUT.split("back:")[1].format()
    layout = f"{head}  - {{name: post, barcode: {kind}, data: '{text}', at: [5 mm, 5 mm]}}\nback:{back}"
    monkeypatch.setattr(StateSize, "dots", lambda self, dpi: wrong)
    job = write_job(tmp_path, layout=layout, records="name,lang\nFP,en\n", job=JOB + "grade: {sample: 0}\n")
    found = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO())).findings
    assert {one.code for one in found} == {"symbol-size"}
    assert said in " ".join(one.message for one in found)


def test_the_verifiers_sizes_of_postal_bars_are_the_composers() -> None:
    for kind, size in sizes.STATES.items():
        due = xdim.STATES[kind]
        assert due.per_inch == size.pitch_per_inch[::2]
        for ours, theirs in (
            (due.bar, size.bar_mm),
            (due.tracker, size.tracker_mm),
            (due.half, size.half_mm),
            (due.full, size.full_mm),
        ):
            assert ours == pytest.approx(theirs[::2])
        assert due.clear == pytest.approx(size.clear_mm[0])


def test_what_cannot_be_measured_is_not_blamed() -> None:
    blank = Seen(np.full((40, 90), 255, np.uint8), 600.0, (0.0, 0.0))
    line = SymbolLine("a", "code128", "", "Black", 1, (0.0, 0.0, 10.8, 4.8), "", False, 12)
    assert reduction_off(blank, line, 1200, turned=False) == 0.0
    assert reduction_off(blank, line._replace(module=4), 1200, turned=False) == 0.0
    assert reduction_off(blank, line._replace(symbology="aztec"), 1200, turned=False) == 0.0
    assert state_seen(blank, line.box) is None


@pytest.mark.parametrize("dpi", [300, 600, 812, 2400])
def test_sound_symbols_are_not_blamed_at_other_resolutions(dpi: int, tmp_path: Path) -> None:
    """At 812 dpi no resolution that pages are rendered at has whole pixels a dot."""
    module = 8 if dpi < 2400 else 24
    x, digits = f"x: {module * 25.4 / dpi:.4f} mm", f"human_text: below, human_size: {8 * module * 72 / dpi:.1f} pt"
    less = ", reduce: 2" if dpi > 600 else ""
    items = [
        f"barcode: code128, data: 'FP-000123', {x}, height: 9 mm{less}",
        f"barcode: ean13, data: '400638133393', {x}, height: 9 mm, {digits}",
        f"barcode: qr, data: 'FP-000123', {x}{less}",
        f"barcode: datamatrix, data: 'FP-000123', {x}, rectangle: true{less.replace('2', '[2, 1]')}, turn: 90",
        f"barcode: pdf417, data: 'FP-000123', {x}{less.replace('2', '[1, 2]')}",
        f"barcode: micro-qr, data: 'FP-0001', {x}, level: L",
        "barcode: imb, data: '0123456709498765432101234'",
        "barcode: rm4scc, data: 'SN34RD1A', turn: 270",
        "barcode: kix, data: '2500GG30250', turn: 180",
    ]
    places = [(5 + 110 * (nth % 3), 5 + 50 * (nth // 3)) for nth in range(len(items))]
    head, back = LAYOUT.format(bars="", square="", turn=0).split("  - ", 1)[0], LAYOUT.split("back:")[1].format()
    front = "".join(
        f"  - {{name: code{nth}, {item}, at: [{x} mm, {y} mm]}}\n"
        for nth, (item, (x, y)) in enumerate(zip(items, places, strict=True))
    )
    layout = f"{head.replace('[120 mm, 60 mm]', '[340 mm, 160 mm]')}{front}back:{back}"
    said = JOB + f"resolution: {dpi}\ngrade: {{sample: 0}}\n"
    job = write_job(tmp_path, layout=layout, records="name,lang\nFP,en\n", job=said)
    result = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    assert result.symbols_decoded == len(items)
