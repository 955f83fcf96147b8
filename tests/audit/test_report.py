"""report.pdf says everything it was given, and nothing that would differ tomorrow."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from PIL import Image

from vdp.audit.report import CAUTIONS, MOST_FINDINGS, Check, Report, Shown, View, write_report
from vdp.errors import Finding
from vdp.job.faces import builtin_faces

FACE = builtin_faces()["sans"].path


def png(size: tuple[int, int]) -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", size, "teal").save(buffer, "PNG")
    return buffer.getvalue()


def report() -> Report:
    return Report(
        title="Matinee vouchers <2027> & more",
        good=True,
        facts=(("Records", "12 = 10 pieces + 2 set aside"), ("Serials", "voucher: V1 to V10")),
        checks=(Check("Symbols", "decoded on their plates", "30 of 30", good=True),),
        findings=(),
        warnings=(Finding("recipient-repeated", "row 4", "Rows 2 and 4 are for the same recipient"),),
        set_aside=((7, "Field 'name' is required but empty."),),
        shown=(Shown("Piece 1: first", (View("front", png((60, 90))), View("Clear plate", png((60, 90))))),),
    )


def text_of(path: Path) -> str:
    with pdfium.PdfDocument(path) as document:
        return "\n".join(page.get_textpage().get_text_range() for page in document)


def test_it_says_what_it_was_given(tmp_path: Path) -> None:
    write_report(tmp_path / "r.pdf", report(), FACE)
    text = " ".join(text_of(tmp_path / "r.pdf").split())
    for words in ("Matinee vouchers <2027> & more", "Every check passed.", "12 = 10 pieces", "30 of 30",
                  "Piece 1: first", "recipient-repeated", "is required but empty", "Clear plate",
                  *CAUTIONS):  # fmt: skip
        assert words in text, words


@pytest.mark.parametrize("count", [1, MOST_FINDINGS + 7])
def test_findings_are_told_and_many_are_counted(tmp_path: Path, count: int) -> None:
    found = tuple(Finding("serial-wrong", f"piece {n}", f"finding number {n}") for n in range(count))
    write_report(tmp_path / "r.pdf", replace(report(), good=False, findings=found), FACE)
    text = " ".join(text_of(tmp_path / "r.pdf").split())
    assert f"{count} findings: not fit for the press." in text
    assert f"Findings ({count})" in text
    assert ("… and 7 more in report.json" in text) == (count > MOST_FINDINGS)


def test_the_same_report_gives_the_same_bytes(tmp_path: Path) -> None:
    write_report(tmp_path / "a.pdf", report(), FACE)
    write_report(tmp_path / "b.pdf", report(), FACE)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_report_without_checks_or_pictures_still_stands(tmp_path: Path) -> None:
    write_report(tmp_path / "r.pdf", replace(report(), checks=(), shown=(), set_aside=(), warnings=()), FACE)
    assert "none" in text_of(tmp_path / "r.pdf")
