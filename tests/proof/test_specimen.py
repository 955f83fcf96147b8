"""Pictures of specimens: no reader finds a code in them, and hidden plates show no more than where they print."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import segno
import zxingcpp
from PIL import Image

from vdp.proof.specimen import Place, as_specimen, pinned, places_only
from vdp.verify.decode import read_any
from vdp.verify.views import Pixels


def page(*codes: Image.Image) -> tuple[Pixels, list[tuple[int, int, int, int]]]:
    """A white page with codes below each other, and their edges."""
    sheet = Image.new("L", (900, 40 + sum(code.height + 40 for code in codes)), 255)
    down, edges = 40, []
    for code in codes:
        sheet.paste(code, (60, down))
        edges.append((60, down, 60 + code.width, down + code.height))
        down += code.height + 40
    return np.asarray(sheet), edges


def qr(text: str, scale: int = 8, error: str = "h") -> Image.Image:
    out = io.BytesIO()
    segno.make(text, error=error, micro=False).save(out, kind="png", scale=scale)
    return Image.open(out).convert("L")


def other(text: str, kind: str, scale: int) -> Image.Image:
    form = getattr(zxingcpp.BarcodeFormat, kind)
    made = zxingcpp.create_barcode(text, form).to_image(scale=scale, add_quiet_zones=True)
    return Image.fromarray(np.asarray(made)).convert("L")


CODES = [
    qr("LH-0000013"),
    qr("HTTPS://THALVERA.EXAMPLE/P/TL27-000001W", 4),
    other("TL27-000001W", "Code128", 2),
    other("V00076", "DataMatrix", 6),
    other("1 2 3 4 5 6 7 8", "PDF417", 2),
    other("Aztec holds", "Aztec", 7),
    other("9506000134352", "EAN13", 3),
]


@pytest.mark.parametrize("light", [False, True])
def test_no_reader_finds_a_struck_code(light: bool, tmp_path: Path, need: Callable[[str], str]) -> None:
    for number, code in enumerate(CODES):
        pixels, edges = page(code)
        if light:
            pixels = 255 - pixels
        assert read_any(pixels) or light, f"code {number} cannot be read to begin with"
        struck = as_specimen(pixels, edges)
        for size in (0.4, 0.7, 1.0, 1.6, 2.5):
            image = Image.fromarray(struck).resize((round(900 * size), round(struck.shape[0] * size)))
            for grey in (np.asarray(image.convert("L")), 255 - np.asarray(image.convert("L"))):
                assert not read_any(grey), (number, size)
        Image.fromarray(struck).save(tmp_path / "struck.png")
        done = subprocess.run([need("zbarimg"), "-q", str(tmp_path / "struck.png")], capture_output=True, check=False)
        assert (done.returncode, done.stdout) == (4, b""), number  # 4: no symbol was found


def test_a_code_that_nobody_told_of_is_struck_too() -> None:
    pixels, _ = page(CODES[0], CODES[2])
    assert len(read_any(pixels)) == 2
    assert read_any(np.asarray(Image.fromarray(as_specimen(pixels, [])).convert("L"))) == []


def test_the_word_stands_on_a_picture_and_leaves_it_to_be_seen() -> None:
    pixels = np.full((300, 500), 255, np.uint8)
    marked = as_specimen(pixels, [])
    assert marked.shape == (300, 500, 3)
    changed = (marked != 255).any(axis=2)
    assert 0.05 < changed.mean() < 0.4
    # Ink below the word is still there.
    dark = as_specimen(np.zeros((300, 500), np.uint8), [])
    assert dark.max() < 90
    assert np.array_equal(marked, as_specimen(pixels, []))


def test_places_show_where_and_not_what() -> None:
    made = places_only((400, 200), [Place((20, 20, 180, 60), "text")])
    assert made.shape == (200, 400, 3)
    inside, outside = made[25:55, 25:50], made[70:90, 25:50]
    assert tuple(inside[0, 0]) == (226, 235, 222)
    assert (outside == 255).all()
    assert np.array_equal(places_only((400, 200), []), places_only((400, 200), []))


def test_pins_lie_where_the_comment_is() -> None:
    made = pinned(np.full((320, 320, 3), 255, np.uint8), [(1, 100, 50), (12, 250, 300)])
    assert tuple(made[50, 92]) == (24, 62, 110)
    assert tuple(made[300, 242]) == (24, 62, 110)
    assert (made[200] == 255).all()


def test_where_bars_do_not_help_the_place_is_covered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vdp.proof.specimen._strike", lambda *_: None)
    pixels, edges = page(CODES[0])
    covered = as_specimen(pixels, edges)
    assert read_any(np.asarray(Image.fromarray(covered).convert("L"))) == []
    left, top, right, bottom = edges[0]
    middle = covered[(top + bottom) // 2 - 5 : (top + bottom) // 2 + 5, (left + right) // 2]
    assert (abs(middle.astype(int) - (196, 30, 44)) < 3).all()
