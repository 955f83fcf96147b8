"""Printer's marks of a sheet, as areas of ink on each plate: whether front and back coincide, and nothing lies inside.

Lives here: marks as areas.  Not here: what a place holds (`frames`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import pikepdf

from vdp.verify.doubt import pdf_faults
from vdp.verify.plates import PlateWriter
from vdp.verify.sheetplan import SheetPlan
from vdp.verify.state import Area

#: Ink by plate, in points of the page.
Drawn = Mapping[str, tuple[Area, ...]]

#: Dots by which a mark of the back may lie beside that of the front (issue: one dot in the file).
_MOST = 1.0
#: Arms of the two register marks of a side.
_ARMS = 4
#: Points by which areas of one mark on several plates may differ by rounding.
_SAME = 1e-3


def drawn_of(pdf: pikepdf.Pdf, spots: tuple[str, ...], form: pikepdf.Object, plan: SheetPlan) -> Drawn:
    """What a form that every sheet draws puts on each plate, process plates apart.  Raises Unreadable."""
    writer = PlateWriter(pdf, spots, (), separate=True)
    with pdf_faults():
        content = b"%.10f 0 0 %.10f 0 0 cm\n" % (plan.point, plan.point) + form.read_bytes()
        page = pikepdf.Dictionary(Type=pikepdf.Name.Page, Contents=pikepdf.Stream(pdf, content))
        size = (0.0, 0.0, plan.size[0] * plan.point, plan.size[1] * plan.point)
        view = writer.read(page, form.get("/Resources"), size)
    return {name: tuple(view.seen.areas.get(plate, ())) for plate, name in enumerate(writer.plates.names)}


def inside(drawn: Drawn, own: Drawn, places: Sequence[Area]) -> Iterator[tuple[str, Area]]:
    """Marks that lie in a piece or its bleed, with their plate."""
    for marks in (drawn, own):
        for plate, areas in marks.items():
            for area in areas:
                if any(_overlap(area, place) for place in places):
                    yield plate, area


def _overlap(one: Area, other: Area) -> bool:
    """Whether areas share more than an edge."""
    return (
        one[0] < other[2] - _SAME
        and other[0] < one[2] - _SAME
        and one[1] < other[3] - _SAME
        and other[1] < one[3] - _SAME
    )


def compare_sides(front: Drawn, back: Drawn, plan: SheetPlan) -> Iterator[tuple[str, str]]:
    """Marks without their like behind them, and register marks that are not on every plate: code and message."""
    for plate in sorted({*front, *back}):
        due = sorted(_behind(area, plan) for area in front.get(plate, ()))
        found = sorted(back.get(plate, ()))
        if len(due) != len(found):
            yield "mark-moved", f"{plate} has {len(due)} marks on the front and {len(found)} on the back"
            continue
        off = max((_off(area, found) for area in due), default=0.0) / plan.point
        if off > _MOST:
            yield "mark-moved", f"a mark on {plate} lies {off:.1f} dots beside its like on the other side"
    if plan.register:
        for side, drawn in (("front", front), ("back", back)):
            plates = list(drawn.values())
            everywhere = [
                area for area in (plates[0] if plates else ()) if all(_off(area, other) <= _SAME for other in plates)
            ]
            if len(everywhere) < _ARMS:
                yield "mark-missing", f"the {side} has no two register marks that lie whole on every plate"


def _behind(area: Area, plan: SheetPlan) -> Area:
    if not plan.mirrored:
        return area
    width = plan.size[0] * plan.point
    return (width - area[2], area[1], width - area[0], area[3])


def _off(area: Area, others: Sequence[Area]) -> float:
    """How far the nearest of other areas is off, by its edges."""
    return min((max(abs(a - b) for a, b in zip(area, other, strict=True)) for other in others), default=1e9)
