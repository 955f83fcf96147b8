"""Set lines as text operators: glyph ids of the source font, kerning, offsets, ActualText (ISO 32000-1, 9.4, 14.9.4).

Lives here: `Glyphs` → TJ fragments, kept as long as they are likely to come again; which glyphs were used, with the
text that each stands for.  Not here: fonts as objects (`fonts`), where lines stand (`text`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from operator import add
from struct import pack
from typing import NamedTuple
from unicodedata import normalize

from vdp.marks import Column, Glyphs, Letters, Spelled, Stretch, TextMark
from vdp.pdf.objects import number_text

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


_NONE: Mapping[Stretch, str] = {}

#: Pairs of glyph and text remembered for a face.
_SEEN = 65536


class _Odd(NamedTuple):
    """A fragment that needs more than plain TJ: `spoken` asks for ActualText on its line."""

    text: str
    spoken: bool


#: From a line to the next of a column (ISO 32000-1, table 108).
_NEXT = ">]TJ T*[<"


class _Codes(dict[str, str]):
    """Fragments of one letter before another, and of one letter at the end of its line; bounded by the letters there
    are."""

    def __init__(self, letters: Letters, note: Callable[[str, int, str], None]) -> None:
        super().__init__()
        self._letters = letters
        self._note = note

    def of(self, text: str) -> str:
        """The fragment of a text."""
        return f"{''.join(map(self.__getitem__, map(add, text, text[1:])))}{self[text[-1]]}"

    def __missing__(self, pair: str) -> str:
        if pair[0] == "\n":
            text = self[pair] = _NEXT if pair == "\n\n" else ""
            return text
        if pair[-1] == "\n":
            text = self[pair] = self[pair[0]] + _NEXT
            return text
        gid, advance, natural = self._letters.place(pair)
        self._note(self._letters.face, gid, pair[0])
        kern = "" if advance == natural else f">{number_text(natural - advance, 2)}<"
        text = self[pair] = f"{gid:04X}{kern}"
        return text


class Typist:
    """Turns text marks into operators."""

    def __init__(self, dpi: int, fonts: Mapping[str, str], kept: int) -> None:
        self._scale = dpi / 72
        self._fonts = fonts
        self._room = self._kept = kept
        #: Fragments in reading order left to right without rise, by face; all others by Glyphs and size.
        self._plain: dict[str, dict[Stretch, str]] = {}
        self._odd: dict[tuple[Stretch, str], _Odd] = {}
        self._sizes: dict[float, str] = {}
        self._codes: dict[Letters, _Codes] = {}
        #: What `glyphs` has taken in already.
        self._seen: dict[str, set[tuple[int, str]]] = {}
        self.glyphs: GlyphTexts = {}

    def set(self, mark: TextMark) -> str:
        """A text object with every line of the mark."""
        size = self._sizes.get(mark.size)
        if size is None:
            size = self._sizes[mark.size] = number_text(mark.size * self._scale, 4)
        if isinstance(mark.lines, Column):
            return self._column(mark.lines, size)
        turn = _TURNS[mark.turn]
        parts = ["BT\n"]
        current, body = "", ""
        before: tuple[Stretch, ...] = ()
        for x, y, glyphs, text in mark.lines:
            if not glyphs:
                continue
            face = glyphs[0].face
            if glyphs is not before:
                fragments = self._level_line(glyphs, face)
                if "" in fragments:
                    current = self._unusual(parts, f"{turn} {x} {y} Tm", size, current, glyphs, text)
                    continue
                body = _shown(fragments)
                before = glyphs
            if face != current:
                parts.append(f"{self._fonts[face]} {size} Tf\n")
                current = face
            parts.append(f"{turn} {x} {y} Tm{body}")
        parts.append("ET\n")
        return "".join(parts)

    def _level_line(self, glyphs: tuple[Stretch, ...], face: str) -> list[str]:
        """Fragments of a line all in one face; "" among them where that is not so or takes more than TJ."""
        fragments: list[str] = []
        plain = self._plain.get(face, _NONE)
        for part in glyphs:
            if isinstance(part, Spelled):
                drawn = part.drawn
                fragment = drawn[1] if drawn is not None and drawn[0] is self else self._spell(part)
                fragments.append(fragment if part.face == face else "")
            else:
                fragments.append(plain.get(part) or self._plainly(part, face))
        return fragments

    def _column(self, column: Column, size: str) -> str:
        """A text object of lines one under another."""
        stand, text = column.stand, column.text
        start = f"BT\n{self._fonts[stand.letters.face]} {size} Tf\n"
        place = f"{_TURNS[stand.turn]} {stand.x} {stand.y} Tm"
        shown = f"[<{self._coded(stand.letters, text)}>]TJ\n"
        if "\n" not in text:
            return f"{start}{place}{shown}ET\n"
        if "<>" in shown:
            shown = shown.replace("[<>]TJ", "").replace("<>", "")
        return f"{start}{stand.leading} TL {place}{shown}ET\n"

    def _spell(self, part: Spelled) -> str:
        """The fragment of letters, kept with them."""
        drawn = part.drawn
        if drawn is None or drawn[0] is not self:
            # Another document's fragment would be the same, but its glyphs were noted there.
            drawn = part.drawn = (self, self._codes_of(part.letters).of(part.text))
        return drawn[1]

    def _coded(self, letters: Letters, text: str) -> str:
        return self._codes_of(letters).of(text)

    def _codes_of(self, letters: Letters) -> _Codes:
        codes = self._codes.get(letters)
        if codes is None:
            codes = self._codes[letters] = _Codes(letters, self._note_one)
        return codes

    def _note_one(self, face: str, gid: int, text: str) -> None:
        known = self.glyphs.setdefault(face, {})
        known[gid] = _choose(known.get(gid, ""), text)

    def _plainly(self, glyphs: Stretch, face: str) -> str:
        """The fragment of glyphs in that face that stand on the line, one a character in the order of the text; ""
        where that is not so."""
        if glyphs.face != face or isinstance(glyphs, Spelled):
            return ""
        if glyphs.offsets or glyphs.rtl or "" in glyphs.clusters or "".join(glyphs.clusters) != glyphs.text:
            return ""
        self._note(glyphs)
        self._make_room()
        text = self._plain.setdefault(face, {})[glyphs] = _level(glyphs)
        return text

    def _make_room(self) -> None:
        """Forgets every fragment when as many are kept as may be."""
        if self._room <= 0:
            for known in self._plain.values():
                known.clear()
            self._odd.clear()
            self._room = self._kept
        self._room -= 1

    def _unusual(
        self, parts: list[str], place: str, size: str, current: str, glyphs: tuple[Stretch, ...], text: str
    ) -> str:
        """A line with several faces, rises, right-to-left text, or glyphs not seen before.  Returns the last face."""
        spoken = False
        pieces: list[tuple[str, list[str]]] = []
        for part in glyphs:
            fragment = self._fragment(part, size)
            spoken |= fragment.spoken
            if not pieces or part.face != pieces[-1][0]:
                pieces.append((part.face, []))
            pieces[-1][1].append(fragment.text)
        # The same order of operators as for glyphs seen before: whether they were must not show in the file.
        if pieces[0][0] != current:
            current = pieces[0][0]
            parts.append(f"{self._fonts[current]} {size} Tf\n")
        if spoken:
            parts.append(f"/Span<</ActualText<FEFF{text.encode('utf-16-be').hex().upper()}>>>BDC\n")
        parts.append(place)
        for face, fragments in pieces:
            if face != current:
                parts.append(f"{self._fonts[face]} {size} Tf")
                current = face
            parts.append(_shown(fragments))
        if spoken:
            parts.append("EMC\n")
        return current

    def _fragment(self, glyphs: Stretch, size: str) -> _Odd:
        if isinstance(glyphs, Spelled):
            return _Odd(self._spell(glyphs), spoken=False)
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
        spoken = not _speaks_for_itself(glyphs)
        text = _risen(glyphs, float(size)) if rises else _level(glyphs)
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


def _shown(fragments: Iterable[str]) -> str:
    """Fragments as one TJ, without strings that show nothing."""
    text = "".join(fragments)
    if text[:1] != ">" and text[-1:] != "<" and text and "<>" not in text:
        return f"[<{text}>]TJ\n"
    return f"[<{text}>]TJ\n".replace("<>", "").replace("[]TJ", "")


def _speaks_for_itself(glyphs: Glyphs) -> bool:
    """Whether the glyphs' own texts, in visual order, give the text back.  Readers turn right-to-left runs around, and
    would turn an ActualText around as well, so that it is kept for what glyph by glyph cannot be said."""
    clusters = reversed(glyphs.clusters) if glyphs.rtl else glyphs.clusters
    if "" in glyphs.clusters:
        return False
    told = "".join(clusters)
    return told == glyphs.text or normalize("NFKC", told) == normalize("NFKC", glyphs.text)


def _level(glyphs: Glyphs) -> str:
    """Hexadecimal glyph ids with adjustments between them, without the outer angle brackets."""
    if glyphs.advances == glyphs.natural and not glyphs.offsets:
        return pack(f">{len(glyphs.gids)}H", *glyphs.gids).hex().upper()
    return "".join(text for _, text in _steps(glyphs))


def _risen(glyphs: Glyphs, size: float) -> str:
    """The same with glyphs above and below the line: a rise ends one TJ and begins the next."""
    parts, current = [], 0.0
    for rise, text in _steps(glyphs):
        if rise != current:
            parts.append(f">]TJ {number_text(rise * size / 1000, 2)} Ts[<")
            current = rise
        parts.append(text)
    if current:
        parts.append(">]TJ 0 Ts[<")
    return "".join(parts)


def _steps(glyphs: Glyphs) -> Iterable[tuple[float, str]]:
    """Rise and text of each glyph.  Adjustments are tenths of a thousandth of an em, what is rounded off is carried."""
    pen = shown = 0.0  # where the glyph should stand, and where the operators so far have put it
    pending = ""
    for place, (gid, advance, natural) in enumerate(zip(glyphs.gids, glyphs.advances, glyphs.natural, strict=True)):
        dx, dy = glyphs.offsets[place] if glyphs.offsets else (0.0, 0.0)
        shift = pen + dx - shown
        # Most are far too small: only the others are worth rounding.
        if not -0.05 < shift < 0.05 and (shift := round(shift, 1)):
            pending = f">{number_text(-shift, 1)}<"
            shown += shift
        yield dy, f"{pending}{gid:04X}"
        pending = ""
        pen += advance
        shown += natural
    shift = round(pen - shown, 1)
    if shift:
        yield (glyphs.offsets[-1][1] if glyphs.offsets else 0.0), f">{number_text(-shift, 1)}<"
