"""Each complaint about artwork is raised by artwork that has just that fault, and by none that has not."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Stream
from PIL import Image

from tests.verify.preflight.artful import BLEED, MM, Change, picture, spot, write_art
from vdp.verify.preflight.artwork import judge_artwork, picture_of
from vdp.verify.preflight.concern import CAUTIONS, ERRORS, Limits, Wanted

SUITS = Wanted(("Clear",), 1200, BLEED)
GOOD = b"0 0 0 1 k 20 20 100 50 re f 0 0 0 1 K 0.24 w 10 10 m 90 10 l S"


def codes(path: Path, wanted: Wanted = SUITS, page: int = 1) -> set[str]:
    return {concern.code for concern in judge_artwork(path, [(page, wanted)])}


def embed(kind: str, change: dict[str, Any]) -> Change:
    """A font that claims to be `kind`, with the descriptor entries given."""

    def add(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        described = Dictionary(Type=Name.FontDescriptor, FontName=Name.Invented, **change)
        font = Dictionary(Type=Name.Font, Subtype=Name(f"/{kind}"), BaseFont=Name.Invented, FontDescriptor=described)
        if kind == "Type0":
            font = Dictionary(Type=Name.Font, Subtype=Name.Type0, BaseFont=Name.Invented, DescendantFonts=Array([font]))
        page.obj.Resources.Font.F1 = pdf.make_indirect(font)

    return add


def spots(*names: str) -> Change:
    def add(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        for number, name in enumerate(names):
            page.obj.Resources.ColorSpace[f"/S{number}"] = spot(pdf, name)

    return add


def pictured(width: int, height: int, space: str = "/DeviceGray", bits: int = 8) -> Change:
    def add(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        page.obj.Resources.XObject.P = picture(pdf, width, height, space, bits)

    return add


def root(**entries: object) -> Change:
    def add(pdf: pikepdf.Pdf, _: pikepdf.Page) -> None:
        for key, value in entries.items():
            pdf.Root[f"/{key}"] = value

    return add


def boxes(**entries: object) -> Change:
    def add(_: pikepdf.Pdf, page: pikepdf.Page) -> None:
        for key, value in entries.items():
            if value is None:
                del page.obj[f"/{key}"]
            else:
                page.obj[f"/{key}"] = value

    return add


def noted(note: Dictionary) -> Change:
    def add(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        page.obj.Annots = Array([pdf.make_indirect(note)])

    return add


SCRIPT = Dictionary(S=Name.JavaScript, JS=pikepdf.String("app.beep()"))
TYPE = b"BT /F1 9 Tf 20 20 Td 0 0 0 1 k (text) Tj ET"

#: Content, change → the complaint it must raise.
FAULTS: dict[str, list[tuple[bytes, Change | None]]] = {
    "art-boxes": [(GOOD, boxes(TrimBox=Array([-40, 10, 200, 100])))],
    "art-no-trim": [(GOOD, boxes(TrimBox=None))],
    "art-bleed": [(GOOD, boxes(BleedBox=Array([4, 4, 100 * MM, 60 * MM])))],
    "art-font": [(TYPE, embed("TrueType", {})), (TYPE, embed("Type0", {}))],
    "art-type-three": [(TYPE, embed("Type3", {}))],
    "art-picture-coarse": [
        (b"q 72 0 0 72 20 20 cm /P Do Q", pictured(149, 149)),
        (b"q 72 0 0 72 20 20 cm /P Do Q", pictured(400, 149)),
        (b"q 0 72 -72 0 100 20 cm /P Do Q", pictured(299, 299, bits=1)),
        (b"q 72 0 0 72 20 20 cm BI /W 8 /H 8 /CS /G /BPC 8 ID " + bytes(64) + b" EI Q", None),
    ],
    "art-picture-soft": [(b"q 72 0 0 72 20 20 cm /P Do Q", pictured(249, 300))],
    "art-colour": [
        (b"1 0 0 rg 20 20 100 50 re f", None),
        (b"1 0 0 RG 2 w 20 20 m 100 20 l S", None),
        (b"q 72 0 0 72 20 20 cm /P Do Q", pictured(300, 300, "/DeviceRGB")),
        (b"/Nowhere cs 1 scn 20 20 100 50 re f", None),
        (
            b"/L cs 50 0 0 scn 20 20 5 5 re f",
            lambda _, page: page.obj.Resources.ColorSpace.__setitem__(
                "/L", Array([Name.Lab, Dictionary(WhitePoint=[0.96, 1, 0.82])])
            ),
        ),
    ],
    "art-spot-near": [
        (b"/S0 cs 1 scn 20 20 100 50 re f", spots("clear")),
        (b"/S0 cs 1 scn 20 20 100 50 re f", spots("Claer")),
        (b"/S0 cs 1 scn 20 20 100 50 re f", spots("BLACK")),
    ],
    "art-spot-foreign": [
        (b"/S0 cs 1 scn 20 20 100 50 re f", spots("Gold")),
        (b"/S0 cs 1 scn 20 20 100 50 re f", spots("All")),
    ],
    "art-spot-shared": [(b"/S0 cs 1 scn 20 20 100 50 re f", spots("Clear"))],
    "art-hairline": [
        (b"0.119 w 10 10 m 90 10 l S", None),
        (b"0 w 10 10 m 90 10 l S", None),
        (b"q 0.1 0 0 0.1 0 0 cm 1 w 100 100 m 900 100 l S Q", None),
    ],
    "art-white-over": [
        (b"/Over gs 0 0 0 0 k 20 20 100 50 re f", None),
        (b"/Over gs 1 g 20 20 100 50 re f", None),
        (b"/Over gs /S0 cs 0 scn 20 20 100 50 re f", spots("Clear")),
    ],
    "art-black-text": [
        (TYPE.replace(b"0 0 0 1 k", b"0.6 0.4 0.4 1 k"), embed("TrueType", {"FontFile2": Array([])})),
        (TYPE.replace(b"0 0 0 1 k", b"0.9 0.9 0.9 0 k"), embed("TrueType", {"FontFile2": Array([])})),
        (TYPE.replace(b"0 0 0 1 k", b"0 0 0 rg"), embed("TrueType", {"FontFile2": Array([])})),
        (
            TYPE.replace(b"0 0 0 1 k", b"/S0 cs 1 scn"),
            lambda pdf, page: (embed("TrueType", {"FontFile2": Array([])})(pdf, page), spots("All")(pdf, page))[0],
        ),
    ],
    "art-coverage": [(b"0.9 0.8 0.7 0.5 k 20 20 100 50 re f", None)],
    "art-spot-see-through": [
        (b"/Half gs /S0 cs 1 scn 20 20 100 50 re f", spots("Clear")),
        (b"/Mix gs /S0 cs 1 scn 20 20 100 50 re f", spots("Clear")),
    ],
    "art-script": [
        (GOOD, root(OpenAction=SCRIPT)),
        (GOOD, root(Names=Dictionary(JavaScript=Dictionary(Names=Array([]))))),
        (GOOD, noted(Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=[1, 1, 9, 9], A=SCRIPT))),
    ],
    "art-action": [
        (GOOD, root(OpenAction=Dictionary(S=Name.Launch, F=pikepdf.String("a.exe")))),
        (GOOD, root(AA=Dictionary())),
        (GOOD, boxes(AA=Dictionary())),
        (GOOD, noted(Dictionary(Type=Name.Annot, Subtype=Name.Screen, Rect=[1, 1, 9, 9], AA=Dictionary()))),
    ],
    "art-attachment": [(GOOD, root(Names=Dictionary(EmbeddedFiles=Dictionary(Names=Array([])))))],
    "art-layers": [
        (GOOD, root(OCProperties=Dictionary(OCGs=Array([Dictionary(Type=Name.OCG, Name="Notes")]), D=Dictionary())))
    ],
    "art-not-judged": [(b"/Half gs 0 0 0 1 k 20 20 100 50 re f", None)],
    "art-unreadable": [(b"/F Do", lambda pdf, page: page.obj.Resources.XObject.__setitem__("/F", _circle(pdf)))],
}


def _circle(pdf: pikepdf.Pdf) -> pikepdf.Object:
    """A form that paints itself."""
    form = Stream(pdf, b"/F Do", Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 10, 10])
    form.Resources = Dictionary(XObject=Dictionary(F=form))
    return form


CASES = [(code, n, *case) for code, cases in FAULTS.items() for n, case in enumerate(cases)]


def test_good_artwork_has_no_complaint(tmp_path: Path) -> None:
    assert codes(write_art(tmp_path / "a.pdf", GOOD)) == set()


@pytest.mark.parametrize(
    ("code", "content", "change"), [(c, b, d) for c, _, b, d in CASES], ids=[f"{c}-{n}" for c, n, _, _ in CASES]
)
def test_a_fault_is_told(code: str, content: bytes, change: Change | None, tmp_path: Path) -> None:
    found = judge_artwork(write_art(tmp_path / "a.pdf", content, change), [(1, SUITS)])
    assert code in {concern.code for concern in found}
    assert all(concern.grave == (concern.code in ERRORS) for concern in found)


def test_every_code_has_a_fault() -> None:
    elsewhere = {"art-repaired", "art-colour-converted"}
    assert {*FAULTS} | elsewhere == {*ERRORS, *CAUTIONS}


def test_what_is_right_is_not_blamed(tmp_path: Path) -> None:
    good = [
        (b"q 72 0 0 72 20 20 cm /P Do Q", pictured(250, 250)),
        (b"q 72 0 0 72 20 20 cm /P Do Q", pictured(500, 500, bits=1)),
        (b"0.12 w 10 10 m 90 10 l S", None),
        (b"0 0 0 0 k 20 20 100 50 re f", None),  # white that knocks out
        (b"/Over gs 0 0 0 0.5 k 20 20 100 50 re f", None),
        (TYPE, embed("TrueType", {"FontFile2": Array([])})),
        (TYPE.replace(b"0 0 0 1 k", b"0.9 0.2 0.1 0.1 k"), embed("TrueType", {"FontFile2": Array([])})),
        (
            TYPE.replace(b"Tj", b"Tj").replace(b"0 0 0 1 k", b"3 Tr 0 0 0 rg"),
            embed("TrueType", {"FontFile2": Array([])}),
        ),
        (GOOD, root(OpenAction=Dictionary(S=Name.GoTo, D=Array([])))),
        (GOOD, noted(Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=[1, 1, 9, 9], A=Dictionary(S=Name.URI)))),
    ]
    notes = [(GOOD, noted(Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=[1, 1, 9, 9])))]
    assert codes(write_art(tmp_path / "noted.pdf", *notes[0])) == set()
    for number, (content, change) in enumerate(good):
        found = codes(write_art(tmp_path / f"{number}.pdf", content, change)) - {"art-not-judged"}
        assert found == set(), (number, content)


def test_what_lies_in_forms_and_patterns_is_judged_too(tmp_path: Path) -> None:
    def nested(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        inner = Stream(pdf, b"1 0 0 rg 0 0 5 5 re f", Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 9, 9])
        outer = Stream(pdf, b"q 2 0 0 2 30 40 cm /In Do Q", Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 99, 99])
        outer.Resources = Dictionary(XObject=Dictionary(In=inner))
        page.obj.Resources.XObject.Out = outer

    (found,) = (c for c in judge_artwork(write_art(tmp_path / "a.pdf", b"/Out Do", nested), [(1, SUITS)]) if c.area)
    assert (found.code, found.area) == ("art-colour", (30, 40, 40, 50))

    def tiled(pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
        tile = Stream(pdf, b"0 1 0 rg 0 0 5 5 re f", PatternType=1, PaintType=1, TilingType=1, BBox=[0, 0, 9, 9])
        tile.XStep, tile.YStep, tile.Resources = 9, 9, Dictionary()
        page.obj.Resources.Pattern = Dictionary(T=pdf.make_indirect(tile))

    content = b"/Pattern cs /T scn 0 0 90 90 re f"
    assert "art-colour" in codes(write_art(tmp_path / "b.pdf", content, tiled))


def test_many_places_are_counted(tmp_path: Path) -> None:
    lines = b"0.05 w " + b"".join(b"10 %d m 90 %d l S " % (y, y) for y in range(10, 60))
    found = [c for c in judge_artwork(write_art(tmp_path / "a.pdf", lines), [(1, SUITS)]) if c.code == "art-hairline"]
    assert len(found) == 6
    assert "45 more places" in found[-1].message


def test_limits_are_the_jobs(tmp_path: Path) -> None:
    path = write_art(
        tmp_path / "a.pdf", b"q 72 0 0 72 20 20 cm /P Do Q 0.9 0.8 0.7 0.5 k 20 20 9 9 re f", pictured(100, 100)
    )
    assert codes(path, Wanted((), 1200, None, Limits(ppi_least=90, ppi_good=100, coverage=300))) == set()
    assert codes(path, Wanted((), 300, None)) == {"art-picture-coarse", "art-coverage"}
    rgb = write_art(tmp_path / "b.pdf", b"q 72 0 0 72 20 20 cm /P Do Q", pictured(300, 300, "/DeviceRGB"))
    converted = codes(rgb, Wanted((), 1200, None, Limits(rgb_converted=True)))
    assert "art-colour-converted" in converted
    assert "art-not-judged" not in converted, "what will be converted is judged when it is"


def test_files_that_are_none(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"%PDF-1.7 and no more")
    assert codes(tmp_path / "a.pdf") == {"art-unreadable"}
    assert codes(tmp_path / "absent.pdf") == {"art-unreadable"}
    assert codes(write_art(tmp_path / "b.pdf", GOOD), page=2) == {"art-unreadable"}
    with pikepdf.open(tmp_path / "b.pdf") as pdf:
        pdf.save(tmp_path / "c.pdf", encryption=pikepdf.Encryption(owner="o", user="u"))
        pdf.save(tmp_path / "d.pdf", encryption=pikepdf.Encryption(owner="o", user=""))
    assert codes(tmp_path / "c.pdf") == codes(tmp_path / "d.pdf") == {"art-unreadable"}


def test_a_mended_file_is_told(tmp_path: Path) -> None:
    data = write_art(tmp_path / "a.pdf", GOOD).read_bytes()
    (tmp_path / "a.pdf").write_bytes(data[: data.rindex(b"startxref")] + b"startxref\n7\n%%EOF\n")
    assert "art-repaired" in codes(tmp_path / "a.pdf")


def test_the_place_is_shown(tmp_path: Path) -> None:
    path = write_art(tmp_path / "a.pdf", b"0.05 w 60 60 m 120 60 l S 1 0 0 rg 200 100 20 20 re f")
    for concern in judge_artwork(path, [(1, SUITS)]):
        png = picture_of(path, concern.page, concern.area)
        assert png is not None
        shown = Image.open(io.BytesIO(png))
        assert max(shown.size) <= 362
        colours = {colour for _, colour in shown.getcolors(100_000) or []}
        assert ((214, 0, 110) in colours) == (concern.area is not None)  # the frame
        if concern.code == "art-colour":
            assert (255, 0, 0) in colours
    assert picture_of(path, 9, None) is None
    assert picture_of(tmp_path / "absent.pdf", 1, None) is None
    assert picture_of(path, 1, None) is not None
