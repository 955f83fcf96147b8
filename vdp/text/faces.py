"""Font files opened for setting type: what a face covers, its measures and its name.

Lives here: opening a face on first use with its axes pinned.  Not here: which files there are (`job.faces`), choosing
between faces (`itemize`), shaping (`shape`), embedding (`pdf`).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Protocol

import icu
import uharfbuzz as hb

from vdp.errors import CallerError

#: Spaces that HarfBuzz makes out of U+0020 when the font lacks them: the no-break and the fixed-width ones.
_SPACES = frozenset("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000")


class FaceSource(Protocol):
    """Where a face comes from: a font file, the axes to pin, and its place in a collection."""

    @property
    def path(self) -> Path: ...
    @property
    def axes(self) -> Mapping[str, float]: ...
    @property
    def index(self) -> int: ...


class Face:
    """One face.  Measures are thousandths of an em: `ascent` up and `descent` down from the baseline, both positive.

    `postscript_name` names the instance (``NotoSans-Bold``), not just the variable font's default.
    """

    __slots__ = (
        "_shown",
        "_unicodes",
        "ascent",
        "cap_height",
        "descent",
        "font",
        "key",
        "naturals",
        "postscript_name",
        "scale",
        "upem",
        "x_height",
    )

    def __init__(self, key: str, source: FaceSource) -> None:
        self.key = key
        try:
            blob = hb.Blob.from_file_path(str(source.path))
        except (OSError, hb.HarfBuzzError) as error:
            raise CallerError.one(str(source.path), f"face '{key}' cannot be read: {error}") from error
        face = hb.Face(blob, source.index)
        if not face.glyph_count or not len(face.unicodes):
            raise CallerError.one(
                str(source.path), f"face '{key}' is not a TrueType or OpenType font with letters", "give a .ttf or .otf"
            )
        self.font = hb.Font(face)
        if source.axes:
            self.font.set_variations(dict(source.axes))
        self.upem = int(face.upem)
        #: Font units → thousandths of an em.
        self.scale = 1000 / self.upem
        extents = self.font.get_font_extents("ltr")
        self.ascent = extents.ascender * self.scale
        self.descent = -extents.descender * self.scale
        self.cap_height = self._metric("CAP_HEIGHT", "H")
        self.x_height = self._metric("X_HEIGHT", "x")
        self.postscript_name = _postscript_name(face, source.axes) or re.sub(r"[^A-Za-z0-9-]", "", key)
        self._unicodes = face.unicodes
        self._shown: set[str] = set()
        #: Glyph id → (the same glyph id, the font's own advance of it): always the same two objects for a glyph.
        self.naturals = _Naturals(self.font, self.scale)

    def _metric(self, tag: str, char: str) -> float:
        """A height the font states, else that of a letter, else 0."""
        stated = self.font.get_metric_position(getattr(hb.OTMetricsTag, tag))
        if stated:
            return float(stated) * self.scale
        gid = self.font.get_nominal_glyph(ord(char))
        extents = self.font.get_glyph_extents(gid) if gid else None
        return extents.y_bearing * self.scale if extents else 0.0

    def has(self, char: str) -> bool:
        """Whether the face can show a character, or needs no glyph for it (default-ignorable characters)."""
        return self.covers(char)

    def covers(self, text: str) -> bool:
        """Whether the face can show every character of a text."""
        if self._shown.issuperset(text):
            return True
        for char in text:
            if char not in self._shown:
                if not self._can_show(char):
                    return False
                self._shown.add(char)
        return True

    def _can_show(self, char: str) -> bool:
        # Some fonts map control characters to blank glyphs: that is not showing them.
        if unicodedata.category(char) in {"Cc", "Cs"}:
            return False
        if ord(char) in self._unicodes or ignorable(char):
            return True
        if char in _SPACES:
            return 0x20 in self._unicodes
        if char == "\u2011":
            return 0x2010 in self._unicodes
        parts = unicodedata.normalize("NFD", char)
        return len(parts) > 1 and all(ord(part) in self._unicodes for part in parts)


class _Naturals(dict[int, tuple[int, float]]):
    """Bounded by the number of glyphs in the font."""

    def __init__(self, font: hb.Font, scale: float) -> None:
        super().__init__()
        self._font = font
        self._scale = scale

    def __missing__(self, gid: int) -> tuple[int, float]:
        pair = self[gid] = (gid, self._font.get_glyph_h_advance(gid) * self._scale)
        return pair


class Faces:
    """Faces by key, each opened when first asked for."""

    def __init__(self, files: Mapping[str, FaceSource]) -> None:
        self._files = dict(files)
        self._open: dict[str, Face] = {}

    def __contains__(self, key: str) -> bool:
        return key in self._files

    def face(self, key: str) -> Face:
        """Raises CallerError when there is no such face or its file is not a font."""
        face = self._open.get(key)
        if face is None:
            if key not in self._files:
                raise CallerError.one(f"face '{key}'", "there is no such face", f"faces: {', '.join(self._files)}")
            face = self._open[key] = Face(key, self._files[key])
        return face


def ignorable(char: str) -> bool:
    """Whether a character is default-ignorable: it has an effect, and no glyph of its own (UAX #44)."""
    return bool(icu.Char.hasBinaryProperty(char, icu.UProperty.DEFAULT_IGNORABLE_CODE_POINT))


def _postscript_name(face: hb.Face, axes: Mapping[str, float]) -> str:
    """Name of an instance as Adobe Technical Note 5902 makes it: the font's own where axes are at their defaults or
    the instance has one, else family prefix + style; axes that no named instance has are spelled out."""
    own = face.get_name(hb.OTNameIdPredefined.POSTSCRIPT_NAME) or ""
    infos = face.axis_infos
    pinned = [min(max(axes.get(info.tag, info.default_value), info.min_value), info.max_value) for info in infos]
    if pinned != [info.default_value for info in infos]:
        prefix = face.get_name(hb.OTNameIdPredefined.VARIATIONS_PS_PREFIX) or own.split("-")[0]
        style = "".join(f"_{value:g}{info.tag}" for info, value in zip(infos, pinned, strict=True))
        own = prefix + style.replace(".", "-")
        for instance in face.named_instances:
            if list(instance.design_coords) == pinned:
                named = face.get_name(instance.postscript_name_id) if instance.postscript_name_id != 0xFFFF else None
                style = face.get_name(instance.subfamily_name_id) or ""
                own = named or f"{prefix}-{style}"
                break
    return re.sub(r"[^A-Za-z0-9_-]", "", own)[:63]
