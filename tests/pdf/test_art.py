"""Artwork from elsewhere: placed trim on trim whatever its boxes, copied whole, or refused with a reason."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2 as pdfium
import pytest
from pikepdf import Array, Dictionary, Name, String
from PIL import Image

from tests.pdf.made import write
from vdp.errors import CallerError
from vdp.marks import ImageMark, Mark
from vdp.pdf.art import art_info, open_art
from vdp.pdf.colouring import Colouring


def made(path: Path, content: bytes = b"0 0 0 1 k 10 10 20 10 re f", **entries: object) -> Path:
    """A page of 100 × 60 pt with a black box towards its lower left."""
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(100, 60))
    page.obj.Contents = pdf.make_stream(content)
    for key, value in entries.items():
        page.obj[f"/{key}"] = value
    pdf.save(path)
    return path


def shown(folder: Path, art: Path, box: tuple[int, int, int, int] = (0, 0, 1000, 600)) -> npt.NDArray[np.bool_]:
    mark: list[Mark] = [ImageMark("a", "art:a", box, 0, None)]
    path = write(folder / "o.pdf", [mark, []], art={"art:a": (art, 1)})
    with pdfium.PdfDocument(path) as document:
        image = document[0].render(scale=1200 / 72, grayscale=True, no_smoothpath=True).to_numpy()
    return np.asarray(image).reshape(image.shape[0], -1)[:600, :1000] < 128


@pytest.mark.parametrize(
    ("turn", "size", "left_bottom"),
    # A clockwise turn takes the box at (10, 10, 20 × 10) of 100 × 60 to these corners of the turned page.
    [(0, (100, 60), (10, 10, 20, 10)), (90, (60, 100), (10, 70, 10, 20)), (180, (100, 60), (70, 40, 20, 10)),
     (270, (60, 100), (40, 10, 10, 20))],
)  # fmt: skip
def test_a_page_s_own_turn_is_obeyed(
    tmp_path: Path, turn: int, size: tuple[float, float], left_bottom: tuple[int, int, int, int]
) -> None:
    art = made(tmp_path / "a.pdf", Rotate=turn)
    assert art_info(art, 1, Colouring())[0] == size
    inked = np.argwhere(shown(tmp_path, art)[::-1])
    (bottom, left), (top, right) = inked.min(0), inked.max(0) + 1
    x, y, width, height = left_bottom
    expected = [x / size[0] * 1000, y / size[1] * 600, width / size[0] * 1000, height / size[1] * 600]
    assert [left, bottom, right - left, top - bottom] == pytest.approx(expected, abs=1.5)


def test_trim_and_bleed_say_where_it_lies(tmp_path: Path) -> None:
    art = made(tmp_path / "a.pdf", TrimBox=Array([8, 8, 92, 52]), BleedBox=Array([5, 5, 95, 55]))
    size, trim = art_info(art, 1, Colouring())
    assert list(size) == [90, 50]
    assert trim == pytest.approx((3, 3, 84, 44))
    turned = made(tmp_path / "t.pdf", TrimBox=Array([8, 10, 92, 52]), Rotate=90, UserUnit=2)
    size, trim = art_info(turned, 1, Colouring())
    assert list(size) == [120, 200]
    assert trim == pytest.approx((20, 16, 84, 168))


def test_what_lies_outside_the_bleed_is_cut(tmp_path: Path) -> None:
    art = made(tmp_path / "a.pdf", b"0 0 0 1 k -50 -50 300 300 re f", BleedBox=Array([50, 0, 100, 60]))
    assert shown(tmp_path, art, (0, 0, 500, 600))[:, :500].all()
    assert not shown(tmp_path, art, (0, 0, 500, 600))[:, 502:].any()


def test_pages_of_one_file_share_what_they_share(tmp_path: Path) -> None:
    pdf = pikepdf.new()
    font = pdf.make_indirect(Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica))
    lzw = pdf.make_stream(b"\x80\x0b\x60\x50\x22\x0c\x0c\x85\x01", Filter=Name.LZWDecode)  # ISO 32000-1 7.4.4.2 example
    for _ in range(2):
        page = pdf.add_blank_page(page_size=(100, 60))
        page.obj.Resources = Dictionary(Font=Dictionary(F=font), XObject=Dictionary(L=lzw))
        page.obj.Contents = pdf.make_stream(b"BT /F 9 Tf (x) Tj ET")
    pdf.save(tmp_path / "a.pdf")
    art = {f"art:{n}": (tmp_path / "a.pdf", n) for n in (1, 2)}
    marks: list[Mark] = [ImageMark("a", key, (0, 0, 100, 60), 0, None) for key in art]
    with pikepdf.open(write(tmp_path / "o.pdf", [marks, []], art=art)) as out:
        fonts = [o for o in out.objects if isinstance(o, Dictionary) and o.get("/BaseFont") == Name.Helvetica]
        assert len(fonts) == 1
        streams = [o for o in out.objects if isinstance(o, pikepdf.Stream)]
        assert all("/LZWDecode" not in str(o.get("/Filter")) for o in streams)
        assert any(o.read_bytes() == bytes([45, 45, 45, 45, 45, 65, 45, 45, 45, 66]) for o in streams)


def test_a_separation_named_like_a_plate_becomes_the_job_s_own(tmp_path: Path) -> None:
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(100, 60))
    tint = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=1)
    page.obj.Resources = Dictionary(
        ColorSpace=Dictionary(
            A=Array([Name.Separation, Name.Clear, Name.DeviceGray, tint]),
            B=pdf.make_indirect(Array([Name.Separation, Name.Clear, Name.DeviceGray, tint])),
            C=Array([Name.Separation, Name.Gold, Name.DeviceGray, tint]),
        )
    )
    page.obj.Contents = pdf.make_stream(b"/A cs 1 scn 0 0 9 9 re f")
    pdf.save(tmp_path / "a.pdf")
    mark: list[Mark] = [ImageMark("a", "art:a", (0, 0, 100, 60), 0, None)]
    with pikepdf.open(write(tmp_path / "o.pdf", [mark, []], art={"art:a": (tmp_path / "a.pdf", 1)})) as out:
        (form,) = [o for o in out.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"]
        spaces = form.Resources.ColorSpace
        assert spaces.A.objgen == spaces.B.objgen
        assert spaces.A[2] == Name.DeviceCMYK
        assert spaces.C[2] == Name.DeviceGray


def test_pictures_may_be_art_and_have_one_page(tmp_path: Path) -> None:
    Image.new("L", (300, 150), 0).save(tmp_path / "a.png", dpi=(300, 300))
    size, trim = art_info(tmp_path / "a.png", 1, Colouring())
    assert (round(size[0], 1), round(size[1], 1), trim) == (72, 36, None)
    with pytest.raises(CallerError, match="a picture has one page"):
        art_info(tmp_path / "a.png", 2, Colouring())
    assert shown(tmp_path, tmp_path / "a.png").all()


def test_layers_of_the_artwork_are_kept(tmp_path: Path) -> None:
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(100, 60))
    layer = pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String("Chart")))
    page.obj.Resources = Dictionary(Properties=Dictionary(L=layer))
    page.obj.Contents = pdf.make_stream(b"/OC /L BDC 0 0 9 9 re f EMC")
    pdf.Root.OCProperties = Dictionary(OCGs=Array([layer]), D=Dictionary())
    pdf.save(tmp_path / "a.pdf")
    mark: list[Mark] = [ImageMark("a", "art:a", (0, 0, 100, 60), 0, None)]
    with pikepdf.open(write(tmp_path / "o.pdf", [mark, []], art={"art:a": (tmp_path / "a.pdf", 1)})) as out:
        assert [str(group.Name) for group in out.Root.OCProperties.OCGs] == ["Clear", "Chart"]
    pdf.Root.OCProperties.D = Dictionary(OFF=Array([layer]))
    pdf.save(tmp_path / "b.pdf")
    with pytest.raises(CallerError, match="hidden layers"):
        open_art(tmp_path / "b.pdf", 1)


def test_what_cannot_be_used_says_so(tmp_path: Path) -> None:
    good = made(tmp_path / "g.pdf")
    with pytest.raises(CallerError, match=r"g.pdf, page 2: the file has 1 pages"):
        open_art(good, 2)
    with pikepdf.open(good) as pdf:
        pdf.save(tmp_path / "e.pdf", encryption=pikepdf.Encryption(owner="o", user="u"))
        pdf.save(tmp_path / "r.pdf", encryption=pikepdf.Encryption(owner="o", user=""))
    for name in ("e.pdf", "r.pdf"):
        with pytest.raises(CallerError, match="is encrypted"):
            open_art(tmp_path / name, 1)
    (tmp_path / "cut.pdf").write_bytes(good.read_bytes()[:-60])
    (tmp_path / "no.pdf").write_bytes(b"not a pdf at all")
    for name in ("cut.pdf", "no.pdf", "gone.pdf"):
        with pytest.raises(CallerError, match=r"is damaged|cannot be read|is not a PDF"):
            open_art(tmp_path / name, 1)
    pikepdf.new().save(tmp_path / "empty.pdf")
    with pytest.raises(CallerError, match="has no pages"):
        open_art(tmp_path / "empty.pdf", 1)
    for entries, words in (
        ({"MediaBox": Array([0, 0, 0, 60])}, "empty page box"),
        ({"Rotate": 45}, r"turned by 45|cannot be read"),
    ):
        with pytest.raises(CallerError, match=words):
            open_art(made(tmp_path / "x.pdf", **entries), 1)


@pytest.mark.parametrize(("flags", "printed"), [(4, True), (0, False), (6, False)])
def test_annotations_that_print_are_refused(tmp_path: Path, flags: int, printed: bool) -> None:
    note = Dictionary(Type=Name.Annot, Subtype=Name.Stamp, Rect=Array([0, 0, 9, 9]), F=flags, AP=Dictionary())
    art = made(tmp_path / "a.pdf", Annots=Array([note, Dictionary(Subtype=Name.Link)]))
    if printed:
        with pytest.raises(CallerError, match="annotations or form fields that print"):
            open_art(art, 1)
    else:
        assert open_art(art, 1).size == (100, 60)


def test_a_stream_that_lies_in_another_file_is_refused(tmp_path: Path) -> None:
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(100, 60))
    outside = pdf.make_stream(b"", F=String("/etc/hostname"))
    page.obj.Resources = Dictionary(XObject=Dictionary(X=outside))
    page.obj.Contents = pdf.make_stream(b"q Q")
    pdf.save(tmp_path / "a.pdf")
    with pytest.raises(CallerError, match="lies in another file"):
        shown(tmp_path, tmp_path / "a.pdf")
    assert not list(tmp_path.glob("o.pdf*"))
