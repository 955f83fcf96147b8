"""Printer's marks in the margins of a frame, in whole dots: what cutter, folder, camera and operator need.

Lives here: which marks there are, what room they take, where they lie, and the refusal with figures.
Not here: the pieces (`laying`), margins and gutters (`web`), what a frame's code and slug say (`framecode`).

The front is laid out; the back has every mark behind the front's, so each mark is symmetrical about its own middle.
The bands, from the bleed outwards (sizes are common practice, no source):

- left and right: lines in line with every cut, fold and perforation across the web; a register cross; the eye-mark in
  the left band at the leading edge;
- head: lines in line with every slit, fold and perforation along the web, knife marks beyond the slits' lines, and in
  the middle of each lane its frame code;
- foot: the same lines, between them the plate strip (solid and 50 % of every plate), and at the edge the slug line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from vdp.errors import CallerError, Fault
from vdp.marks import BLACK, PROCESS, Box, FillMark, Ink, Mark
from vdp.press.backs import Backs, mirror
from vdp.press.laying import around
from vdp.press.web import Web
from vdp.units import MM_PER_INCH, dots, parse_length

MarkKind = Literal["trim", "slit", "fold", "perforation", "register", "eye", "strip", "slug", "code"]
MARK_KINDS: tuple[MarkKind, ...] = ("trim", "slit", "fold", "perforation", "register", "eye", "strip", "slug", "code")

_CLEAR, _LINE, _HAIR = parse_length("1 mm"), parse_length("3 mm"), parse_length("0.25 pt")
_KNIFE = (parse_length("0.5 mm"), parse_length("1.5 mm"))
_REGISTER, _PATCH, _SLUG = parse_length("5 mm"), parse_length("4 mm"), parse_length("3 mm")
_EYE = (parse_length("4 mm"), parse_length("6 mm"))
_DASH, _DOT = parse_length("0.6 mm"), parse_length("0.3 mm")
_APART = parse_length("0.5 mm")
#: The tint of a strip's second patch.
HALF = 0.5


class Line(NamedTuple):
    """A fold or perforation through every piece: `at` dots from the lower (or left) edge of the trim as it lies on the
    web; `across` the web, or along it."""

    kind: Literal["fold", "perforation"]
    across: bool
    at: int


@dataclass(frozen=True, slots=True)
class MarksWanted:
    """`kinds` that are printed; `spots` plates besides the process plates; `code` the size of a frame code with its
    quiet zone, in dots; `lines` folds and perforations of a piece."""

    kinds: frozenset[MarkKind]
    spots: tuple[str, ...]
    code: tuple[int, int]
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class FrameMarks:
    """Marks of a frame: `front` and `back` are the same on every frame; `codes` are the boxes of the lanes' codes,
    `slug` that of the slug line, on the front; None where there is none."""

    front: tuple[Mark, ...]
    back: tuple[Mark, ...]
    codes: tuple[Box, ...]
    slug: Box | None


def plan_marks(web: Web, wanted: MarksWanted, backs: Backs, where: str) -> FrameMarks:
    """Lays the marks out.  Raises CallerError with every band that is too narrow and by how much."""
    drawing = _Drawing(web, wanted)
    faults = [Fault(where, message, mend) for message, mend in drawing.lacking()]
    if faults:
        raise CallerError(faults)
    front = tuple(drawing.marks())
    codes = tuple(drawing.codes())
    slug = drawing.slug()
    faults = [Fault(where, message, "leave that mark out of 'marks', or make room") for message in drawing.crowded]
    if faults:
        raise CallerError(faults)
    back = tuple(mark._replace(box=behind(mark.box, web, backs)) for mark in front)
    return FrameMarks(front, back, codes, slug)


def behind(box: Box, web: Web, backs: Backs) -> Box:
    """Where the back has a mark of the front: behind it, or in its place where the controller mirrors."""
    return mirror(box, web.width) if backs == "mirrored" else box


class _Drawing:
    """The front's bands and what is in them so far."""

    def __init__(self, web: Web, wanted: MarksWanted) -> None:
        self.web, self.wanted, self.kinds = web, wanted, wanted.kinds
        self.crowded: list[str] = []
        cells = list(web.cells())
        x, y, width, height = around([cell.area for cell in cells])
        self.left, self.bottom, self.right, self.top = x, y, x + width, y + height
        edge = (web.width - web.printable) // 2
        self.edges = (edge, edge + web.printable)
        self.clear, self.line = self._dots(_CLEAR), self._dots(_LINE)
        self.hair = 2 * max(1, self._dots(_HAIR) // 2)
        self.lanes = [web.cell(lane, 1).trim for lane in range(1, web.lanes + 1)]
        #: x of lines along the web and y of lines across it, with what they are.
        self.along = [*self._cuts("slit", web.slits), *self._lines(across=False)]
        self.across = [*self._cuts("trim", web.cuts), *self._lines(across=True)]

    def _dots(self, length: float) -> int:
        return dots(length, self.web.dpi)

    def _even(self, length: float) -> int:
        """An even number of dots, so that a mark's middle lies between two."""
        return 2 * round(self._dots(length) / 2)

    def _cuts(self, kind: MarkKind, places: Iterable[int]) -> list[tuple[MarkKind, int]]:
        return [(kind, place) for place in places]

    def _lines(self, *, across: bool) -> list[tuple[MarkKind, int]]:
        found: dict[tuple[MarkKind, int], None] = {}
        for line in self.wanted.lines:
            if line.across == across:
                for cell in self.web.cells():
                    found[line.kind, cell.trim[1 if across else 0] + line.at] = None
        return list(found)

    # -- room ---------------------------------------------------------------------------------------------------------

    def lacking(self) -> Iterator[tuple[str, str]]:
        """Every band that does not hold its marks."""
        knife = self._dots(_KNIFE[1])
        lines = {"trim": self.line, "slit": self.line + knife, "fold": self.line, "perforation": self.line}
        sides = {"trim": self.line, "fold": self.line, "perforation": self.line, "register": self._even(_REGISTER)}
        patch, code = self._dots(_PATCH), self.wanted.code[1]
        ends = {kind: need for kind, need in lines.items() if kind in {name for name, _ in self.along} | {"slit"}}
        sides = {kind: need for kind, need in sides.items() if kind in {name for name, _ in self.across} | {"register"}}
        foot = ends | {"strip": patch}
        bands: dict[str, tuple[int, dict[str, int]]] = {
            "left": (self.left - self.edges[0], sides | {"eye": self._eye_needs()}),
            "right": (self.edges[1] - self.right, sides),
            "head": (self.web.frame - self.top, ends | {"code": code}),
            "foot": (self.bottom, foot | {"slug": self._foot_row() + self._dots(_APART) + self._dots(_SLUG)}),
        }
        for name, (has, needs) in bands.items():
            most = max(((need, kind) for kind, need in needs.items() if kind in self.kinds), default=(0, ""))
            if most[0] and has < self.clear + most[0]:
                need = self._mm(self.clear + most[0])
                left = f"the {name} margin leaves {self._mm(has)} mm beside the bleed"
                mend = "widen the margin, or leave that mark out of 'marks'"
                yield f"{left}, and the {most[1]} mark needs {need} mm", mend

    def _eye_needs(self) -> int:
        """In the corner the eye-mark lies beside nothing else; else it lies beyond the lines."""
        wide, high = (self._even(_EYE[0]), self._dots(_EYE[1]))
        corner = self.web.frame - self.top >= self.clear + high
        return wide if corner else self.line + self._dots(_APART) + wide

    def _foot_row(self) -> int:
        """Height of the foot's row of lines and patches."""
        rows = [0]
        rows += [self.line + self._dots(_KNIFE[1])] if "slit" in self.kinds else []
        rows += [self.line] if {kind for kind, _ in self.along} & self.kinds else []
        rows += [self._dots(_PATCH)] if "strip" in self.kinds else []
        return max(rows)

    def _mm(self, n_dots: int) -> str:
        return f"{float(n_dots * MM_PER_INCH / self.web.dpi):.2f}"

    # -- marks --------------------------------------------------------------------------------------------------------

    def marks(self) -> Iterator[FillMark]:
        yield from self._ends()
        yield from self._sides()
        if "eye" in self.kinds:
            wide, high = self._even(_EYE[0]), self._dots(_EYE[1])
            yield FillMark("eye", BLACK, (self.edges[0], self.web.frame - high, wide, high))
        if "register" in self.kinds:
            yield from self._registers()
        if "strip" in self.kinds:
            yield from self._strip()

    def _ends(self) -> Iterator[FillMark]:
        """Lines along the web, in the head and in the foot."""
        wide, high = self._even(_KNIFE[0]), self._dots(_KNIFE[1])
        for kind, x in self.along:
            if kind not in self.kinds:
                continue
            for low in (self.top + self.clear, self.bottom - self.clear - self.line):
                for start, length in self._broken(kind):
                    yield FillMark(kind, BLACK, (x - self.hair // 2, low + start, self.hair, length))
            if kind == "slit":
                for low in (self.top + self.clear + self.line, self.bottom - self.clear - self.line - high):
                    yield FillMark("knife", BLACK, (x - wide // 2, low, wide, high))

    def _sides(self) -> Iterator[FillMark]:
        """Lines across the web, at the left and at the right."""
        for kind, y in self.across:
            if kind not in self.kinds:
                continue
            for start, length in self._broken(kind):
                low = y - self.hair // 2
                yield FillMark(kind, BLACK, (self.left - self.clear - start - length, low, length, self.hair))
                yield FillMark(kind, BLACK, (self.right + self.clear + start, low, length, self.hair))

    def _broken(self, kind: MarkKind) -> Iterator[tuple[int, int]]:
        """Start and length of the strokes of a line: whole for a cut, dashed for a fold, dotted for a perforation."""
        if kind in ("trim", "slit"):
            yield 0, self.line
            return
        step = self._dots(_DASH if kind == "fold" else _DOT)
        for start in range(0, self.line - step + 1, 2 * step):
            yield start, step

    def _registers(self) -> Iterator[FillMark]:
        """A cross in the middle of each side band, on every plate."""
        size = self._even(_REGISTER)
        busy = [(y - self.hair, y + self.hair) for kind, y in self.across if kind in self.kinds]
        if "eye" in self.kinds:
            busy.append((self.web.frame - self._dots(_EYE[1]), self.web.frame))
        y = _free(size, (self.bottom + self.top - size) // 2, (0, self.web.frame), busy, self._dots(_APART))
        if y is None:
            self.crowded.append(f"no {self._mm(size)} mm are free for a register mark between the lines at the sides")
            return
        inks = [Ink("", 0.0, (1.0, 1.0, 1.0, 1.0)), *(Ink(spot, 1.0, (0, 0, 0, 0)) for spot in self.wanted.spots)]
        for x in (self.left - self.clear - size, self.right + self.clear):
            middle = (size - self.hair) // 2
            for ink in inks:
                yield FillMark("register", ink, (x, y + middle, size, self.hair))
                yield FillMark("register", ink, (x + middle, y, self.hair, size))

    def _strip(self) -> Iterator[FillMark]:
        """A solid and a half-tint patch of every plate, from the left, between the lines of the foot."""
        size, apart = self._dots(_PATCH), self._dots(_APART)
        knife = self._even(_KNIFE[0]) // 2
        busy = [(x - knife, x + knife) for kind, x in self.along if kind in self.kinds]
        at, low = max(self.edges[0], 0), self.bottom - self.clear - size
        for ink in _strip_inks(self.wanted.spots):
            x = _free(size, at, (at, self.edges[1]), busy, apart)
            if x is None:
                self.crowded.append("the plate strip does not fit across the web")
                return
            yield FillMark("strip", ink, (x, low, size, size))
            at = x + size + apart

    def codes(self) -> Iterator[Box]:
        """The box of each lane's code, on the front."""
        if "code" not in self.kinds:
            return
        width, height = self.wanted.code
        busy = [(x - self._even(_KNIFE[0]) // 2, x + self._even(_KNIFE[0]) // 2) for _, x in self.along]
        for number, (left, _, across, _) in enumerate(self.lanes, 1):
            x = _free(width, left + (across - width) // 2, (left, left + across), busy, self._dots(_APART))
            if x is None:
                self.crowded.append(f"the frame code is {self._mm(width)} mm wide, too wide for lane {number}")
            else:
                yield (x, self.top + self.clear, width, height)

    def slug(self) -> Box | None:
        """The box of the slug line, on the front."""
        if "slug" not in self.kinds:
            return None
        high = self._dots(_SLUG)
        low = self.bottom - self.clear - self._foot_row() - self._dots(_APART) - high
        return (self.left, low, self.right - self.left, high)


def _strip_inks(spots: Sequence[str]) -> Iterator[Ink]:
    for plate in range(len(PROCESS)):
        for tint in (1.0, HALF):
            parts = [tint if at == plate else 0.0 for at in range(len(PROCESS))]
            yield Ink("", 0.0, (parts[0], parts[1], parts[2], parts[3]))
    for spot in spots:
        for tint in (1.0, HALF):
            yield Ink(spot, tint, (0, 0, 0, 0))


def _free(size: int, wished: int, room: tuple[int, int], busy: Iterable[tuple[int, int]], apart: int) -> int | None:
    """The place nearest to `wished` where `size` dots keep `apart` from everything busy; None where there is none."""
    taken = list(busy)

    def clear(start: int) -> bool:
        inside = room[0] <= start and start + size <= room[1]
        return inside and all(start + size + apart <= low or high + apart <= start for low, high in taken)

    tries = {wished, *(low - apart - size for low, _ in taken), *(high + apart for _, high in taken)}
    good = [start for start in tries if clear(start)]
    return min(good, key=lambda start: (abs(start - wished), start)) if good else None
