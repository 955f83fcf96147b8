"""Fonts, shaping, bidi, line breaking and fitting: text, a style and a box in, lines of glyphs out."""

from vdp.text.endless import Endless
from vdp.text.faces import Face, Faces, FaceSource
from vdp.text.fit import Frame, Setter, Setting, Style

__all__ = ["Endless", "Face", "FaceSource", "Faces", "Frame", "Setter", "Setting", "Style"]
