"""A style, a language and a box: how text after text is set in it, in whole dots of the page.

Lives here: lines filled, sized, aligned and turned.  Not here: the room's way in (`fit`), faces, shaping, break
opportunities, levels, ink, and the item's name in a refusal (whoever asks puts that before it).

A box holds as many lines as keep the style face's ascent and descent inside it.  Text is set at the first of the sizes
`size`, `size` - 0.25 pt, … down to `least` at which it fits; leading shrinks in the same ratio.  Lines are filled
greedily.  Spaces at a line's end are not printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Literal, NamedTuple

from vdp.errors import RowRefused
from vdp.marks import Box, Column, Letters, Line, Stand, Stretch
from vdp.text.breaks import BREAK_SPACES, SOFT_HYPHEN, split_paragraphs
from vdp.text.faces import Faces
from vdp.text.kept import Kept
from vdp.text.passage import Words, joined, lines
from vdp.text.rows import Row, fill, order, text_of, whole
from vdp.text.voice import Paragraph, Voice
from vdp.text.wording import Wording, woven
from vdp.units import dots, mm, points

#: Leading of a style that states none, as a multiple of the type size.  Common practice, no source.
LEADING = 1.2

#: Points from one tried size to the next.
STEP = 0.25

#: Wordings kept, twice over (see `kept`).
_WORDINGS = 64
#: Texts known to fit a frame, not twice over.
_CHECKED = 64

#: Characters of the longest text that is tried.  Far above what a page holds, so that a broken record is refused at
#: once.
LONGEST = 20_000

# Thousandths of an em: a text with more than that to a character is not worth measuring as one line.
_NARROW = 250

# Thousandths of an em by which sums of floats may miss.
_SLACK = 1e-6

_UNPRINTED = BREAK_SPACES + SOFT_HYPHEN


class Style(NamedTuple):
    """How text is set.  `size`, `least` and `leading` in points (`least` None: never smaller than `size`; `leading`
    None: 1.2 × size); `turn` in degrees counter-clockwise.  "start" is left, or right in a right-to-left paragraph."""

    face: str
    size: float
    least: float | None = None
    leading: float | None = None
    align: Literal["start", "centre", "end", "left", "right"] = "start"
    valign: Literal["top", "middle", "bottom"] = "top"
    one_line: bool = False
    turn: int = 0


class Setting(NamedTuple):
    """Text as set: the size it came to, in points, and its lines."""

    size: float
    lines: Sequence[Line]


class _Scale(NamedTuple):
    """One size tried: `room` is the line's length in thousandths of an em, `holds` how many lines the box holds; the
    others are dots."""

    size: float
    room: float
    holds: int
    ascent: int
    descent: int
    leading: int


class _Laid(NamedTuple):
    """A line before it is placed; `width` in thousandths of an em."""

    glyphs: tuple[Stretch, ...]
    text: str
    width: float
    rtl: bool


class Frame:
    """A style, a language and a box: all that does not depend on the text."""

    def __init__(self, faces: Faces, voice: Voice, style: Style, box: Box, dpi: int) -> None:
        self._voice = voice
        self._style = style
        self._box = box
        self._dpi = dpi
        self._checked: set[str] = set()
        self._wordings: Kept[tuple[str, ...], Wording] = Kept(lambda literals: Wording(voice, literals), _WORDINGS)
        face = faces.face(style.face)
        self._along, self._across = (box[2], box[3]) if style.turn in (0, 180) else (box[3], box[2])
        self._scales = []
        for size in _sizes(style):
            leading = style.leading * size / style.size if style.leading else LEADING * size
            leading_dots = max(1, dots(leading, dpi))
            ascent, descent = dots(face.ascent * size / 1000, dpi), dots(face.descent * size / 1000, dpi)
            spare = self._across - ascent - descent
            self._scales.append(
                _Scale(
                    size=size,
                    room=self._along / self._dots_per_unit(size) + _SLACK,
                    holds=1 + spare // leading_dots if spare >= 0 else 0,
                    ascent=ascent,
                    descent=descent,
                    leading=leading_dots,
                )
            )

        #: Lines that a text may have at the largest size, and how long.
        self._limit = min(1, self._scales[0].holds) if style.one_line else self._scales[0].holds
        self._room = self._scales[0].room
        #: Whether lines that read from left to right begin at the same edge.
        self.leads = style.align == "left" or (style.align == "start" and not voice.rtl)
        self._stands: dict[tuple[Letters, int], Stand] = {}

    def _dots_per_unit(self, size: float) -> float:
        """Dots in a thousandth of an em."""
        return size * self._dpi / 72000

    def assumed(self, text: str) -> Setting:
        """`set` of a text that `check` found to be a column."""
        spelled = self._voice.assumed(text)
        return self.set(text) if spelled is None else Setting(self._scales[0].size, self._stood(*spelled))

    def set(self, text: str) -> Setting:
        column = self._column(text)
        if column is not None:
            return Setting(self._scales[0].size, column)
        parts = [part.rstrip(_UNPRINTED) for part in split_paragraphs(text)]
        rows = self._single(parts)
        if rows is not None:
            return Setting(self._scales[0].size, self._place(rows, self._scales[0]))
        chosen, scale = self._choose(parts)
        return Setting(scale.size, self._place(list(map(_laid, chosen)), scale))

    def knows(self, literals: tuple[str, ...]) -> bool:
        """Whether `fill` has less to do than `set`."""
        return bool(literals) and self._wordings[literals].usable

    def fill(self, literals: tuple[str, ...], values: Sequence[str]) -> Setting:
        """`set` of the literals with the values between them."""
        wording = self._wordings[literals]
        words = wording.fill(values) if wording.usable and not self._style.one_line else None
        if words is not None:
            rows = self._broken(words, self._scales[0])
            if rows is not None:
                return Setting(self._scales[0].size, self._place(rows, self._scales[0]))
        return self.set(woven(literals, values))

    def _broken(self, words: Sequence[Words], scale: _Scale) -> list[_Laid | None] | None:
        """Lines of a paragraph, or None where all of it has to be looked at."""
        found = lines(words, scale.room, scale.holds)
        if found is None:
            return None
        rtl = bool(self._voice.rtl)
        rows: list[_Laid | None] = []
        for line in found:
            cut = joined(line, rtl=rtl)
            if cut is None or cut.width > scale.room:
                return None
            rows.append(_Laid(cut.glyphs, cut.text, cut.width, rtl))
        return rows

    def check_filled(self, literals: tuple[str, ...], values: Sequence[str]) -> None:
        """`check` of the literals with the values between them."""
        wording, scale = self._wordings[literals], self._scales[0]
        try:
            extent = wording.measure(values) if wording.usable else None
        except RowRefused:
            extent = None  # `_choose` finds every reason
        if extent is None or not extent.fits(scale.room, self._limit):
            self.check(woven(literals, values))

    def check(self, text: str) -> bool:
        """Whether the text is a column at first sight.  Raises RowRefused when it cannot be set."""
        if self.leads and self._voice.column(text, self._limit, self._room):
            return True
        if text not in self._checked:
            parts = [part.rstrip(_UNPRINTED) for part in split_paragraphs(text)]
            if not self._passes(parts):
                self._choose(parts)
            if len(self._checked) >= _CHECKED:
                self._checked.clear()
            self._checked.add(text)
        return False

    def check_alike(self, text: str) -> bool:
        """Whether `check` surely finds a column in every text that differs from this one in its figures alone."""
        return self.leads and self._voice.column_alike(text, self._limit, self._room)

    def _column(self, text: str) -> Column | None:
        """Each paragraph a line at the largest size, all of the same letters, from the same edge."""
        spelled = self._voice.column(text, self._limit, self._room) if self.leads else None
        return None if spelled is None else self._stood(*spelled)

    def _stood(self, letters: Letters, text: str) -> Column:
        lines = 0 if self._style.valign == "top" else text.count("\n")
        stand = self._stands.get((letters, lines))
        if stand is None:
            scale = self._scales[0]
            x, y = self._spot(0, self._down(scale, lines + 1))
            stand = self._stands[letters, lines] = Stand(letters, x, y, scale.leading, self._style.turn)
        return Column(stand, text)

    def _single(self, parts: list[str]) -> list[_Laid | None] | None:
        """Each paragraph a line at the largest size, where it is plain at first sight that it fits."""
        scale = self._scales[0]
        if len(parts) > self._limit:
            return None
        rows: list[_Laid | None] = []
        for part in parts:
            if not part:
                rows.append(None)
                continue
            # Not worth measuring as one line.
            spelled = self._voice.line(part) if len(part) * _NARROW <= scale.room else None
            if spelled is None or spelled.width > scale.room:
                return None
            rows.append(_Laid((spelled,), part, spelled.width, bool(self._voice.rtl)))
        return rows

    def _passes(self, parts: list[str]) -> bool:
        """Whether it is plain at first sight that the text fits: each paragraph a line, at the largest size."""
        scale = self._scales[0]
        if len(parts) > self._limit:
            return False
        for part in filter(None, parts):
            if len(part) * _NARROW > scale.room:
                return False
            spelled = self._voice.line(part)
            try:
                width = self._voice.measure(part) if spelled is None else spelled.width
            except RowRefused:
                return False  # `_choose` finds every reason
            if width > scale.room:
                return False
        return True

    def _choose(self, parts: list[str]) -> tuple[list[Row | None], _Scale]:
        """Rows at the first scale at which the text fits."""
        paragraphs = read_parts(self._voice, parts)
        for scale in self._scales:
            rows = self._fill(paragraphs, scale)
            if rows is not None:
                return rows, scale
        raise RowRefused([self._explain(paragraphs, self._scales[-1])])

    def _fill(self, paragraphs: list[Paragraph | None], scale: _Scale) -> list[Row | None] | None:
        """Lines, None for an empty one; or None when they do not fit."""
        if self._style.one_line and len(paragraphs) > 1:
            return None
        rows: list[Row | None] = []
        for paragraph in paragraphs:
            if paragraph is None:
                rows.append(None)
            elif self._style.one_line:
                rows.append(whole(paragraph))
            else:
                rows += fill(paragraph, scale.room, scale.holds + 1)
            if len(rows) > scale.holds:
                return None
        if any(row is not None and row.width > scale.room for row in rows):
            return None
        return rows

    def _down(self, scale: _Scale, lines: int) -> int:
        """Dots from the first line's side of the box to its baseline."""
        spare = self._across - scale.ascent - scale.descent - scale.leading * (lines - 1)
        return scale.ascent + {"top": 0, "middle": spare // 2, "bottom": spare}[self._style.valign]

    def _place(self, rows: list[_Laid | None], scale: _Scale) -> tuple[Line, ...]:
        style = self._style
        down = self._down(scale, len(rows))
        unit = self._dots_per_unit(scale.size)
        lines = []
        for row in rows:
            if row is not None and row.glyphs:
                right = style.align in {"right", "start" if row.rtl else "end"}
                along = 0
                if right or style.align == "centre":
                    rest = max(0, int(self._along - (row.width - _SLACK) * unit))
                    along = rest if right else rest // 2
                x, y = self._spot(along, down)
                lines.append(Line(x, y, row.glyphs, row.text))
            down += scale.leading
        return tuple(lines)

    def _spot(self, along: int, down: int) -> tuple[int, int]:
        """A place in reading direction and down from the first line's side → dots of the page."""
        x, y, width, height = self._box
        match self._style.turn:
            case 0:
                return x + along, y + height - down
            case 90:
                return x + down, y + along
            case 180:
                return x + width - along, y + down
            case _:
                return x + width - down, y + height - along

    def _explain(self, paragraphs: list[Paragraph | None], scale: _Scale) -> str:
        """Why text does not fit at the least size."""
        wide, high = (f"{mm(points(length, self._dpi)):.2f} mm" for length in (self._along, self._across))
        at = f"{scale.size:g} pt"
        if not scale.holds:
            need = f"{mm(points(scale.ascent + scale.descent, self._dpi)):.2f} mm"
            return f"one line of {at} needs a height of {need}, and the box is {high} high"
        if self._style.one_line and len(paragraphs) > 1:
            return f"the text has {len(paragraphs)} lines, and the item takes one"
        rows: list[Row | None] = []
        for paragraph in paragraphs:
            if paragraph is None:
                rows.append(None)
            else:
                rows += [whole(paragraph)] if self._style.one_line else fill(paragraph, scale.room, LONGEST)
        for row in rows:
            if row is not None and row.width > scale.room:
                need = f"{mm(row.width * scale.size / 1000):.2f} mm"
                return f"'{_shorten(text_of(row))}' is {need} wide at {at}, and the box is {wide} wide"
        return f"the text needs {len(rows)} lines at {at}, and the box of {wide} × {high} holds {scale.holds}"


def _laid(row: Row | None) -> _Laid | None:
    """A row's glyphs from left to right; None for an empty line."""
    if row is None:
        return None
    paragraph, first, last, width = row
    pieces = paragraph.pieces[first:last]
    pieces.append(paragraph.pieces[last].ending)
    glyphs = order(pieces, paragraph.mixed)
    return _Laid(glyphs, "".join([piece.text for piece in pieces]), width, paragraph.rtl)


def _sizes(style: Style) -> list[float]:
    """The sizes tried, largest first; the last is the least one exactly."""
    least = style.size if style.least is None else min(style.least, style.size)
    steps = int((style.size - least) / STEP - 1e-9) if style.size > least else -1
    return [style.size - STEP * step for step in range(steps + 1)] + [least]


def read_parts(voice: Voice, parts: list[str]) -> list[Paragraph | None]:
    """Paragraphs of a text, None for an empty one; a refusal names every character of the whole text."""
    length = sum(map(len, parts))
    if length > LONGEST:
        raise RowRefused([f"the text has {length:,} characters, and no item takes more than {LONGEST:,}"])
    try:
        return [voice.read(part) if part else None for part in parts]
    except RowRefused:
        raise RowRefused(dict.fromkeys(chain.from_iterable(map(voice.refusals, parts)))) from None


def _shorten(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:39]}…"
