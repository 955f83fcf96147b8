"""What a row must become, and the odd corners of what a page may hold."""

from __future__ import annotations

import random
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Stream

from tests.small import JOB, LIST, write_job
from tests.tamper.folder import Tampered, make_run
from tests.verify.pages import BOX, form, glyphs, make, picture, view
from vdp.errors import RowRefused
from vdp.job.load import load_job
from vdp.verify.against import Expectation
from vdp.verify.doubt import Unreadable
from vdp.verify.fonts import read_font
from vdp.verify.holes import has_hole
from vdp.verify.inks import CMYK, Plates, Space, colour_space, signature
from vdp.verify.plates import PlateWriter, page_content
from vdp.verify.shown import runs, text_of
from vdp.verify.tree import pages

LAYOUT = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {name: a, text: {en: "{{ name }}"}, box: [4 mm, 6 mm, 30 mm, 8 mm], when: name != "Bo"}
  - {name: b, text: {en: "x", other: "y"}, box: [4 mm, 6 mm, 30 mm, 8 mm], plate: Magenta, tint: 50}
  - {name: c, microtext: "{{ name }}", box: [4 mm, 16 mm, 30 mm, 1 mm], reversed: true, plate: Clear}
  - {name: d, image: "{{ '' }}", box: [4 mm, 20 mm, 9 mm, 9 mm]}
  - {name: e, text: "{{ '' }}", box: [4 mm, 20 mm, 9 mm, 9 mm]}
back:
  - {number: voucher, box: [4 mm, 4 mm, 50 mm, 5 mm], colour: [0, 0, 0, 60]}
  - {barcode: datamatrix, data: "{{ name }}", at: [44 mm, 14 mm], x: 0.508 mm, plate: Clear}
  - {line: 1 mm, start: [1 mm, 1 mm], end: [9 mm, 1 mm]}
"""


@pytest.fixture
def expectation(tmp_path: Path) -> Expectation:
    return Expectation(load_job(write_job(tmp_path / "job", job=JOB, layout=LAYOUT, records=LIST)), {})


def test_conditions_languages_inks_and_places(expectation: Expectation) -> None:
    wanted = expectation.wanted({"name": "Bo", "lang": "xx"}, 4, 2, {})
    assert wanted.serials["voucher"].startswith("V0009")
    assert [(text.name, text.kind, text.side) for text in wanted.texts] == [
        ("b", "text", 0),
        ("c", "microtext", 0),
        ("back-1", "number", 1),
    ]
    inks = {text.name: text.ink for text in wanted.texts}
    assert inks["b"].cmyk == (0.0, 0.5, 0.0, 0.0)
    assert (inks["c"].spot, inks["c"].tint) == ("Clear", 0.0)
    assert inks["back-1"].cmyk == (0.0, 0.0, 0.0, 0.6)
    assert not wanted.pictures
    (symbol,) = wanted.symbols
    assert (symbol.name, symbol.plate, symbol.data) == ("back-2", "Clear", "Bo")
    # 44 mm and 2 mm of bleed from the left, 2 + 40 − 14 mm from the bottom, in whole dots of 1200 dpi.
    assert symbol.corner == pytest.approx((46 / 25.4 * 72, 28 / 25.4 * 72), abs=0.05)
    assert expectation.media[2:] == pytest.approx((64 / 25.4 * 72, 44 / 25.4 * 72), abs=0.05)
    assert expectation.trim[:2] == pytest.approx((2 / 25.4 * 72,) * 2, abs=0.05)


def test_a_language_without_text_is_refused(expectation: Expectation) -> None:
    with pytest.raises(RowRefused, match="no text for language 'xx'"):
        expectation.wanted({"name": "Anna", "lang": "xx"}, 2, 0, {})


# -- colour spaces ----------------------------------------------------------------------------------------------------


def test_spaces_of_four_inks_and_grey() -> None:
    pdf = pikepdf.new()
    icc = {n: Array([Name.ICCBased, Stream(pdf, b"", N=n)]) for n in (1, 3, 4)}
    assert colour_space(icc[4], None).initial == (0.0,) * 4
    assert colour_space(icc[1], None) == Space("icc1")
    assert colour_space(Array([Name.DeviceCMYK]), None) == CMYK
    for value in (icc[3], Array([]), pikepdf.String("x"), Array([Name.CalGray, Dictionary()])):
        with pytest.raises(Unreadable):
            colour_space(value, None)
    with pytest.raises(Unreadable, match="redefined"):
        colour_space(Name.DeviceCMYK, {"/DefaultCMYK": Name.DeviceCMYK})
    plates = Plates(("Clear",))
    assert plates.tints(Space("icc4"), (0.1, 0.7, 0.2, 0.0), True, 1) == (0.0, None, 0.7)
    assert plates.tints(Space("devicen", ("Black", "Gold")), (0.5, 0.25), True, 1) == (0.5, None, 0.25)


def test_a_separation_array_that_never_ends_is_refused() -> None:
    pdf = pikepdf.new()
    loop = pdf.make_indirect(Array([]))
    loop.append(loop)
    with pytest.raises(Unreadable, match="nested too deeply"):
        signature(loop)


def test_a_separation_is_known_by_all_it_says() -> None:
    pdf = pikepdf.new()

    def array(code: bytes) -> pikepdf.Object:
        function = pdf.make_indirect(Stream(pdf, code, FunctionType=4))
        return Array([Name.Separation, Name.Clear, Name.DeviceCMYK, function])

    assert signature(array(b"{0}")) == signature(array(b"{0}"))
    assert signature(array(b"{0}")) != signature(array(b"{1}"))


# -- what a page may hold ---------------------------------------------------------------------------------------------


def test_contents_in_parts_are_parted_by_line_feeds() -> None:
    pdf = pikepdf.new()
    parts = Array([pdf.make_indirect(Stream(pdf, b"q")), pdf.make_indirect(Stream(pdf, b"Q"))])
    assert page_content(Dictionary(Contents=parts)) == b"q\nQ"
    assert page_content(Dictionary()) == b""


def test_objects_that_are_not_what_they_should_be_are_not_judged() -> None:
    for content in (b"/Nameless Do", b"/MaskedMask Do"):
        pdf = make(content)
        resources = pdf.pages[0].obj.Resources
        nameless = picture(pdf, b"\0", (1, 1), Name.DeviceGray)
        del nameless["/ColorSpace"]
        resources.XObject["/Nameless"] = nameless
        masked = picture(pdf, b"\0", (1, 1), Name.DeviceGray, ImageMask=True, Mask=nameless)
        resources.XObject["/MaskedMask"] = masked
        with pytest.raises(Unreadable):
            view(pdf)


def test_pictures_and_shadings_in_a_group_may_not_overprint() -> None:
    for content in (b"/Over gs /Grey Do", b"/Over gs /Spot sh"):
        pdf = make(b"/Grouped Do")
        resources = pdf.pages[0].obj.Resources
        mine = Dictionary(dict(resources.items()))
        resources.XObject["/Grouped"] = form(pdf, content, mine, Group=Dictionary(S=Name.Transparency))
        with pytest.raises(Unreadable, match="inside a transparency group"):
            view(pdf)


def test_layers_of_objects_are_shown_or_not_judged() -> None:
    pdf = make(b"0 0 0 1 k /Veiled Do")
    group = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="Notes"))
    mask = pdf.pages[0].obj.Resources.XObject["/Mask"]
    mask["/OC"] = group
    pdf.pages[0].obj.Resources.XObject["/Veiled"] = mask
    seen, data = view(pdf)
    assert seen.copies["Black"] == 0
    assert b"/OC" not in data
    pdf.Root.OCProperties = Dictionary(D=Dictionary(BaseState=Name.OFF))
    with pytest.raises(Unreadable, match="hidden"):
        view(pdf)
    pdf.Root.OCProperties = Dictionary(D=Array([]))
    with pytest.raises(Unreadable, match="cannot be read"):
        view(pdf)


def test_knocking_out_inside_a_form_is_seen() -> None:
    """Clear on the page, then paper over it from inside a form."""
    pdf = make(b"/Over gs /Clear cs 1 scn 60 60 50 50 re f /Knock gs 0 0 0 0 k /Bare Do")
    seen, _ = view(pdf)
    assert seen.seen.knocked == {1}
    assert has_hole(pdf, ("Clear",), next(pages(pdf, 0, 1)), 1)
    blank = make(b"0 0 0 1 k 0 0 9 9 re f")
    assert not has_hole(blank, ("Clear",), next(pages(blank, 0, 1)), 1)


def test_strokes_have_areas_too() -> None:
    pdf = make(b"/Clear CS 1 SCN /Over gs 10 10 m 100 10 l S /Knock gs 0 0 0 0 K 50 0 m 60 10 20 30 40 50 c S")
    assert view(pdf)[0].seen.knocked == {1}


def test_masks_far_away_are_left_out() -> None:
    pdf = make(b"0 0 0 1 k q 10 0 0 10 0 0 cm /Mask Do Q")
    writer = PlateWriter(pdf, ("Clear",), [(150.0, 150.0, 160.0, 160.0)])
    page = pdf.pages[0].obj
    assert writer.read(page, page.Resources, BOX).copies["Black"] is None


# -- text put back together -------------------------------------------------------------------------------------------


def shown(content: bytes) -> str:
    return text_of(runs(view(make(content))[0].seen.shows))


A, B = b"<" + glyphs("AB-12") + b">", b"<" + glyphs("345") + b">"


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj " + B + b" Tj ET", "AB-12345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj 5 Ts " + B + b" Tj ET", "AB-12345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj 36 0 Td " + B + b" Tj ET", "AB-12 345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj 0 -12 Td " + B + b" Tj ET", "AB-12\n345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj 150 0 Td " + B + b" Tj ET", "AB-12\n345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj 0 1 -1 0 30 10 Tm " + B + b" Tj ET", "AB-12\n345"),
        (b"BT /Mono 0 Tf 10 10 Td " + A + b" Tj 10 0 Td " + B + b" Tj ET", "AB-12\n345"),
        (b"BT /Plain 10 Tf 10 10 Td (x) Tj /Mono 10 Tf " + B + b" Tj ET", "345"),
        (b"BT /Mono 10 Tf 10 10 Td " + A + b" Tj /Plain 10 Tf (x) Tj /Mono 10 Tf " + B + b" Tj ET", "AB-12\n345"),
        (b"BT /Mono 10 Tf 10 10 Td <FFFEFFFF> Tj ET", "\ufffd "),
    ],
)
def test_lines_are_put_back_together(content: bytes, text: str) -> None:
    pdf = make(content)
    plain = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
    pdf.pages[0].obj.Resources.Font["/Plain"] = plain
    assert text_of(runs(view(pdf)[0].seen.shows)) == text


def test_widths_in_both_forms() -> None:
    """ISO 32000-2, 9.7.4.3: c [w…] and first last w."""
    descendant = Dictionary(DW=500, W=Array([3, Array([250, 300]), 10, 12, 700]))
    font = Dictionary(
        Subtype=Name.Type0,
        Encoding=Name("/Identity-H"),
        BaseFont=Name("/ABCDEF+X"),
        DescendantFonts=Array([descendant]),
    )
    read = read_font(font)
    assert (read.base, read.default, read.widest) == ("X", 500.0, 700.0)
    assert read.widths == {3: 250.0, 4: 300.0, 10: 700.0, 11: 700.0, 12: 700.0}
    assert read.width(b"\0\x03\0\x0a\0\x63") == 250 + 700 + 500


# -- damage -----------------------------------------------------------------------------------------------------------


def test_damaged_files_give_findings_and_never_a_traceback(tmp_path: Path) -> None:
    home = make_run(tmp_path / "run")
    for seed in range(25):
        chance = random.Random(seed)
        tampered = Tampered(home, tmp_path / str(seed))
        path = tampered.out / "pieces.pdf"
        with pikepdf.open(path, allow_overwriting_input=True) as pdf:
            pdf.save(path, object_stream_mode=pikepdf.ObjectStreamMode.disable, compress_streams=False)
        data = bytearray(path.read_bytes())
        for _ in range(chance.choice([1, 5, 40])):
            at = chance.randrange(20, len(data) - 20)
            data[at : at + chance.randrange(1, 6)] = chance.randbytes(chance.randrange(0, 6))
        path.write_bytes(data)
        tampered.refresh(contents=False)
        verdict = tampered.verdict()
        assert verdict.symbols_decoded <= verdict.symbols_expected
