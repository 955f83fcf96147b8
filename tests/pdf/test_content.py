"""Marks become the operators they should, and the pixels they say."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pypdfium2 as pdfium
import pytest

from tests.pdf.made import CLEAR, SETTER, glyphs, renderer, text, write
from vdp.barcode import code128, datamatrix, qr
from vdp.errors import OurBug
from vdp.marks import (
    BLACK,
    Bars,
    Column,
    FillMark,
    FormMark,
    Glyphs,
    ImageMark,
    Ink,
    Line,
    Mark,
    Matrix,
    StrokeMark,
    SymbolMark,
    TextMark,
)
from vdp.pdf.bars import bar_rectangles
from vdp.pdf.modules import Drawn, matrix_rectangles
from vdp.text import Style

RED = Ink("", 0, (0, 1, 0.5, 0))


def drawn(*marks: Mark) -> list[str]:
    """Operators of a page, without the scale that every page begins with."""
    (content,) = renderer(assets=("form:x",)).render([list(marks)])
    lines = content.decode().splitlines()
    assert lines[0] == "0.06 0 0 0.06 0 0 cm"
    return lines[1:]


def test_fills_state_their_ink_once() -> None:
    one, two = FillMark("a", BLACK, (1, 2, 3, 4)), FillMark("b", BLACK, (5, 6, 7, 8))
    assert drawn(one, two) == ["0 0 0 1 k", "1 2 3 4 re f", "5 6 7 8 re f"]
    assert drawn(one, FillMark("c", RED, (0, 0, 1, 1))) == ["0 0 0 1 k", "1 2 3 4 re f", "0 1 0.5 0 k", "0 0 1 1 re f"]


def test_a_spot_mark_stands_in_its_layer_and_overprints() -> None:
    black, clear = FillMark("a", BLACK, (1, 1, 1, 1)), FillMark("b", CLEAR, (2, 2, 2, 2))
    tint = FillMark("c", CLEAR._replace(tint=0.3), (3, 3, 3, 3))
    assert drawn(black, clear, tint, black) == [
        "0 0 0 1 k",
        "1 1 1 1 re f",
        "/OC /Clear BDC q /Clear cs /Overprint gs",
        "1 scn",
        "2 2 2 2 re f",
        "0.3 scn",
        "3 3 3 3 re f",
        "Q EMC",
        "1 1 1 1 re f",
    ]
    assert drawn(clear, FormMark("f", "form:x"))[-2:] == ["Q EMC", "/S1 Do"]
    assert drawn(clear)[-1] == "Q EMC"
    other = FillMark("d", Ink("Varnish", 1, (0, 0, 0, 0)), (4, 4, 4, 4))
    assert drawn(clear, other, black).count("Q EMC") == 2


def test_strokes_state_their_own_ink() -> None:
    assert drawn(StrokeMark("l", BLACK, (1, 2), (3, 4), 5))[-1] == "q 0 0 0 1 K 5 w 1 2 m 3 4 l S Q"
    assert "q /Clear CS 1 SCN 5 w 1 2 m 3 4 l S Q" in drawn(StrokeMark("l", CLEAR, (1, 2), (3, 4), 5))


def test_an_asset_that_the_file_does_not_have_is_our_bug() -> None:
    with pytest.raises(OurBug, match="'image:gone'"):
        drawn(ImageMark("photo", "image:gone", (0, 0, 1, 1), 0, None))


@pytest.mark.parametrize(
    ("turn", "matrix"),
    [(0, "30 0 0 20 5 6"), (90, "0 20 -30 0 35 6"), (180, "-30 0 0 -20 35 26"), (270, "0 -20 30 0 5 26")],
)
def test_pictures_fill_their_box_whatever_their_turn(turn: int, matrix: str) -> None:
    assert drawn(ImageMark("p", "form:x", (5, 6, 30, 20), turn, None)) == [f"q {matrix} cm /S1 Do Q"]
    clipped = ImageMark("p", "form:x", (5, 6, 30, 20), turn, (7, 8, 9, 10))
    assert drawn(clipped) == [f"q 7 8 9 10 re W n {matrix} cm /S1 Do Q"]


def test_text_is_glyph_ids_with_kerning_between_them() -> None:
    (run,) = glyphs("AVA")
    ids = "".join(f"{gid:04X}" for gid in run.gids)
    lines = drawn(text("AVA"))
    assert lines[:3] == ["0 0 0 1 k", "BT", "/Fsans 200 Tf"]
    body = lines[3]
    assert body.startswith("1 0 0 1 100 300 Tm[<")
    assert "".join(part.split(">")[0] for part in body.split("<")[1:]) == ids
    kerned = [float(part.split("<")[0]) for part in body.split(">")[1:-1]]
    assert sum(kerned) == pytest.approx(sum(run.natural) - sum(run.advances), abs=0.1)


@pytest.mark.parametrize(("turn", "matrix"), [(0, "1 0 0 1"), (90, "0 1 -1 0"), (180, "-1 0 0 -1"), (270, "0 -1 1 0")])
def test_text_turns(turn: int, matrix: str) -> None:
    assert drawn(text("A", turn=turn))[3].startswith(f"{matrix} 100 300 Tm")


def test_lines_in_one_face_name_it_once_and_empty_lines_print_nothing() -> None:
    lines = (Line(10, 10, glyphs("Ab"), "Ab"), Line(10, 20, glyphs("Ab"), "Ab"), Line(10, 30, (), ""))
    out = drawn(TextMark("t", BLACK, (0, 0, 9, 9), 0, 10.0, lines))
    assert sum("Tf" in line for line in out) == 1
    assert sum("Tm" in line for line in out) == 2


def test_actual_text_only_where_glyphs_cannot_say_it() -> None:
    def spoken(words: str, face: str, language: str) -> bool:
        return any("ActualText" in line for line in drawn(text(words, face, language)))

    assert not spoken("Plain words", "sans", "en")
    assert not spoken("שלום", "hebrew", "he")
    assert spoken("क्षत्रिय", "devanagari", "hi")


def test_whether_glyphs_were_seen_before_does_not_show() -> None:
    """Chunks composed elsewhere begin with empty caches; their bytes must be the same."""
    page: list[Mark] = [
        text("AVA Wave"),
        text("Ἀβγ AVA"),
        text("مرحبا 12 AVA", "sans", "ar"),
        text("AVA Wave", "sans-bold"),
    ]
    drawer = renderer()
    first, second = drawer.render([page]), drawer.render([page])
    assert first == second
    assert renderer().render([[*page[1:], page[0]]]) == drawer.render([[*page[1:], page[0]]])


def test_a_bounded_cache_changes_nothing() -> None:
    from vdp.pdf.content import Renderer
    from vdp.pdf.names import name_resources

    marks: list[list[Mark]] = [[text(f"Name {n % 7}"), text("ที่นี่", "thai", "th")] for n in range(40)]
    small = Renderer(1200, name_resources(["sans", "thai"], [], [], []), kept=3)
    large = Renderer(1200, name_resources(["sans", "thai"], [], [], []))
    assert small.render(marks) == large.render(marks)
    assert small.glyphs == large.glyphs


def test_marks_above_the_line_rise_and_come_down_again() -> None:
    raised = Glyphs(
        "sans", (5, 6), (500.0, 0.0), (500.0, 0.0), ((0.0, 0.0), (10.0, 100.0)), ("a", "b"), 500.0, "ab", False
    )
    mark = TextMark("t", BLACK, (0, 0, 9, 9), 0, 12.0, (Line(0, 0, (raised,), "ab"),))
    body = " ".join(drawn(mark))
    assert body.index("20 Ts") < body.index("0006") < body.index(" 0 Ts")  # 100 thousandths of 200 dots


def pixels(folder: Path, *marks: Mark) -> npt.NDArray[np.bool_]:
    """The front of a file of one piece, a pixel a dot, True where inked."""
    path = write(folder / "p.pdf", [list(marks), []])
    with pdfium.PdfDocument(path) as document:
        flags = {"no_smoothpath": True}
        image = document[0].render(scale=1200 / 72, grayscale=True, **flags).to_numpy()
    return np.asarray(image).reshape(image.shape[0], -1)[:600, :1000] < 128


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_modules_are_where_the_matrix_says(tmp_path: Path, turn: int) -> None:
    shapes = [*qr.Qr(2, "M").encode(["7" * 20, "ab"]), datamatrix.encode("ABC-123")]
    shapes.append(Matrix(70, tuple(random.Random(1).getrandbits(70) for _ in range(12))))
    marks: list[Mark] = []
    for at, shape in enumerate(shapes):
        wide, high = (shape.width + 2) * 3, (len(shape.rows) + 2) * 3
        box = (20 + 240 * at, 30, *((wide, high) if turn in {0, 180} else (high, wide)))
        marks.append(SymbolMark(f"s{at}", BLACK, box, turn, 3, (3, 3, 3, 3), 0, shape))
    page = pixels(tmp_path, *marks)
    for mark, shape in zip(marks, shapes, strict=True):
        assert isinstance(mark, SymbolMark)
        x, y, width, height = mark.box
        seen = np.rot90(page[600 - y - height : 600 - y, x : x + width], -turn // 90)
        modules = seen[4:-3:3, 4:-3:3]
        expected = [[bool(row >> bit & 1) for bit in range(shape.width)] for row in shape.rows]
        assert np.array_equal(modules, np.array(expected))
        assert not seen[:2].any()  # the third dot may be lost to the reader's own rounding
        assert not seen[:, :2].any()


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_bars_are_where_the_widths_say(tmp_path: Path, turn: int) -> None:
    bars = code128.encode("AIM1234")
    modules = sum(bars.widths)
    assert modules == 101  # 9 characters of 11 modules and a stop of 13 (ISO/IEC 15417 Annex A.1: AIM1234)
    wide, high = (modules + 20) * 4, 50
    box = (30, 30, *((wide, high) if turn in {0, 180} else (high, wide)))
    page = pixels(tmp_path, SymbolMark("b", BLACK, box, turn, 4, (40, 0, 40, 0), 50, bars))
    x, y, width, height = box
    seen = np.rot90(page[600 - y - height : 600 - y, x : x + width], -turn // 90)
    expected = [bool(n % 2 == 0) for n, w in enumerate(bars.widths) for _ in range(4 * w)]
    for row in (2, 25, 47):
        assert seen[row, 40:-40].tolist() == expected
    assert not seen[:, :40].any()


def test_bars_of_a_batch_are_drawn_together() -> None:
    assert bar_rectangles([Bars(b"\1\2\3"), Bars(b""), Bars(b"\2\1")]) == [
        "0 0 1 1 re\n3 0 3 1 re\n",
        "",
        "0 0 2 1 re\n",
    ]
    assert bar_rectangles([]) == []


@pytest.mark.parametrize(
    ("width", "height"), [(1, 1), (8, 8), (18, 8), (29, 29), (31, 5), (63, 63), (64, 64), (177, 177)]
)
def test_modules_of_every_size_are_covered_once(width: int, height: int) -> None:
    """Rectangles laid out again on a grid give the matrices back, each dark module covered by just one."""
    chance = random.Random(width)
    shapes = [Matrix(width, tuple(chance.getrandbits(width) for _ in range(height))) for _ in range(3)]
    shapes.append(Matrix(width, ((1 << width) - 1,) * height))
    texts = matrix_rectangles(Drawn(shape) for shape in shapes)
    for shape, rectangles in zip(shapes, texts, strict=True):
        rows = [0] * height
        for line in rectangles.splitlines():
            x, y, length = map(int, line.removesuffix(" 1 re").split())
            run = ((1 << length) - 1) << x
            assert rows[height - 1 - y] & run == 0
            rows[height - 1 - y] |= run
        assert tuple(rows) == shape.rows


def test_any_number_of_matrices_at_once() -> None:
    """More than are turned into text together, of two sizes in turn."""
    chance = random.Random(7)
    drawn = [
        Drawn(Matrix(width, tuple(chance.getrandbits(width) for _ in range(width))))
        for _ in range(20)
        for width in (177, 21)
    ]
    assert matrix_rectangles(drawn) == [matrix_rectangles([one])[0] for one in drawn]


@pytest.mark.parametrize(("width", "height"), [(1, 1), (10, 10), (29, 29), (36, 16), (63, 63), (64, 5), (177, 20)])
@pytest.mark.parametrize("reduction", [(0, 1), (1, 0), (1, 1), (2, 3), (3, 2), (0, 2)])
def test_a_reduced_matrix_is_the_matrix_eroded(width: int, height: int, reduction: tuple[int, int]) -> None:
    """Dot by dot, each covered once: dark is what is dark everywhere in a window of that many dots more."""
    chance, module = random.Random(height), 6
    matrices = [Matrix(width, tuple(chance.getrandbits(width) for _ in range(height))) for _ in range(2)]
    drawn = [Drawn(shape, module, reduction) for shape in matrices]
    texts = matrix_rectangles((drawn[0], Drawn(matrices[0]), drawn[1]))
    for one, rectangles in zip(drawn, texts[::2], strict=True):
        bits = np.array([[row >> x & 1 for x in range(width)] for row in one.shape.rows], bool)[::-1]
        whole = np.pad(np.kron(bits, np.ones((module, module), bool)), 4)
        (across, up), due = reduction, whole.copy()
        for down in range(-(up // 2), up - up // 2 + 1):
            for right in range(-(across // 2), across - across // 2 + 1):
                due &= np.roll(whole, (-down, -right), (0, 1))
        seen = np.zeros(whole.shape, int)
        for line in rectangles.splitlines():
            x, y, length, tall = map(int, line.removesuffix(" re").split())
            seen[4 + y : 4 + y + tall, 4 + x : 4 + x + length] += 1
        assert (seen == due).all()


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_column_is_drawn_as_its_lines_are(turn: int, tmp_path: Path) -> None:
    """The same dots from T* as from a text matrix a line (ISO 32000-1, 9.4.2)."""
    style = Style("sans", 4, leading=5, align="left", turn=turn)
    lines = SETTER.set("To Anna\n\n12 AV Quay\n7", style, "en", (200, 100, 500, 450)).lines
    assert isinstance(lines, Column)
    column = TextMark("c", BLACK, (200, 100, 500, 450), turn, 4.0, lines)
    pages = [[column], [column._replace(lines=tuple(lines))]]
    streams = renderer().render(pages)
    assert b"T*" in streams[0]
    assert b"T*" not in streams[1]
    with pdfium.PdfDocument(write(tmp_path / "c.pdf", pages)) as document:
        one, other = (np.asarray(page.render(scale=1200 / 72, grayscale=True).to_numpy()) for page in document)
    assert one.min() < 100
    assert np.array_equal(one, other)
