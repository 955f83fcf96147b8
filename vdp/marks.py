"""Printable things, each with its ink, in whole device dots of the page.

Coordinates: origin at the page's lower left corner (MediaBox = BleedBox), x to the right, y up, whole dots at the
job's resolution.  `turn` is 0, 90, 180 or 270 degrees counter-clockwise.  A `box` is ``(x, y, width, height)`` of the
area the mark fills on the page *after* turning.  Nothing here knows PDF, fonts or records.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, ClassVar, NamedTuple, Protocol, overload

#: The process plates, in DeviceCMYK component order.
PROCESS = ("Cyan", "Magenta", "Yellow", "Black")

Box = tuple[int, int, int, int]


class Ink(NamedTuple):
    """What a mark is printed with: one spot plate at a tint, or process components.

    `spot` is a plate name of the job (``"Clear"``) or "" for process; `tint` is 0..1 of the spot;
    `cmyk` are 0..1 process components (K only = ``(0, 0, 0, k)``); `over` process ink leaves what lies under it alone
    on the plates that it does not print (spot plates always do).
    """

    spot: str
    tint: float
    cmyk: tuple[float, float, float, float]
    over: bool = False


BLACK = Ink("", 0.0, (0.0, 0.0, 0.0, 1.0))
PAPER = Ink("", 0.0, (0.0, 0.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Glyphs:
    """A shaped stretch of text in one face, in visual (left to right) order, compared by identity: it keys caches.

    `face`: key of the face (``"sans"``, ``"sans-bold"``, ``"arabic"`` …).
    `gids`: glyph ids of the source font file.
    `advances`: thousandths of an em, one per glyph, as shaped (kerning included).
    `natural`: thousandths of an em, the font's own advance of each glyph.
    `offsets`: (dx, dy) thousandths of an em per glyph, or () when all are zero.
    `clusters`: text of each glyph, in glyph order; "" for the later glyphs of a cluster.
    `width`: sum of `advances`.
    `text`: the source text, logical order.
    `rtl`: whether it was shaped right to left.
    """

    face: str
    gids: tuple[int, ...]
    advances: tuple[float, ...]
    natural: tuple[float, ...]
    offsets: tuple[tuple[float, float], ...]
    clusters: tuple[str, ...]
    width: float
    text: str
    rtl: bool


class Letters(Protocol):
    """A face whose letters have each their own glyph, whatever stands beside them: only the advance depends on the next
    letter."""

    @property
    def face(self) -> str: ...

    def place(self, pair: str) -> tuple[int, float, float]:
        """Glyph id, advance and natural advance (as in Glyphs) of the first of two letters before the second, or of one
        letter at the end."""
        ...

    def broadest(self, text: str) -> float:
        """No text is wider that differs from this one in its figures (0 to 9) alone, in thousandths of an em.  Raises
        LookupError where one of those texts has glyphs that do not follow from its letters."""
        ...


class Spelled:
    """Glyphs that follow from their letters alone; they are worked out where they are asked for.

    `width` as in Glyphs.  Compared by identity.  `drawn` is whatever the one who draws it wants to keep with it.
    """

    __slots__ = ("drawn", "face", "letters", "text", "width")

    offsets: ClassVar[tuple[tuple[float, float], ...]] = ()
    rtl: ClassVar[bool] = False

    def __init__(self, letters: Letters, text: str, width: float) -> None:
        self.letters = letters
        self.face = letters.face
        self.text = text
        self.width = width
        self.drawn: tuple[object, str] | None = None

    def _places(self, at: int) -> tuple[Any, ...]:
        text = self.text
        pairs = [text[place : place + 2] for place in range(len(text))]
        return tuple([self.letters.place(pair)[at] for pair in pairs])

    @property
    def gids(self) -> tuple[int, ...]:
        return self._places(0)

    @property
    def advances(self) -> tuple[float, ...]:
        return self._places(1)

    @property
    def natural(self) -> tuple[float, ...]:
        return self._places(2)

    @property
    def clusters(self) -> tuple[str, ...]:
        return tuple(self.text)


#: A stretch of text in one face.
Stretch = Glyphs | Spelled


class Line(NamedTuple):
    """A line of text: its baseline's start on the page in dots (after turning), and glyphs left to right.

    `text` is the line's source text in logical order, for ActualText where glyph order cannot give it back.
    """

    x: int
    y: int
    glyphs: tuple[Stretch, ...]
    text: str


class Stand:
    """Where a column's lines begin: the first baseline's start as in Line, dots from line to line, `turn` as in the
    mark.  Compared by identity: it keys caches."""

    __slots__ = ("leading", "letters", "turn", "x", "y")

    def __init__(self, letters: Letters, x: int, y: int, leading: int, turn: int) -> None:
        self.letters, self.x, self.y, self.leading, self.turn = letters, x, y, leading, turn

    def spot(self, nth: int) -> tuple[int, int]:
        """The start of the line that has `nth` lines before it."""
        down = nth * self.leading
        match self.turn:
            case 0:
                return self.x, self.y - down
            case 90:
                return self.x + down, self.y
            case 180:
                return self.x, self.y + down
            case _:
                return self.x - down, self.y


class _Asked(Sequence[Line]):
    """Lines that are worked out where they are asked for."""

    __slots__ = ()

    @abstractmethod
    def _lines(self) -> list[Line]: ...

    @overload
    def __getitem__(self, at: int) -> Line: ...
    @overload
    def __getitem__(self, at: slice) -> list[Line]: ...
    def __getitem__(self, at: int | slice) -> Line | list[Line]:
        return self._lines()[at]

    def __iter__(self) -> Iterator[Line]:
        return iter(self._lines())


class Column(_Asked):
    """Lines one under another that begin at the same edge, all of the same letters, one at least; empty ones have a
    place, and are none of the sequence.  `text` has a line feed between lines."""

    __slots__ = ("stand", "text")

    def __init__(self, stand: Stand, text: str) -> None:
        self.stand, self.text = stand, text

    def __bool__(self) -> bool:
        return True

    def _lines(self) -> list[Line]:
        stand = self.stand
        return [
            Line(*stand.spot(nth), (Spelled(stand.letters, text, _measured(stand.letters, text)),), text)
            for nth, text in enumerate(self.text.split("\n"))
            if text
        ]

    def __len__(self) -> int:
        return sum(map(bool, self.text.split("\n")))


class Refrain(_Asked):
    """Lines that say the same thing over and over: where each begins, the `glyphs` of one repeat (left to right), how
    many `repeats` there are, and the `rest` of one more."""

    __slots__ = ("glyphs", "repeats", "rest", "spots")

    def __init__(
        self,
        spots: Sequence[tuple[int, int]],
        glyphs: tuple[Stretch, ...],
        repeats: int,
        rest: tuple[Stretch, ...],
    ) -> None:
        self.spots, self.glyphs, self.repeats, self.rest = spots, glyphs, repeats, rest

    def _lines(self) -> list[Line]:
        run = self.glyphs * self.repeats + self.rest
        text = "".join([part.text for part in run])
        return [Line(x, y, run, text) for x, y in self.spots]

    def __len__(self) -> int:
        return len(self.spots)


def _measured(letters: Letters, text: str) -> float:
    return sum(letters.place(text[at : at + 2])[1] for at in range(len(text)))


class TextMark(NamedTuple):
    """Set text.  `size` is the type size in points."""

    name: str
    ink: Ink
    box: Box
    turn: int
    size: float
    lines: Sequence[Line]


#: A text mark of its parts in their order, for whoever makes many: half the time of calling the class.
text_mark: Callable[[tuple[str, Ink, Box, int, float, Sequence[Line]]], TextMark] = partial(tuple.__new__, TextMark)


class Matrix:
    """A two-dimensional symbol: `rows` top to bottom, each an int whose bit 0 is the leftmost module (1 = dark).

    They are kept as those who encode and draw many at a time want them: `lines` has the rows one after another, each as
    `stride` bytes, low byte first, the bits above the width clear (one at least).
    """

    __slots__ = ("lines", "stride", "width")

    def __init__(self, width: int, rows: Iterable[int]) -> None:
        self.width = width
        self.stride = stride = width // 8 + 1
        self.lines = b"".join([row.to_bytes(stride, "little") for row in rows])

    @classmethod
    def packed(cls, width: int, stride: int, lines: bytes) -> Matrix:
        """From rows as they are kept."""
        found = cls.__new__(cls)
        found.width, found.stride, found.lines = width, stride, lines
        return found

    @property
    def height(self) -> int:
        return len(self.lines) // self.stride

    @property
    def rows(self) -> tuple[int, ...]:
        lines, stride = self.lines, self.stride
        return tuple([int.from_bytes(lines[at : at + stride], "little") for at in range(0, len(lines), stride)])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Matrix) and (self.width, self.rows) == (other.width, other.rows)

    def __hash__(self) -> int:
        return hash((self.width, self.rows))

    def __repr__(self) -> str:
        return f"Matrix({self.width}, {self.rows})"


class Bars(NamedTuple):
    """A linear symbol: element widths in modules, a byte each, bar first, bar and space in turn."""

    widths: bytes


class States(NamedTuple):
    """A four-state postal symbol: one letter a bar, left to right: F full, A ascender, D descender, T tracker."""

    bars: str


class StateDots(NamedTuple):
    """Sizes of a four-state symbol in dots: an ascender is tracker and reach high, a full bar has two reaches."""

    pitch: int
    bar: int
    tracker: int
    reach: int

    def width(self, bars: int) -> int:
        """From the first bar's left to the last bar's right edge."""
        return (bars - 1) * self.pitch + self.bar

    @property
    def full(self) -> int:
        return self.tracker + 2 * self.reach

    @property
    def half(self) -> int:
        """Height of an ascender or a descender."""
        return self.tracker + self.reach


class SymbolMark(NamedTuple):
    """A barcode.  `box` includes the quiet zone.

    `module` is the X-dimension in whole dots, `quiet` the left, bottom, right and top quiet zone in dots *before*
    turning.  `height` is the bar height in dots (linear) and 0 for others.  `state` sizes a four-state symbol.
    `reduction`: dots by which dark stretches are narrower and lower than their modules, before turning.
    """

    name: str
    ink: Ink
    box: Box
    turn: int
    module: int
    quiet: tuple[int, int, int, int]
    height: int
    shape: Matrix | Bars | States
    state: StateDots | None = None
    reduction: tuple[int, int] = (0, 0)


#: The same of a symbol's.
symbol_mark: Callable[[tuple[Any, ...]], SymbolMark] = partial(tuple.__new__, SymbolMark)


class ImageMark(NamedTuple):
    """A picture or a page of artwork.  `asset` is the plan's key of it.  `box` is filled exactly (stretch is worked out
    before); `clip` cuts what lies outside it, or is None."""

    name: str
    asset: str
    box: Box
    turn: int
    clip: Box | None


class FillMark(NamedTuple):
    """A filled rectangle: a box, or a level or upright line."""

    name: str
    ink: Ink
    box: Box


class StrokeMark(NamedTuple):
    """A straight line at any angle from (x0, y0) to (x1, y1); `weight` in dots."""

    name: str
    ink: Ink
    start: tuple[int, int]
    end: tuple[int, int]
    weight: int


class FormMark(NamedTuple):
    """A run of marks that is the same on every piece, drawn once in the file under the plan's `asset` key."""

    name: str
    asset: str


Mark = TextMark | SymbolMark | ImageMark | FillMark | StrokeMark | FormMark


class PieceMark(NamedTuple):
    """A side of a finished piece, or a form that stands for one, on a sheet.

    `what`: the number of the side in pieces.pdf (2 × index, one more for the back), or the key of a form.  The piece's
    own page is turned about its lower left corner by `turn`, then moved by `at`; only `shown` of the page is printed.
    """

    what: int | str
    at: tuple[int, int]
    turn: int
    shown: Box
