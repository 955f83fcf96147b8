"""One-plate copies against Ghostscript's own separations, and what must not be judged at all."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Stream
from PIL import Image

from tests.verify.pages import BOX, SIDE, form, glyphs, make, picture, plates, saved, view, with_resources
from vdp.verify.doubt import Unreadable
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.samples import Bytes

DPI = 600

BASE = b"0.3 0.2 0 0.9 k 0 0 110 200 re f "
#: Content, drawn on a page of 200 × 200 pt; the resources are those of `pages.with_resources`.
CASES: dict[str, bytes] = {
    "black": b"0 0 0 1 k 20 20 100 100 re f",
    "spot overprints": b"0 0 0 1 k 20 20 100 100 re f /Over gs /Clear cs 1 scn 60 60 100 100 re f",
    "spot knocks out": b"0 0 0 1 k 20 20 100 100 re f /Clear cs 1 scn 60 60 100 100 re f",
    "paper knocks out": b"0.4 0.2 0 1 k 20 20 150 150 re f 0 0 0 0 k 60 60 40 40 re f",
    "mode 1 leaves black": b"0.4 0.2 0 1 k 20 20 150 150 re f /Over gs 0.5 0 0 0 k 60 60 40 40 re f",
    "mode 0 takes black": b"0.4 0.2 0 1 k 20 20 150 150 re f /Over0 gs 0.5 0 0 0 k 60 60 40 40 re f",
    "grey over spot": b"/Clear cs 1 scn 20 20 150 150 re f 0 0 0 0.4 k 60 60 40 40 re f",
    "device grey": b"0.25 g 20 20 150 150 re f 1 g 60 60 40 40 re f",
    "All": b"/Clear cs 1 scn 0 0 10 10 re f /All cs 1 scn 20 20 150 150 re f",
    "None": b"0 0 0 1 k 20 20 150 150 re f /None_ cs 1 scn 40 40 40 40 re f",
    "DeviceN": b"/Duo cs 1 0.5 scn 20 20 150 150 re f",
    "DeviceN overprints": b"0.3 0.3 0 0.5 k 0 0 120 120 re f /Over gs /Duo cs 0 1 scn 20 20 150 150 re f",
    "Separation Black": b"0.3 0.3 0 0 k 0 0 120 120 re f /Over gs /Black cs 1 scn 20 20 150 150 re f",
    "axial shading": b"/Clear cs 1 scn 20 20 150 150 re f q 50 50 100 100 re W n /Axial sh Q",
    "radial shading overprints": BASE + b"/Over gs /Spot sh",
    "radial shading knocks out": BASE + b"/Spot sh",
    "form": BASE + b"/Form Do",
    "form overprints": BASE + b"/Over gs /Form Do",
    "form in a form": BASE + b"/Deep Do",
    "form with its page's colour": b"/Over gs /Clear cs 0.7 scn /Bare Do",
    "four-ink JPEG": b"/Clear cs 1 scn 20 20 150 150 re f q 100 0 0 100 50 50 cm /Jpeg Do Q",
    "four-ink JPEG overprints": b"/Clear cs 1 scn 20 20 150 150 re f /Over gs q 100 0 0 100 50 50 cm /Jpeg Do Q",
    "grey picture": b"q 100 0 0 100 50 50 cm /Grey Do Q",
    "four-ink picture": b"q 100 0 0 100 50 50 cm /Cmyk Do Q",
    "spot picture": BASE + b"/Over gs q 100 0 0 100 50 50 cm /Spot Do Q",
    "DeviceN picture": b"q 100 0 0 100 50 50 cm /Duo Do Q",
    "one-bit picture": b"q 92.16 0 0 92.16 48 48 cm /Bits Do Q",
    "palette": b"q 100 0 0 100 50 50 cm /Few Do Q",
    "ICC picture": b"q 100 0 0 100 50 50 cm /Icc Do Q",
    "image mask": BASE + b"0 0 0 1 k q 96 0 0 96 48 48 cm /Mask Do Q",
    "image mask overprints": BASE + b"/Over gs /Clear cs 1 scn q 96 0 0 96 48 48 cm /Mask Do Q",
    "picture cut by a mask": BASE + b"q 96 0 0 96 48 48 cm /Cut Do Q",
    "inline picture": BASE + b"q 96 0 0 96 48 48 cm BI /W 2 /H 2 /BPC 8 /CS /G ID \x00\x80\xc0\xff EI Q",
    "dashed strokes": b"/Line gs 0 0 0 1 K 24 24 m 96 180 l 180 24 l S /Over gs /Clear CS 1 SCN 24 96 156 36 re s",
    "filled and stroked": b"6 w 0.5 0 0 0.2 k 0 0 0 1 K 30 30 96 96 re B",
    "closed, filled and stroked": b"6 w 0.5 0 0 0.2 k 0 0 0 1 K 30 30 m 130 30 l 130 130 l b*",
    "clip by the even-odd rule": b"q 24 24 144 144 re 60 60 72 72 re W* n 0 0 0 1 k 0 0 200 200 re f Q "
    b"/Over gs /Clear cs 1 scn 0 84 200 36 re f",
    "clip and paint at once": b"q 0 0 0 1 k 24 24 144 144 re W f 0.5 0 0 0 k 96 96 96 96 re f Q",
    "curves": b"0 0 0 1 k 24 24 m 24 180 180 180 180 24 c 100 60 60 24 v 50 30 24 24 y h f*",
}

A, B = b"<" + glyphs("Hamburg") + b">", b"<" + glyphs("ionstiv") + b">"
TEXTS: Mapping[str, bytes] = {
    "moves": b"BT /Mono 30 Tf 10 150 Td " + A + b" Tj 0 -40 TD " + B + b" Tj T* " + A + b" Tj ET",
    "quotes": b"BT /Mono 30 Tf 40 TL 10 180 Td " + A + b" ' 2 3 " + B + b' " ET',
    "matrix, rise, stretch and spacing": b"BT /Mono 24 Tf 80 Tz 2 Tc 5 Ts 0.9 0.3 -0.3 0.9 20 30 Tm " + A + b" Tj ET",
    "adjustments": b"BT /Mono 24 Tf 10 100 Td [-200 " + A + b" 600 " + B + b"] TJ ET",
    "outlines": b"BT /Mono 40 Tf 3 w 1 Tr 0 0 0 1 K 10 100 Td " + A[:21] + b"> Tj 2 Tr 0 -60 Td " + A[:21] + b"> Tj ET",
    "two plates on one line": b"/Over gs BT /Mono 24 Tf 10 100 Td "
    + A[:13]
    + b"> Tj /Clear cs 1 scn ["
    + B[:13]
    + b">] TJ 0 0 0 1 k "
    + A[:13]
    + b"> Tj ET",
    "state set inside text": b"BT /Clear cs 1 scn /Over gs /Mono 20 Tf 12 TL ET BT 10 100 Td " + A + b" Tj ET",
    "literal strings": b"BT /Mono 20 Tf 10 100 Td (\\000" + bytes([0x18]) + b"\\000\\031) Tj ET",
}
CASES |= {f"text: {title}": content for title, content in TEXTS.items()}


def separated(pdf: pikepdf.Pdf, gs: str, folder: Path) -> dict[str, Bytes]:
    """Ghostscript's plates (device tiffsep, overprint on) as grey pixels, 255 = paper.

    In one band: Ghostscript 10.0 forgets the overprint of shadings when it cuts a page into bands.
    """
    (folder / "page.pdf").write_bytes(saved(pdf))
    command = [gs, "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep", "-dOverprint=/enable"]
    command += [f"-r{DPI}", "-dMaxBitmap=60000000"]
    subprocess.run([*command, "-o", str(folder / "p.tif"), str(folder / "page.pdf")], check=True)
    return {file.name[2:-5]: np.asarray(Image.open(file)) for file in folder.glob("p(*).tif")}


@pytest.mark.parametrize("title", CASES)
def test_plates_agree_with_tiffsep(title: str, need: Callable[[str], str], tmp_path: Path) -> None:
    """Inked pixels: at most 1 % more than a pixel apart, intersection over union at least 97 % as it is (type 90 %);
    the ink of pixels that both have, within 3 % on average (type 10 %)."""
    gs = need("gs")
    pdf = make(CASES[title], {})
    add_icc(pdf)
    theirs = separated(pdf, gs, tmp_path)
    mine = plates(pdf, DPI)
    blank = np.full(mine["Black"].shape, 255, np.uint8)
    coloured = np.minimum(np.minimum(theirs["Cyan"], theirs["Magenta"]), theirs["Yellow"])
    expected = {"Black": theirs["Black"], "Clear": theirs.get("Clear", blank), "Colour": coloured}
    for plate, wanted in expected.items():
        height, width = (min(a, b) for a, b in zip(mine[plate].shape, wanted.shape, strict=True))
        a, b = mine[plate][:height, :width], wanted[:height, :width]
        inked_a, inked_b = a < 250, b < 250
        either, both = (inked_a | inked_b), (inked_a & inked_b)
        apart = (inked_a & ~grown(inked_b)) | (inked_b & ~grown(inked_a))
        # Letters are mostly edges, and the two rasterisers take a touched pixel differently.
        least = 0.9 if title.startswith("text") else 0.97
        assert both.sum() >= least * either.sum(), f"{plate}: {both.sum() / max(1, either.sum()):.4f}"
        assert apart.sum() <= 0.01 * either.sum(), f"{plate}: {apart.sum() / max(1, either.sum()):.4f}"
        if both.any():
            assert (
                np.abs(a[both].astype(int) - b[both].astype(int)).mean()
                <= (0.1 if title.startswith("text") else 0.03) * 255
            ), plate


def test_invisible_text_moves_what_follows() -> None:
    """ISO 32000-2, 9.3.6.  (Ghostscript 10.0 does not move on.)  Seven glyphs of 600/1000 em at 30 pt come first."""
    pdf = make(b"BT /Mono 30 Tf 3 Tr 10 100 Td " + A + b" Tj 0 Tr " + B[:13] + b"> Tj ET")
    columns = np.flatnonzero((plates(pdf, 72)["Black"] < 200).any(axis=0))
    assert 10 + 7 * 18 <= columns[0] <= 10 + 7 * 18 + 6
    seen, _ = view(pdf)
    assert [round(show.at[0], 3) for show in seen.seen.shows] == [10.0, 136.0]


def grown(inked: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """One pixel more on every side."""
    wide = inked.copy()
    wide[1:] |= inked[:-1]
    wide[:-1] |= inked[1:]
    more = wide.copy()
    more[:, 1:] |= wide[:, :-1]
    more[:, :-1] |= wide[:, 1:]
    return more


def add_icc(pdf: pikepdf.Pdf) -> None:
    """A grey picture through an ICCBased space whose alternate says all that matters here."""
    profile = Stream(pdf, grey_profile(), N=1, Alternate=Name.DeviceGray)
    space = Array([Name.ICCBased, pdf.make_indirect(profile)])
    data = bytes(range(0, 256, 4)) * 64
    pdf.pages[0].obj.Resources.XObject["/Icc"] = picture(pdf, data, (64, 64), space)


def grey_profile() -> bytes:
    """Ghostscript's own grey profile is not at hand everywhere; an unreadable one makes readers use the alternate."""
    return b"\0" * 128


# -- what must not be judged ------------------------------------------------------------------------------------------

DOUBTS: Mapping[str, tuple[bytes, str]] = {
    "soft mask": (b"/Soft gs 0 0 10 10 re f", "soft mask"),
    "blend mode": (b"/Multiply gs 0 0 10 10 re f", "blend mode"),
    "fill transparency": (b"/Half gs 0 0 10 10 re f", "transparent"),
    "stroke transparency": (b"/HalfStroke gs 0 0 10 10 re f", "transparent"),
    "transfer function": (b"/Transfer gs 0 0 10 10 re f", "transfer function"),
    "font in a graphics state": (b"/FontState gs", "a graphics state sets Font"),
    "pattern": (b"/Pattern cs /Tile scn 0 0 10 10 re f", "a pattern"),
    "mesh": (b"/Mesh sh", "mesh"),
    "RGB fill": (b"1 0 0 rg 0 0 10 10 re f", "RGB"),
    "RGB stroke": (b"1 0 0 RG 0 0 10 10 re S", "RGB"),
    "RGB space": (b"/Rgb cs 0 0 10 10 re f", "DeviceRGB"),
    "Lab space": (b"/Lab cs 0 0 10 10 re f", "Lab"),
    "unknown space": (b"/Nowhere cs", "not among the page's ColorSpace"),
    "B with overprint": (b"/Over gs 0 0 10 10 re B", "fills and strokes while overprinting"),
    "Type 3 font": (b"BT /T3 10 Tf (x) Tj ET", "Type 3"),
    "text as a clip": (b"BT 7 Tr ET", "clipping path"),
    "picture with a soft mask": (b"/Smasked Do", "soft mask"),
    "picture with a colour key": (b"/Keyed Do", "colour key"),
    "picture in JPEG 2000": (b"/Jpx Do", "JPXDecode"),
    "picture in RGB": (b"/RgbPicture Do", "DeviceRGB"),
    "knockout group": (b"/Knock Do", "knockout group"),
    "overprint in a group": (b"/Grouped Do", "inside a transparency group"),
    "hidden layer": (b"/OC /Off BDC 0 0 10 10 re f EMC", "hidden"),
    "layer of layers": (b"/OC /Many BDC 0 0 10 10 re f EMC", "other layers"),
    "PostScript XObject": (b"/Ps Do", "kind PS"),
    "Q too many": (b"Q", "Q without its q"),
    "q in text": (b"BT q ET", "q inside a text object"),
    "text left open": (b"BT", "left open"),
    "BT in BT": (b"BT BT", "BT inside"),
    "ET alone": (b"ET", "ET without"),
    "EMC alone": (b"EMC", "EMC without"),
    "unknown operator": (b"1 2 xyz", "xyz is not one of PDF's"),
    "wrong count": (b"1 2 3 k", "4 numbers were expected"),
    "missing resource": (b"/Nothing Do", "not among the page's XObject"),
    "text without a font": (b"BT (x) Tj ET", "without a font"),
    "TJ without an array": (b"BT /F 1 Tf (x) TJ ET", "TJ takes an array"),
    "Tf without a size": (b"BT /F Tf ET", "Tf takes"),
    "quotes without numbers": (b'BT /F 1 Tf (x) " ET', "two numbers and a string"),
    "colour of the wrong size": (b"/Clear cs 1 1 scn 0 0 1 1 re f", "components"),
    "text filled and stroked with overprint": (b"/Over gs BT /F 1 Tf 2 Tr <00> Tj ET", "filled and stroked at once"),
    "endless forms": (b"/Loop Do", "nested too deeply"),
    "redefined device space": (b"/Redefined Do", "redefined"),
    "font that is none": (b"BT /Broken 1 Tf (x) Tj ET", "font cannot be read"),
}


def dubious(content: bytes) -> pikepdf.Pdf:
    """A page with everything on it that cannot be judged."""
    pdf = make(content)
    resources = pdf.pages[0].obj.Resources
    grey = bytes(64 * 64)
    states = {
        "Soft": Dictionary(SMask=Dictionary(S=Name.Luminosity)),
        "Multiply": Dictionary(BM=Array([Name.Multiply, Name.Normal])),
        "Half": Dictionary(ca=0.5),
        "HalfStroke": Dictionary(CA=0.5),
        "Transfer": Dictionary(TR=Dictionary(FunctionType=2)),
        "FontState": Dictionary(Font=Array([Dictionary(), 3])),
    }
    for name, state in states.items():
        resources.ExtGState[f"/{name}"] = state
    resources.ColorSpace["/Rgb"] = Name.DeviceRGB
    resources.ColorSpace["/Lab"] = Array([Name.Lab, Dictionary(WhitePoint=Array([1, 1, 1]))])
    resources.Shading["/Mesh"] = Stream(pdf, b"", ShadingType=4, ColorSpace=Name.DeviceCMYK)
    resources.Font = Dictionary(
        T3=Dictionary(Type=Name.Font, Subtype=Name.Type3),
        F=Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica),
        Broken=Dictionary(Type=Name.Font, Subtype=Name.Type0, Encoding=Name("/Identity-H")),
    )
    off = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="Secret"))
    many = pdf.make_indirect(Dictionary(Type=Name.OCMD, OCGs=off))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([off]), D=Dictionary(OFF=Array([off])))
    resources.Properties = Dictionary(Off=off, Many=many)
    objects = {
        "Smasked": picture(pdf, grey, (64, 64), Name.DeviceGray, SMask=picture(pdf, grey, (64, 64), Name.DeviceGray)),
        "Keyed": picture(pdf, grey, (64, 64), Name.DeviceGray, Mask=Array([0, 1])),
        "Jpx": picture(pdf, grey, (64, 64), Name.DeviceGray, Filter=Name.JPXDecode),
        "RgbPicture": picture(pdf, grey * 3, (64, 64), Name.DeviceRGB),
        "Knock": form(pdf, b"0 0 9 9 re f", Dictionary(), Group=Dictionary(S=Name.Transparency, K=True)),
        "Grouped": form(
            pdf,
            b"/Over gs 0 0 9 9 re f",
            Dictionary(ExtGState=resources.ExtGState),
            Group=Dictionary(S=Name.Transparency),
        ),
        "Redefined": form(pdf, b"0 0 0 1 k", Dictionary(ColorSpace=Dictionary(DefaultCMYK=Name.DeviceCMYK))),
        "Ps": Stream(pdf, b"", Type=Name.XObject, Subtype=Name.PS),
    }
    for name, value in objects.items():
        resources.XObject[f"/{name}"] = value
    loop = form(pdf, b"/Loop Do", Dictionary(XObject=Dictionary()))
    loop.Resources.XObject["/Loop"] = loop
    resources.XObject["/Loop"] = loop
    return pdf


@pytest.mark.parametrize("title", DOUBTS)
def test_what_cannot_be_judged_is_refused(title: str) -> None:
    content, reason = DOUBTS[title]
    with pytest.raises(Unreadable, match=reason):
        view(dubious(content))


def test_annotations_are_not_judged() -> None:
    pdf = make(b"")
    pdf.pages[0].obj.Annots = Array([Dictionary(Subtype=Name.Square)])
    with pytest.raises(Unreadable, match="annotations"):
        view(pdf)


# -- what is noted ----------------------------------------------------------------------------------------------------

LAYERED = b"/OC /Clear BDC q /Clear cs 1 scn /Over gs 10 10 20 20 re f Q EMC "
RULES: Mapping[str, tuple[bytes, set[str]]] = {
    "as it must be": (LAYERED, set()),
    "no overprint": (LAYERED.replace(b"/Over gs ", b""), {"clear-knockout"}),
    "wrong mode": (LAYERED.replace(b"/Over gs", b"/Over0 gs"), {"clear-knockout"}),
    "no layer": (LAYERED.replace(b"/OC /Clear BDC", b"/Span BMC"), {"clear-layer"}),
    "process ink in the layer": (LAYERED.replace(b"Q EMC", b"Q 0 0 0 1 k 50 50 9 9 re f EMC"), {"clear-in-process"}),
    "mixed with black": (LAYERED.replace(b"/Clear cs 1", b"/Duo cs 1 1"), {"separation-differs"}),
    "on every plate": (b"/All cs 1 scn 10 10 20 20 re f", {"plate-unknown"}),
    "layered form": (b"/Layered Do", set()),
}


@pytest.mark.parametrize("title", RULES)
def test_the_rules_of_spot_plates(title: str) -> None:
    content, codes = RULES[title]
    pdf = make(content)
    group = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="Clear"))
    resources = pdf.pages[0].obj.Resources
    resources.Properties = Dictionary(Clear=group)
    inner = b"/Over gs /Clear cs 1 scn 9 9 9 9 re f"
    mine = Dictionary(ExtGState=resources.ExtGState, ColorSpace=resources.ColorSpace)
    resources.XObject["/Layered"] = form(pdf, inner, mine, OC=group)
    seen, _ = view(pdf)
    assert {code for code, _ in seen.seen.faults} == codes


def test_a_plate_that_the_job_does_not_have_is_noted() -> None:
    seen, _ = view(make(b"/Clear cs 1 scn 0 0 9 9 re f"), spots=())
    assert {code for code, _ in seen.seen.faults} == {"plate-unknown"}
    assert seen.copies["Colour"] is not None


def test_a_plate_without_marks_has_no_copy() -> None:
    seen, _ = view(make(b"q 0 0 0 1 k 0 0 9 9 re f Q"))
    assert seen.copies["Clear"] is None
    assert seen.copies["Colour"] is None
    assert seen.copies["Black"] == 0


def test_marks_outside_the_interest_are_left_out_of_copies_and_kept_in_notes() -> None:
    content = b"q 10 0 0 10 0 0 cm /Grey Do Q q 10 0 0 10 150 150 cm /Cmyk Do Q"
    pdf = make(content)
    writer = PlateWriter(pdf, ("Clear",), [(140.0, 140.0, 200.0, 200.0)])
    page = pdf.pages[0].obj
    seen = writer.read(page, page.Resources, BOX)
    assert len(seen.seen.pictures) == 2
    assert len(writer.out.resources.XObject.keys()) == 2
    assert seen.copies["Colour"] is not None


def test_forms_are_read_once_for_each_state() -> None:
    pdf = make(b"/Bare Do /Bare Do 0.5 g /Bare Do")
    writer = PlateWriter(pdf, ("Clear",))
    page = pdf.pages[0].obj
    writer.read(page, page.Resources, BOX)
    # Twice at first: the page has no ink yet, then it has; a third time in grey.
    assert len(writer.forms) == 3


def test_pictures_are_kept_within_bounds() -> None:
    store = PictureStore(most=150)
    made: list[int] = []

    def maker(value: int) -> Callable[[], Bytes]:
        def make_it() -> Bytes:
            made.append(value)
            return np.full((10, 10), value, np.uint8)

        return make_it

    for value in (1, 1, 2, 1):
        store.get(((value, 0), "Black"), maker(value))
    assert made == [1, 2, 1]
    store.get(((0, 0), "Black"), maker(9))
    store.get(((0, 0), "Black"), maker(9))
    assert made[3:] == [9, 9]


def test_resources_can_be_shared_between_pages() -> None:
    pdf = make(b"/Clear cs 1 scn 0 0 9 9 re f")
    shared = with_resources(pdf)
    writer = PlateWriter(pdf, ("Clear",))
    page = pdf.pages[0].obj
    for _ in range(2):
        writer.read(page, shared, BOX)
    assert len(writer.shared.resources) == 1
    assert len(writer.shared.separations["Clear"]) == 1
    assert BOX[2] == SIDE


@pytest.mark.parametrize("state", [b"80 w ", b"/Wide gs "])
def test_a_wide_stroke_reaches_into_the_interest(state: bytes) -> None:
    """In a form, whose far marks are left out: the path ends 30 pt away, the stroke does not."""
    pdf = make(b"/Stroked Do")
    resources = pdf.pages[0].obj.Resources
    mine = Dictionary(ExtGState=Dictionary(Wide=Dictionary(LW=80, ML=2)))
    resources.XObject["/Stroked"] = form(pdf, state + b"0 0 0 1 K 10 100 m 110 100 l S 0 0 0 1 k 0 0 9 9 re f", mine)
    writer = PlateWriter(pdf, (), [(140.0, 90.0, 150.0, 110.0)])
    page = pdf.pages[0].obj
    assert writer.read(page, page.Resources, BOX).copies["Black"] == 0


def test_ink_far_from_the_interest_leaves_nothing_to_knock_out() -> None:
    pdf = make(b"0 0 0 1 k 0 0 9 9 re f 0 0 0 0 k 150 150 9 9 re f")
    writer = PlateWriter(pdf, (), [(140.0, 140.0, 170.0, 170.0)])
    page = pdf.pages[0].obj
    writer.read(page, page.Resources, BOX)
    assert b"150 150 9 9 re" not in writer.finish()
