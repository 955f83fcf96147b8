"""The web: lanes across it, pieces along the frame, and where each piece lies on it, in whole device dots.

Lives here: what a job asks of the web (`Wanted`, points), the web it gives (`Web`, dots), and the refusal with figures.
Not here: which piece falls where (`order`), the back of the web (`backs`), marks drawn between the pieces.

A frame is seen from the front with its leading edge, the one that is printed first, at the top: origin lower left,
x across the web, y up.  Lane 1 is the leftmost; place 1 along the frame is the topmost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Literal, NamedTuple

from vdp.errors import CallerError, Fault
from vdp.marks import Box
from vdp.units import MM_PER_INCH, dots, mm, points

Turn = Literal[0, 90, 180, 270]
#: Lengths are held against each other as stated, not as rounded to dots: 6 mm holds two bleeds of 3 mm.
_AS_GOOD_AS = 1 - 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the job says of the web; lengths in points.

    `width`: of the paper.  `printable`: what the press reaches of it, in the middle; None = all of it.
    `gutter` lies between the trims of neighbouring lanes, `along_gutter` between those of neighbours along the frame:
    0 (one cut parts them) or at least twice the bleed.  `frame`: the repeat, None = as short as the pieces allow.
    `bleed`: how much of the layout's bleed is printed.  `turn`: the piece on the web, degrees counter-clockwise.
    `margins`: left, right, head, foot: kept free for marks outside the outermost bleed.
    """

    width: float
    lanes: int
    printable: float | None = None
    along: int = 1
    gutter: float = 0.0
    along_gutter: float = 0.0
    frame: float | None = None
    bleed: float = 0.0
    turn: Turn = 0
    margins: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


class Cell(NamedTuple):
    """A place on the frame: `trim` is its trim, `area` its trim with the bleed that is printed there."""

    lane: int
    along: int
    trim: Box
    area: Box


@dataclass(frozen=True, slots=True)
class Web:
    """The frame, in dots.

    `piece` is the trim across and along the web, after turning; `left` and `top` the upper left trim corner of lane 1,
    place 1; `spare` what the given width and frame leave over, across and along (less than 0 where rounding to dots
    took a little of the margins).
    """

    dpi: int
    width: int
    printable: int
    frame: int
    lanes: int
    along: int
    piece: tuple[int, int]
    turn: Turn
    bleed: int
    gutters: tuple[int, int]
    left: int
    top: int
    spare: tuple[int, int]

    @property
    def places(self) -> int:
        """Pieces a frame."""
        return self.lanes * self.along

    def cell(self, lane: int, along: int) -> Cell:
        """Where a place lies.  Between pieces that touch there is no bleed: each keeps to its own side of the cut."""
        if not (1 <= lane <= self.lanes and 1 <= along <= self.along):
            message = f"there is no lane {lane}, place {along}: the frame has {self.lanes} lanes × {self.along} along"
            raise CallerError.one("web", message)
        across, down = self.piece
        x = self.left + (lane - 1) * (across + self.gutters[0])
        y = self.top - (along - 1) * (down + self.gutters[1]) - down
        inner = [min(self.bleed, gutter // 2) for gutter in self.gutters]
        west = self.bleed if lane == 1 else inner[0]
        east = self.bleed if lane == self.lanes else inner[0]
        north = self.bleed if along == 1 else inner[1]
        south = self.bleed if along == self.along else inner[1]
        area = (x - west, y - south, across + west + east, down + south + north)
        return Cell(lane, along, (x, y, across, down), area)

    def cells(self) -> Iterator[Cell]:
        """Every place of the frame, row by row from the leading edge, each row from lane 1."""
        for along in range(1, self.along + 1):
            for lane in range(1, self.lanes + 1):
                yield self.cell(lane, along)

    @property
    def slits(self) -> tuple[int, ...]:
        """x of every cut along the web, from the left, each once."""
        edges = (self.cell(lane, 1).trim for lane in range(1, self.lanes + 1))
        return tuple(sorted({x for box in edges for x in (box[0], box[0] + box[2])}))

    @property
    def cuts(self) -> tuple[int, ...]:
        """y of every cut across the web, from the leading edge, each once."""
        edges = (self.cell(1, along).trim for along in range(1, self.along + 1))
        return tuple(sorted({y for box in edges for y in (box[1], box[1] + box[3])}, reverse=True))


def lay_web(wanted: Wanted, trim: tuple[float, float], bleed: float, dpi: int, where: str) -> Web:
    """Lay pieces of `trim` (width, height in points) whose layout has `bleed` (points) on the web.

    What the width leaves over is shared by both sides, what the frame leaves over lies at its foot.  Raises
    CallerError with every fault and its figures; `where` names the job's web section.
    """
    faults = [Fault(where, message) for message in _out_of_reason(wanted, bleed)]
    if faults:
        raise CallerError(faults)
    sizes = (dots(trim[0], dpi), dots(trim[1], dpi))
    piece = sizes if wanted.turn in (0, 180) else (sizes[1], sizes[0])
    edge = dots(wanted.bleed, dpi)
    gutters = (dots(wanted.gutter, dpi), dots(wanted.along_gutter, dpi))
    left, right, head, foot = (dots(margin, dpi) for margin in wanted.margins)
    width = dots(wanted.width, dpi)
    printable = width if wanted.printable is None else dots(wanted.printable, dpi)
    tight = [0 < gutter < 2 * wanted.bleed * _AS_GOOD_AS for gutter in (wanted.gutter, wanted.along_gutter)]
    stated = _stated(wanted, trim)
    across = _Row("lanes", "across", wanted.lanes, piece[0], gutters[0], edge, left + right, tight[0], stated[0], dpi)
    along = _Row("pieces", "along", wanted.along, piece[1], gutters[1], edge, head + foot, tight[1], stated[1], dpi)
    frame = along.needs if wanted.frame is None else dots(wanted.frame, dpi)
    faults = [
        *_does_not_fit(across, printable, wanted.printable or wanted.width, "the printable width", where),
        *_does_not_fit(along, frame, wanted.frame or inf, "the frame", where),
        *(Fault(where, message) for row in (across, along) for message in row.gutter_faults()),
    ]
    if faults:
        raise CallerError(faults)
    spare = (printable - across.needs, frame - along.needs)
    first = (width - printable) // 2 + spare[0] // 2 + left + edge
    return Web(
        dpi=dpi,
        width=width,
        printable=printable,
        frame=frame,
        lanes=wanted.lanes,
        along=wanted.along,
        piece=piece,
        turn=wanted.turn,
        bleed=edge,
        gutters=gutters,
        left=first,
        top=frame - head - edge,
        spare=spare,
    )


def _stated(wanted: Wanted, trim: tuple[float, float]) -> tuple[float, float]:
    """What the rows need across and along, in points as stated."""
    sizes = trim if wanted.turn in (0, 180) else trim[::-1]
    left, right, head, foot = wanted.margins
    across = wanted.lanes * sizes[0] + (wanted.lanes - 1) * wanted.gutter + 2 * wanted.bleed + left + right
    along = wanted.along * sizes[1] + (wanted.along - 1) * wanted.along_gutter + 2 * wanted.bleed + head + foot
    return across, along


class _Row(NamedTuple):
    """Equal pieces in a row, in dots; `margins` are both together, `tight` a gutter too narrow for two bleeds, `stated`
    what the row needs in points, before anything was rounded."""

    noun: str
    way: str
    many: int
    size: int
    gutter: int
    bleed: int
    margins: int
    tight: bool
    stated: float
    dpi: int

    @property
    def needs(self) -> int:
        return self.many * self.size + (self.many - 1) * self.gutter + 2 * self.bleed + self.margins

    @property
    def figures(self) -> str:
        """The sum as a person would write it."""
        parts = [f"{self.many} × {self._mm(self.size)}"]
        if self.many > 1 and self.gutter:
            parts.append(f"{self.many - 1} × {self._mm(self.gutter)} gutter")
        if self.bleed:
            parts.append(f"2 × {self._mm(self.bleed)} bleed")
        if self.margins:
            parts.append(f"{self._mm(self.margins)} margins")
        return f"{' + '.join(parts)} = {self._mm(self.needs)} mm"

    def gutter_faults(self) -> Iterator[str]:
        if self.many > 1 and self.tight:
            yield (
                f"the gutter of {self._mm(self.gutter)} mm {self.way} is less than twice the bleed of "
                f"{self._mm(self.bleed)} mm: write 0, or at least {self._mm(2 * self.bleed)} mm"
            )

    def _mm(self, n_dots: int) -> str:
        return f"{float(n_dots * MM_PER_INCH / self.dpi):.2f}"


def _does_not_fit(row: _Row, room: int, stated: float, name: str, where: str) -> Iterator[Fault]:
    """Margins give up the few dots by which a row that fits as stated is too long when it is rounded."""
    if row.needs <= room or (row.stated * _AS_GOOD_AS <= stated and row.needs - room <= row.margins):
        return
    lacking = mm(points(row.needs - room, row.dpi))
    per_piece = row.size + row.gutter
    most = max(0, (room - row.margins - 2 * row.bleed + row.gutter) // per_piece)
    has = mm(points(room, row.dpi))
    yield Fault(
        where,
        f"{row.many} {row.noun} {row.way} need {row.figures}; {name} has {has:.2f} mm, {lacking:.2f} mm too little",
        f"at most {most} fit" if most else "not one fits",
    )


def _out_of_reason(wanted: Wanted, bleed: float) -> Iterator[str]:
    """What is wrong before any sum is made."""
    counts = {"lanes": wanted.lanes, "along": wanted.along}
    yield from (f"'{name}' is {count}: at least 1" for name, count in counts.items() if count < 1)
    yield from (f"'{name}' is {count}: at most 1,000" for name, count in counts.items() if count > 1000)
    above = {"width": wanted.width, "printable": wanted.printable, "frame": wanted.frame}
    yield from (
        f"'{name}' is {mm(length):.2f} mm: it must be more than 0"
        for name, length in above.items()
        if length is not None and not length > 0
    )
    sides = zip(("left", "right", "head", "foot"), wanted.margins, strict=True)
    least = {"gutter": wanted.gutter, "along_gutter": wanted.along_gutter, "bleed": wanted.bleed}
    least |= {f"the {side} margin": length for side, length in sides}
    yield from (
        f"'{name}' is {mm(length):.2f} mm: it cannot be less than 0" for name, length in least.items() if length < 0
    )
    if wanted.turn not in (0, 90, 180, 270):
        yield f"'turn' is {wanted.turn}: 0, 90, 180 or 270"
    if wanted.printable is not None and wanted.printable > wanted.width:
        yield f"the printable width of {mm(wanted.printable):.2f} mm is more than the web's {mm(wanted.width):.2f} mm"
    if wanted.bleed > bleed:
        yield f"a bleed of {mm(wanted.bleed):.2f} mm is asked of the web, and the layout has {mm(bleed):.2f} mm"
