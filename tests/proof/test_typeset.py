"""Text of every script is set without losing a sign; what no face has is written as its number."""

from __future__ import annotations

import io
import unicodedata
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Frame, Paragraph

from vdp.job.faces import builtin_faces
from vdp.proof.typeset import FONT, Typesetter
from vdp.text import Faces, Setter, Style

SETTER = Typesetter(builtin_faces())
BODY = ParagraphStyle("b", fontName=FONT, fontSize=12, leading=16)
SCRIPTS = {
    "arabic": "بطاقة الموسم ٢٠٢٧",
    "hebrew": "כרטיס עונה 2027",
    "devanagari": "क्षत्रिय सीज़न पास",
    "thai": "บัตรผ่านฤดูกาล",
    "japanese": "定期券 フェリー",
    "korean": "정기권",
    "accents": "Zażółć gęślą jaźń",
}


def drawn(text: str) -> tuple[str, np.ndarray[tuple[int, ...], np.dtype[np.uint8]]]:
    """The text that a reader gets out, and the pixels."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(400, 120), invariant=1)
    Frame(0, 0, 400, 120, 0, 0, 0, 0).addFromList([SETTER.flow(text, BODY)], canvas)
    canvas.save()
    with pypdfium2.PdfDocument(out.getvalue()) as document:
        page = document[0]
        words = page.get_textpage().get_text_range()
        pixels = page.render(scale=3, grayscale=True).to_numpy()
    return words, pixels


def test_plain_text_stays_text() -> None:
    for text in ("Thalvera Line, piece 1 & <2>", "Όροι μεταφοράς", "Пропуск на сезон"):
        assert isinstance(SETTER.flow(text, BODY), Paragraph)
        words, _ = drawn(text)
        assert words.strip() == unicodedata.normalize("NFC", text)


@pytest.mark.parametrize("name", [name for name in SCRIPTS if name != "accents"])
def test_other_scripts_are_drawn_sign_by_sign(name: str) -> None:
    """As much ink as the composer's own glyphs of the text have: every one of them, and no box for a missing one."""
    text = SCRIPTS[name]
    assert SETTER.shown(text) == text
    _, pixels = drawn(text)
    down = np.flatnonzero((pixels < 128).any(axis=1))
    assert 20 < down[-1] - down[0] < 60, "one line of 12 pt at 216 dpi"
    # The width is that of the shaped line, as the composer would set it.
    line = Setter(Faces(builtin_faces()), 1200).set(text, Style("sans", 12), "und", (0, 0, 8000, 4000)).lines[0]
    wide = sum(run.width for run in line.glyphs) * 12 / 1000 * 3
    across = np.flatnonzero((pixels < 128).any(axis=0))
    assert abs((across[-1] - across[0]) - wide) < 14
    assert all(gid != 0 for run in line.glyphs for gid in run.gids)


def test_signs_without_a_face_are_written_as_numbers() -> None:
    assert SETTER.shown("a\u001db\n\u0007\ue000") == "a‹FNC1›b‹LF›‹U+0007›‹U+E000›"
    assert SETTER.shown("\U0001f600") == "‹U+1F600›"
    words, _ = drawn("0109506000134352\u001d10ABC \U0001f600")
    assert words.strip() == "0109506000134352‹FNC1›10ABC ‹U+1F600›"


def test_long_words_are_cut_and_long_texts_are_broken() -> None:
    text = "定" * 200
    lines = SETTER.lines(text, 12, 16, 400)
    assert len(lines) == 7
    assert "".join(line.text for line in lines) == text
    word = "ب" * 300
    flow = SETTER.flow(word, BODY)
    width, height = flow.wrap(400, 1000)
    assert (width, height % 16) == (400, 0)
    assert height > 16
    _, pixels = drawn("ب" * 150)
    assert (pixels < 128).any()


def test_a_sign_too_wide_for_its_line_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Exception, match="定"):
        SETTER.lines("定", 400, 500, 5)
