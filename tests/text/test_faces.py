"""Faces: names and measures against fontTools' own instancing of the same files, coverage, bad files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

from vdp.errors import CallerError
from vdp.job.faces import FaceFile, builtin_faces
from vdp.text import Face, Faces

NAMES = {
    "sans": "NotoSans-Regular",
    "sans-bold": "NotoSans-Bold",
    "sans-italic": "NotoSans-Italic",
    "serif": "NotoSerif-Regular",
    "serif-bold": "NotoSerif-Bold",
    "serif-italic": "NotoSerif-Italic",
    "mono": "IBMPlexMono-Regular",
    "mono-bold": "IBMPlexMono-Bold",
    "arabic": "NotoSansArabic-Regular",
    "arabic-bold": "NotoSansArabic-Bold",
    "hebrew": "Heebo-Regular",
    "hebrew-bold": "Heebo-Bold",
    "devanagari": "NotoSansDevanagari-Regular",
    "devanagari-bold": "NotoSansDevanagari-Bold",
    "thai": "NotoSansThai-Regular",
    "thai-bold": "NotoSansThai-Bold",
    "cjk": "NotoSansCJKjp-Regular",
}


def test_each_instance_has_a_name_of_its_own(faces: Faces) -> None:
    assert {key: faces.face(key).postscript_name for key in builtin_faces()} == NAMES


def test_axes_that_no_named_instance_has_are_spelled_out() -> None:
    sans = builtin_faces()["sans"]
    odd = Faces({"odd": replace(sans, axes={"wght": 450.0}), "italic": replace(sans, axes={"wght": 9999.0})})
    assert odd.face("odd").postscript_name == "NotoSans_450wght_100wdth"
    # Beyond the axis' end is its end, here the Black.
    assert odd.face("italic").postscript_name == "NotoSans-Black"


@pytest.mark.parametrize("key", ["sans-bold", "hebrew-bold", "mono", "cjk"])
def test_measures_are_those_of_the_pinned_font(faces: Faces, key: str) -> None:
    source = builtin_faces()[key]
    face = faces.face(key)
    with TTFont(source.path) as font:
        if "fvar" in font:
            instantiateVariableFont(font, source.axes, inplace=True)
        _compare(face, font)


def _compare(face: Face, font: TTFont) -> None:
    scale = 1000 / font["head"].unitsPerEm
    assert face.upem == font["head"].unitsPerEm
    assert face.ascent == font["hhea"].ascent * scale
    assert face.descent == -font["hhea"].descent * scale
    # MVAR deltas are rounded in the instance.
    assert face.cap_height == pytest.approx(font["OS/2"].sCapHeight * scale, abs=1)
    assert face.x_height == pytest.approx(font["OS/2"].sxHeight * scale, abs=1)
    for char in "Hamburg 0123€":
        name = font.getBestCmap()[ord(char)]
        gid = font.getGlyphID(name)
        assert face.naturals[gid][0] == gid
        assert face.naturals[gid][1] == pytest.approx(font["hmtx"][name][0] * scale, abs=1)


def test_cap_height_is_measured_where_the_font_states_none(faces: Faces) -> None:
    face = faces.face("sans")
    assert face._metric("HORIZONTAL_ASCENDER", "H") == 1069
    assert face._metric("VERTICAL_CARET_RUN", "H") == 714
    assert face._metric("VERTICAL_CARET_RUN", "\ue000") == 0


def test_coverage(faces: Faces) -> None:
    sans, hebrew, mono, cjk = (faces.face(key) for key in ("sans", "hebrew", "mono", "cjk"))
    assert sans.has("é")
    assert sans.covers("Zażółć gęślą jaźń Việt €")
    assert not sans.has("א")
    assert not sans.covers("aא")
    assert hebrew.has("א")
    # Shown by HarfBuzz out of U+0020, without a glyph of their own; default-ignorable; composed of what is there.
    for char in "\u00a0\u202f\u2009\u3000\u00ad\u200d\u200f\u2066\ufe0f":
        assert hebrew.has(char), ascii(char)
        assert mono.has(char), ascii(char)
    assert cjk.has("\u2011") == cjk.has("\u2010")
    assert hebrew.has("\u2011") is False
    assert hebrew.has("שׁ")
    for char in "\t\n\r\0\x7f\x85\ud800":
        assert not sans.has(char), ascii(char)
        assert not hebrew.has(char), ascii(char)


def test_unknown_faces_and_bad_files(tmp_path: Path) -> None:
    notes = tmp_path / "notes.ttf"
    notes.write_text("not a font", "utf-8")
    faces = Faces({"notes": FaceFile(notes), "gone": FaceFile(tmp_path / "gone.ttf")})
    assert "notes" in faces
    assert "sans" not in faces
    with pytest.raises(CallerError, match=r"there is no such face \(faces: notes, gone\)"):
        faces.face("sans")
    with pytest.raises(CallerError, match="'notes' is not a TrueType or OpenType font"):
        faces.face("notes")
    with pytest.raises(CallerError, match="'gone' cannot be read"):
        faces.face("gone")
