"""Set lines as text operators: glyph ids of the source font, kerning, offsets, ActualText (ISO 32000-1, 9.4, 14.9.4).

Lives here: `Glyphs` → TJ fragments, kept as long as they are likely to come again; which glyphs were used, with the
text that each stands for.  Not here: fonts as objects (`fonts`), what stands for letters and glyphs (`codes`,
`shaped`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from operator import attrgetter
from typing import NamedTuple, cast

from vdp.marks import Column, Glyphs, Letters, Line, Refrain, Spelled, Stand, Stretch, TextMark
from vdp.pdf.codes import Coder
from vdp.pdf.objects import number_text
from vdp.pdf.shaped import level, risen, show, speaks_for_itself

#: Face → glyph id of the source font → the text it stands for ("" where none is known).
GlyphTexts = dict[str, dict[int, str]]

#: (a, b, c, d) of the text matrix by turn.
_TURNS = {0: "1 0 0 1", 90: "0 1 -1 0", 180: "-1 0 0 -1", 270: "0 -1 1 0"}


def unite_glyphs(into: GlyphTexts, more: Mapping[str, Mapping[int, str]]) -> None:
    """Adds glyphs of another process.  Of two texts for a glyph the shorter, then the lesser, stays: any order of
    uniting gives the same."""
    for face, texts in more.items():
        known = into.setdefault(face, {})
        for gid, text in texts.items():
            known[gid] = _choose(known.get(gid, ""), text)


def _choose(one: str, other: str) -> str:
    if not one or not other:
        return one or other
    return min(one, other, key=lambda text: (len(text), text))


#: Pairs of glyph and text remembered for a face.
_SEEN = 65536

_glyphs_of = attrgetter("glyphs")


class _Odd(NamedTuple):
    """A fragment that needs more than plain TJ: `spoken` asks for ActualText on its line."""

    text: str
    spoken: bool


class _Unusual(NamedTuple):
    """A line that takes more than a TJ: what goes before its place and behind it, and the face in the end."""

    told: str
    shown: str
    last: str


class _Level(dict[Stretch, str]):
    """Fragments of one face that take no more than TJ; `ragged` where one of them ends in an adjustment."""

    ragged = False

    def keep(self, part: Stretch, fragment: str) -> None:
        self[part] = fragment
        if fragment[0] == ">" or fragment[-1] == "<":
            self.ragged = True

    def shown(self, body: str) -> str:
        """Joined fragments as operators."""
        return show(body) if self.ragged else f"[<{body}>]TJ\n"


class _Drawn(NamedTuple):
    """A line's operators, with the faces that they begin and end in; "" where it shows nothing."""

    face: str
    last: str
    text: str


class _Known(NamedTuple):
    """What was looked up for a batch: fragments of columns' texts by letters, level fragments by face, and how a text
    object of a column begins, with one line and with more; lines by what they are (`id`), size and turn."""

    texts: Mapping[Letters, Mapping[str, str]]
    levels: Mapping[str, _Level]
    starts: dict[tuple[Stand, float], tuple[str, str]]
    lines: dict[tuple[int, float, int], _Drawn]


class Typist:
    """Turns text marks into operators."""

    def __init__(self, dpi: int, fonts: Mapping[str, str], kept: int) -> None:
        self._scale = dpi / 72
        self._fonts = fonts
        self._room = self._kept = kept
        #: Fragments in reading order left to right without rise, by face; all others by Glyphs and size.
        self._plain: dict[str, dict[Glyphs, str]] = {}
        self._odd: dict[tuple[Glyphs, str], _Odd] = {}
        self._sizes: dict[float, str] = {}
        self._coder = Coder(self._note_one)
        #: What `glyphs` has taken in already.
        self._seen: dict[str, set[tuple[int, str]]] = {}
        self.glyphs: GlyphTexts = {}

    def set_all(self, marks: Sequence[TextMark]) -> list[str]:
        """A text object for each mark, with every line of it.  Each letter and stretch is looked up once for all."""
        columns: list[Column] = []
        others: list[Line] = []
        parts: set[Stretch] = set()
        for mark in marks:
            lines = mark.lines
            kind = type(lines)  # isinstance would ask Sequence, whose answer takes its time
            if kind is Column:
                columns.append(cast(Column, lines))
            elif kind is Refrain:
                parts.update(cast(Refrain, lines).glyphs, cast(Refrain, lines).rest)
            else:
                others += lines
        parts.update(chain.from_iterable(map(_glyphs_of, others)))
        known = self._look_up(columns, parts)
        return [self._set(mark, known) for mark in marks]

    def _set(self, mark: TextMark, known: _Known) -> str:
        lines = mark.lines
        if type(lines) is Column:
            return self._column(lines, mark.size, known)
        if type(lines) is Refrain:
            return self._refrain(mark, lines, known) or self._lined(mark, known)
        return self._lined(mark, known)

    def _refrain(self, mark: TextMark, refrain: Refrain, known: _Known) -> str:
        """A text object of lines that say the same over and over; "" where they take more than one TJ."""
        glyphs = refrain.glyphs
        face = glyphs[0].face
        plain = known.levels[face]
        try:
            body = "".join(map(plain.__getitem__, glyphs)) * refrain.repeats
            if refrain.rest:
                body += "".join(map(plain.__getitem__, refrain.rest))
        except KeyError:
            return ""
        shown = plain.shown(body)
        turn = _TURNS[mark.turn]
        lines = "".join([f"{turn} {x} {y} Tm{shown}" for x, y in refrain.spots])
        return f"BT\n{self._fonts[face]} {self._size(mark.size)} Tf\n{lines}ET\n"

    def _look_up(self, columns: Iterable[Column], parts: Iterable[Stretch]) -> _Known:
        texts: defaultdict[Letters, dict[str, str]] = defaultdict(dict)
        levels: defaultdict[str, _Level] = defaultdict(_Level)
        new: list[Spelled] = []
        for column in columns:
            texts[column.stand.letters][column.text] = ""
        for part in parts:
            if not isinstance(part, Spelled):
                fragment = self._plainly(part)
                if fragment:
                    levels[part.face].keep(part, fragment)
            elif part.drawn is not None and part.drawn[0] is self:
                levels[part.face].keep(part, part.drawn[1])
            else:
                # Another document's fragment would be the same, but its glyphs were noted there.
                texts[part.letters][part.text] = ""
                new.append(part)
        self._coder.fill(texts)
        for part in new:
            fragment = texts[part.letters][part.text]
            part.drawn = (self, fragment)
            levels[part.face].keep(part, fragment)
        return _Known(texts, levels, {}, {})

    def _column(self, column: Column, size: float, known: _Known) -> str:
        """A text object of lines one under another."""
        stand, text = column.stand, column.text
        start = known.starts.get((stand, size))
        if start is None:
            start = known.starts[stand, size] = self._starts(stand, self._size(size))
        coded = known.texts[stand.letters][text]
        if "\n" not in text:
            return f"{start[0]}[<{coded}>]TJ\nET\n"
        shown = f"[<{coded}>]TJ\n"
        if "<>" in shown:
            shown = shown.replace("[<>]TJ", "").replace("<>", "")
        return f"{start[1]}{shown}ET\n"

    def _starts(self, stand: Stand, size: str) -> tuple[str, str]:
        start = f"BT\n{self._fonts[stand.letters.face]} {size} Tf\n"
        place = f"{_TURNS[stand.turn]} {stand.x} {stand.y} Tm"
        return f"{start}{place}", f"{start}{stand.leading} TL {place}"

    def _lined(self, mark: TextMark, known: _Known) -> str:
        """A text object of lines that stand each for itself."""
        _, _, _, turn, size, lines = mark
        drawn = "BT\n"
        current = ""
        # The end of a paragraph is the same line on many pages.  What a tuple has lives as long as the mark; lines that
        # are worked out where they are asked for have no such identity.
        kept = type(lines) is tuple
        for line in lines:
            key = id(line), size, turn
            found = known.lines.get(key) if kept else None
            if found is None:
                found = self._line(line, self._size(size), turn, known)
                if kept:
                    known.lines[key] = found
            face, last, text = found
            # Whether glyphs were seen before must not show in the file: the operators have one order.
            if face != current and text:
                drawn += f"{self._fonts[face]} {self._size(size)} Tf\n"
            if text:
                current = last
                drawn += text
        return drawn + "ET\n"

    def _line(self, line: Line, size: str, turn: int, known: _Known) -> _Drawn:
        x, y, glyphs, text = line
        if not glyphs:
            return _Drawn("", "", "")
        face = glyphs[0].face
        plain = known.levels[face]
        place = f"{_TURNS[turn]} {x} {y} Tm"
        try:
            body = "".join(map(plain.__getitem__, glyphs))
        except KeyError:
            told, shown, last = self._unusual(glyphs, text, size, known.levels)
            return _Drawn(face, last, f"{told}{place}{shown}")
        return _Drawn(face, face, f"{place}{plain.shown(body)}")

    def _size(self, size: float) -> str:
        """A type size in dots."""
        text = self._sizes.get(size)
        if text is None:
            text = self._sizes[size] = number_text(size * self._scale, 4)
        return text

    def _note_one(self, face: str, gid: int, text: str) -> None:
        known = self.glyphs.setdefault(face, {})
        known[gid] = _choose(known.get(gid, ""), text)

    def _plainly(self, glyphs: Glyphs) -> str:
        """The fragment of glyphs that stand on the line, one a character in the order of the text; "" where that is not
        so."""
        plain = self._plain.setdefault(glyphs.face, {})
        text = plain.get(glyphs)
        if text is not None:
            return text
        if glyphs.offsets or glyphs.rtl or "" in glyphs.clusters or "".join(glyphs.clusters) != glyphs.text:
            return ""
        self._note(glyphs)
        self._make_room()
        text = plain[glyphs] = level(glyphs)
        return text

    def _make_room(self) -> None:
        """Forgets every fragment when as many are kept as may be."""
        if self._room <= 0:
            for known in self._plain.values():
                known.clear()
            self._odd.clear()
            self._room = self._kept
        self._room -= 1

    def _unusual(self, glyphs: tuple[Stretch, ...], text: str, size: str, levels: Mapping[str, _Level]) -> _Unusual:
        """A line with several faces, rises, right-to-left text, or glyphs not seen before."""
        spoken = False
        pieces: list[tuple[str, list[str]]] = []
        for part in glyphs:
            fragment = levels[part.face].get(part)
            if fragment is None:
                # Letters are level, all of them.
                fragment, asks = self._fragment(cast(Glyphs, part), size)
                spoken |= asks
            if not pieces or part.face != pieces[-1][0]:
                pieces.append((part.face, []))
            pieces[-1][1].append(fragment)
        shown = [show("".join(pieces[0][1]))]
        for face, fragments in pieces[1:]:
            shown += (f"{self._fonts[face]} {size} Tf", show("".join(fragments)))
        told = f"/Span<</ActualText<FEFF{text.encode('utf-16-be').hex().upper()}>>>BDC\n" if spoken else ""
        return _Unusual(told, "".join(shown) + ("EMC\n" if spoken else ""), pieces[-1][0])

    def _fragment(self, glyphs: Glyphs, size: str) -> _Odd:
        plain = self._plain.setdefault(glyphs.face, {})
        text = plain.get(glyphs)
        if text is not None:
            return _Odd(text, spoken=False)
        odd = self._odd.get((glyphs, size))
        if odd is not None:
            return odd
        self._make_room()
        self._note(glyphs)
        rises = bool(glyphs.offsets) and any(dy for _, dy in glyphs.offsets)
        spoken = not speaks_for_itself(glyphs)
        text = risen(glyphs, float(size)) if rises else level(glyphs)
        if not rises and not spoken:
            plain[glyphs] = text
            return _Odd(text, spoken=False)
        odd = self._odd[glyphs, size] = _Odd(text, spoken)
        return odd

    def _note(self, glyphs: Glyphs) -> None:
        seen = self._seen.setdefault(glyphs.face, set())
        pairs = set(zip(glyphs.gids, glyphs.clusters, strict=True))
        if pairs <= seen:
            return
        known = self.glyphs.setdefault(glyphs.face, {})
        for gid, text in sorted(pairs - seen):
            known[gid] = _choose(known.get(gid, ""), text)
        # Bounded by the glyphs of the faces, but for ligatures of any number of texts.
        if len(seen) > _SEEN:
            seen.clear()
        seen |= pairs
