"""`vdp impose`: pages from elsewhere on the web, and every odd file handled or refused with what is wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
import zxingcpp
from reportlab.graphics.barcode import code128
from reportlab.pdfgen.canvas import Canvas

from vdp.cli import main
from vdp.errors import CallerError
from vdp.run.impose import Imposed, impose

WEB = """\
web:
  width: 230 mm
  lanes: 3
  along: 2
  gutter: 5 mm
  bleed: 2 mm
  margins: {left: 10 mm, right: 10 mm, head: 10 mm, foot: 11 mm}
  order: blocks
  height: 2
"""
MM = 72 / 25.4


def write_pdf(path: Path, pages: int, *, width: float = 60, height: float = 40, bleed: float = 2) -> Path:
    """Pages with their number as a bar code and with a TrimBox inside their bleed."""
    canvas = Canvas(str(path), pagesize=((width + 2 * bleed) * MM, (height + 2 * bleed) * MM), invariant=1)
    for number in range(1, pages + 1):
        canvas.setFillColorCMYK(0.2, 0, 0, 0)
        canvas.rect(0, 0, (width + 2 * bleed) * MM, 6 * MM, stroke=0, fill=1)
        canvas.setFillColorCMYK(0, 0, 0, 1)
        code128.Code128(f"P{number:03}", barWidth=0.9, barHeight=30).drawOn(canvas, 5 * MM, 20 * MM)
        canvas.showPage()
    canvas.save()
    edit(path, lambda pdf: trim_all(pdf, bleed))
    return path


def trim_all(pdf: pikepdf.Pdf, bleed: float) -> None:
    for page in pdf.pages:
        trimmed(page, bleed)


def trimmed(page: pikepdf.Page, bleed: float) -> None:
    x0, y0, x1, y1 = (float(edge) for edge in page.mediabox.as_list())
    edge = bleed * MM
    page.obj.TrimBox = pikepdf.Array([x0 + edge, y0 + edge, x1 - edge, y1 - edge])


def edit(path: Path, change: Callable[[pikepdf.Pdf], None]) -> None:
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(path, fix_metadata_version=False)


def laid(path: Path, web: str = WEB) -> tuple[Imposed, Path]:
    layout = path.with_name("web.yaml")
    layout.write_text(web, encoding="utf-8")
    out = path.with_name("out")
    out.mkdir(exist_ok=True)
    return impose(path, layout, out, lambda _: None), out


def seen(path: Path, page: int) -> list[str]:
    """Bar codes of a page, from the upper left, row by row."""
    bitmap = pypdfium2.PdfDocument(path)[page].render(scale=300 / 72, grayscale=True)
    found = zxingcpp.read_barcodes(bitmap.to_numpy(), formats=zxingcpp.BarcodeFormat.Code128)  # type: ignore[arg-type]  # a format
    placed = sorted((round(one.position.top_left.y, -2), one.position.top_left.x, one.text) for one in found)
    return [text for _, _, text in placed]


def test_fronts_and_backs_lie_behind_each_other(tmp_path: Path) -> None:
    told, out = laid(write_pdf(tmp_path / "in.pdf", 12))
    assert (told.pages, told.pieces, told.frames, told.blanks) == (12, 6, 1, 0)
    assert seen(out / "sheets.pdf", 0) == ["P001", "P005", "P009", "P003", "P007", "P011"]
    assert seen(out / "sheets.pdf", 1) == ["P010", "P006", "P002", "P012", "P008", "P004"]


def test_one_side_only_leaves_the_backs_bare(tmp_path: Path) -> None:
    told, out = laid(write_pdf(tmp_path / "in.pdf", 7), WEB + "sides: 1\n")
    assert (told.pieces, told.frames, told.blanks) == (7, 2, 5)
    assert seen(out / "sheets.pdf", 1) == []
    assert sorted(seen(out / "sheets.pdf", 0) + seen(out / "sheets.pdf", 2)) == [f"P{n:03}" for n in range(1, 8)]


def test_rolls_in_files_of_their_own(tmp_path: Path) -> None:
    web = WEB + "  roll_frames: 2\n  apart: true\n"
    told, out = laid(write_pdf(tmp_path / "in.pdf", 40), web)
    assert told.files == ("sheets-001.pdf", "sheets-002.pdf")
    assert [len(pypdfium2.PdfDocument(out / name)) for name in told.files] == [4, 4]


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_turned_pages_come_out_as_they_are_seen(tmp_path: Path, turn: int) -> None:
    def turned(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            page.obj.Rotate = turn

    path = write_pdf(tmp_path / "in.pdf", 2, width=40 if turn % 180 else 60, height=60 if turn % 180 else 40)
    edit(path, turned)
    told, out = laid(path)
    assert told.pieces == 1
    found = zxingcpp.read_barcodes(
        pypdfium2.PdfDocument(out / "sheets.pdf")[0].render(scale=300 / 72, grayscale=True).to_numpy(),
        formats=zxingcpp.BarcodeFormat.Code128,  # type: ignore[arg-type]  # a format
    )
    assert [(one.text, one.orientation % 360) for one in found] == [("P001", turn)]


def test_user_units_and_boxes_off_the_origin(tmp_path: Path) -> None:
    def odd(pdf: pikepdf.Pdf) -> None:
        for page in pdf.pages:
            page.obj.UserUnit = 2
            page.obj.MediaBox = pikepdf.Array([-5 * MM, -5 * MM, 39 * MM, 29 * MM])
            page.obj.BleedBox = pikepdf.Array([-1 * MM, -1 * MM, 31 * MM, 21 * MM])
            page.obj.TrimBox = pikepdf.Array([0, 0, 30 * MM, 20 * MM])

    path = write_pdf(tmp_path / "in.pdf", 2)
    edit(path, odd)
    told, _ = laid(path)
    assert told.pieces == 1


def test_the_same_pages_give_the_same_bytes(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 12)
    first = (laid(path)[1] / "sheets.pdf").read_bytes()
    assert (laid(path)[1] / "sheets.pdf").read_bytes() == first


def test_spot_plates_of_the_file_get_their_patches(tmp_path: Path) -> None:
    path = tmp_path / "in.pdf"
    canvas = Canvas(str(path), pagesize=(64 * MM, 44 * MM), invariant=1)
    for _ in range(2):
        from reportlab.lib.colors import CMYKColorSep

        canvas.setFillColor(CMYKColorSep(0, 1, 0, 0, spotName="Clear", density=1))
        canvas.rect(10, 10, 50, 50, stroke=0, fill=1)
        canvas.showPage()
    canvas.save()
    edit(path, lambda pdf: trim_all(pdf, 2))
    _, out = laid(path)
    with pikepdf.open(out / "sheets.pdf") as pdf:
        marks = pdf.pages[0].obj.Resources.XObject["/M"]
        assert "/Clear" in marks.Resources.ColorSpace
        assert b"/OC /Clear BDC" in marks.read_bytes()


# -- refused -----------------------------------------------------------------------------------------------------------


def refused(path: Path, web: str = WEB) -> str:
    with pytest.raises(CallerError) as error:
        laid(path, web)
    assert not list(path.parent.glob("out/sheets*"))
    return str(error.value)


def test_mixed_sizes_are_refused_page_by_page(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 4)

    def shrink(pdf: pikepdf.Pdf) -> None:
        trimmed(pdf.pages[2], 3)

    edit(path, shrink)
    assert "in.pdf, page 3: its trim is 58.00 × 38.00 mm, and that of page 1 is 60.00 × 40.00 mm" in refused(path)


def test_too_little_bleed_is_refused_with_figures(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2, bleed=1)
    assert "page 1: it has 1.00 mm of bleed, and the web prints 2.00 mm" in refused(path)


def test_an_odd_number_of_pages_is_refused(tmp_path: Path) -> None:
    assert "3 pages, an odd number" in refused(write_pdf(tmp_path / "in.pdf", 3))


def test_a_locked_file_is_refused(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2)
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        pdf.save(path, encryption=pikepdf.Encryption(user="u", owner="o"))
    assert "is encrypted" in refused(path)


def test_a_damaged_file_is_refused(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2)
    path.write_bytes(path.read_bytes()[:900])
    assert "in.pdf" in refused(path)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert "is not a PDF" in refused(tmp_path / "none.pdf")


def test_a_web_that_is_too_narrow_is_refused_with_figures(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2)
    assert "too little" in refused(path, WEB.replace("230 mm", "150 mm"))


def test_what_is_wrong_with_the_yaml_is_told_with_its_line(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2)
    assert "web.yaml:3:" in refused(path, WEB.replace("lanes: 3", "lanes: many"))
    assert "empty" in refused(path, "")


def test_the_input_is_never_written_over(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "sheets.pdf", 2)
    layout = tmp_path / "web.yaml"
    layout.write_text(WEB, encoding="utf-8")
    with pytest.raises(CallerError, match="written over"):
        impose(path, layout, tmp_path, lambda _: None)


# -- the command -------------------------------------------------------------------------------------------------------


def test_the_command_tells_what_it_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_pdf(tmp_path / "in.pdf", 12)
    (tmp_path / "web.yaml").write_text(WEB, encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["impose", str(path), "--web", str(tmp_path / "web.yaml"), "--json"])
    assert ended.value.code == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["ok"], told["frames"], told["files"]) == (True, 1, ["sheets.pdf"])
    with pytest.raises(SystemExit):
        main(["impose", str(path), "--web", str(tmp_path / "web.yaml"), "--out", str(tmp_path / "other")])
    assert "6 pieces on 1 frames" in capsys.readouterr().out
    assert (tmp_path / "other" / "sheets.pdf").is_file()


def test_only_sheets_of_a_pdfx_file_say_that_they_are_one(tmp_path: Path) -> None:
    path = write_pdf(tmp_path / "in.pdf", 2)
    _, out = laid(path)
    assert b"PDF/X-4" not in (out / "sheets.pdf").read_bytes()

    def claim(pdf: pikepdf.Pdf) -> None:
        profile = pikepdf.Stream(pdf, b"not a real profile", N=4)
        intent = pikepdf.Dictionary(Type=pikepdf.Name.OutputIntent, S=pikepdf.Name.GTS_PDFX)
        intent.DestOutputProfile = pdf.make_indirect(profile)
        pdf.Root.OutputIntents = pikepdf.Array([intent])
        pdf.Root.Metadata = pikepdf.Stream(pdf, b"<pdfxid:GTS_PDFXVersion>PDF/X-4</pdfxid:GTS_PDFXVersion>")

    edit(path, claim)
    _, out = laid(path)
    assert b"PDF/X-4" in (out / "sheets.pdf").read_bytes()
