"""PostScript artwork through Ghostscript, and what happens when it is absent, refuses, or runs for ever."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest

from vdp.errors import CallerError
from vdp.job import postscript
from vdp.job.postscript import as_pdf

EPS = """%!PS-Adobe-3.0 EPSF-3.0
%%BoundingBox: 0 0 170 113
0 0 0 1 setcmykcolor 10 10 100 50 rectfill
[/Separation /Clear /DeviceCMYK {0 exch 0 exch 0 exch pop 0 exch}] pop
showpage
%%EOF
"""


def write(folder: Path, text: str, name: str = "a.eps") -> Path:
    (folder / name).write_text(text)
    return folder / name


def test_eps_becomes_a_page_of_its_own_size(tmp_path: Path, need: Callable[[str], str]) -> None:
    need("gs")
    path = write(tmp_path, EPS)
    made = as_pdf(path)
    with pikepdf.open(made) as pdf:
        assert [float(edge) for edge in pdf.pages[0].mediabox] == [0, 0, 170, 113]
        content = pdf.pages[0].Contents.read_bytes()
    assert b" k\n" in content or b" k " in content  # still the four inks, not RGB
    assert as_pdf(path) == made


def test_a_pdf_is_left_alone(tmp_path: Path) -> None:
    assert as_pdf(tmp_path / "a.pdf") == tmp_path / "a.pdf"


def test_without_ghostscript_it_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(CallerError, match="not installed") as caught:
        as_pdf(write(tmp_path, EPS + "%1"))
    assert "install ghostscript" in caught.value.faults[0].mend


def test_a_program_that_is_wrong_is_refused(tmp_path: Path, need: Callable[[str], str]) -> None:
    need("gs")
    with pytest.raises(CallerError, match="undefined"):
        as_pdf(write(tmp_path, "%!PS\nnonsense\n"))


def test_a_program_may_not_read_files(tmp_path: Path, need: Callable[[str], str]) -> None:
    need("gs")
    secret = tmp_path / "secret.txt"
    secret.write_text("recipients")
    with pytest.raises(CallerError, match="invalidfileaccess"):
        as_pdf(write(tmp_path, f"%!PS\n({secret}) (r) file pop showpage\n"))


def test_a_program_without_end_is_stopped(
    tmp_path: Path, need: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    need("gs")
    monkeypatch.setattr(postscript, "MOST_SECONDS", 1)
    with pytest.raises(CallerError, match="Ghostscript cannot convert it"):
        as_pdf(write(tmp_path, "%!PS\n{} loop\n"))


def test_an_absent_file(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="cannot be read"):
        as_pdf(tmp_path / "absent.eps")
