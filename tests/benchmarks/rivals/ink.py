"""Faces, inks and lines of text for reportlab: what all three of its ways share.

Arabic: arabic-reshaper picks presentation forms, python-bidi puts each broken line in visual order; both the face's
presentation forms and its Latin letters come from Noto Sans Arabic, as reportlab has no fallback between faces.
"""

from __future__ import annotations

from pathlib import Path

import fontpkg_ibm_plex_mono
import fontpkg_noto_sans
import fontpkg_noto_sans_arabic
from arabic_reshaper import ArabicReshaper  # type: ignore[import-untyped]  # ships no types
from bidi import get_display  # type: ignore[import-untyped]  # ships no types
from reportlab.lib.colors import CMYKColor, CMYKColorSep
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from tests.benchmarks.letter.design import Design, Letter

_RESHAPER = ArabicReshaper(configuration={"delete_harakat": False})
BLACK = CMYKColor(0, 0, 0, 1)
CLEAR = CMYKColorSep(0, 1, 0, 0, spotName="Clear", density=1)

#: Variable fonts are embedded at their defaults, which are weight 400 and width 100: the same as `vdp` pins.
_FILES = {
    "sans": (fontpkg_noto_sans, "NotoSans[wdth,wght].ttf"),
    "arabic": (fontpkg_noto_sans_arabic, "NotoSansArabic[wdth,wght].ttf"),
    "mono": (fontpkg_ibm_plex_mono, "IBMPlexMono-Regular.ttf"),
}


def file_of(face: str) -> Path:
    """The font file of "sans", "arabic" or "mono"."""
    package, name = _FILES[face]
    return Path(package.__file__).parent / "files" / name


def register_faces() -> None:
    """Registers the three faces with reportlab, once a process."""
    for face in _FILES:
        if face not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(face, str(file_of(face))))


def break_lines(design: Design, letter: Letter) -> tuple[str, list[str]]:
    """The face of the paragraph, and its lines as reportlab must be given them: left to right."""
    style = design.paragraph
    if letter.language != "ar":
        return "sans", simpleSplit(letter.paragraph, "sans", style.size, style.area.width)
    lines = simpleSplit(_RESHAPER.reshape(letter.paragraph), "arabic", style.size, style.area.width)
    return "arabic", [get_display(line, base_dir="R") for line in lines]
