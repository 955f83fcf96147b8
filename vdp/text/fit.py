"""Text into a box or a line: the room's way in, which keeps what is likely to come again.

Lives here: `Setter`.  Not here: how a box is filled (`frame`), a line without end (`endless`), shaping (`shape`).
"""

from __future__ import annotations

from vdp.marks import Box, Stretch
from vdp.text.endless import Endless
from vdp.text.faces import Faces
from vdp.text.frame import Frame, Setting, Style, read_parts
from vdp.text.kept import Kept
from vdp.text.languages import read_language
from vdp.text.rows import order
from vdp.text.shape import Shaper
from vdp.text.voice import Voice

__all__ = ["Frame", "Setter", "Setting", "Style"]

# Bounds of what is kept, twice over (see `kept`).
_VOICES = 64
_FRAMES = 512
_SETTINGS = 256
_SHAPES = 512
_WORDINGS = 64


class Setter:
    """Sets text at `dpi` dots an inch.  Same arguments, same result, whatever was set before."""

    def __init__(self, faces: Faces, dpi: int) -> None:
        self.faces = self._faces = faces
        self._dpi = dpi
        self._shaper = Shaper(faces)
        self._voices: Kept[tuple[str, str], Voice] = Kept(self._voice, _VOICES)
        self._frames: Kept[tuple[Style, str, Box], Frame] = Kept(self._frame, _FRAMES)
        self._settings: Kept[tuple[Frame, str], Setting] = Kept(_set_in_frame, _SETTINGS)
        self._endless: Kept[tuple[tuple[str, ...], str, str], Endless] = Kept(self._string, _WORDINGS)
        self._shapes: Kept[tuple[str, str, str], tuple[Stretch, ...]] = Kept(self._shape, _SHAPES)

    def set(self, text: str, style: Style, language: str, box: Box) -> Setting:
        """`text` (NFC) in `box`, dots of the page after turning.  Raises RowRefused: a character that no face has,
        or text that does not fit at the least size, with the figures; CallerError: no such face."""
        return self._settings[(self._frames[(style, language, box)], text)]

    def frame(self, style: Style, language: str, box: Box) -> Frame:
        """What sets text after text in one style, language and box."""
        return self._frames[(style, language, box)]

    def shape(self, text: str, face: str, language: str) -> tuple[Stretch, ...]:
        """`text` in one line that may be any length, spaces at its ends included, from left to right.

        Raises RowRefused for a character that no face has, line breaks included.
        """
        return self._shapes[(text, face, language)]

    def endless(self, literals: tuple[str, ...], face: str, language: str) -> Endless:
        """What sets the literals with values between them in one line, trimmed, and a space after that."""
        return self._endless[(literals, face, language)]

    def _voice(self, key: tuple[str, str]) -> Voice:
        return Voice(self._faces, self._shaper, key[0], read_language(key[1]))

    def _frame(self, key: tuple[Style, str, Box]) -> Frame:
        style, language, box = key
        return Frame(self._faces, self._voices[(style.face, language)], style, box, self._dpi)

    def _string(self, key: tuple[tuple[str, ...], str, str]) -> Endless:
        literals, face, language = key
        return Endless(self._voices[(face, language)], literals, lambda text: self.shape(text, face, language))

    def _shape(self, key: tuple[str, str, str]) -> tuple[Stretch, ...]:
        text, face, language = key
        if not text:
            return ()
        paragraph = read_parts(self._voices[(face, language)], [text])[0]
        return order(paragraph.pieces, paragraph.mixed) if paragraph else ()


def _set_in_frame(key: tuple[Frame, str]) -> Setting:
    return key[0].set(key[1])
