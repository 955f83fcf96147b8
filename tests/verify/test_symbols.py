"""Symbols on rendered copies: what is read, graded and refused, at any turn and offset."""

from __future__ import annotations

import random

import numpy as np
import pytest
import segno
import zxingcpp

from tests.verify.pages import SIDE, make, view
from vdp.verify.decode import blank, knows, quality, read, under_lamp
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import SymbolLine
from vdp.verify.raster import Raster
from vdp.verify.symbols import Judged, Reader, copy_name

MODULE = 1.44  # 24 dots of 1200 dpi, in points


def qr_content(text: str, ink: bytes = b"0 0 0 1 k", module: float = MODULE) -> tuple[bytes, float]:
    """A QR code by segno, its quiet zone's corner at (20, 20), and its side with the quiet zone."""
    rows = [list(row) for row in segno.make_qr(text, error="m", boost_error=False).matrix]
    side = len(rows)
    content = b"q %f 0 0 %f 20 20 cm %s " % (module, module, ink)
    content += b"".join(
        b"%d %d 1 1 re " % (x + 4, side - 1 - y + 4) for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    return content + b"f Q ", (side + 8) * module


def bars_content(text: str, module: float = 0.72, height: float = 30) -> tuple[bytes, float]:
    """Code 128 by zxing-cpp."""
    image = np.array(
        zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128).to_image(scale=1, add_quiet_zones=False)
    )
    dark = np.flatnonzero(image[0] < 128)
    content = b"q %f 0 0 %f 20 20 cm 0 0 0 1 k " % (module, height)
    content += b"".join(b"%d 0 1 1 re " % (x + 10) for x in dark)
    return content + b"f Q ", (image.shape[1] + 20) * module


def judge(content: bytes, symbol: SymbolLine, seed: int = 1) -> Judged:
    seen, data = view(make(content))
    with Raster(data) as raster:
        return Reader(raster, seen, random.Random(seed), {}, {}).judge(symbol)


def qr_line(text: str, side: float, plate: str = "Black") -> SymbolLine:
    return SymbolLine("code", "qr", "]Q1", plate, 1, (20.0, 20.0, 20.0 + side, 20.0 + side), text)


def test_a_good_code_is_read_whatever_the_offset() -> None:
    content, side = qr_content("HELLO-123")
    for seed in range(12):
        judged = judge(content, qr_line("HELLO-123", side), seed)
        assert judged.read
        assert judged.faults == ()
        assert judged.ink > 0.98


@pytest.mark.parametrize("turn", [b"0 1 -1 0 200 0", b"-1 0 0 -1 200 200", b"0 -1 1 0 0 200"])
def test_a_turned_bar_code_is_graded_like_an_upright_one(turn: bytes) -> None:
    content, width = bars_content("AB-12345")
    boxes = {
        b"0 1 -1 0 200 0": (150.0, 20.0, 180.0, 20 + width),
        b"-1 0 0 -1 200 200": (180 - width, 150.0, 180.0, 180.0),
        b"0 -1 1 0 0 200": (20.0, 180 - width, 50.0, 180.0),
    }
    line = SymbolLine("bars", "code128", "]C0", "Black", 1, boxes[turn], "AB-12345")
    judged = judge(b"q " + turn + b" cm " + content + b" Q", line)
    assert (judged.read, judged.faults) == (True, ())


def test_a_code_is_not_the_code_that_it_should_be() -> None:
    content, side = qr_content("HELLO-123")
    judged = judge(content, qr_line("HELLO-124", side))
    assert [code for code, _ in judged.faults] == ["symbol-misread"]
    assert (judged.read, judged.said) == (False, "HELLO-123")


def test_the_identifier_is_part_of_what_is_read() -> None:
    content, side = qr_content("HELLO-123")
    judged = judge(content, qr_line("HELLO-123", side)._replace(identifier="]Q3"))
    assert [code for code, _ in judged.faults] == ["symbol-misread"]


def test_a_blank_place_is_unreadable() -> None:
    _, side = qr_content("HELLO-123")
    for content in (b"", b"0 0 0 1 k 190 190 5 5 re f"):
        assert [code for code, _ in judge(content, qr_line("HELLO-123", side)).faults] == ["symbol-unreadable"]


@pytest.mark.parametrize(
    ("ink", "plate", "code"),
    [
        (b"0 1 0 0 k", "Black", "black-in-colour"),
        (b"0.9 0.9 0.9 1 k", "Black", "black-in-colour"),
        (b"/Over gs /Clear cs 1 scn", "Black", "symbol-wrong-plate"),
        (b"0 0 0 1 k", "Clear", "symbol-wrong-plate"),
        (b"0 0 0 1 k", "Magenta", "symbol-wrong-plate"),
    ],
)
def test_a_code_on_another_plate(ink: bytes, plate: str, code: str) -> None:
    content, side = qr_content("HELLO-123", ink)
    assert [found for found, _ in judge(content, qr_line("HELLO-123", side, plate)).faults] == [code]


def test_a_code_in_magenta_is_read_on_the_colour_copy() -> None:
    content, side = qr_content("HELLO-123", b"0 1 0 0 k")
    assert judge(content, qr_line("HELLO-123", side, "Magenta")).read
    assert copy_name("Yellow") == "Colour"
    assert copy_name("Clear") == "Clear"


@pytest.mark.parametrize(("tint", "weak"), [(b"0.79", True), (b"0.81", False)])
def test_dark_modules_need_four_fifths_of_full_ink(tint: bytes, weak: bool) -> None:
    content, side = qr_content("HELLO-123", b"0 0 0 %s k" % tint)
    assert [code for code, _ in judge(content, qr_line("HELLO-123", side)).faults] == ["symbol-weak"] * weak


def test_error_correction_must_not_be_needed() -> None:
    content, side = qr_content("HELLO-123")
    # A square of three by three modules in the middle, where data lie, is whitened.
    judged = judge(content + b"0 0 0 0 k 40 40 4.3 4.3 re f", qr_line("HELLO-123", side))
    assert judged.read
    assert [code for code, _ in judged.faults] == ["symbol-damaged"]


def test_a_symbology_or_plate_that_is_not_known_is_not_judged() -> None:
    content, side = qr_content("HELLO-123")
    for line in (qr_line("x", side)._replace(symbology="code11"), qr_line("x", side, "Gold")):
        assert [code for code, _ in judge(content, line).faults] == ["cannot-judge"]
    assert not knows("code11")


def test_large_and_small_symbols_get_the_resolution_they_need() -> None:
    content, side = qr_content("HELLO-123", module=5.5)
    assert judge(content, qr_line("HELLO-123", side)).read
    content, side = qr_content("HELLO-123", module=0.36)  # 6 dots of 1200
    assert judge(content, qr_line("HELLO-123", side)).read


def test_a_second_look_is_as_coarse_as_it_may_be() -> None:
    content, side = qr_content("HELLO-123")
    seen, data = view(make(content))
    looked: list[float] = []
    with Raster(data) as raster:
        region = raster.region

        def noted(
            number: int, box: tuple[float, float, float, float], dpi: float, *rest: tuple[float, float]
        ) -> object:
            looked.append(dpi)
            return region(number, box, dpi, *rest)

        raster.region = noted  # type: ignore[method-assign, assignment]
        reader = Reader(raster, seen, random.Random(1), {}, {})
        for _ in range(2):
            assert reader.judge(qr_line("HELLO-123", side)).read
    assert looked[0] == 600
    assert looked[-1] == pytest.approx(6 / MODULE * 72)


def test_bars_that_end_early_are_damaged() -> None:
    content, width = bars_content("AB-12345")
    line = SymbolLine("bars", "code128", "]C0", "Black", 1, (20.0, 20.0, 20 + width, 50.0), "AB-12345")
    assert judge(content, line).faults == ()
    for box in (b"20 20 100 4", b"20 46 100 4", b"60 20 3 12"):
        judged = judge(content + b"0 0 0 0 k %s re f" % box, line)
        assert {code for code, _ in judged.faults} == {"symbol-damaged"}, box


def test_regions_have_exact_sizes_and_nothing_from_outside() -> None:
    seen, data = view(make(b"0 0 0 1 k 0 0 200 200 re f"))
    assert seen.copies["Black"] == 0
    with Raster(data) as raster:
        pixels = raster.region(0, (10, 10, 20, 30), 72, (0.5, 0.25))
        assert pixels.shape == (21, 11)
        assert (pixels[1:20, 1:10] == 0).all()
        assert (pixels[0] == 255).all()
        assert (pixels[20] == 255).all()
        assert (pixels[:, 0] == 255).all()
        assert (pixels[:, 10] == 255).all()
        with pytest.raises(Unreadable, match="pixels"):
            raster.region(0, (0, 0, 1e5, 1e5), 600)
    with pytest.raises(Unreadable, match="cannot be opened"):
        Raster(b"no PDF")


def test_blank_and_quality_by_hand() -> None:
    paper = np.full((20, 20), 255, np.uint8)
    assert blank(paper)
    assert read(paper, "qr") == []
    spot = paper.copy()
    spot[5:12, 5:15] = 51
    graded = quality(spot, "qr", upright=True)
    assert graded.ink == pytest.approx(0.8)
    assert (graded.skew, graded.short, graded.uneven) == (3, 0, 0.0)
    thin = paper.copy()
    thin[5, 5:15] = 0
    assert quality(thin, "code128", upright=True).ink == pytest.approx(1.0)
    assert SIDE == 200


def test_both_kinds_of_reader_agree_on_segno() -> None:
    """zxing-cpp reads what segno wrote, with the version that segno chose."""
    code = segno.make_qr("A" * 40)
    image = np.kron(np.array([list(row) for row in code.matrix], np.uint8), np.ones((4, 4), np.uint8))
    framed = np.pad((1 - image) * 255, 16, constant_values=255).astype(np.uint8)
    (found,) = read(framed, "qr")
    assert (found.text, found.identifier, found.unused) == ("A" * 40, "]Q1", 1.0)
    assert found.modules == 17 + 4 * int(code.version) + 8


def test_bars_are_read_in_part_only_where_all_rows_are_alike() -> None:
    """Two codes one above the other are two, however few rows the second has; rows that are alike say it once."""
    one, other = (
        np.kron(
            np.array(zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128).to_image(scale=1))[:1],
            np.ones((1, 4), np.uint8),
        )
        for text in ("FP-000123", "FP-000124")
    )
    alike = np.tile(one, (200, 1))
    assert [found.text for found in read(alike, "code128")] == ["FP-000123"]
    assert [found.turn for found in read(np.ascontiguousarray(alike[:, ::-1]), "code128")] == [2]
    both = np.concatenate([np.tile(one, (150, 1)), np.full((10, one.shape[1]), 255, np.uint8), np.tile(other, (40, 1))])
    assert {found.text for found in read(both, "code128")} == {"FP-000123", "FP-000124"}
    assert [found.turn % 2 for found in read(np.ascontiguousarray(np.rot90(alike)), "code128")] == [1]
    assert read(np.full((200, 300), 255, np.uint8), "code128") == []


@pytest.mark.parametrize("light", [True, False])
def test_what_shines_is_looked_for_in_the_negative(light: bool) -> None:
    """The same plate: as printed, and as a camera under the lamp sees it."""
    code = np.array(zxingcpp.create_barcode("FP-1", zxingcpp.BarcodeFormat.DataMatrix).to_image(scale=6))
    plate = np.pad(code, 20, constant_values=255)
    assert [found.text for found in read(plate, "datamatrix", light=light)] == ["FP-1"]
    assert (under_lamp(plate) == 255 - plate).all()
