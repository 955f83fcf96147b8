"""One frame of a sheet file, both sides: the right pieces in the right places, every symbol read again, marks, codes.

Lives here: what can be said of a frame by itself.  Not here: what must lie where (`sheetplan`), marks (`sheetmarks`),
whole files (`sheets`).
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pikepdf

from vdp.errors import Finding
from vdp.verify import serials
from vdp.verify.decode import read
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.manifest import PieceLine, SymbolLine
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.sheetmarks import Drawn, compare_sides, drawn_of, inside
from vdp.verify.sheetplan import Cell, FrameAt, SheetPlan
from vdp.verify.shown import Run, runs, text_of, within
from vdp.verify.state import Area, Matrix, bounds
from vdp.verify.symbols import Reader
from vdp.verify.tree import Leaf, pages
from vdp.verify.view import PageView

SIDES = ("front", "back")
#: Dots by which a place may be off, for rounding in the file.
_SLACK = 0.05
#: Resolution at which frame codes are read, in dpi.
_CODE_DPI = 600
BLANK, SPECIMEN = "BLANK", "SPECIMEN"

#: What must lie in a place: a piece, or what stands for one.
Due = PieceLine | str


class FrameTask(NamedTuple):
    """Frames that follow each other in one file, and what must lie in each place, in the order of the cells."""

    frames: tuple[FrameAt, ...]
    due: tuple[tuple[Due, ...], ...]


class FrameOutcome(NamedTuple):
    """What frames came to: findings, symbols read and due, frame codes read, places looked at, blanks among them."""

    found: list[Finding]
    decoded: int
    expected: int
    codes: int
    places: int
    blanks: int


class _Side(NamedTuple):
    """A side as read: `forms` by place, None where nothing is drawn there as it should."""

    view: PageView
    forms: tuple[pikepdf.Object | None, ...]
    runs: list[Run]
    drawn: Drawn


class FrameExaminer:
    """Examines frames of one file."""

    def __init__(
        self,
        pdf: pikepdf.Pdf,
        plan: SheetPlan,
        spots: tuple[str, ...],
        patterns: Mapping[str, object],
        seed: int,
        drawn: dict[tuple[int, int], Drawn],
    ) -> None:
        self.pdf, self.plan, self.spots, self.seed = pdf, plan, spots, seed
        self.patterns = patterns
        self.store = PictureStore()
        self.modules: dict[str, int] = {}
        #: Marks of forms that were read already, by object.
        self.drawn = drawn

    def examine(self, task: FrameTask) -> FrameOutcome:
        return _Frames(self, task).run()


class _Frames:
    """The work on one task."""

    def __init__(self, by: FrameExaminer, task: FrameTask) -> None:
        self.by, self.plan, self.task = by, by.plan, task
        self.found: list[Finding] = []
        self.decoded = self.expected = self.codes = self.places = self.blanks = 0
        self.writer = PlateWriter(by.pdf, by.spots, self._interest(), by.store)

    def _interest(self) -> list[Area]:
        """Whole places, since their symbols lie anywhere, and frame codes."""
        boxes = [cell.area for cell in self.plan.cells] + list(self.plan.codes)
        return [self.plan.area(self.plan.side(box, side)) for box in boxes for side in (0, 1)]

    def find(self, code: str, where: str, message: str) -> None:
        self.found.append(Finding(code, where, message))

    def run(self) -> FrameOutcome:
        first = self.task.frames[0].page
        leaves = pages(self.by.pdf, first, first + 2 * len(self.task.frames))
        read_frames = [[self._side(at, side, next(leaves, None)) for side in (0, 1)] for at in self.task.frames]
        with Raster(self.writer.finish()) as raster:
            for at, due, sides in zip(self.task.frames, self.task.due, read_frames, strict=True):
                self._frame(at, due, sides, raster)
                raster.forget()
        return FrameOutcome(self.found, self.decoded, self.expected, self.codes, self.places, self.blanks)

    # -- reading a side -----------------------------------------------------------------------------------------------

    def _side(self, at: FrameAt, side: int, leaf: Leaf | None) -> _Side | None:
        where = f"{at.name}, {SIDES[side]}"
        if leaf is None:
            return None
        try:
            sheet = sheet_of(leaf)
            media, trim, bleed = self.plan.boxes(side)
            edges = zip((*media, *trim, *bleed), (*sheet.media, *sheet.trim, *sheet.bleed), strict=True)
            if not sheet.plain or any(abs(a - b) > 0.01 for a, b in edges):
                self.find("frame-boxes", where, "its boxes are not the web's width by the frame, all trims, all bleeds")
            view = self.writer.read(leaf.page, leaf.get("/Resources"), sheet.media)
            forms, others = self._placed(leaf, view, side)
            drawn = self._drawn(others)
        except Unreadable as doubt:
            self.find("cannot-judge", where, str(doubt))
            return None
        for code, message in view.seen.faults:
            self.find(code, where, message)
        areas = [self.plan.area(self.plan.side(cell.area, side)) for cell in self.plan.cells]
        for plate, area in inside(drawn, self._own(view), areas):
            x, y = area[0] / self.plan.point, area[1] / self.plan.point
            self.find("mark-inside", where, f"a mark on {plate} at {x:.0f}, {y:.0f} dots lies in a piece or its bleed")
        return _Side(view, forms, runs(view.seen.shows), drawn)

    def _own(self, view: PageView) -> Drawn:
        """What the page itself puts on plates, in no form."""
        return {self.writer.plates.names[plate]: tuple(areas) for plate, areas in view.seen.areas.items()}

    def _placed(
        self, leaf: Leaf, view: PageView, side: int
    ) -> tuple[tuple[pikepdf.Object | None, ...], list[pikepdf.Object]]:
        """The form in each place, and the forms that lie in no place."""
        with pdf_faults():
            left = [(seen, self.by.pdf.get_object(*seen.objgen)) for seen in view.seen.forms]
        found: list[pikepdf.Object | None] = []
        for cell in self.plan.cells:
            due = self.plan.matrix(cell, side)
            match = next((one for one in left if _alike(one[0].matrix, due, self.plan.point * _SLACK)), None)
            found.append(None if match is None else match[1])
            if match is not None:
                left.remove(match)
        origin = (self.plan.point, 0.0, 0.0, self.plan.point, 0.0, 0.0)
        for seen, _ in left:
            if not _alike(seen.matrix, origin, 1e-6):
                x, y = seen.matrix[4] / self.plan.point, seen.matrix[5] / self.plan.point
                at = f"{x:.2f}, {y:.2f} dots"
                self.find("place-moved", f"page {self._page(leaf)}", f"something is drawn at {at}, which is no place")
        return tuple(found), [form for seen, form in left if _alike(seen.matrix, origin, 1e-6)]

    def _page(self, leaf: Leaf) -> str:
        return f"object {leaf.page.objgen[0]}"

    def _drawn(self, forms: Sequence[pikepdf.Object]) -> Drawn:
        """The marks of forms, read once each."""
        total: dict[str, tuple[Area, ...]] = {}
        for form in forms:
            known = self.by.drawn.get(form.objgen)
            if known is None:
                known = self.by.drawn[form.objgen] = drawn_of(self.by.pdf, self.by.spots, form, self.plan)
            for plate, areas in known.items():
                total[plate] = (*total.get(plate, ()), *areas)
        return total

    # -- judging a frame ----------------------------------------------------------------------------------------------

    def _frame(self, at: FrameAt, due: Sequence[Due], sides: Sequence[_Side | None], raster: Raster) -> None:
        front, back = sides
        if front is None or back is None:
            return
        said = [self._codes(at, side, sides[side], raster) for side in (0, 1)]
        wrong = [self._content(cell, piece, front, back) for cell, piece in zip(self.plan.cells, due, strict=True)]
        strange = {text for texts in said for text in texts}
        if len(strange) == 1 and all(wrong):
            message = f"it is another frame altogether: its codes say {strange.pop()}"
            self.find("frame-wrong", at.name, message)
            return
        for side in (0, 1):
            if said[side]:
                message = f"a frame code says '{said[side][0]}', not {at.name}"
                self.find("frame-code", f"{at.name}, {SIDES[side]}", message)
        for place, message in compare_sides(front.drawn, back.drawn, self.plan):
            self.find(place, at.name, message)
        for number, (cell, piece) in enumerate(zip(self.plan.cells, due, strict=True)):
            where = f"{at.name}, lane {cell.lane}, place {cell.along}"
            self.places += 1
            if isinstance(piece, str):
                self.blanks += piece == BLANK
                self._stand_in(where, piece, cell, sides)
                continue
            shown = [self._text(cell, side, sides[side]) for side in (0, 1)]
            if wrong[number]:
                self._not_the_piece(where, wrong[number], piece, shown)
                self.expected += len(piece.symbols)
                continue
            self._serials(where, piece, shown)
            self._symbols(where, at, cell, piece, sides, raster)
        if self.plan.slug:
            self._slug(at, sides)

    def _content(self, cell: Cell, piece: Due, front: _Side, back: _Side) -> str:
        """What is wrong with the forms of a place; "" when they are the piece, byte for byte."""
        at = self.plan.cells.index(cell)
        forms = (front.forms[at], back.forms[at])
        for side, form in enumerate(forms):
            if form is None:
                return f"nothing lies there on the {SIDES[side]}"
        if isinstance(piece, str):
            return ""
        hashed = hashlib.sha256()
        for form in forms:
            with pdf_faults():
                hashed.update(form.read_bytes() if form is not None else b"")
        return "" if hashed.hexdigest() == piece.sha256 else "what lies there is not the piece as it was proofed"

    def _text(self, cell: Cell, side: int, page: _Side | None) -> str:
        if page is None:
            return ""
        area = self.plan.area(self.plan.side(cell.area, side))
        return text_of([run for run in page.runs if within(run, area, 0.0)])

    def _not_the_piece(self, where: str, message: str, piece: PieceLine, shown: Sequence[str]) -> None:
        """Both sides another's, or the back alone."""
        own = [any(serials.shows(text, serial) for serial in piece.serials.values()) for text in shown]
        foreign = [self._strangers(text, piece) for text in shown]
        other = shown[own[0]] if own[0] != own[1] else ""
        code = "back-wrong" if other and (any(foreign) or BLANK in other) else "place-wrong"
        strange = [serial for side in foreign for serial in side]
        more = f"; it shows '{strange[0]}'" if strange else ""
        self.find(code, where, f"piece {piece.piece} must lie there; {message}{more}")

    def _strangers(self, text: str, piece: PieceLine) -> list[str]:
        found: list[str] = []
        for pattern in self.by.patterns.values():
            found += serials.strangers(text, pattern, piece.serials)  # type: ignore[arg-type]  # compiled patterns
        return found

    def _serials(self, where: str, piece: PieceLine, shown: Sequence[str]) -> None:
        whole = "\n".join(shown)
        for name, serial in piece.serials.items():
            if not serials.shows(whole, serial):
                self.find("place-wrong", where, f"{name}: '{serial}' cannot be read there")

    def _symbols(
        self, where: str, at: FrameAt, cell: Cell, piece: PieceLine, sides: Sequence[_Side | None], raster: Raster
    ) -> None:
        for symbol in piece.symbols:
            side = 1 - symbol.page % 2
            page = sides[side]
            self.expected += 1
            if page is None:
                continue
            chance = random.Random(f"{self.by.seed}:{at.name}:{where}:{symbol.name}")  # noqa: S311  offsets, not secrets
            there = symbol._replace(box=self._on_sheet(symbol, cell, side))
            try:
                judged = Reader(raster, page.view, chance, self.by.modules, {}).judge(there, alone=True)
            except Unreadable as doubt:
                self.find("cannot-judge", where, f"{symbol.name}: {doubt}")
                continue
            self.decoded += judged.read
            for code, message in judged.faults:
                self.find(code, f"{where}, {SIDES[side]}", f"{symbol.name}: {message}")

    def _on_sheet(self, symbol: SymbolLine, cell: Cell, side: int) -> Area:
        scale = 1 / self.plan.point
        x0, y0, x1, y1 = symbol.box
        return bounds(self.plan.matrix(cell, side), (x0 * scale, y0 * scale, x1 * scale, y1 * scale))

    def _stand_in(self, where: str, word: str, cell: Cell, sides: Sequence[_Side | None]) -> None:
        """A blank or a specimen says so on both sides; a blank says nothing else."""
        for side, page in enumerate(sides):
            text = self._text(cell, side, page)
            if word not in text or (word == BLANK and text.strip() != BLANK):
                shown = text.strip().replace("\n", " ")[:60]
                code = "blank-printed" if word == BLANK else "specimen-live"
                self.find(code, f"{where}, {SIDES[side]}", f"it must say {word}; it shows '{shown}'")

    # -- codes and slug -----------------------------------------------------------------------------------------------

    def _codes(self, at: FrameAt, side: int, page: _Side | None, raster: Raster) -> list[str]:
        """What codes say that they must not."""
        strange: list[str] = []
        number = page.view.copies.get("Black") if page is not None else None
        for lane, box in enumerate(self.plan.codes, 1):
            where = f"{at.name}, lane {lane}, {SIDES[side]}"
            due = self.plan.code_text(at, lane)
            if number is None:
                self.find("frame-code", where, f"there is no frame code where '{due}' must be")
                continue
            chance = random.Random(f"{self.by.seed}:{where}")  # noqa: S311  offsets, not secrets
            shift = (chance.random(), chance.random())
            reads = read(
                raster.region(number, self.plan.area(self.plan.side(box, side)), _CODE_DPI, shift), self.plan.code
            )
            if not reads:
                self.find("frame-code", where, f"no frame code can be read where '{due}' must be")
            elif reads[0].text != due:
                strange.append(_frame_part(reads[0].text))
                if _frame_part(due) == strange[-1]:
                    self.find("frame-code", where, f"the frame code says '{reads[0].text}', not '{due}'")
                    strange.pop()
            else:
                self.codes += 1
        return strange

    def _slug(self, at: FrameAt, sides: Sequence[_Side | None]) -> None:
        due = f"roll {at.roll.roll} of {len(self.plan.rolls)} · frame {at.frame} of {at.roll.frames} ·"
        for side, page in enumerate(sides):
            text = text_of([run for run in page.runs if run.depth == 0]) if page is not None else ""
            if due not in text or not text.strip().endswith(SIDES[side]):
                self.find(
                    "slug-wrong", f"{at.name}, {SIDES[side]}", f"the slug line does not say '{due} {SIDES[side]}'"
                )


def _frame_part(text: str) -> str:
    """Run, roll and frame of a frame code's text."""
    return text.rsplit("-", 2)[0]


def _alike(one: Matrix, other: Matrix, slack: float) -> bool:
    return all(abs(a - b) <= slack for a, b in zip(one, other, strict=True))
