"""One page of a sheet file as read: what lies in which place, and the printer's marks.

Lives here: the page rewritten, forms told apart by where they are drawn.  Not here: whether they are the right ones
(`frames`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import pikepdf

from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.manifest import SymbolLine
from vdp.verify.pages import sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.sheetmarks import Drawn, drawn_of, inside
from vdp.verify.sheetplan import Cell, FrameAt, SheetPlan
from vdp.verify.shown import Run, runs, text_of, within
from vdp.verify.state import Area, Matrix, bounds
from vdp.verify.tree import Leaf
from vdp.verify.view import PageView

SIDES = ("front", "back")
#: Dots by which a place may be off, for rounding in the file.
_SLACK = 0.05

#: Takes a finding: code, where, message.
Find = Callable[[str, str, str], None]


class Side(NamedTuple):
    """A side as read: `forms` by place, None where nothing is drawn there as it should."""

    view: PageView
    forms: tuple[pikepdf.Object | None, ...]
    runs: list[Run]
    drawn: Drawn


class SideReader:
    """Reads pages; `known` keeps the marks of forms that were read already, by their objects."""

    def __init__(
        self,
        plan: SheetPlan,
        writer: PlateWriter,
        spots: tuple[str, ...],
        known: dict[tuple[tuple[int, int], ...], Drawn],
        find: Find,
    ) -> None:
        self.plan, self.writer, self.spots, self.known, self._find = plan, writer, spots, known, find

    def read(self, at: FrameAt, side: int, leaf: Leaf | None) -> Side | None:
        """None when there is no page, or none that can be judged."""
        where = f"{at.name}, {SIDES[side]}"
        if leaf is None:
            return None
        try:
            sheet = sheet_of(leaf)
            media, trim, bleed = self.plan.boxes(side)
            edges = zip((*media, *trim, *bleed), (*sheet.media, *sheet.trim, *sheet.bleed), strict=True)
            if not sheet.plain or any(abs(a - b) > 0.01 for a, b in edges):
                self._find("frame-boxes", where, "its boxes are not web by frame, all trims, all bleeds")
            view = self.writer.read(leaf.page, leaf.get("/Resources"), sheet.media)
            forms, others = self._placed(leaf, view, side)
            drawn = self._drawn(others)
        except Unreadable as doubt:
            self._find("cannot-judge", where, str(doubt))
            return None
        for code, message in view.seen.faults:
            self._find(code, where, message)
        areas = [self.plan.area(self.plan.side(cell.area, side)) for cell in self.plan.cells]
        for plate, area in inside(drawn, self._own(view), areas):
            x, y = area[0] / self.plan.point, area[1] / self.plan.point
            self._find("mark-inside", where, f"a mark on {plate} at {x:.0f}, {y:.0f} dots lies in a piece or its bleed")
        return Side(view, forms, runs(view.seen.shows), drawn)

    def _own(self, view: PageView) -> Drawn:
        """What the page itself puts on plates, in no form."""
        return {self.writer.plates.names[plate]: tuple(areas) for plate, areas in view.seen.areas.items()}

    def _placed(
        self, leaf: Leaf, view: PageView, side: int
    ) -> tuple[tuple[pikepdf.Object | None, ...], list[pikepdf.Object]]:
        """The form in each place, and the forms that lie in no place."""
        with pdf_faults():
            left = [(seen, self.writer.pdf.get_object(*seen.objgen)) for seen in view.seen.forms]
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
                self._find("place-moved", f"page {self._page(leaf)}", f"something is drawn at {at}, which is no place")
        return tuple(found), [form for seen, form in left if _alike(seen.matrix, origin, 1e-6)]

    def _page(self, leaf: Leaf) -> str:
        return f"object {leaf.page.objgen[0]}"

    def _drawn(self, forms: Sequence[pikepdf.Object]) -> Drawn:
        """The marks of forms, read once for all sheets that draw the same."""
        key = tuple(form.objgen for form in forms)
        if key not in self.known:
            total: dict[str, tuple[Area, ...]] = {}
            for form in forms:
                for plate, areas in drawn_of(self.writer.pdf, self.spots, form, self.plan).items():
                    total[plate] = (*total.get(plate, ()), *areas)
            self.known[key] = total
        return self.known[key]


def text_in(plan: SheetPlan, page: Side, cell: Cell, side: int) -> str:
    """What a side says within a place."""
    area = plan.area(plan.side(cell.area, side))
    return text_of([run for run in page.runs if within(run, area, 0.0)])


def on_sheet(plan: SheetPlan, symbol: SymbolLine, cell: Cell, side: int) -> SymbolLine:
    """A symbol of a piece as it lies in a place."""
    scale = 1 / plan.point
    x0, y0, x1, y1 = symbol.box
    box = bounds(plan.matrix(cell, side), (x0 * scale, y0 * scale, x1 * scale, y1 * scale))
    return symbol._replace(box=box)


def _alike(one: Matrix, other: Matrix, slack: float) -> bool:
    return all(abs(a - b) <= slack for a, b in zip(one, other, strict=True))
