"""Faces, inks and lines of text for reportlab: what all three of its ways share.

Arabic: arabic-reshaper picks presentation forms, python-bidi puts each broken line in visual order; both the face's
presentation forms and its Latin letters come from Noto Sans Arabic, as reportlab has no fallback between faces.
"""

from __future__ import annotations

from pathlib import Path

from arabic_reshaper import ArabicReshaper  # type: ignore[import-untyped]  # ships no types
from bidi import get_display  # type: ignore[import-untyped]  # ships no types
from reportlab.lib.colors import CMYKColor, CMYKColorSep
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from tests.benchmarks.letter.design import Design, Letter
from vdp.job.faces import builtin_faces

_RESHAPER = ArabicReshaper(configuration={"delete_harakat": False})
BLACK = CMYKColor(0, 0, 0, 1)
CLEAR = CMYKColorSep(0, 1, 0, 0, spotName="Clear", density=1)

#: Variable fonts are embedded at their defaults, which are weight 400 and width 100: the same as `vdp` pins.
FACES = ("sans", "arabic", "mono")


def file_of(face: str) -> Path:
    """The font file of a face: the one that `vdp` takes."""
    return builtin_faces()[face].path


def register_faces() -> None:
    """Registers the three faces with reportlab, once a process."""
    for face in FACES:
        if face not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(face, str(file_of(face))))


def break_lines(design: Design, letter: Letter) -> tuple[str, list[str]]:
    """The face of the paragraph, and its lines as reportlab must be given them: left to right."""
    style = design.paragraph
    if letter.language != "ar":
        return "sans", simpleSplit(letter.paragraph, "sans", style.size, style.area.width)
    lines = simpleSplit(_RESHAPER.reshape(letter.paragraph), "arabic", style.size, style.area.width)
    return "arabic", [get_display(line, base_dir="R") for line in lines]
