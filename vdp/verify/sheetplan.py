"""The sheets of a run as report.json tells of them, and the verifier's own arithmetic of what must lie where.

Lives here: values read and checked, places of pieces on a page, names of frames.  Not here: judging (`sheets`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import SymbolLine, symbol_of
from vdp.verify.state import Area, Matrix

#: How a piece is turned, as the first four numbers of its matrix.
_TURNS: Mapping[int, tuple[int, int, int, int]] = {
    0: (1, 0, 0, 1),
    90: (0, 1, -1, 0),
    180: (-1, 0, 0, -1),
    270: (0, -1, 1, 0),
}
Dots = tuple[int, int, int, int]


class Cell(NamedTuple):
    """A place of the frame's front: `trim` of the piece and `area` with its bleed, as x, y, width, height in dots."""

    lane: int
    along: int
    trim: Dots
    area: Dots


class RollPlan(NamedTuple):
    """A roll: number, file, and frames, of which the first `leader` and the last `trailer` carry specimens; `ready` of
    the leader's are make-ready; `press` prints it."""

    roll: int
    file: str
    frames: int
    leader: int
    trailer: int
    ready: int = 0
    press: str = ""

    @property
    def live(self) -> int:
        """Frames that carry pieces and blanks."""
        return self.frames - self.leader - self.trailer


class SpecimenLine(NamedTuple):
    """What a specimen says and which bytes it has, as a line of pieces.jsonl tells of a piece; its front is page 1."""

    serials: Mapping[str, str]
    symbols: tuple[SymbolLine, ...]
    sha256: str


class FrameAt(NamedTuple):
    """A frame: its roll and number, and the 0-based pages of its front."""

    roll: RollPlan
    frame: int
    page: int

    @property
    def name(self) -> str:
        return f"roll {self.roll.roll}, frame {self.frame}"


class SheetPlan(NamedTuple):
    """`size` of the frame in dots; `bleed` of a piece's own page; `turn` of fronts and `behind` of backs in degrees;
    `codes` the boxes of the lanes' codes on the front; `register` tells of register marks, `slug` of slug lines;
    `identity` is that of the run, in hex; `reprint` how often the sheets were printed again; `specimen` what stands on
    frames that carry no pieces; `parts` the presses with the pieces that each prints, one after the other."""

    dpi: int
    size: tuple[int, int]
    bleed: int
    turn: int
    behind: int
    mirrored: bool
    cells: tuple[Cell, ...]
    code: str
    codes: tuple[Dots, ...]
    register: bool
    slug: bool
    identity: str
    rolls: tuple[RollPlan, ...]
    reprint: int = 0
    specimen: SpecimenLine | None = None
    parts: tuple[tuple[str, int], ...] = ()

    @property
    def point(self) -> float:
        """A dot in points."""
        return 72 / self.dpi

    def side(self, box: Dots, side: int) -> Dots:
        """A box of the front as the side has it."""
        if side and self.mirrored:
            return (self.size[0] - box[0] - box[2], box[1], box[2], box[3])
        return box

    def area(self, box: Dots) -> Area:
        """In points, from the page's lower left."""
        x, y, width, height = box
        return (x * self.point, y * self.point, (x + width) * self.point, (y + height) * self.point)

    def matrix(self, cell: Cell, side: int) -> Matrix:
        """What takes dots of a piece's own page to points of the sheet."""
        x, y, width, height = self.side(cell.trim, side)
        turn = self.behind if side else self.turn
        east, north = x + width + self.bleed, y + height + self.bleed
        west, south = x - self.bleed, y - self.bleed
        corner = {0: (west, south), 90: (east, south), 180: (east, north), 270: (west, north)}[turn]
        a, b, c, d = (part * self.point for part in _TURNS[turn])
        return (a, b, c, d, corner[0] * self.point, corner[1] * self.point)

    def boxes(self, side: int) -> tuple[Area, Area, Area]:
        """MediaBox, TrimBox and BleedBox in points: the frame, what holds all trims, what holds all bleeds."""
        return (
            (0.0, 0.0, self.size[0] * self.point, self.size[1] * self.point),
            _around([self.area(self.side(cell.trim, side)) for cell in self.cells]),
            _around([self.area(self.side(cell.area, side)) for cell in self.cells]),
        )

    def files(self) -> dict[str, int]:
        """How many pages each file must have."""
        found: dict[str, int] = {}
        for roll in self.rolls:
            found[roll.file] = found.get(roll.file, 0) + 2 * roll.frames
        return found

    def frames(self, file: str) -> Iterator[FrameAt]:
        """The frames of a file in order."""
        page = 0
        for roll in self.rolls:
            if roll.file == file:
                for frame in range(1, roll.frames + 1):
                    yield FrameAt(roll, frame, page)
                    page += 2

    def code_text(self, at: FrameAt, lane: int) -> str:
        """What a lane's code must say."""
        return f"{self.identity[:8].upper()}-{at.roll.roll:03}-{at.frame:06}-{lane:02}-{self.reprint:02}"

    def live(self, at: FrameAt) -> bool:
        """Whether a frame carries pieces, not specimens."""
        return at.roll.leader < at.frame <= at.roll.frames - at.roll.trailer


def _around(areas: list[Area]) -> Area:
    return (
        min(area[0] for area in areas),
        min(area[1] for area in areas),
        max(area[2] for area in areas),
        max(area[3] for area in areas),
    )


def read_sheet_plan(value: Any, dpi: int) -> SheetPlan:
    """The section ``sheets`` of report.json.  Raises Unreadable when it is none."""
    try:
        plan = SheetPlan(
            dpi=dpi,
            size=(_whole(value["size"][0]), _whole(value["size"][1])),
            bleed=_whole(value["bleed"]),
            turn=_turn(value["turn"]),
            behind=_turn(value["behind"]),
            mirrored={"mirrored": True, "as_front": False}[value["backs"]],
            cells=tuple(
                Cell(_whole(cell["lane"]), _whole(cell["along"]), _box(cell["trim"]), _box(cell["area"]))
                for cell in value["places"]
            ),
            code={"datamatrix": "datamatrix", "code128": "code128"}[value["code"]],
            codes=tuple(_box(box) for box in value["codes"]),
            register=bool(value["register"]),
            slug=bool(value["slug"]),
            identity=str(value["identity"]),
            rolls=tuple(
                RollPlan(
                    _whole(roll["roll"]),
                    str(roll["file"]),
                    _whole(roll["frames"]),
                    _whole(roll["leader"]),
                    _whole(roll["trailer"]),
                    _whole(roll.get("ready", 0)),
                    str(roll.get("press", "")),
                )
                for roll in value["rolls"]
            ),
            reprint=_whole(value.get("reprint", 0)),
            specimen=_specimen(value.get("specimen")),
            parts=tuple((str(part["press"]), _whole(part["pieces"])) for part in value.get("parts", ())),
        )
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise Unreadable(f"its section sheets cannot be read: {type(error).__name__} {error}") from error
    if not plan.cells or not plan.rolls or any("/" in name or "\\" in name for name in plan.files()):
        raise Unreadable("its section sheets names no places, no rolls, or files elsewhere")
    return plan


def _specimen(value: Any) -> SpecimenLine | None:
    if value is None:
        return None
    serials = {str(name): str(text) for name, text in value["serials"].items()}
    return SpecimenLine(serials, tuple(symbol_of(symbol) for symbol in value["symbols"]), str(value["sha256"]))


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not -(10**9) < value < 10**9:
        raise ValueError(f"{value!r} is not a whole number")
    return value


def _turn(value: object) -> int:
    if value not in _TURNS:
        raise ValueError(f"{value!r} is not a turn")
    return _whole(value)


def _box(value: Any) -> Dots:
    x, y, width, height = (_whole(edge) for edge in value)
    return (x, y, width, height)
