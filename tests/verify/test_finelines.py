"""Fine lines of a layout measured on the finished plates: sound runs give nothing, a thinned line is found."""

from __future__ import annotations

import io
from pathlib import Path

import pikepdf
import pytest

from tests.small import FRONT, JOB, write_job
from tests.tamper.folder import Tampered
from vdp.run import run_job
from vdp.run.screen import Screen
from vdp.verify import chunk
from vdp.verify.doubt import Unreadable

LINES = """\
  - {box: [2 mm, 30 mm, 56 mm, 8 mm], colour: [60, 0, 10, 40]}
  - {name: level, line: 0.0212 mm, start: [4 mm, 28 mm], end: [34 mm, 28 mm]}
  - {name: upright, line: 0.0847 mm, start: [36 mm, 24 mm], end: [36 mm, 29 mm], plate: Clear}
  - {name: slanting, line: 0.0635 mm, start: [40 mm, 24 mm], end: [56 mm, 29 mm], colour: [0, 80, 0, 0]}
  - {name: faint, line: 0.0635 mm, start: [40 mm, 4 mm], end: [56 mm, 4 mm], tint: 30}
  - {name: spared, line: 0.0847 mm, start: [4 mm, 33 mm], end: [50 mm, 33 mm], colour: [0, 0, 0, 0]}
  - {name: frame, box: [4 mm, 34 mm, 20 mm, 3 mm], weight: 0.0635 mm, plate: Clear}
  - {name: bar, box: [30 mm, 35 mm, 0.0635 mm, 2 mm], plate: Clear}
  - {name: sometimes, line: 0.0423 mm, start: [4 mm, 29 mm], end: [34 mm, 29 mm], when: "name == 'Bo'"}
"""
BACK = "back:\n  - {number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}\n"
QUIET = FRONT[: FRONT.index("  - {name: bars")]


#: What a line that is thinner in the file gives.
GIVES = frozenset({"line-broken"})


@pytest.fixture(scope="module")
def lined(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lined") / "job"
    job = write_job(folder, layout=QUIET + LINES + BACK, job=JOB)
    result = run_job(job, records=None, out=folder / "out", workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    return folder


def test_lines_as_they_are_laid_out_give_nothing(lined: Path, tmp_path: Path) -> None:
    verdict = Tampered(lined, tmp_path).verdict()
    assert verdict.findings == []
    # Ten lines on each of three pieces, a frame's four sides among them, and one that the third alone has.
    (told,) = [check for check in verdict.checks if check.what == "Fine lines"]
    assert (told.count, told.good) == ("31 looked at", True)


@pytest.mark.parametrize(
    ("name", "old", "new", "told"),
    [
        ("level", b"283 661 1417 1 re", b"283 661 1417 0.5 re", "0.5 dots thick, laid out with 1"),
        ("upright", b"1793 614 4 236 re", b"1794 614 2 236 re", "2.0 dots thick, laid out with 4"),
        ("slanting", b"K 3 w", b"K 1.5 w", "1.5 dots thick, laid out with 3"),
        ("faint", b"1984 1794 756 3 re", b"1984 1794 756 2 re", "2.0 dots thick, laid out with 3"),
        ("spared", b"283 423 2173 4 re", b"283 424 2173 2 re", "2.0 dots thick, laid out with 4"),
        ("frame", b"283 236 945 3 re", b"283 236 945 1 re", "1.0 dots thick, laid out with 3"),
        ("frame", b"1225 239 3 136 re", b"1225 239 2 136 re", "2.0 dots thick, laid out with 3"),
        ("bar", b"1511 236 3 94 re", b"1511 236 1 94 re", "1.0 dots thick, laid out with 3"),
    ],
)
def test_a_line_that_is_thinner_in_the_file_is_found(
    name: str, old: bytes, new: bytes, told: str, lined: Path, tmp_path: Path
) -> None:
    """All pieces share the form that holds the lines; those of the sample are measured."""
    run = Tampered(lined, tmp_path)

    def change(pdf: pikepdf.Pdf) -> None:
        form = pdf.pages[0].Resources.XObject.S2
        assert form.read_bytes().count(old) == 1
        form.write(form.read_bytes().replace(old, new))

    run.pdf(change)
    run.refresh()
    found = run.verdict().findings
    assert {one.code for one in found} == GIVES
    assert len(found) == 3
    assert all(one.message.startswith(f"{name}: its line from ") and one.message.endswith(told) for one in found)


def test_a_line_that_is_left_out_of_nothing_is_not_judged(tmp_path: Path) -> None:
    lines = "  - {line: 0.0212 mm, start: [4 mm, 28 mm], end: [34 mm, 28 mm], colour: [0, 0, 0, 0]}\n"
    lines += "  - {line: 0.0847 mm, start: [4 mm, 30 mm], end: [4 mm, 30.03 mm]}\n"
    job = write_job(tmp_path / "job", layout=QUIET + lines + BACK, job=JOB)
    result = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    assert "line-thin" in {warning.code for warning in result.warnings}


def test_a_page_whose_lines_cannot_be_drawn_is_not_judged(
    lined: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise Unreadable("too large a region")

    monkeypatch.setattr(chunk, "thin_lines", fail)
    assert Tampered(lined, tmp_path).codes() == {"cannot-judge"}
