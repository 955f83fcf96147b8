"""Layout items that no record changes, as marks: boxes, lines and artwork in whole dots; and the ink of any item."""

from __future__ import annotations

from dataclasses import dataclass

from vdp.errors import CallerError
from vdp.job.items import ArtItem, BoxItem, LineItem, Placed
from vdp.marks import BLACK, PROCESS, Box, FillMark, ImageMark, Ink, Mark, StrokeMark
from vdp.plan.page import Page, inside
from vdp.units import dots, mm

#: How far artwork's trim may differ from the layout's and still count as the same size, in points (0.5 mm).
ART_SLACK = 0.5 * 72 / 25.4


@dataclass(frozen=True, slots=True)
class ArtInfo:
    """A page of artwork as found: `size` of what will be drawn and `trim` (x, y, width, height) in it, in points from
    its lower left corner; a picture has no trim of its own and fills the bleed."""

    size: tuple[float, float]
    trim: tuple[float, float, float, float] | None


def ink_of(item: Placed) -> Ink:
    """A colour, a plate at a tint, or black."""
    if item.colour is not None:
        c, m, y, k = (part / 100 for part in item.colour)
        return Ink("", 0.0, (c, m, y, k), item.overprint)
    tint = item.tint / 100
    if item.plate is None:
        return BLACK._replace(over=item.overprint) if tint == 1 else Ink("", 0.0, (0.0, 0.0, 0.0, tint), item.overprint)
    if item.plate in PROCESS:
        c, m, y, k = (tint if plate == item.plate else 0.0 for plate in PROCESS)
        return Ink("", 0.0, (c, m, y, k), item.overprint)
    return Ink(item.plate, tint, (0.0, 0.0, 0.0, 0.0))


def box_marks(page: Page, name: str, item: BoxItem) -> list[Mark]:
    """A filled box, or the four sides of a frame."""
    ink, (x, y, width, height) = ink_of(item), page.box(item.box)
    if item.weight is None:
        return [FillMark(name, ink, (x, y, width, height))]
    edge = max(1, dots(item.weight, page.dpi))
    sides: list[Box] = [
        (x, y, width, edge),
        (x, y + height - edge, width, edge),
        (x, y + edge, edge, height - 2 * edge),
        (x + width - edge, y + edge, edge, height - 2 * edge),
    ]
    return [FillMark(name, ink, side) for side in sides if side[2] > 0 and side[3] > 0]


def line_mark(page: Page, name: str, item: LineItem) -> Mark:
    """A line.  Level and upright ones become rectangles: their edges lie on whole dots, which a stroke's may not."""
    ink, weight = ink_of(item), max(1, dots(item.line, page.dpi))
    start, end = page.point(*item.start), page.point(*item.end)
    if start[1] == end[1]:
        left, right = sorted((start[0], end[0]))
        return FillMark(name, ink, (left, start[1] - weight // 2, max(1, right - left), weight))
    if start[0] == end[0]:
        low, high = sorted((start[1], end[1]))
        return FillMark(name, ink, (start[0] - weight // 2, low, weight, max(1, high - low)))
    return StrokeMark(name, ink, start, end, weight)


def art_mark(
    page: Page, trim: tuple[float, float], name: str, item: ArtItem, asset: str, info: ArtInfo, where: str
) -> ImageMark:
    """Artwork trim on trim, or in its own box.  Raises CallerError when its trim is of another size."""
    page_box = (0, 0, page.width, page.height)
    if item.box is not None:
        return ImageMark(name, asset, page.box(item.box), item.turn, page_box)
    if info.trim is None:
        return ImageMark(name, asset, page_box, item.turn, None)
    x, y, width, height = info.trim
    if abs(width - trim[0]) > ART_SLACK or abs(height - trim[1]) > ART_SLACK:
        raise CallerError.one(
            where,
            f"{name}: the artwork's trim is {mm(width):.1f} × {mm(height):.1f} mm, the layout's "
            f"{mm(trim[0]):.1f} × {mm(trim[1]):.1f} mm",
            "use artwork of the layout's trim size, or state a box for it",
        )
    scale = page.dpi / 72
    left, bottom = page.bleed - round(x * scale), page.bleed - round(y * scale)
    box = (left, bottom, round(info.size[0] * scale), round(info.size[1] * scale))
    return ImageMark(name, asset, box, item.turn, None if inside(box, page_box) else page_box)
