"""Rolls and presses of a job: specimens before and after, a run on several presses, what is refused."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pikepdf
import pytest
from PIL import Image

from tests.guillotine import numbers, piles
from tests.small import BACK, FRONT, JOB, write_job
from vdp.errors import CallerError, Finding
from vdp.job.load import load_job
from vdp.press.ticket import NAMESPACE
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.check import check_job
from vdp.run.desk import Desk
from vdp.run.plan import plan_job
from vdp.run.reprint import reprint
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.spoiled import Wish
from vdp.run.web import Laid, lay_out
from vdp.verify.coverage import leaf_tints
from vdp.verify.doubt import Unreadable

WEB = """\
web: {width: 156 mm, lanes: 2, along: 1, gutter: 6 mm, bleed: 2 mm, order: blocks, height: 2%s,
  margins: {left: 10 mm, right: 10 mm, head: 10 mm, foot: 11 mm}}
"""
STOCK = "stock: {caliper: 0.1 mm, gsm: 100, diameter: 1000 mm, core: 70 mm}\n"
ENDS = "rolls: {leader: 70 mm, trailer: 40 mm}\npress: {metres_a_minute: 30, make_ready: 100 mm}\n"
WARE = '  - {name: ware, barcode: ean13, data: "{{ gtin }}", at: [27 mm, 30 mm], x: 0.254 mm, height: 5 mm}\n'
PIECES = 22


def screen() -> Screen:
    return Screen(io.StringIO())


def write(folder: Path, more: str, web: str = "", pieces: int = PIECES, **files: str) -> Path:
    rows = "name,lang\n" + "".join(f"Guest {n},en\n" for n in range(1, pieces + 1))
    keys = {"job": JOB + WEB % web + more, "layout": FRONT + BACK, "records": rows} | files
    return write_job(folder, **keys)


def run(path: Path, workers: int = 1) -> Result:
    result = run_job(path, records=None, out=None, workers=workers, screen=screen())
    assert result.findings == []
    again = verify_again(path.parent / "out", job=path, records=None, workers=1, screen=screen())
    assert again.findings == []
    return result


def of_sheets(warnings: Sequence[Finding]) -> list[tuple[str, str]]:
    """Those that are not of the layout."""
    return [(one.code, one.message) for one in warnings if not one.code.startswith("microtext")]


def laid_of(path: Path, pieces: int = PIECES) -> Laid:
    laid = lay_out(load_job(path), pieces)
    assert laid is not None
    return laid


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (path.parent / "out" / "pieces.jsonl").read_text("utf-8").splitlines()]


def cut(path: Path, pieces: int = PIECES) -> list[int | None]:
    laid = laid_of(path, pieces)
    found = piles(path.parent / "out", laid.plan.web, laid.run, apart=laid.apart)
    return [number for pile in found for number in numbers(pile)]


# -- leader, trailer, make-ready ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "web", ["", ", rewound: true", ", roll_frames: 4", ", roll_frames: 4, rewound: true, apart: true"]
)
def test_specimens_run_before_and_after_the_live_frames(tmp_path: Path, web: str) -> None:
    path = write(tmp_path, STOCK + ENDS, web)
    assert of_sheets(run(path).warnings) == []
    laid = laid_of(path)
    # A frame is 65 mm: 70 mm of leader are two, 40 mm of trailer one, 100 mm of make-ready two.
    rolls = laid.run.rolls
    assert (laid.run.lead(1), laid.run.tail(1), laid.run.specimens) == (4, 1, 3 * rolls + 2)
    assert laid.run.lead(rolls) == (4 if rolls == 1 else 2)
    sheets = json.loads((tmp_path / "out" / "report.json").read_bytes())["sheets"]
    assert [roll["frames"] for roll in sheets["rolls"]] == [
        laid.run.lead(roll) + laid.run.frames_on(roll) + laid.run.tail(roll) for roll in range(1, rolls + 1)
    ]
    assert sheets["specimen"]["serials"] == {"voucher": "V00000"}
    assert {symbol["data"] for symbol in sheets["specimen"]["symbols"]} == {"V00000", "V00000/SPECIMEN"}
    frames = {(line["place"]["roll"], line["place"]["frame"]) for line in lines(path)}
    assert min(frame for roll, frame in frames if roll == 1) == 5
    assert [number for number in cut(path) if number is not None] == list(range(7, 7 + PIECES))


def test_no_live_serial_is_on_a_specimen_and_every_side_says_so(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + ENDS)
    run(path)
    with pikepdf.open(tmp_path / "out" / "sheets.pdf") as pdf:
        first, live = (pdf.pages[page].Resources.XObject["/P1"].objgen for page in (0, 8))
        assert first != live
        assert {pdf.pages[page].Resources.XObject["/P2"].objgen for page in (0, 2, 4, 6, len(pdf.pages) - 2)} == {first}


def test_specimens_take_the_values_that_the_job_states(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + ENDS.replace("rolls: {", "rolls: {specimen: {name: Nobody}, "))
    run(path)
    sheets = json.loads((tmp_path / "out" / "report.json").read_bytes())["sheets"]
    assert "V00000/Nobody" in {symbol["data"] for symbol in sheets["specimen"]["symbols"]}


def test_where_plain_words_cannot_be_set_invented_ones_are(tmp_path: Path) -> None:
    """An EAN takes twelve digits, so the plain word will not do; the job's hint gives what will."""
    job = JOB.replace("  recipient: [name]\n", "  fields: {gtin: {fake: {pattern: '2000########'}}}\n") + WEB % ""
    layout = FRONT + WARE
    rows = "name,lang,gtin\nAnna,en,200012345678\nBo,en,200087654321\n"
    path = write_job(tmp_path, job=job + STOCK + ENDS, layout=layout + BACK, records=rows)
    run(path)
    symbols = json.loads((tmp_path / "out" / "report.json").read_bytes())["sheets"]["specimen"]["symbols"]
    (ware,) = [symbol["data"] for symbol in symbols if symbol["name"] == "ware"]
    assert ware.startswith("2000")
    assert ware[:12] not in rows


def test_a_specimen_that_cannot_be_set_is_refused_with_the_way_out(tmp_path: Path) -> None:
    layout = FRONT + WARE
    rows = "name,lang,gtin\nAnna,en,200012345678\n"
    path = write_job(tmp_path, job=JOB + WEB % "" + STOCK + ENDS, layout=layout + BACK, records=rows)
    with pytest.raises(CallerError, match=r"no specimen can be set .* ware: .*specimen: \{FIELD: VALUE\}"):
        plan_job(path, records=None, serials=[], places=[], out=None, screen=screen())
    path.write_text(path.read_text("utf-8").replace("rolls: {", "rolls: {specimen: {gtin: '200000000000'}, "), "utf-8")
    run(path)


def test_a_specimen_has_no_field_that_the_records_have_not(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + ENDS.replace("rolls: {", "rolls: {specimen: {nam: Nobody}, "))
    with pytest.raises(CallerError, match="no field 'nam' that a specimen could have a value for"):
        check_job(path, records=None, screen=screen())


def test_a_series_with_every_number_leaves_none_for_specimens(tmp_path: Path) -> None:
    job = (JOB + WEB % "").replace("start: 7", "start: 0") + STOCK + ENDS
    with pytest.raises(CallerError, match="leaves none for specimens"):
        run_job(write(tmp_path, "", job=job), records=None, out=None, workers=1, screen=screen())


# -- several presses ---------------------------------------------------------------------------------------------------

PRESSES = """\
presses:
  fast: {metres_a_minute: 60, make_ready: 100 mm}
  slow: {metres_a_minute: 20, rolls: {leader: 70 mm, length: 350 mm}}
"""


@pytest.mark.parametrize("web", ["", ", rewound: true, fill: block, stack: lane"])
def test_a_run_on_two_presses_is_one_run(tmp_path: Path, web: str) -> None:
    path = write(tmp_path, STOCK + PRESSES, web, pieces=38)
    result = run(path, workers=2 if web else 1)
    parts = laid_of(path, 38).run.parts
    assert [part.press for part in parts] == ["fast", "slow"]
    assert all(part.order.pieces % 4 == 0 for part in parts[:-1])  # blocks of two frames of two lanes
    assert [number for number in cut(path, 38) if number is not None] == list(range(7, 45))
    assert len({line["serials"]["voucher"] for line in lines(path)}) == 38
    names = [name for name in result.files if name.startswith(("sheets", "ticket"))]
    rolls = [f"sheets-{roll:03}.pdf" for roll in range(1, 1 + sum(part.order.rolls for part in parts))]
    assert names == [*rolls, "ticket-fast.xjdf", "ticket-slow.xjdf"]
    told = []
    for part in parts:
        root = ET.fromstring((tmp_path / "out" / f"ticket-{part.press}.xjdf").read_bytes())  # noqa: S314  our own
        product = root.find(f".//{{{NAMESPACE}}}Product")
        assert product is not None
        assert (product.get("Amount"), root.get("JobPartID")) == (str(part.order.pieces), part.press)
        told += [spec.get("URL") for spec in root.iter(f"{{{NAMESPACE}}}FileSpec")]
        runs = [one.get("Run") for one in root.iter(f"{{{NAMESPACE}}}Part") if one.get("Run")]
        assert runs == [f"Roll{part.rolls + roll}" for roll in range(1, part.order.rolls + 1)]
    assert told == rolls


def test_plan_tells_each_press_its_part_and_when_it_ends(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + PRESSES, pieces=38)
    planned = plan_job(path, records=None, serials=[], places=[], out=tmp_path / "p", screen=screen())
    told = json.loads(planned.to_json())["presses"]
    assert [one["press"] for one in told] == ["fast", "slow"]
    assert told[1]["first"] == told[0]["last"] + 1
    assert told[1]["last"] == 38
    text = planned.as_text()
    for one in told:
        assert f"press    {one['press']}: {one['first_serial']} to {one['last_serial']}" in text
    # Neither could give a block to the other and end sooner: a block is 0.13 m, so 0.0022 and 0.0066 minutes.
    assert abs(told[0]["minutes"] - told[1]["minutes"]) < 0.0066 + 2 * 0.065 / 20
    assert "press slow" in (tmp_path / "p" / "stacks.svg").read_text("utf-8")


def test_a_press_that_is_not_needed_is_told(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + PRESSES.replace("20, rolls", "0.1, rolls"), pieces=8)
    planned = plan_job(path, records=None, serials=[], places=[], out=None, screen=screen())
    assert [warning.code for warning in planned.warnings] == ["press-idle"]
    assert [part.part.press for part in planned.parts] == ["fast"]


def test_pieces_of_several_presses_are_made_again_with_specimens_of_their_own(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + PRESSES, pieces=38)
    desk = Desk("anna", lambda: datetime(2026, 3, 1, 12, 30, tzinfo=UTC), {}, timeout=1)
    assert run_job(path, records=None, out=None, workers=1, screen=screen(), desk=desk).ok
    chosen = [line["serials"]["voucher"] for line in lines(path)][30:36]
    again = tmp_path / "again"
    keys: dict[str, Any] = {"job": None, "records": None, "desk": desk, "screen": screen()}
    made = reprint(tmp_path / "out", Wish(tuple(chosen)), second="Bo", out=again, **keys)
    assert made.findings == []
    sheets = json.loads((again / "report.json").read_bytes())["sheets"]
    assert sheets["specimen"]["serials"] == {"voucher": "V00000"}
    assert sum(part["pieces"] for part in sheets["parts"]) == 6
    assert verify_again(again, job=path, records=None, workers=1, screen=screen()).findings == []


# -- what is told, what is refused -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("rolls: {diameter: 800 mm}\n", "diameter of a roll cannot be kept: the paper is not stated"),
        ("rolls: {kilograms: 20, diameter: 800 mm}\n", "diameter and kilograms of a roll cannot be kept"),
        ("presses: {a: {metres_a_minute: 9, rolls: {kilograms: 3}}}\n", "kilograms of a roll cannot be kept"),
        ("press: {metres_a_minute: 9}\npresses: {a: {metres_a_minute: 9}}\n", "there are 'press' and 'presses'"),
        ("press: {metres_a_minute: 9, rolls: {leader: 1 mm}}\n", "one press has the rolls of the job"),
        ("rolls: {leads: foot}\n", "the foot of the front is to come off first, and with turn: 0 and rewound: false"),
        (STOCK + "rolls: {length: 60 mm}\n", "a roll may hold 0.06 m of paper"),
    ],
)
def test_what_could_not_be_kept_is_refused(tmp_path: Path, more: str, said: str) -> None:
    with pytest.raises(CallerError, match=said):
        lay_out(load_job(write(tmp_path, more)), PIECES)


def test_a_roll_that_is_stated_too_large_is_told_by_run_check_and_plan(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + "rolls: {length: 300 mm}\npress: {metres_a_minute: 9}\n", ", roll_frames: 6")
    due = [("roll-large", "a roll is 0.4 m long, and may be 0.3 m")]
    for told in (
        run(path).warnings,
        check_job(path, records=None, screen=screen()).warnings,
        plan_job(path, records=None, serials=[], places=[], out=None, screen=screen()).warnings,
    ):
        assert of_sheets(told) == due


@pytest.mark.parametrize("key", ["rolls: {leader: 1 mm}", "press: {metres_a_minute: 9}", "packing: {band: 2}"])
def test_printing_without_a_web_is_refused(tmp_path: Path, key: str) -> None:
    with pytest.raises(CallerError, match="the job has no section 'web'"):
        lay_out(load_job(write(tmp_path, "", job=JOB + key + "\n")), PIECES)


def test_a_length_needs_no_paper(tmp_path: Path) -> None:
    laid = laid_of(write(tmp_path, "rolls: {length: 300 mm, trailer: 1 mm}\n"))
    assert [laid.run.frames_on(roll) for roll in range(1, 4)] == [2, 2, 2]  # 4.6 frames, one of them the trailer's


def test_a_job_without_paper_is_told_that_it_gets_no_ticket(tmp_path: Path) -> None:
    path = write(tmp_path, "press: {metres_a_minute: 9}\n")
    assert of_sheets(run(path).warnings) == [
        ("ticket-unwritten", "no press ticket was written: the job has no section stock")
    ]
    assert not (tmp_path / "out" / "ticket.xjdf").exists()


def test_the_ticket_names_the_plates_of_each_side(tmp_path: Path) -> None:
    path = write(tmp_path, STOCK + ENDS)
    run(path)
    root = ET.fromstring((tmp_path / "out" / "ticket.xjdf").read_bytes())  # noqa: S314  our own
    used = {one.get("Surface"): one.get("ColorsUsed") for one in root.iter(f"{{{NAMESPACE}}}SurfaceColor")}
    assert used == {"Front": "Cyan Yellow Black", "Back": "Black Clear"}  # a field of 40 % and 10 %, type; microtext


def test_pictures_use_all_plates_and_what_cannot_be_told_apart_may_be_on_any(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = FRONT + '  - {name: view, image: "{{ pic }}", box: [36 mm, 28 mm, 10 mm, 8 mm]}\n' + BACK
    rules = "  fields: {pic: {one_of: [red.jpg]}}\n"
    job = JOB.replace("  recipient: [name]\n", rules) + WEB % "" + STOCK + ENDS
    path = write(tmp_path, "", job=job, layout=layout, records="name,lang,pic\nAnna,en,red.jpg\n")
    Image.new("CMYK", (240, 200), (20, 200, 180, 10)).save(tmp_path / "red.jpg", dpi=(600, 600))
    for mend, due in (
        (leaf_tints, {"Front": "Cyan Magenta Yellow Black", "Back": "Black Clear"}),
        (unreadable, {"Front": "Cyan Magenta Yellow Black Clear", "Back": "Cyan Magenta Yellow Black Clear"}),
    ):
        monkeypatch.setattr("vdp.run.ticket.leaf_tints", mend)
        assert run_job(path, records=None, out=None, workers=1, screen=screen()).findings == []
        root = ET.fromstring((tmp_path / "out" / "ticket.xjdf").read_bytes())  # noqa: S314  our own
        used = {one.get("Surface"): one.get("ColorsUsed") for one in root.iter(f"{{{NAMESPACE}}}SurfaceColor")}
        assert used == due


def unreadable(*_: object) -> None:
    raise Unreadable("a soft mask")


def test_winding_is_told_in_plan_ticket_and_packing(tmp_path: Path) -> None:
    rolls = ENDS.replace("rolls: {", "rolls: {face: out, winds: clockwise, leads: foot, ")
    path = write(tmp_path, STOCK + rolls + "packing: {band: 4, carton: 2}\n", ", rewound: true")
    run(path)
    said = "the last printed frame comes off first, foot of the front leading, face out"
    planned = plan_job(path, records=None, serials=[], places=[], out=None, screen=screen())
    assert said in planned.as_text()
    assert said in (tmp_path / "out" / "ticket.xjdf").read_text("utf-8")
    with (tmp_path / "out" / "packing.csv").open(newline="") as table:
        assert {row["comes_off"][: len(said)] for row in csv.DictReader(table)} == {said}
