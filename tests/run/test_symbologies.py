"""Every symbology with modules, from the layout to the finished file and back, on Black and on Clear."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from tests.barcode.test_carriers import TEXTS
from tests.small import JOB, write_job
from vdp.barcode import carriers
from vdp.barcode.symbology import KNOWN
from vdp.errors import CallerError
from vdp.job.items import LINEAR
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.screen import Screen

SCREEN = Screen(io.StringIO())


def layout(name: str, more: str = "", plate: str = "") -> str:
    """One symbol on the front; a serial on the back, as every job has one."""
    height = ", height: 24 mm" if name in LINEAR else ""
    ink = f", plate: {plate}" if plate else ""
    keys = f"{height}{ink}{more}"
    return (
        "trim: [200 mm, 60 mm]\nbleed: 0 mm\nfront:\n"
        f"  - {{name: code, barcode: {name}, data: '{{{{ name }}}}', at: [5 mm, 5 mm], x: 0.508 mm{keys}}}\n"
        "back:\n  - {number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}\n"
    )


def lines(folder: Path) -> list[dict[str, list[dict[str, str]]]]:
    return [json.loads(line) for line in (folder / "pieces.jsonl").read_text().splitlines()]


@pytest.mark.parametrize("plate", ["", "Clear"])
@pytest.mark.parametrize("symbology", sorted(KNOWN))
def test_what_the_layout_asks_for_is_read_back(symbology: str, plate: str, tmp_path: Path) -> None:
    name = symbology.replace("_", "-")
    records = "name,lang\n" + "".join(f'"{text}",en\n' for text in TEXTS[symbology])
    job = write_job(tmp_path, layout=layout(name, plate=plate), records=records)
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert result.symbols_decoded == 2
    told = [line["symbols"][0] for line in lines(tmp_path / "out")]
    assert [one["symbology"] for one in told] == [name, name]
    assert [one["data"] for one in told] == [carriers.read_back(symbology, text) for text in TEXTS[symbology]]
    again = verify_again(tmp_path / "out", job=job, records=None, workers=1, screen=SCREEN)
    assert again.ok, again.findings


@pytest.mark.parametrize(
    ("name", "more", "said"),
    [
        ("qr", ", ratio: 2.5", "'ratio' is for code39, itf and itf14, not for qr"),
        ("ean13", ", rectangle: true", "'rectangle' is for datamatrix and gs1-datamatrix, not for ean13"),
        ("pdf417", ", level: H", "'level' is for qr, gs1-qr and micro-qr, not for pdf417"),
        ("ean13", ", use: retail", "the range of ean13 in retail"),
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


def test_low_bars_are_told(tmp_path: Path) -> None:
    text = layout("ean13", ", use: retail").replace("x: 0.508 mm", "x: 0.330 mm").replace("24 mm", "12 mm")
    job = write_job(tmp_path, layout=text, records='name,lang\n"400638133393",en\n')
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN)
    assert result.ok, result.findings
    assert {warning.code for warning in result.warnings} == {"bars-low", "module-rounded"}
