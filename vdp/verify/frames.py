"""One frame of a sheet file, both sides: the right pieces in the right places, every symbol read again, marks, codes.

Lives here: what can be said of a frame by itself.  Not here: reading a page (`frameside`), what must lie where
(`sheetplan`), marks (`sheetmarks`), whole files (`sheets`).
"""

from __future__ import annotations

import hashlib
import random
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pikepdf

from vdp.errors import Finding
from vdp.verify import serials
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.frameside import SIDES, Side, SideReader, on_sheet, text_in
from vdp.verify.manifest import PieceLine, SymbolLine
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.sheetmarks import Drawn, compare_sides
from vdp.verify.sheetplan import Cell, FrameAt, SheetPlan
from vdp.verify.shown import text_of
from vdp.verify.standins import BLANK, StandIns
from vdp.verify.state import Area
from vdp.verify.symbols import Reader
from vdp.verify.tree import open_pdf, pages

#: Tasks after which the file is opened again: qpdf keeps every object that it has once read.
REOPENED = 32
#: What a reader reports with a frame code (ISO/IEC 15424).
_IDENTIFIERS = {"datamatrix": "]d1", "code128": "]C0"}

#: What must lie in a place: a piece, or what stands for one.
Due = PieceLine | str


class FrameTask(NamedTuple):
    """Frames that follow each other in one file, and what must lie in each place, in the order of the cells."""

    frames: tuple[FrameAt, ...]
    due: tuple[tuple[Due, ...], ...]


class FrameOutcome(NamedTuple):
    """What frames came to: findings, frames, symbols read and due, frame codes read, places looked at, blanks among
    them."""

    found: list[Finding]
    frames: int
    decoded: int
    expected: int
    codes: int
    places: int
    blanks: int


class FrameSetup(NamedTuple):
    """What a worker needs; everything can be sent to another process.  `live` are hashes of everything that live
    pieces say (`said`), where there are specimens to hold against them."""

    path: Path
    plan: SheetPlan
    spots: tuple[str, ...]
    patterns: Mapping[str, str]
    seed: int
    live: tuple[int, ...]
    job: tuple[Path, Path] | None = None

    def examiner(self, _: object) -> FrameExaminer:
        return FrameExaminer(self)


class FrameExaminer:
    """Examines frames of one file.  Raises Unreadable when it cannot be opened."""

    def __init__(self, setup: FrameSetup) -> None:
        self.path, self.plan, self.spots, self.seed = setup.path, setup.plan, setup.spots, setup.seed
        self.patterns = {name: re.compile(pattern) for name, pattern in setup.patterns.items()}
        self.store = PictureStore()
        self.modules: dict[str, int] = {}
        #: Marks that were read already, by the objects of their forms; what was found on both sides of such marks.
        self.drawn: dict[tuple[tuple[int, int], ...], Drawn] = {}
        self.compared: dict[tuple[int, int], list[tuple[str, str]]] = {}
        self.stand_ins = StandIns(self.plan, self.patterns, frozenset(setup.live), self.modules, self.seed)
        self._done = 0
        self.pdf = self._opened()

    def _opened(self) -> pikepdf.Pdf:
        try:
            return open_pdf(self.path)
        except (pikepdf.PdfError, OSError) as error:
            raise Unreadable(str(error)) from error

    def examine(self, task: FrameTask) -> FrameOutcome:
        self._done += 1
        if self._done % REOPENED == 0:
            self.pdf.close()
            self.pdf = self._opened()
            self.drawn.clear()
            self.compared.clear()
            self.stand_ins.forget()
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
        reader = SideReader(self.plan, self.writer, self.by.spots, self.by.drawn, self.find)
        read_frames = [[reader.read(at, side, next(leaves, None)) for side in (0, 1)] for at in self.task.frames]
        with Raster(self.writer.finish()) as raster:
            for at, due, sides in zip(self.task.frames, self.task.due, read_frames, strict=True):
                self._frame(at, due, sides, raster)
                raster.forget()
        return FrameOutcome(
            self.found, len(self.task.frames), self.decoded, self.expected, self.codes, self.places, self.blanks
        )

    # -- judging a frame ----------------------------------------------------------------------------------------------

    def _frame(self, at: FrameAt, due: Sequence[Due], sides: Sequence[Side | None], raster: Raster) -> None:
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
        both = (id(front.drawn), id(back.drawn))  # both are kept as long as the examiner
        if both not in self.by.compared:
            self.by.compared[both] = list(compare_sides(front.drawn, back.drawn, self.plan))
        for code, message in self.by.compared[both]:
            self.find(code, at.name, message)
        for number, (cell, piece) in enumerate(zip(self.plan.cells, due, strict=True)):
            where = f"{at.name}, lane {cell.lane}, place {cell.along}"
            self.places += 1
            if isinstance(piece, str):
                self.blanks += piece == BLANK
                for side, code, message in self.by.stand_ins.judge(where, piece, cell, (front, back), raster):
                    self.find(code, f"{where}, {SIDES[side]}", message)
                continue
            shown = [text_in(self.plan, page, cell, side) for side, page in enumerate((front, back))]
            if wrong[number]:
                self._not_the_piece(where, wrong[number], piece, shown)
                self.expected += len(piece.symbols)
                continue
            self._serials(where, piece, shown)
            self._symbols(where, at, cell, piece, sides, raster)
        if self.plan.slug:
            self._slug(at, sides)

    def _content(self, cell: Cell, piece: Due, front: Side, back: Side) -> str:
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
            found += serials.strangers(text, pattern, piece.serials)
        return found

    def _serials(self, where: str, piece: PieceLine, shown: Sequence[str]) -> None:
        whole = "\n".join(shown)
        for name, serial in piece.serials.items():
            if not serials.shows(whole, serial):
                self.find("place-wrong", where, f"{name}: '{serial}' cannot be read there")

    def _symbols(
        self, where: str, at: FrameAt, cell: Cell, piece: PieceLine, sides: Sequence[Side | None], raster: Raster
    ) -> None:
        for symbol in piece.symbols:
            side = 1 - symbol.page % 2
            page = sides[side]
            self.expected += 1
            if page is None:
                continue
            chance = random.Random(f"{self.by.seed}:{at.name}:{where}:{symbol.name}")  # noqa: S311  offsets, not secrets
            there = on_sheet(self.plan, symbol, cell, side)
            try:
                judged = Reader(raster, page.view, chance, self.by.modules, {}).judge(there, alone=True)
            except Unreadable as doubt:
                self.find("cannot-judge", where, f"{symbol.name}: {doubt}")
                continue
            self.decoded += judged.read
            for code, message in judged.faults:
                self.find(code, f"{where}, {SIDES[side]}", f"{symbol.name}: {message}")

    # -- codes and slug -----------------------------------------------------------------------------------------------

    def _codes(self, at: FrameAt, side: int, page: Side | None, raster: Raster) -> list[str]:
        """What codes say that they must not."""
        strange: list[str] = []
        for lane, box in enumerate(self.plan.codes, 1):
            where = f"{at.name}, lane {lane}, {SIDES[side]}"
            due = self.plan.code_text(at, lane)
            if page is None:
                continue
            chance = random.Random(f"{self.by.seed}:{where}")  # noqa: S311  offsets, not secrets
            area = self.plan.area(self.plan.side(box, side))
            symbol = SymbolLine("frame code", self.plan.code, _IDENTIFIERS[self.plan.code], "Black", 0, area, due)
            judged = Reader(raster, page.view, chance, self.by.modules, {}).judge(symbol, alone=True)
            if not judged.read and judged.said is None:
                self.find("frame-code", where, f"no frame code can be read where '{due}' must be")
            elif judged.said is not None:
                strange.append(_frame_part(judged.said))
                if _frame_part(due) == strange[-1]:
                    self.find("frame-code", where, f"the frame code says '{judged.said}', not '{due}'")
                    strange.pop()
            else:
                self.codes += 1
        return strange

    def _slug(self, at: FrameAt, sides: Sequence[Side | None]) -> None:
        due = f"roll {at.roll.roll} of {len(self.plan.rolls)} · frame {at.frame} of {at.roll.frames} ·"
        due += f" reprint {self.plan.reprint} ·" if self.plan.reprint else ""
        for side, page in enumerate(sides):
            text = text_of([run for run in page.runs if run.depth == 0]) if page is not None else ""
            if due not in text or not text.strip().endswith(SIDES[side]):
                self.find(
                    "slug-wrong", f"{at.name}, {SIDES[side]}", f"the slug line does not say '{due} {SIDES[side]}'"
                )


def _frame_part(text: str) -> str:
    """Run, roll and frame of a frame code's text."""
    return text.rsplit("-", 2)[0]
