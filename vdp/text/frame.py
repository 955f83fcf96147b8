"""A style, a language and a box: how text after text is set in it, in whole dots of the page.

Lives here: lines filled and sized.  Not here: where they stand (`places`), the room's way in (`fit`), faces, shaping,
break opportunities, levels, ink, and the item's name in a refusal (whoever asks puts that before it).

A box holds as many lines as keep the style face's ascent and descent inside it.  Text is set at the first of the sizes
`size`, `size` - 0.25 pt, … down to `least` at which it fits; leading shrinks in the same ratio.  Lines are filled
greedily.  Spaces at a line's end are not printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Literal, NamedTuple

from vdp.errors import RowRefused
from vdp.marks import Box, Column, Letters, Line, Stand
from vdp.text.breaks import BREAK_SPACES, SOFT_HYPHEN, split_paragraphs
from vdp.text.faces import Faces
from vdp.text.glance import Glance
from vdp.text.kept import Kept
from vdp.text.passage import Rest, broken
from vdp.text.passage import Row as Broken
from vdp.text.places import SLACK, Laid, Places, Scale
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
#: Ends of paragraphs kept, twice over.
_RESTS = 256
#: Texts known to fit a frame, not twice over.
_CHECKED = 64

#: Characters of the longest text that is tried.  Far above what a page holds, so that a broken record is refused at
#: once.
LONGEST = 20_000

# Thousandths of an em: a text with more than that to a character is not worth measuring as one line.
_NARROW = 250

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


class Frame:
    """A style, a language and a box: all that does not depend on the text."""

    def __init__(self, faces: Faces, voice: Voice, style: Style, box: Box, dpi: int) -> None:
        self._voice = voice
        self._style = style
        self._dpi = dpi
        self._checked: set[str] = set()
        self._wordings: Kept[tuple[str, ...], Wording] = Kept(lambda literals: Wording(voice, literals), _WORDINGS)
        self._places = Places(box, style.turn, style.align, style.valign)
        face = faces.face(style.face)
        self._scales = []
        for size in _sizes(style):
            leading = style.leading * size / style.size if style.leading else LEADING * size
            leading_dots = max(1, dots(leading, dpi))
            ascent, descent = dots(face.ascent * size / 1000, dpi), dots(face.descent * size / 1000, dpi)
            spare = self._places.across - ascent - descent
            unit = size * dpi / 72000
            self._scales.append(
                Scale(
                    size=size,
                    room=self._places.along / unit + SLACK,
                    unit=unit,
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
        self._glance = Glance(voice, self._limit, self._room)
        self._rtl = bool(voice.rtl)
        self._rests: Kept[tuple[Rest, int], tuple[Line, ...]] = Kept(self._followed, _RESTS)
        self._stands: dict[tuple[Letters, int], Stand] = {}

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
        parts = wording.fill(values) if wording.usable and not self._style.one_line else None
        found = None if parts is None else broken(parts, self._room, rtl=self._rtl)
        if found is not None:
            rows, rest = found
            # Lines that follow where the last record's did are ready.
            ready = () if rest is None else rest.ended()
            count = len(rows) + len(ready)
            if count <= self._limit:
                scale = self._scales[0]
                lines = self._filled(rows, 0, count)
                if rest is not None:
                    lines += self._rests[rest, len(rows)]
                return Setting(scale.size, lines)
        return self.set(woven(literals, values))

    def _followed(self, where: tuple[Rest, int]) -> tuple[Line, ...]:
        """The lines that end a paragraph after so many others."""
        rest, before = where
        rows = rest.ended()
        return self._filled(rows, before, before + len(rows))

    def _filled(self, rows: Sequence[Broken], before: int, count: int) -> tuple[Line, ...]:
        """Lines of a paragraph of so many, which has some before them."""
        scale = self._scales[0]
        down = self._places.down(scale, count) + before * scale.leading
        return self._places.lines([(*row, self._rtl) for row in rows], scale, down)

    def check_filled(self, literals: tuple[str, ...], values: Sequence[str]) -> None:
        """`check` of the literals with the values between them."""
        wording = self._wordings[literals]
        if not (self._surely(wording, values, closely=False) or self._surely(wording, values, closely=True)):
            self.check(woven(literals, values))

    def _surely(self, wording: Wording, values: Sequence[str], *, closely: bool) -> bool:
        """Whether the values between a wording's words fit without a look at the lines."""
        try:
            extent = wording.measure(values, closely=closely) if wording.usable else None
        except RowRefused:
            return False  # `_choose` finds every reason
        return extent is not None and extent.fits(self._room, self._limit)

    def check(self, text: str) -> bool:
        """Whether the text is a column at first sight.  Raises RowRefused when it cannot be set."""
        if self.leads and self._glance.column(text):
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
            x, y = self._places.spot(0, self._places.down(scale, lines + 1))
            stand = self._stands[letters, lines] = Stand(letters, x, y, scale.leading, self._style.turn)
        return Column(stand, text)

    def _single(self, parts: list[str]) -> list[Laid | None] | None:
        """Each paragraph a line at the largest size, where it is plain at first sight that it fits."""
        scale = self._scales[0]
        if len(parts) > self._limit:
            return None
        rows: list[Laid | None] = []
        for part in parts:
            if not part:
                rows.append(None)
                continue
            # Not worth measuring as one line.
            spelled = self._voice.line(part) if len(part) * _NARROW <= scale.room else None
            if spelled is None or spelled.width > scale.room:
                return None
            rows.append(((spelled,), part, spelled.width, self._rtl))
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

    def _choose(self, parts: list[str]) -> tuple[list[Row | None], Scale]:
        """Rows at the first scale at which the text fits."""
        paragraphs = read_parts(self._voice, parts)
        for scale in self._scales:
            rows = self._fill(paragraphs, scale)
            if rows is not None:
                return rows, scale
        raise RowRefused([self._explain(paragraphs, self._scales[-1])])

    def _fill(self, paragraphs: list[Paragraph | None], scale: Scale) -> list[Row | None] | None:
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

    def _place(self, rows: Sequence[Laid | None], scale: Scale) -> tuple[Line, ...]:
        return self._places.lines(rows, scale, self._places.down(scale, len(rows)))

    def _explain(self, paragraphs: list[Paragraph | None], scale: Scale) -> str:
        """Why text does not fit at the least size."""
        wide, high = (f"{mm(points(length, self._dpi)):.2f} mm" for length in (self._places.along, self._places.across))
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


def _laid(row: Row | None) -> Laid | None:
    """A row's glyphs from left to right; None for an empty line."""
    if row is None:
        return None
    paragraph, first, last, width = row
    pieces = paragraph.pieces[first:last]
    pieces.append(paragraph.pieces[last].ending)
    glyphs = order(pieces, paragraph.mixed)
    return glyphs, "".join([piece.text for piece in pieces]), width, paragraph.rtl


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
