"""Folds, perforations, counterfoils, glue, the window and the post, held against a layout that has just that fault."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from tests.small import JOB, LIST, write_job
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.run import run_job
from vdp.run.check import check_job
from vdp.run.finishing import lines_of
from vdp.run.screen import Screen
from vdp.units import parse_length

SCREEN = Screen(io.StringIO())
STOCK = "stock: {caliper: 0.1 mm, gsm: 90, diameter: 900 mm, core: 76 mm}\n"
LAYOUT = """\
trim: [150 mm, 99 mm]
bleed: 0 mm
front:
  - {name: address, text: "{{ name }}", box: [20 mm, 12 mm, 50 mm, 8 mm], size: 10 pt}
  - {name: number, number: voucher, box: [10 mm, 40 mm, 40 mm, 6 mm], face: mono, size: 9 pt}
  - {name: stub, number: voucher, box: [118 mm, 40 mm, 30 mm, 6 mm], face: mono, size: 9 pt}
  - {name: square, barcode: qr, data: "{{ series.voucher }}", at: [80 mm, 70 mm], x: 0.508 mm}
back:
  - {name: word, text: "Thanks", box: [10 mm, 60 mm, 40 mm, 6 mm], size: 9 pt}
"""


def check(folder: Path, finish: str = "", job: str = STOCK, layout: str = LAYOUT) -> list[str]:
    """Messages of everything told as wrong."""
    path = write_job(folder, layout=layout + finish, job=JOB + job, records=LIST)
    try:
        return [f"{f.code}: {f.message}" for f in check_job(path, records=None, screen=SCREEN).findings]
    except CallerError as error:
        return [fault.message for fault in error.faults]


GOOD = """\
finish:
  perforations: [{at: 112 mm, direction: down}]
  counterfoils: [{series: voucher, parts: [[0, 0, 112 mm, 99 mm], [112 mm, 0, 38 mm, 99 mm]]}]
  glue: [{side: back, area: [0, 80 mm, 150 mm, 19 mm]}]
  window: {side: front, area: [15 mm, 7 mm, 62 mm, 20 mm], shows: address}
"""


def test_a_layout_with_everything_in_its_place_is_good(tmp_path: Path) -> None:
    assert check(tmp_path, GOOD, STOCK + "fold: {kind: z, panels: 3}\n") == []


@pytest.mark.parametrize(
    ("finish", "job", "said"),
    [
        ("finish: {panels: [30 mm, 66 mm]}\n", STOCK + "fold: {kind: z, panels: 3}\n", "fold 1 falls at 33.00 mm"),
        ("finish: {panels: [33 mm]}\n", STOCK + "fold: {kind: z, panels: 3}\n", "1 panel lines"),
        ("", "fold: {kind: z}\n", "panels depend on the paper's thickness"),
        ("finish: {perforations: [{at: 82 mm, direction: down}]}\n", STOCK, "'square' lies"),
        ("finish: {perforations: [{at: 80 mm}]}\n", STOCK, "'square' lies 0.00 mm from perforation 1"),
        (
            "finish: {counterfoils: [{series: voucher, parts: [[0, 0, 60 mm, 99 mm], [60 mm, 0, 40 mm, 60 mm]]}]}\n",
            STOCK,
            "part 2 of counterfoil 1 does not surely carry the serial",
        ),
        ("finish: {glue: [{side: back, area: [0, 55 mm, 150 mm, 10 mm]}]}\n", STOCK, "'word' prints on glue zone 1"),
        (
            "finish: {window: {area: [18 mm, 10 mm, 53 mm, 11 mm], shows: address}}\n",
            STOCK,
            "'address' leaves the window",
        ),
        (
            "finish: {window: {area: [5 mm, 5 mm, 90 mm, 50 mm], shows: address}}\n",
            STOCK,
            "'number' shows in the window",
        ),
        ("finish: {window: {area: [5 mm, 5 mm, 90 mm, 50 mm], shows: adress}}\n", STOCK, "no item of the front"),
        ("", STOCK + "mail: {thickness: 8 mm}\n", "mail-thickness"),
        ("", STOCK + "mail: {kind: self_mailer, thickness: 0.3 mm, ounces: 9}\n", "mail-weight"),
        ("", STOCK + "mail: {thickness: 0.3 mm, height: 60 mm}\n", "mail-size"),
        ("", STOCK + "mail: {kind: self_mailer, thickness: 0.3 mm}\n", "mail-clear-zone: 'square'"),
    ],
)
def test_what_is_in_the_way_is_said(finish: str, job: str, said: str, tmp_path: Path) -> None:
    found = check(tmp_path, finish, job)
    assert any(said in message for message in found), found


def test_codes_keep_away_from_slits(tmp_path: Path) -> None:
    layout = LAYOUT.replace("at: [80 mm, 70 mm]", "at: [0 mm, 70 mm]")
    web = "web: {width: 400 mm, lanes: 2, margins: {left: 20 mm, right: 20 mm, head: 20 mm, foot: 20 mm}%s}\n"
    assert any("from a slit" in said for said in check(tmp_path, job=STOCK + web % "", layout=layout))
    turned = web % ", turn: 90"
    assert not any("from a slit" in said for said in check(tmp_path, job=STOCK + turned, layout=layout))


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_lines_turn_with_the_piece(turn: int, tmp_path: Path) -> None:
    job = f"web: {{width: 600 mm, lanes: 2, turn: {turn}}}\nresolution: 600\n"
    finish = "finish: {perforations: [{at: 20 mm}, {at: 30 mm, direction: down}]}\n"
    first, second = lines_of(load_job(write_job(tmp_path, layout=LAYOUT + finish, job=JOB + job, records=LIST)))
    across = {0: 79, 90: 20, 180: 20, 270: 79}[turn]  # of 99 mm, from the lower or left edge
    down = {0: 30, 90: 30, 180: 120, 270: 120}[turn]  # of 150 mm
    assert (first.across, second.across) == ((True, False) if turn in (0, 180) else (False, True))
    for line, mm in ((first, across), (second, down)):
        assert line.at == pytest.approx(parse_length(f"{mm} mm") / 72 * 600, abs=1)


def test_folds_and_perforations_get_marks_on_the_sheets(tmp_path: Path) -> None:
    job = JOB + STOCK + "fold: {kind: z, panels: 3}\n"
    job += "web: {width: 400 mm, lanes: 2, margins: {left: 20 mm, right: 20 mm, head: 20 mm, foot: 20 mm}}\n"
    path = write_job(tmp_path, layout=LAYOUT + GOOD, job=job, records=LIST)
    result = run_job(path, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    plain = tmp_path / "plain"
    again = write_job(plain, layout=LAYOUT, job=job.replace("fold: {kind: z, panels: 3}\n", ""), records=LIST)
    assert run_job(again, records=None, out=None, workers=1, screen=SCREEN).ok
    sizes = [(folder / "out" / "sheets.pdf").stat().st_size for folder in (tmp_path, plain)]
    assert sizes[0] > sizes[1]


def test_what_the_post_refuses_stops_the_run(tmp_path: Path) -> None:
    path = write_job(tmp_path, layout=LAYOUT, job=JOB + STOCK + "mail: {thickness: 8 mm}\n", records=LIST)
    result = run_job(path, records=None, out=None, workers=1, screen=SCREEN)
    assert [finding.code for finding in result.findings] == ["mail-thickness"]
    assert not (tmp_path / "out" / "pieces.pdf").exists()
