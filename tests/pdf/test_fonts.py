"""Fonts: embedded, compacted, addressed by the source's glyph ids, and read back as text."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pytest
import uharfbuzz as hb
from fontTools.cffLib import CFFFontSet
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.psCharStrings import T2CharString
from fontTools.pens.recordingPen import RecordingPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from tests.pdf.made import FACES, book, glyphs, parts, text, write
from vdp.errors import CallerError
from vdp.job.faces import FaceFile
from vdp.marks import BLACK, Glyphs, Line, Mark, TextMark
from vdp.pdf.content import Renderer
from vdp.pdf.fonts import embed, embeddable
from vdp.pdf.text import unite_glyphs
from vdp.pdf.unicodes import to_unicode
from vdp.pdf.writer import Writer
from vdp.text import Faces
from vdp.text.faces import Face

WORDS = {
    "sans": ("Tiếng Việt Łódź", "vi"),
    "sans-bold": ("Ωμέγα Жук", "el"),
    "serif-italic": ("office AVATAR", "en"),
    "mono-bold": ("TL27-000001W", "en"),
    "arabic": ("مرحبا", "ar"),
    "hebrew": ("שלום", "he"),
    "devanagari": ("हिन्दी", "hi"),
    "thai": ("ที่นี่", "th"),
    "cjk": ("東京都千代田区", "ja"),
}


@pytest.mark.parametrize("face", WORDS)
def test_a_face_is_embedded_once_and_shows_its_glyphs(tmp_path: Path, need: Callable[[str], str], face: str) -> None:
    words, language = WORDS[face]
    path = write(tmp_path / "f.pdf", [[text(words, face, language)], []])
    fonts = subprocess.run([need("pdffonts"), path], capture_output=True, text=True, check=True)
    (line,) = fonts.stdout.splitlines()[2:]
    assert " yes yes yes " in line
    images = []
    with pdfium.PdfDocument(path) as document:
        images.append(np.asarray(document[0].render(scale=10, grayscale=True).to_numpy()).squeeze() < 128)
    subprocess.run([need("pdftocairo"), "-png", "-r", "720", "-gray", "-singlefile", path, tmp_path / "o"], check=True)
    from PIL import Image

    images.append(np.asarray(Image.open(tmp_path / "o.png").convert("L")) < 128)
    # What HarfBuzz itself draws for the same glyphs, as a count of ink, without any PDF between.
    for inked in images:
        assert inked.sum() > 300
    assert (images[0] & images[1]).sum() / (images[0] | images[1]).sum() > 0.8


@pytest.mark.parametrize("face", ["sans-bold", "cjk"])
def test_the_subset_keeps_the_outlines_of_the_source(face: str) -> None:
    run = glyphs(WORDS[face][0], face, WORDS[face][1])
    used = {gid: "" for part in run if part.face == face for gid in part.gids}
    source = Faces(FACES).face(face)
    file = embed(source, FACES[face], used)

    def outline(font: hb.Font, gid: int) -> list[tuple[str, tuple[float, ...]]]:
        steps: list[tuple[str, tuple[float, ...]]] = []
        funcs = hb.DrawFuncs()
        funcs.set_move_to_func(lambda x, y, _: steps.append(("m", (x, y))))
        funcs.set_line_to_func(lambda x, y, _: steps.append(("l", (x, y))))
        funcs.set_quadratic_to_func(lambda *p: steps.append(("q", p[:4])))
        funcs.set_cubic_to_func(lambda *p: steps.append(("c", p[:6])))
        funcs.set_close_path_func(lambda _: steps.append(("z", ())))
        font.draw_glyph(gid, funcs, None)
        return steps

    if file.cid_to_gid is not None:
        subset = hb.Font(hb.Face(file.program))
        for gid in used:
            place = int.from_bytes(file.cid_to_gid[2 * gid : 2 * gid + 2], "big")
            ours, theirs = outline(subset, place), outline(source.font, gid)
            assert [step for step, _ in ours] == [step for step, _ in theirs]
            moves = zip([p for _, ps in ours for p in ps], [p for _, ps in theirs for p in ps], strict=True)
            assert all(abs(a - b) <= 1 for a, b in moves)  # instancing rounds to whole units
    else:
        fonts = CFFFontSet()
        fonts.decompile(io.BytesIO(file.program), None)
        assert sorted(fonts[0].charset) == sorted({".notdef", *(f"cid{gid:05d}" for gid in used)})


def test_cids_are_glyph_ids_even_where_the_font_s_own_differ() -> None:
    """A CID-keyed font out of another subsetter: its charset has gaps, so that a CID is not the glyph id."""
    whole = Faces(FACES).face("cjk")
    wanted = hb.SubsetInput()
    wanted.unicode_set.update(map(ord, "東京都ABC"))
    small = FontBytes("gaps", bytes(hb.subset(whole.font.face, wanted).blob.data))
    file = embed(small.face(), small, dict.fromkeys(small.gids("東A"), ""))
    fonts = CFFFontSet()
    fonts.decompile(io.BytesIO(file.program), None)
    assert fonts[0].charset == [".notdef", *(f"cid{gid:05d}" for gid in sorted(small.gids("東A")))]
    original = TTFont(io.BytesIO(small.data))
    names = original.getGlyphOrder()
    assert names[small.gids("東")[0]] != f"cid{small.gids('東')[0]:05d}"
    for gid in small.gids("東A"):
        drawn, source = RecordingPen(), RecordingPen()
        fonts[0].CharStrings[f"cid{gid:05d}"].draw(drawn)
        original.getGlyphSet()[names[gid]].draw(source)
        assert drawn.value == source.value


def test_a_cff_font_with_glyph_names_prints_and_reads_back(tmp_path: Path, need: Callable[[str], str]) -> None:
    """Such a program has no CIDs: glyph ids address it (ISO 32000-1, 9.7.4.2).  Bars of growing width tell glyphs
    apart."""
    font = FontBytes("named", _named_cff("TestNamed-Regular"))
    source = font.source(tmp_path)
    line = font.line("HIZ")
    mark = TextMark("t", BLACK, (0, 0, 900, 400), 0, 12.0, (Line(100, 200, (line,), "HIZ"),))
    path = write(tmp_path / "n.pdf", [[mark], []], faces={"named": source})
    told = subprocess.run([need("pdffonts"), path], capture_output=True, text=True, check=True).stdout
    assert "CID Type 0C" in told
    # em = 12 pt = 200 dots; bars are 50 units from the left and (100 + 15 n) wide in advances of 600.
    starts = [100 + 200 * (600 * place + 50) / 1000 for place in range(3)]
    widths = [200 * (100 + 15 * "ABCDEFGHIJKLMNOPQRSTUVWXYZ".index(letter)) / 1000 for letter in "HIZ"]
    subprocess.run([need("gs"), "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-sDEVICE=pnggray", "-r1200", "-dLastPage=1",
                    f"-sOutputFile={tmp_path / 'g.png'}", path], check=True)  # fmt: skip
    from PIL import Image

    with pdfium.PdfDocument(path) as document:
        ours = np.asarray(document[0].render(scale=1200 / 72, grayscale=True).to_numpy()).squeeze()
        assert document[0].get_textpage().get_text_range().strip() == "HIZ"
    for picture in (ours, np.asarray(Image.open(tmp_path / "g.png"))):
        row = picture[600 - 200 - 70] < 128
        edges = np.flatnonzero(np.diff(row.astype(np.int8)))
        expected = [edge for start, width in zip(starts, widths, strict=True) for edge in (start, start + width)]
        assert len(edges) == 6
        assert all(abs(edge + 1 - place) <= 2 for edge, place in zip(edges, expected, strict=True))


def test_two_files_of_one_name_are_told_apart(tmp_path: Path) -> None:
    one, two = FontBytes("one", _named_cff("Twin")), FontBytes("two", _named_cff("Twin", 5))
    faces = {"one": one.source(tmp_path), "two": two.source(tmp_path), "alias": one.source(tmp_path)}
    marks: list[Mark] = [
        TextMark("t", BLACK, (0, 0, 900, 400), 0, 12.0, (Line(100, 200, (replace(font.line("AB"), face=key),), "AB"),))
        for key, font in (("one", one), ("two", two), ("alias", one))
    ]
    with Writer(tmp_path / "t.pdf", book(faces=faces)) as writer:
        drawer = Renderer(1200, writer.names)
        writer.add(drawer.render([marks, []]), parts(1))
        assert writer.finish(drawer.glyphs).fonts == {"Twin": "alias", "Twin-two": "two"}


class FontBytes:
    """A font made here, as a file when one is asked for."""

    path, axes, index = Path(), dict[str, float](), 0

    def __init__(self, key: str, data: bytes) -> None:
        self.key, self.data = key, data
        self.font = hb.Font(hb.Face(data))

    def source(self, folder: Path) -> FaceFile:
        path = folder / f"{self.key}.otf"
        path.write_bytes(self.data)
        return FaceFile(path)

    def face(self) -> Face:
        with TemporaryDirectory() as folder:
            return Face(self.key, self.source(Path(folder)))

    def gids(self, letters: str) -> tuple[int, ...]:
        return tuple(self.font.get_nominal_glyph(ord(letter)) or 0 for letter in letters)

    def line(self, letters: str) -> Glyphs:
        advances = tuple(600.0 for _ in letters)
        return Glyphs(
            self.key, self.gids(letters), advances, advances, (), tuple(letters), sum(advances), letters, rtl=False
        )


def _named_cff(name: str, wider: int = 0) -> bytes:
    """An OpenType font with a name-keyed CFF table: capitals are bars, each 15 units wider than the one before."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

    def bar(width: int) -> T2CharString:
        pen = T2CharStringPen(600, None)
        pen.moveTo((50, 0))
        for corner in ((50 + width, 0), (50 + width, 700), (50, 700)):
            pen.lineTo(corner)
        pen.closePath()
        return pen.getCharString()

    builder = FontBuilder(1000, isTTF=False)
    builder.setupGlyphOrder([".notdef", *letters])
    builder.setupCharacterMap({ord(letter): letter for letter in letters})
    shapes = {letter: bar(100 + 15 * place + wider) for place, letter in enumerate(letters)}
    builder.setupCFF(name, {"FullName": name}, {".notdef": bar(10)} | shapes, {})
    builder.setupHorizontalMetrics(dict.fromkeys([".notdef", *letters], (600, 50)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name})
    builder.setupOS2(sCapHeight=700)
    builder.setupPost()
    made = io.BytesIO()
    builder.save(made)
    return made.getvalue()


def test_widths_are_those_of_the_instance() -> None:
    source = Faces(FACES).face("sans-bold")
    gids = [gid for run in glyphs("Wide", "sans-bold") for gid in run.gids]
    file = embed(source, FACES["sans-bold"], dict.fromkeys(gids, ""))
    runs = dict(zip(file.widths[::2], file.widths[1::2], strict=True))
    told = {first + at: width for first, widths in runs.items() for at, width in enumerate(widths)}  # type: ignore[operator, arg-type]  # the W array's own shape
    assert {gid: told[gid] for gid in gids} == {
        gid: round(source.font.get_glyph_h_advance(gid) * source.scale, 3) for gid in gids
    }
    assert file.widths != embed(Faces(FACES).face("sans"), FACES["sans"], dict.fromkeys(gids, "")).widths


def test_the_same_subset_has_the_same_tag_and_another_another() -> None:
    source = Faces(FACES).face("sans")
    one, same, other = (embed(source, FACES["sans"], dict.fromkeys(g, "")) for g in ([40, 41], [41, 40], [40, 42]))
    assert one.base_font == same.base_font != other.base_font
    assert one.program == same.program
    assert one.base_font[6] == "+"
    assert one.base_font[:6].isupper()


def test_a_font_that_may_not_be_embedded_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    source = Faces(FACES).face("sans")

    class Forbidding:
        def reference_table(self, _: str) -> object:
            return type("Table", (), {"data": b"\0" * 8 + b"\0\2" + b"\0" * 80})()

    class Face:
        font = type("Font", (), {"face": Forbidding()})()

    with pytest.raises(CallerError, match="does not allow it"):
        embeddable(Face(), FACES["sans"])  # type: ignore[arg-type]  # only the table is looked at
    embeddable(source, FACES["sans"])


@given(st.dictionaries(st.integers(1, 400), st.text(st.characters(codec="utf-8"), max_size=3), max_size=250))
def test_to_unicode_reads_back_in_another_reader(texts: dict[int, str]) -> None:
    data = to_unicode(texts).decode("ascii")
    told: dict[int, str] = {}
    for kind in ("bfchar", "bfrange"):
        for block in data.split(f"begin{kind}\n")[1:]:
            lines = block.split(f"end{kind}")[0].splitlines()
            assert len(lines) <= 100
            for line in lines:
                *codes, target = (part.strip("<> ") for part in line.split("> <"))
                last = bytes.fromhex(target).decode("utf-16-be")
                first = int(codes[0], 16)
                for code in range(first, int(codes[-1], 16) + 1):
                    told[code] = last[:-1] + chr(ord(last[-1]) + code - first)
    assert told == {gid: text for gid, text in texts.items() if text}


def test_uniting_glyphs_does_not_depend_on_the_order() -> None:
    parts = [{"sans": {1: "b", 2: ""}}, {"sans": {1: "ab", 2: "x"}}, {"sans": {1: "a"}, "mono": {3: "c"}}]
    results = []
    for order in ([0, 1, 2], [2, 1, 0], [1, 0, 2]):
        into: dict[str, dict[int, str]] = {}
        for at in order:
            unite_glyphs(into, parts[at])
        results.append(into)
    assert results[0] == results[1] == results[2] == {"sans": {1: "a", 2: "x"}, "mono": {3: "c"}}


def test_text_reads_back_in_four_readers(tmp_path: Path, need: Callable[[str], str]) -> None:
    from pypdf import PdfReader

    words = "Tiếng Việt, Łódź, Ωμέγα, Жук"
    path = write(tmp_path / "t.pdf", [[text(words)], []], width=8000)
    with pdfium.PdfDocument(path) as document:
        assert document[0].get_textpage().get_text_range() == words
    assert PdfReader(path).pages[0].extract_text().strip() == words
    poppler = subprocess.run([need("pdftotext"), path, "-"], capture_output=True, text=True, check=True)
    assert poppler.stdout.strip() == words
    ghost = [need("gs"), "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=txtwrite", "-sOutputFile=-", "-dLastPage=1", str(path)]
    assert words in subprocess.run(ghost, capture_output=True, text=True, check=True).stdout
    with pikepdf.open(path) as pdf:
        assert str(pdf.pages[0].Resources.Font["/Fsans"].Encoding) == "/Identity-H"
